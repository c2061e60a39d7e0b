"""Charts: both formats, every error, and the proposal from the solo alone."""

from itertools import pairwise

import pytest

from appui.accompany.add import accompanied
from appui.accompany.chart import Chart, read_chart, with_chart
from appui.accompany.propose import chart_text
from appui.errors import ChartError
from appui.exact import Fraction
from appui.harmony.analyse import analyse
from appui.harmony.kinds import symbol_text
from appui.score.model import ChordSymbol

TUNE = "C5:1 E5:1 G5:1 E5:1 | D5:2 B4:2 | C5:4"
TEXT = """\
# a beginning
key C major
1       I       # home
2.1     V7
2.3     V6/5
3       C
"""
TOML = """\
[keys]
"1" = "C major"
[chords]
"1" = "I"
"2.1" = "V7"
"2.3" = "V6/5"
"3" = "C"
"""


def saved(folder, text: str, name: str = "chart.txt"):
    """A chart on disk."""
    path = folder / name
    path.write_text(text, encoding="utf-8")
    return path


def told(chart: Chart) -> list[tuple[Fraction | int, str]]:
    """A chart's entries as text."""
    return [(symbol.onset_q, symbol_text(symbol)) for symbol in chart.symbols]


@pytest.mark.parametrize(("text", "name"), [(TEXT, "chart.txt"), (TOML, "chart.toml")])
def test_both_formats_say_the_same(page, tmp_path, text, name) -> None:
    """Symbols and numerals by bar and beat."""
    chart = read_chart(saved(tmp_path, text, name), page({"Oboe": TUNE}))
    assert [(0, "C"), (4, "G7"), (6, "G7/B"), (8, "C")] == told(chart)


def test_a_key_holds_for_what_is_below_it(page, tmp_path) -> None:
    """V in C, then V in A minor."""
    chart = read_chart(saved(tmp_path, "key C major\n1 V\nkey: a minor\n2 V\n"), page({"Oboe": TUNE}))
    assert [(0, "G"), (4, "E")] == told(chart)


def test_a_sharp_is_no_comment(page, tmp_path) -> None:
    """`D7/F#` and `F#` are chords; a comment has a blank after its sign."""
    chart = read_chart(saved(tmp_path, "1 D7/F#\n2 F#  # so\n#3 C\n# 3 C\n"), page({"Oboe": TUNE}))
    assert [(0, "D7/F#"), (4, "F#")] == told(chart)


def test_parts_of_a_beat(page, tmp_path) -> None:
    """2+1/2 is half a beat after the second."""
    assert [(Fraction(3, 2), "C")] == told(read_chart(saved(tmp_path, "1.2+1/2 C"), page({"Oboe": TUNE})))


@pytest.mark.parametrize(
    ("text", "name", "words"),
    [
        (
            "1 C\n9 G",
            "c.txt",
            r"c\.txt, line 2: there is no bar '9'\. Remedy: use the printed bar numbers, here 1 to 3",
        ),
        ("1.5 C", "c.txt", r"line 1: bar 1 has no beat 5\. Remedy: its beats go from 1 to 4"),
        ("1.x C", "c.txt", r"line 1: 'x' is no beat\. Remedy: count beats from 1"),
        ("1.0 C", "c.txt", r"line 1: bar 1 has no beat 0"),
        ("1.2+1/0 C", "c.txt", r"line 1: '2\+1/0' is no beat"),
        ("1 Q7", "c.txt", r"line 1: 'Q7' is no chord\. Remedy: write a symbol \(G, Gm"),
        ("1 V7", "c.txt", r"line 1: 'V7' is a Roman numeral without a key\. Remedy: put a line such as `key G minor`"),
        ("key Q\n1 C", "c.txt", r"line 1: 'Q' is no key"),
        ("1 C\n1.1 G", "c.txt", r"line 2: 1\.1 has a chord already, in line 1"),
        ("1", "c.txt", r"line 1: '1' is not a place and a chord"),
        ("# nothing", "c.txt", r"holds no chord\. Remedy: write at least one line"),
        ('[chords]\n"1" = "C"\n"9" = "G"', "c.toml", r"line 3: there is no bar '9'"),
        ('[chords]\n"1" = 5', "c.toml", r"line 2: 1 is not text"),
        ("[chord]\n", "c.toml", r"line 1: has a table 'chord'\. Remedy: use the tables"),
        ("chords = 3", "c.toml", r"line 1: 'chords' is no table"),
        ("[chords\n", "c.toml", r"is no valid TOML: .*line 1.*Remedy: correct that line"),
    ],
)
def test_a_wrong_chart_is_refused_with_its_line(page, tmp_path, text, name, words) -> None:
    """File, line, what is wrong and what to do."""
    with pytest.raises(ChartError, match=words):
        read_chart(saved(tmp_path, text, name), page({"Oboe": TUNE}))


