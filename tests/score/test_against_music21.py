"""Our reader against music21's: same parts, same bars, same plain notes.

Known differences, and why:
- a part on two staves becomes two parts in music21: ours are compared with both together;
- where one part's bar is shorter or longer than the others', music21 lets that part drift from the rest; ours keeps
  bars together, so positions are compared inside the bar.
"""

import warnings
from collections import Counter
from fractions import Fraction
from pathlib import Path

import music21
import pytest

from appui.score.read import read_score

ROOT = Path(music21.__file__).parent / "corpus"


def _some() -> list[Path]:
    found = []
    for folder, every in (
        ("bach", 12), ("beethoven", 4), ("corelli", 1), ("cpebach", 1), ("handel", 1), ("haydn", 3), ("monteverdi", 8),
        ("schumann_clara", 2), ("schumann_robert", 2), ("verdi", 1), ("weber", 1),
    ):  # fmt: skip
        files = sorted(f for f in (ROOT / folder).rglob("*") if f.suffix in (".mxl", ".xml", ".musicxml"))
        found += files[::every]
    return found


SCORES = _some()


def theirs(path):
    """Parts as (name, bars, counted notes) by music21."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        parsed = music21.converter.parse(path, forceSource=True)
    parts = []
    for part in parsed.parts:
        notes = Counter()
        bars = list(part.getElementsByClass("Measure"))
        for index, bar in enumerate(bars):
            for found in bar.recurse().notes:
                if found.duration.isGrace or isinstance(found, music21.harmony.ChordSymbol):
                    continue
                at = Fraction(found.getOffsetInHierarchy(bar)).limit_denominator(10_000)
                length = Fraction(found.quarterLength).limit_denominator(10_000)
                for note in found.notes if found.isChord else [found]:
                    notes[index, at, length, note.pitch.nameWithOctave.replace("-", "b")] += 1
        parts.append((part, len(bars), notes))
    return parts


def ours(path):
    """The same by our reader."""
    score = read_score(path)
    parts = []
    for part in score.parts:
        notes = Counter()
        for voice in part.voices:
            for event in voice.events:
                at = (event.onset_q - score.bars[event.bar].onset_q).limit_denominator(10_000)
                for note in event.notes:
                    notes[event.bar, at, event.duration_q.limit_denominator(10_000), note.written.name] += 1
        parts.append((part, len(part.bar_numbers), notes))
    return parts


def test_there_are_scores() -> None:
    """An empty folder would agree with anything."""
    assert len(SCORES) >= 50


@pytest.mark.parametrize("path", SCORES, ids=lambda path: f"{path.parent.name}/{path.name}")
def test_the_same_notes(path) -> None:
    """Parts, bars and every plain note's place, length and written pitch agree exactly."""
    others = theirs(path)
    for part, bars, notes in ours(path):
        staves = [
            others.pop(0) for _ in range(part.staves if isinstance(others[0][0], music21.stream.PartStaff) else 1)
        ]
        assert {bars} == {count for _, count, _ in staves}
        assert notes == sum((counted for _, _, counted in staves), Counter())
    assert [] == others
