"""Humdrum through verovio and our reader: against music21 note for note, each sign by its letter, slips, limits."""

from __future__ import annotations

import os
import subprocess
import sys
import warnings
from collections import Counter
from pathlib import Path

import music21
import pytest

from appui.errors import ScoreError
from appui.exact import Fraction
from appui.mei import convert
from appui.mei.humdrum import is_humdrum, score_of_humdrum
from appui.mei.spines import read_spines
from appui.score.model import Ornament
from appui.score.signs import find_signs
from appui.style.measured import year_of
from tests.mei.mei_text import events

Q = Fraction
ROOT = Path(music21.__file__).parent / "corpus"
FILES = [ROOT / "bach" / f"bwv{number}.krn" for number in (277, 281, 366)] + [
    ROOT / "beethoven" / "opus18no1" / f"movement{number}.krn" for number in (2, 3)
]


def kern(*lines: str, before: str = "", columns: int = 1) -> str:
    """A text of some columns in C, 4/4; lines with tabs between the fields."""
    head = ["**kern", "*clefG2", "*k[]", "*M4/4"]
    written = ["\t".join([line] * columns) for line in head]
    ends = ["\t".join(["=="] * columns), "\t".join(["*-"] * columns)]
    return before + "\n".join([*written, *lines, *ends]) + "\n"


def read(*lines: str, before: str = "", columns: int = 1):
    """The score of such a text; the first line is line 5 of the file."""
    return score_of_humdrum(kern(*lines, before=before, columns=columns), "page.krn")


def _there(part) -> tuple[Counter[tuple[Fraction, Fraction, str]], int]:
    notes: Counter[tuple[Fraction, Fraction, str]] = Counter()
    small = 0
    for note in part.recurse().notes:
        small += bool(note.duration.isGrace)
        for one in note.notes if isinstance(note, music21.chord.ChordBase) else (note,):
            assert isinstance(one, music21.note.Note)
            if not note.duration.isGrace:
                at_q = Fraction(note.getOffsetInHierarchy(part)).limit_denominator(1000)
                length_q = Fraction(note.quarterLength).limit_denominator(1000)
                notes[at_q, length_q, one.pitch.nameWithOctave.replace("-", "b")] += 1
    return notes, small


@pytest.mark.parametrize("path", FILES, ids=lambda path: f"{path.parent.name} {path.stem}")
def test_same_notes_as_music21(path: Path) -> None:
    """Two readers, one score: onset, length and pitch of every note, and how many small notes each part has."""
    found = score_of_humdrum(path.read_text(encoding="utf-8", errors="replace"), path.name)
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        again = music21.converter.parse(path, forceSource=True)
    assert isinstance(again, music21.stream.Score)
    parts = list(again.parts)
    here = []
    for part in found.parts:
        voices = [event for voice in part.voices for event in voice.events]
        notes = Counter(
            (event.onset_q, event.duration_q, note.written.name) for event in voices for note in event.notes
        )
        here.append((notes, sum(len(event.small_before) + len(event.small_after) for event in voices)))
    assert [_there(part) for part in parts] == here


ORNAMENTS = {
    "T": Ornament("trill-mark"),
    "t": Ornament("trill-mark", above=-1),
    "M": Ornament("inverted-mordent", (("placement", "above"),)),
    "W": Ornament("mordent", (("placement", "above"),)),
    "w": Ornament("mordent", (("placement", "above"),), below=1),
    "sS": Ornament("turn"),
    "S": Ornament("turn"),
    "$": Ornament("inverted-turn"),
    "Ss": Ornament("delayed-turn", above=-1),
    "O": Ornament("other-ornament", text="O"),
    ":": Ornament("arpeggiate"),
}


