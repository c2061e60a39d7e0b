"""Our reader against music21, on every MusicXML file of the corpus folders this project uses: two readers, one score.

Parts, bars and every plain note (place in its bar, length, written pitch) must be the same exactly. Two differences are
known, and each is checked to be what it is said to be:

- A part on two staves is one part here and one part a staff there (`PartStaff`).
- Here a bar starts at one moment for all parts. There each part counts the lengths of its own bars, so that parts drift
  apart after a bar that is not the same length in all of them. `LENGTHS` names the causes; places inside bars agree.
"""

from __future__ import annotations

import warnings
from collections import Counter
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any, NamedTuple

import music21
import pytest

from appui.exact import Fraction
from appui.musicxml.read.score import read_score
from appui.score.model import Bar, Part

FOLDERS = "bach beethoven corelli cpebach handel haydn monteverdi schumann_clara schumann_robert verdi weber".split()
ROOT = Path(music21.__file__).parent / "corpus"
SUFFIXES = frozenset({".mxl", ".xml", ".musicxml"})
FILES = sorted(file for folder in FOLDERS for file in (ROOT / folder).rglob("*") if file.suffix in SUFFIXES)
NAMELESS = "P1"  # a part without a name goes by its id here, by the name of its MIDI program there

Plain = tuple[Fraction, Fraction, str]  # place in the bar, length, written pitch


class Length(NamedTuple):
    """How long one bar of one part is over there: `length_q` to the next bar, `notes_q` to the end of its last note."""

    length_q: Fraction
    notes_q: Fraction
    longest_q: Fraction  # of all parts


# why music21 makes a bar of a part longer or shorter than the bar of the whole score
LENGTHS: dict[str, Callable[[Length, Bar], bool]] = {
    # the part is short of notes and rests; another part or the meter fills the bar
    "short in this part": lambda there, bar: (
        there.length_q < bar.length_q and bar.length_q in (there.longest_q, bar.meter.bar_q)
    ),
    # a direction set behind the barline, or a `forward` of no length, counts as length there; no note stands in it
    "longer without notes": lambda there, bar: there.length_q > bar.length_q >= there.notes_q,
}


def _exact(number: Any) -> Fraction:
    # music21 keeps triplets as fractions and everything else as floats that stand for fractions
    return Fraction(number).limit_denominator(100_000)


def _parsed(path: Path) -> list[Any]:
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        score = music21.converter.parse(path, forceSource=True)
    assert isinstance(score, music21.stream.Score)
    return list(score.parts)


def _measures(parts: list[Any]) -> list[list[Any]]:
    return [list(part.getElementsByClass(music21.stream.Measure)) for part in parts]


def _plain_there(measure: Any) -> Counter[Plain]:
    found: Counter[Plain] = Counter()
    for voice in (measure, *measure.voices):
        start = Fraction(0) if voice is measure else _exact(voice.offset)
        for note in voice.notes:
            if note.duration.isGrace or isinstance(note, music21.harmony.ChordSymbol):
                continue
            for one in note.notes if isinstance(note, music21.chord.ChordBase) else (note,):
                name = one.pitch.nameWithOctave.replace("-", "b") if hasattr(one, "pitch") else "unpitched"
                found[start + _exact(note.offset), _exact(note.quarterLength), name] += 1
    return found


def _plain_here(part: Part, bars: tuple[Bar, ...], staff: int | None) -> list[Counter[Plain]]:
    found: list[Counter[Plain]] = [Counter() for _ in part.bar_numbers]
    for voice in part.voices:
        for event in voice.events:
            for note in event.notes:
                if staff in (None, note.staff):
                    name = "unpitched" if note.unpitched else note.written.name
                    found[event.bar][event.onset_q - bars[event.bar].onset_q, event.duration_q, name] += 1
    return found


def _here(
    parts: tuple[Part, ...], bars: tuple[Bar, ...]
) -> Iterator[tuple[str, tuple[str, ...], list[Counter[Plain]]]]:
    """Name, bar numbers and notes by bar; a part on several staves once a staff, as music21 has it."""
    for part in parts:
        for staff in range(1, part.staves + 1) if part.staves > 1 else (None,):
            yield part.name, part.bar_numbers, _plain_here(part, bars, staff)


def _lengths(parts: list[list[Any]], index: int) -> list[Length]:
    there = [part[index] for part in parts if index < len(part)]
    longest_q = max(_exact(measure.highestTime) for measure in there)
    return [
        Length(
            _exact(measure.highestTime),
            max((at + length for at, length, _ in _plain_there(measure)), default=Fraction(0)),
            longest_q,
        )
        for measure in there
    ]


def _drift(parts: list[list[Any]], bars: tuple[Bar, ...]) -> tuple[Counter[str], list[str]]:
    """Bars of single parts that last longer or shorter there: how many for each known cause, and those without one."""
    causes: Counter[str] = Counter()
    unexplained: list[str] = []
    uneven = {
        index
        for part in parts
        for index in range(len(part) - 1)
        if _exact(part[index + 1].offset - part[index].offset) != bars[index].length_q
    }
    for index in sorted(uneven):
        for there in _lengths(parts, index):
            cause = next((name for name, holds in LENGTHS.items() if holds(there, bars[index])), "")
            if cause:
                causes[cause] += 1
            elif there.length_q != bars[index].length_q:
                unexplained.append(f"bar {bars[index].number}: {there} there, {bars[index].length_q} here")
    return causes, unexplained


def test_there_are_files() -> None:
    """Without files every comparison below would hold."""
    assert set(FOLDERS) == {file.relative_to(ROOT).parts[0] for file in FILES}
    assert len(FILES) >= 500


@pytest.mark.parametrize("path", FILES, ids=lambda path: str(path.relative_to(ROOT)))
def test_same_plain_notes(path: Path) -> None:
    """Parts, bars and notes are the same; where a bar is not as long there, the cause is a known one."""
    score = read_score(path)
    there = _parsed(path)
    measures = _measures(there)
    here = list(_here(score.parts, score.bars))
    assert len(there) == len(here)
    for part, measures_there, (name, numbers, notes) in zip(there, measures, here, strict=True):
        assert name in (" ".join((part.partName or "").split()), NAMELESS)
        for measure, number, found in zip(measures_there, numbers, notes, strict=True):
            # ``X1`` is ``270X1`` there, after the bar before it
            assert measure.measureNumberWithSuffix().endswith(number)
            assert _plain_there(measure) == found, f"{name}, bar {number}"
    assert _drift(measures, score.bars)[1] == []


@pytest.mark.parametrize(
    ("file", "cause"),
    [
        ("schumann_robert/opus41no1/movement1.mxl", "short in this part"),
        ("monteverdi/madrigal.3.1_old.mxl", "short in this part"),
        ("beethoven/opus59no3/movement2.mxl", "longer without notes"),
        ("haydn/opus1no1/movement4.mxl", "longer without notes"),
    ],
)
def test_known_differences_are_there(file: str, cause: str) -> None:
    """Each cause of drift is found in the files it was found in, so its rule is no dead letter."""
    causes, _ = _drift(_measures(_parsed(ROOT / file)), read_score(ROOT / file).bars)
    assert causes[cause] > 0


def test_two_staves_are_two_parts_there() -> None:
    """The clarinet and its piano are two parts here and three there, two of them staves."""
    path = ROOT / "weber" / "concertino_clarinet.mxl"
    assert [1, 2] == [part.staves for part in read_score(path).parts]
    staves = [isinstance(part, music21.stream.PartStaff) for part in _parsed(path)]
    assert [False, True, True] == staves
