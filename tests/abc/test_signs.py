"""Ornaments and other signs of ABC, each by its letter or name, and what stands over and under the notes."""

from __future__ import annotations

import pytest

from appui.abc.signs import DECORATIONS, LETTERS, decoration, nearest
from appui.exact import Fraction
from appui.score.model import Ornament
from appui.score.signs import SIGN_NAMES, find_signs
from tests.abc.abc_text import events, music, piece

Q = Fraction
ORNAMENTS = {
    "T": Ornament("trill-mark"),
    "!trill!": Ornament("trill-mark"),
    "!trill(!": Ornament("trill-mark"),
    "M": Ornament("mordent"),
    "!mordent!": Ornament("mordent"),
    "!lowermordent!": Ornament("mordent"),
    "P": Ornament("inverted-mordent"),
    "!uppermordent!": Ornament("inverted-mordent"),
    "!pralltriller!": Ornament("inverted-mordent"),
    "~": Ornament("turn"),
    "!roll!": Ornament("turn"),
    "!turn!": Ornament("turn"),
    "!Turn!": Ornament("turn"),
    "!turnx!": Ornament("turn", (("slash", "yes"),)),
    "!invertedturn!": Ornament("inverted-turn"),
    "!slide!": Ornament("schleifer"),
    "!arpeggio!": Ornament("arpeggiate"),
    "!//!": Ornament("tremolo", (("type", "single"),), "2"),
    "+trill+": Ornament("trill-mark"),
}


@pytest.mark.parametrize("sign", ORNAMENTS)
def test_each_ornament(sign: str) -> None:
    """Before its note, before or after its small notes."""
    for text in (f"c {sign}d e", f"c {{f}}{sign}d e", f"c {sign}{{f}}d e", f"c {sign}[df] e"):
        assert [(), (ORNAMENTS[sign],), ()] == [event.notes[0].ornaments for event in events(music(text))]


def test_every_ornament_of_the_table_is_a_sign() -> None:
    """Nothing is read that the tool does not know."""
    kinds = {said.ornament.kind for said in DECORATIONS.values() if said.ornament is not None}
    assert kinds <= set(SIGN_NAMES)
    assert set(LETTERS.values()) <= set(DECORATIONS)


@pytest.mark.parametrize(
    ("text", "found"),
    [
        (".c", {"staccato"}),
        ("Lc", {"accent"}),
        ("!tenuto!c", {"tenuto"}),
        ("!wedge!.c", {"staccatissimo", "staccato"}),
        ("!marcato!c", {"strong-accent"}),
        ("uc", set()),
    ],
)
def test_articulations(text: str, found: set[str]) -> None:
    """By MusicXML's names; bowings say nothing of the sound."""
    assert found == events(music(text))[0].articulations


def test_fermatas_on_notes_rests_and_barlines() -> None:
    """Where it is typed."""
    found = music("Hc4 Hz4 | c8 H| c8 |]")
    assert ["normal", "normal", None, None] == [event.fermata for event in events(found)]
    assert [False, True, False] == [bar.fermata_at_end for bar in found.bars]


def test_breath_marks() -> None:
    """After the note they are typed before."""
    assert [{"breath-mark"}, set()] == [set(event.pauses) for event in events(music("!breath!c d"))]


def test_dynamics_and_hairpins() -> None:
    """As decorations, or as text over or under the staff."""
    part = music('!p!c2 "_mf"d2 !<(!e2 f2 !<)!!f!g8').parts[0]
    assert [(Q(0), "p"), (Q(1), "mf"), (Q(4), "f")] == [(each.onset_q, each.mark) for each in part.dynamics]
    assert [(Q(2), Q(4), "crescendo")] == [(each.onset_q, each.end_q, each.kind) for each in part.hairpins]


def test_chord_symbols_and_words() -> None:
    """In quotes: a chord where it is one, else words; words lead to other places and say the tempo."""
    found = music('"Gm"c2 "D7/F#"d2 "^Adagio"e2 "Fine"f2 | "(Am7)"g4 "^D.C."a4 |]')
    assert [("G", "minor", ""), ("D", "dominant", "F#"), ("A", "minor-seventh", "")] == [
        (each.root, each.kind, each.bass) for each in found.parts[0].chord_symbols
    ]
    assert [["fine"], ["dacapo"]] == [[jump.kind for jump in bar.jumps] for bar in found.bars]
    assert (Q(2), "Adagio") == (found.tempos[1].onset_q, found.tempos[1].words)


@pytest.mark.parametrize(
    ("text", "kind"),
    [
        ("!segno!c", "segno"),
        ("Sc", "segno"),
        ("Oc", "coda"),
        ("c !D.S.!", "dalsegno"),
        ("c !dacoda!", "tocoda"),
        ("c !fine!", "fine"),
    ],
)
def test_road_signs(text: str, kind: str) -> None:
    """They are of their bar."""
    assert [kind] == [jump.kind for jump in music(text).bars[0].jumps]


def test_letters_with_a_meaning_of_their_own() -> None:
    """`U:` gives one, also to letters that have one."""
    found = piece("X:1\nU: n = !turn!\nK:C\nU: T = !mordent!\nnc Td\n")
    assert ["turn", "mordent"] == [sign.kind for sign in find_signs(found)]


def test_an_unknown_decoration_is_said() -> None:
    """And left out, with its line and column."""
    found = music("c !xyzzy!d")
    assert [("line 6, column 3", "the decoration !xyzzy! is not known: left out")] == [
        tuple(notice) for notice in found.notices if "xyzzy" in notice.text
    ]


def test_names_of_decorations_are_found_in_any_case() -> None:
    """`!Segno!` is `!segno!`."""
    assert decoration("Segno") == decoration("segno")
    assert decoration("fiddle") is None


@pytest.mark.parametrize(
    ("typed", "meant"), [("tril", "trill"), ("mordant", "mordent"), ("fermatta", "fermata"), ("zzz", "")]
)
def test_the_nearest_decoration(typed: str, meant: str) -> None:
    """Where one is written almost so."""
    assert meant == nearest(typed)