def test_a_missing_or_unreadable_chart_is_refused(page, tmp_path) -> None:
    """No trace, no half-read file."""
    with pytest.raises(ChartError, match="there is no such chart"):
        read_chart(tmp_path / "none.txt", page({"Oboe": TUNE}))
    (tmp_path / "odd.txt").write_bytes(b"1 \xff\xfe")
    with pytest.raises(ChartError, match="save it as UTF-8 text"):
        read_chart(tmp_path / "odd.txt", page({"Oboe": TUNE}))


def test_a_chart_outweighs_printed_symbols(page, symbolled, tmp_path) -> None:
    """What the player wrote is the harmony, and nothing printed beside it."""
    score = symbolled(page({"Oboe": TUNE}), [(0, "F"), (6, "Dm")])
    made = with_chart(score, read_chart(saved(tmp_path, "1 C"), score))
    assert ["C"] == [symbol_text(symbol) for part in made.parts for symbol in part.chord_symbols]


def test_a_chord_of_a_chart_holds_to_the_end(page) -> None:
    """A chart's chord is said again every four bars, as a printed one is believed no longer."""
    score = page({"Oboe": " | ".join(["C5:4"] * 12)})
    made = with_chart(score, Chart("c", (ChordSymbol(Fraction(0), "C", "major"),)))
    onsets = [symbol.onset_q for symbol in made.parts[0].chord_symbols]
    assert onsets[0] == 0
    assert all(b - a <= 16 for a, b in pairwise([*onsets, score.length_q]))


def test_signs_are_judged_by_the_chart(page, tmp_path) -> None:
    """A chart gives a lone solo the accompaniment and the harmony it lacks."""
    score = page({"Oboe": TUNE})
    made = accompanied(score, chart=read_chart(saved(tmp_path, TEXT), score))
    assert 2 == len(made.parts)
    assert analyse(made).score.parts[0].chord_symbols


def test_a_guess_that_is_not_sure_says_so(page) -> None:
    """Below a chance of 0.6 an entry is marked unsure, and none else."""
    score = page({"Oboe": TUNE})
    entries = [line for line in chart_text(score, score.parts[0]).splitlines() if "# guess" in line]
    assert entries
    for line in entries:
        chance = float(line.split("chance ")[1].split(",")[0])
        assert line.endswith(", unsure") == (chance < 0.6)


def test_a_proposal_is_a_chart(page, tmp_path) -> None:
    """Every entry is marked as a guess, and the file can be read at once."""
    score = page({"Oboe": TUNE})
    text = chart_text(score, score.parts[0])
    entries = [line for line in text.splitlines() if line and not line.startswith("#")]
    assert all("# guess, chance 0." in line or "# guess, chance 1." in line for line in entries)
    assert [line.split()[0] for line in entries] == [
        f"{int(at // 4) + 1}" + (f".{at % 4 + 1}" if at % 4 else "")
        for at, _ in told(read_chart(saved(tmp_path, text), score))
    ]
    assert "C" == entries[0].split()[1]


def test_a_proposal_as_toml_says_the_same(page, tmp_path) -> None:
    """Both ways of writing a chart are read as the same chords."""
    score = page({"Oboe": TUNE})
    plain, toml = (tmp_path / name for name in ("chart.txt", "chart.toml"))
    plain.write_text(chart_text(score, score.parts[0]), encoding="utf-8")
    toml.write_text(chart_text(score, score.parts[0], toml=True), encoding="utf-8")
    assert read_chart(plain, score).symbols == read_chart(toml, score).symbols


def test_a_proposal_looks_at_the_solo_alone(page) -> None:
    """What the others play changes nothing."""
    alone, beside = page({"Oboe": TUNE}), page({"Oboe": TUNE, "Basso": "F#2:4 | F#2:4 | F#2:4"})
    assert chart_text(alone, alone.parts[0]) == chart_text(beside, beside.parts[0])


def test_a_guess_is_spelled_as_the_line_is(page) -> None:
    """F sharp in the line makes a chord on F sharp, not on G flat."""
    score = page({"Oboe": "F#4:1 A4:1 C5:1 A4:1 | F#4:1 A4:1 C5:1 Eb5:1"})
    roots = [line.split()[1][:2] for line in chart_text(score, score.parts[0]).splitlines() if "# guess" in line]
    assert ("F#" in roots, "Gb" in roots) == (True, False)