def test_each_ornament_by_its_letter() -> None:
    """Capital and small letters are whole and half tones: where that is not the key's, the sign has an accidental.

    Source: the Humdrum reference of `**kern` (memory); A has B above and G below.
    """
    found = read(*[line for sign in ORNAMENTS for line in ("=1", f"1a{sign}")][1:])
    assert [(each,) for each in ORNAMENTS.values()] == [event.notes[0].ornaments for event in events(found)]
    said = [notice.text for notice in found.notices]
    assert any("a turn does not say whether" in text for text in said)
    assert any("an ornament of no named kind (O)" in text for text in said)


def test_small_notes_have_strokes_or_none() -> None:
    """`q` is crossed, `qq` is not; values are as printed."""
    found = read("8qdd", "2cc", "16qqdd", "16qqee", "2cc", "=2", "1cc", "8qqbb", "8qqcc")
    first, second, last = events(found)
    assert [(True, "eighth")] == [(small.slash, small.type_name) for small in first.small_before]
    assert [(False, "16th")] * 2 == [(small.slash, small.type_name) for small in second.small_before]
    assert 2 == len(last.small_after)


def test_signs_around_the_notes() -> None:
    """Fermata, breath, staccato, accent, tie, slur."""
    found = read("4cc;", "4cc,", "4cc'", "[4cc^", "=2", "2cc]", "(2dd", "=3", "1ee)")
    first, second, third, fourth, fifth, sixth, seventh = events(found)
    assert ("normal", {"breath-mark"}, {"staccato"}, {"accent"}) == (
        first.fermata,
        set(second.pauses),
        set(third.articulations),
        set(fourth.articulations),
    )
    assert (True, True) == (fourth.notes[0].tied_on, fifth.notes[0].tied_back)
    assert (True, True) == (sixth.slur_on, seventh.slur_back)


def test_columns_beside_the_notes() -> None:
    """Dynamics, hairpins, figures and chord symbols; Roman numerals are said not to be read."""
    text = (
        "**kern\t**kern\t**dynam\t**fb\t**mxhm\t**harm\n*M4/4\t*M4/4\t*\t*\t*\t*\n"
        "2C\t2c\tp\t6 #\tD dominant/F#\tI\n2D\t2d\t<\t.\tG- half-diminished\tV\n"
        "=2\t=2\t=2\t=2\t=2\t=2\n1C\t1c\t[ f\t.\t.\t.\n"
        "==\t==\t==\t==\t==\t==\n*-\t*-\t*-\t*-\t*-\t*-\n"
    )
    found = score_of_humdrum(text, "page.krn")
    part = found.parts[0]
    assert [(Q(0), "p"), (Q(4), "f")] == [(each.onset_q, each.mark) for each in part.dynamics]
    assert [(Q(2), "crescendo")] == [(each.onset_q, each.kind) for each in part.hairpins]
    assert [[("6", ""), ("", "sharp")]] == [
        [(figure.number, figure.prefix) for figure in each.figures] for each in part.figures
    ]
    assert [("D", "dominant", "F#"), ("Gb", "half-diminished", "")] == [
        (each.root, each.kind, each.bass) for each in part.chord_symbols
    ]
    assert any("the column **harm is not read" in notice.text for notice in found.notices)


def test_chord_symbols_over_a_transposing_staff_are_written_for_its_player() -> None:
    """As printed ones are: they sound a tone lower on a clarinet in B flat."""
    text = "**kern\t**mxhm\n*ITrd1c2\t*\n*M4/4\t*\n1c\tC dominant\n==\t==\n*-\t*-\n"
    found = score_of_humdrum(text, "page.krn")
    assert ("D5", "C5") == (events(found)[0].notes[0].written.name.replace("4", "5"), "C5")
    assert "D" == found.parts[0].chord_symbols[0].root


