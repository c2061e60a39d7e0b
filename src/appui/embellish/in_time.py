"""Drafts in time: for each printed note a move or none, and of all rows of them the best by a beam."""

from __future__ import annotations

from collections.abc import Iterator
from typing import NamedTuple

from appui.embellish.case import Case
from appui.embellish.fill import fills
from appui.embellish.judge import judged
from appui.embellish.model import Draft, DraftNote, Place
from appui.embellish.moves import interval_words
from appui.embellish.rules import faults
from appui.plan.embellishment import Span

__all__ = ["time_drafts"]

_BEAM = 24
_PER_NOTE = 14


class _Choice(NamedTuple):
    """One printed note, as it stands or with a move."""

    notes: tuple[DraftNote, ...]
    words: tuple[str, ...]


def time_drafts(case: Case) -> Iterator[Draft]:
    """The best drafts over the notes of the span, those that keep every rule, the plain one left out."""
    rows: list[Draft] = [Draft((), fits=frozenset())]
    for index in range(case.span.first, case.span.last + 1):
        choices = list(_choices(case, index))
        longer = [Draft(row.notes + choice.notes, words=row.words + choice.words) for row in rows for choice in choices]
        part = _upto(case, index)
        # a row is judged by what it has so far; the rules only where a whole printed note is done
        rows = sorted(longer, key=lambda draft: -judged(part, draft)[0])[:_BEAM] if len(longer) > _BEAM else longer
    yield from (row for row in rows if row.words)


def _upto(case: Case, last: int) -> Case:
    span = case.span
    if last == span.last:
        return case
    place = case.place._replace(span=Span(span.part, span.voice, span.first, last))
    return Case(case.interpretation, place, case.wish, case.character, case.mood, case.quarter_s, case.low, case.high)


def _choices(case: Case, index: int) -> Iterator[_Choice]:
    event = case.voice[index]
    pitch = event.top.sounding if event.notes else None
    yield _Choice((DraftNote(pitch, event.duration_q, "printed"),), ())
    alone = Place(case.place.place, case.place.kind, Span(case.span.part, case.span.voice, index, index), "", "")
    own = Case(case.interpretation, alone, case.wish, case.character, case.mood, case.quarter_s, case.low, case.high)
    found = []
    for move, notes in fills(case, index):
        draft = Draft(notes, fits=move.moods)
        # a trill is for a close, and a close without one is no more than it was
        if any(note.trill for note in notes) != (case.place.kind == "cadence"):
            continue
        if next(faults(own, draft), None) is None:
            words = f"{move.name} in {interval_words(_interval(case, index))}"
            found.append((judged(own, draft)[0], _Choice(notes, (words,))))
    found.sort(key=lambda each: -each[0])
    yield from (choice for _, choice in found[:_PER_NOTE])


def _interval(case: Case, index: int) -> int:
    return case.voice[index + 1].top.sounding.diatonic - case.voice[index].top.sounding.diatonic
