"""From letter steps to pitches: scale notes as the local key has them, chord notes, and drafts on the time line."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import NamedTuple

from appui.embellish.case import Case
from appui.embellish.model import Draft, DraftNote
from appui.exact import Fraction
from appui.harmony.ground import Footing, Ground
from appui.score.pitch import Pitch, alter_of, natural

__all__ = ["Moment", "chord_notes", "heard", "pitches", "spelled"]


class Moment(NamedTuple):
    """A note of a draft where it falls: in its own time, and where it is judged on the printed time line."""

    at_q: Fraction
    printed_q: Fraction
    note: DraftNote
    in_time: bool


def heard(case: Case, draft: Draft) -> list[Moment]:
    """The notes of a draft in order, rests left out."""
    return _kept(case, draft)[0]


def pitches(case: Case, draft: Draft) -> list[Pitch]:
    """The pitches of its notes."""
    return _kept(case, draft)[1]


_Kept = tuple[list[Moment], list[Pitch]]


def _kept(case: Case, draft: Draft) -> _Kept:
    # every rule and every term asks for the same draft: the last one is kept
    if not case.last or case.last[0] is not draft:
        found = [moment for moment in _moments(case, draft) if moment.note.pitch is not None]
        case.last[:] = [draft, (found, [m.note.pitch for m in found if m.note.pitch is not None])]
    kept: _Kept = case.last[1]
    return kept


def _moments(case: Case, draft: Draft) -> Iterator[Moment]:
    at_q = Fraction(0)
    for note in draft.notes:
        yield Moment(at_q, case.moment_q(at_q), note, not case.span.held)
        at_q += note.value_q
    at_q = case.events[0].duration_q
    for note in draft.in_time:
        yield Moment(at_q, case.start_q + at_q, note, True)
        at_q += note.value_q


def chord_notes(footing: Footing, low: Pitch, high: Pitch) -> list[Pitch]:
    """The notes of a chord between two pitches, both included, from the lowest up."""
    found = []
    for letter in footing.letters:
        alter = alter_of(letter)
        for octave in range(low.octave - 1, high.octave + 2):
            pitch = Pitch(letter[0], alter, octave)
            if low.midi <= pitch.midi <= high.midi:
                found.append(pitch)
    return sorted(found, key=lambda pitch: int(pitch.midi))


def spelled(
    ground: Ground, line: Sequence[Pitch | int], times: Sequence[Fraction], goal: Pitch | None = None
) -> list[Pitch]:
    """A line with its letter positions (whole numbers, `Pitch.diatonic`) turned to pitches; pitches in it are kept.

    A seventh degree that goes up to the tonic is raised; where that, or the chord, leaves an augmented second beside
    it, the other note is raised or lowered to a whole tone (melodic minor; common practice).
    """
    letters = [each.diatonic if isinstance(each, Pitch) else each for each in line]
    after = [*letters[1:], goal.diatonic if goal is not None else None]
    found = [
        each if isinstance(each, Pitch) else _plain(ground, each, at_q, rising=following == each + 1)
        for each, at_q, following in zip(line, times, after, strict=True)
    ]
    free = [not isinstance(each, Pitch) for each in line]
    whole = [*found, goal] if goal is not None else found
    steps = [i for i, (one, other) in enumerate(zip(letters, after, strict=True)) if other in (one - 1, one + 1)]
    for index in (*reversed(steps), *steps):
        if abs(int(whole[index].midi - whole[index + 1].midi)) == 3:
            _narrow(ground, whole, free, times, index)
    return whole[: len(found)]


def _plain(ground: Ground, letter: int, at_q: Fraction, *, rising: bool) -> Pitch:
    return ground.neighbour(natural(letter), 0, at_q, rising=rising)


def _narrow(ground: Ground, line: list[Pitch], free: list[bool], times: Sequence[Fraction], index: int) -> None:
    """Bring one of two notes an augmented second apart to a whole tone: one that is free and no chord note."""
    for here, other in ((index, index + 1), (index + 1, index)):
        if here < len(free) and free[here]:
            footing = ground.at(times[here])
            if footing is None or not footing.has(line[here]):
                towards = 1 if line[other].midi > line[here].midi else -1
                line[here] = line[here]._replace(alter=line[here].alter + towards)
                return