@pytest.mark.parametrize(
    ("lines", "names"),
    [
        ('*Ipiano\t*Ipiano\n*I"Cembalo\t*I"Cembalo\n', [("Cembalo", 2)]),
        ('*Ivioln\t*Ivioln\n*I"Violino\t*I"Violino\n', [("Violino", 1), ("Violino", 1)]),
        ('*part1\t*part1\n*I"Harp\t*I"Harp\n', [("Harp", 2)]),
        ("*part2\t*part1\n*Ipiano\t*Ipiano\n", [("Part 1", 1), ("Part 2", 1)]),
        ("", [("Part 1", 1), ("Part 2", 1)]),
    ],
)
def test_which_columns_are_one_part(lines: str, names: list[tuple[str, int]]) -> None:
    """Those the text gives one number, or a keyboard's; two violins of one name stay two."""
    found = score_of_humdrum(f"**kern\t**kern\n{lines}*M4/4\t*M4/4\n1C\t1c\n==\t==\n*-\t*-\n", "page.krn")
    parts = [
        (part.name if names[0][1] == 2 or "Violino" in part.name else f"Part {part.index + 1}", part.staves)
        for part in found.parts
    ]
    assert names == parts


def test_the_reference_records_tell_who_and_when() -> None:
    """Title, composer with dates, and when the piece was written."""
    before = "!!!COM: Nobody\n!!!CDT: 1700///-1780///\n!!!ODT: 1761///\n!!!OTL@@EN: By the Brook\n"
    found = read("1c", before=before)
    assert ("By the Brook", (("composer", "Nobody (1700-1780)"), ("date", "1761"))) == (found.title, found.creators)
    assert 1761 == year_of(found.creators)


def test_lines_of_the_text_name_the_notes() -> None:
    """So that messages and notices can name them."""
    found = read("2c", "[2d", "=2", "1e")
    assert [5, 6, 8] == [event.line for event in events(found)]
    assert any("line 6" in notice.place for notice in found.notices)


def test_bars_and_repeats() -> None:
    """A pickup is 0; an unnumbered barline inside a bar does not count."""
    found = read("4c", "=1", "1c", "=2", "2.c", "=:|!|:", "4c", "=3", "1c")
    assert ["0", "1", "2", "2", "3"] == [bar.number for bar in found.bars]
    assert [0, 0, 2, 0, 0] == [bar.repeat_backward for bar in found.bars]
    assert [False, False, False, True, False] == [bar.repeat_forward for bar in found.bars]


SLIPS = {
    "2c\t2h": ("line 5, column 2", "'2h' is no note: it has no pitch"),
    "2c\tcc": ("line 5, column 2", "'cc' is no note: it has no length"),
    "2c\t2ce": ("line 5, column 2", "'2ce' is no note: it has several pitches"),
    "2c": ("line 5", "has 1 columns where 2 are open"),
    "2c\t2c\t2c": ("line 5", "has 3 columns where 2 are open"),
    "123456c\t2c": ("line 5, column 1", "'123456c' is no note: it has no length"),
}


@pytest.mark.parametrize("line", SLIPS)
def test_slips_are_named_with_line_and_column(line: str) -> None:
    """A note that is none would be gone without a word."""
    place, problem = SLIPS[line]
    with pytest.raises(ScoreError) as refused:
        read(line, "=2\t=2", columns=2)
    assert str(refused.value).startswith(f"page.krn, {place}: {problem}")
    assert "Remedy:" in str(refused.value)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("hello\n", "line 1, column 1: a column begins with 'hello'"),
        ("!!!COM: Nobody\n", "has no **kern column"),
        ("**mens\nSc\n*-\n", "has no **kern column"),
        ("!!!!SEGMENT: a\n**kern\n1c\n*-\n!!!!SEGMENT: b\n**kern\n1c\n*-\n", "holds 2 pieces"),
        (
            "**kern\n" + "*^\n" * 1 + "".join("\t".join(["*^"] * n) + "\n" for n in (2, 4, 8, 16, 32, 64, 128, 256)),
            "more than 300 columns",
        ),
        ("**kern\n*M4/4\n*-\n", "no music found"),
    ],
)
def test_what_is_no_piece_is_refused(text: str, words: str) -> None:
    """In a sentence with a remedy."""
    with pytest.raises(ScoreError) as refused:
        score_of_humdrum(text, "page.krn")
    assert words in str(refused.value)
    assert "Remedy:" in str(refused.value)


