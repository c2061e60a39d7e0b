"""The other notes of trills and turns, by the page and by the harmony that sounds.

C.P.E. Bach 1753, 2.1 §17 (read): accidentals from the key signature, with exceptions from the context.
"""

from typing import Any

import pytest

from tests.situations.spelling import played, situation


def _other(kind: str, main: str, music: str, bass: str, **more: Any) -> set[str]:
    return {name for name in played(situation(music, bass, **more), kind) if name != main}


@pytest.mark.parametrize(
    ("kind", "main", "music", "bass", "expected"),
    [
        # D7 sounds with F sharp: the ending below G
        ("trill", "G5", "A5:2 G5:2!tr | A5:4", "D3+F#3+C4:4 | C3+E3+G3:4", {"A5", "F#5"}),
        # C7 sounds with B flat: the trill on A
        ("trill", "A5", "G5:2 A5:2!tr | A5:4", "C3+E3+Bb3:4 | F3+A3+C4:4", {"Bb5", "G5"}),
        # a small A flat before the trilled G
        ("trill", "G5", "C5:2 Ab5e>G5:2!tr | C5:4", "C3+E3+G3:4 | C3+E3+G3:4", {"Ab5", "F5"}),
        # the page: an accidental in force in the bar
        ("trill", "A5", "Bb5:2 A5:2!tr | C6:4", "F3+C4:4 | F3+A3+C4:4", {"Bb5", "G5"}),
        # no augmented second (2.3 §19, read): A natural under B natural in C minor
        ("trill", "B4", "C5:2 B4:2!tr | C5:4", "G3+D4:4 | C3+Eb3+G3:4", {"C5", "A4"}),
    ],
)  # fmt: skip
def test_a_trills_other_notes(kind: str, main: str, music: str, bass: str, expected: set[str]) -> None:
    """Each row is one source of the note above or below."""
    fifths = -3 if main == "B4" else 0
    assert expected == _other(kind, main, music, bass, fifths=fifths)


@pytest.mark.parametrize(
    ("main", "music", "expected"),
    [
        ("G5", "E5:2 G5:2!turn | E5:4", "F#5"),  # the fifth of C
        ("C5", "E5:2 C5:2!turn | E5:4", "B4"),  # its root
        ("E5", "G5:2 E5:2!turn | C5:4", "D5"),  # its third: the note of the scale
    ],
)
def test_the_lowest_note_of_a_turn(main: str, music: str, expected: str) -> None:
    """Clementi 1801 (read): mostly a semitone; under root and fifth, counted on written-out turns of sonatas."""
    bass = "C3+E3+G3:4 | C3+E3+G3:4"
    below = [name for name in played(situation(music, bass), "turn") if name != main][-1]
    assert expected == below


def test_the_leading_note_ends_a_trill_on_the_tonic() -> None:
    """In A minor the ending under A is G sharp."""
    music = "A5:1 B5:1 C6:1 B5:1 | A5:4!tr | A5:4"
    bass = "A2+C3+E3:2 E3+G#3+B3:2 | A2+C3+E3:4 | A2+C3+E3:4"
    assert {"B5", "G#5"} == _other("trill", "A5", music, bass)