def test_blanks_at_the_end_of_a_chord_do_no_harm() -> None:
    """The library stumbles over them."""
    assert 3 == len(events(read("1c 1e 1g  "))[0].notes)


def test_a_rhythm_that_does_not_come_out_is_named_with_its_line() -> None:
    """The library would set all that follows elsewhere, without a word."""
    with pytest.raises(ScoreError, match=r"^page\.krn, line 8, column 1: '1c' begins before the note above it ends"):
        read("2c\t2c", "2c\t4c", "=2\t=2", "1c\t1c", columns=2)


def test_the_limit_of_time_is_named(monkeypatch: pytest.MonkeyPatch) -> None:
    """A library that does not end is stopped."""
    monkeypatch.setattr(convert, "LIMIT_S", 0.01)
    with pytest.raises(ScoreError, match=r"takes longer than 0\.01 s to read as Humdrum, the limit"):
        read("1c")


@pytest.mark.skipif(sys.platform != "linux", reason="memory is limited where the system can")
def test_the_limit_of_memory_is_named(monkeypatch: pytest.MonkeyPatch) -> None:
    """A library that wants more than there is ends in a sentence."""
    asked = subprocess.run

    def small(command, **words):
        script = (
            "from appui.mei import convert; convert.LIMIT_BYTES = 120_000_000; import sys; sys.exit(convert._run())"
        )
        return asked([command[0], "-c", script], **words)

    monkeypatch.setattr(subprocess, "run", small)
    with pytest.raises(ScoreError, match=r"needs more than 2 GB of memory to read\. Remedy: split"):
        score_of_humdrum(kern(*["1c\n=" for _ in range(20_000)]), "page.krn")


@pytest.mark.parametrize(
    ("data", "expected"),
    [
        (b"**kern\n", True),
        (b"!!!COM: x\n", True),
        (b"\n!! remark\n", True),
        (b"*kern", False),
        (b"X:1", False),
        (b"<a>", False),
    ],
)
def test_humdrum_is_known_by_its_start(data: bytes, expected: bool) -> None:
    """Whatever the file is called."""
    assert expected == is_humdrum(data)


def test_columns_are_followed_through_splits_and_swaps() -> None:
    """Which kind a field is of."""
    text = "**kern\t**dynam\n*^\t*\n4c\t4e\tp\n*x\t*x\t*\n*v\t*v\t*\n4c\tf\n*-\t*-\n"
    spines = read_spines(text, "x.krn")
    assert ["**kern", "**kern", "**dynam"] == [spines.kind(3, field) for field in (1, 2, 3)]
    assert ("**dynam", "f") == (spines.kind(6, 2), spines.token(6, 2))


def test_a_text_is_read_alike_in_every_process() -> None:
    """Names, places and fingerprints are the text's, not drawn anew."""
    script = (
        "import hashlib, sys; from appui.mei.humdrum import score_of_humdrum; from appui.score.shelf import stored;"
        "print(hashlib.sha256(stored(score_of_humdrum(sys.stdin.read(), 'x.krn'))).hexdigest())"
    )
    text = kern("2cT", "8qqd", "2c", before="!!!OTL: x\n")
    found = {
        subprocess.run(
            [sys.executable, "-c", script],
            input=text,
            capture_output=True,
            text=True,
            check=True,
            env=os.environ | {"PYTHONHASHSEED": seed},
        ).stdout
        for seed in ("1", "2", "3")
    }
    assert 1 == len(found)


def test_signs_have_places_that_can_be_said() -> None:
    """By the part's name in the text."""
    found = read('*I"Oboe', "2cT", "2c", "=2", "1c;")
    assert ["oboe.1.1", "oboe.2.1"] == [sign.place for sign in find_signs(found)]
