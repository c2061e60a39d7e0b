"""All notes of a printed score in columns: what the rules of level and time look at.

Conventions: one row a full-size note that is played, in order of onset, tied notes as one. Moments are quarters of the
printed time line as floats, pitches MIDI keys as they sound. A *hand* is what sounds as one player's: a staff, or all
that accompanies a solo. Small notes have no row: what they become takes the terms of its main note.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from functools import cached_property
from typing import TYPE_CHECKING, NamedTuple

from appui.exact import Fraction
from appui.score.model import Event, Note, Part, Score

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Column = NDArray[np.float64]
    Flags = NDArray[np.bool_]
    Places = NDArray[np.int64]

__all__ = ["Row", "Sheet", "sheet_of"]


class Row(NamedTuple):
    """One note: its part's index, moment, staff, voice, sounding pitch, length with ties, bar, and its event."""

    onset_q: Fraction
    part: int
    staff: int
    voice: int
    pitch: float
    length_q: Fraction
    bar: int
    event: Event


@dataclass(frozen=True, eq=False)
class Sheet:
    """The rows of a score and columns of them; `solo` is the solo's part index, `None` where nobody leads.

    `tied` tells by part, onset and pitch where a note that is tied to an earlier one began.
    """

    score: Score
    rows: tuple[Row, ...]
    solo: int | None = None
    tied: Mapping[tuple[int, Fraction, float], Fraction] = field(default_factory=dict)

    def _column(self, place: int) -> Column:
        import numpy as np

        return np.array([float(row[place]) for row in self.rows], np.float64)  # type: ignore[arg-type]

    @cached_property
    def onset_q(self) -> Column:
        """Where each note starts."""
        return self._column(0)

    @cached_property
    def pitch(self) -> Column:
        """Sounding pitch, MIDI key."""
        return self._column(4)

    @cached_property
    def length_q(self) -> Column:
        """Printed length, ties added."""
        return self._column(5)

    @cached_property
    def end_q(self) -> Column:
        """Where each note stops."""
        return self.onset_q + self.length_q

    @cached_property
    def bar(self) -> Places:
        """The index of each note's bar."""
        import numpy as np

        return np.array([row.bar for row in self.rows], np.int64)

    @cached_property
    def part(self) -> Places:
        """The index of each note's part."""
        import numpy as np

        return np.array([row.part for row in self.rows], np.int64)

    @cached_property
    def staff(self) -> Places:
        """The staff of its part each note stands on, from 1."""
        import numpy as np

        return np.array([row.staff for row in self.rows], np.int64)

    @cached_property
    def voice(self) -> Places:
        """A number for each voice of each part."""
        import numpy as np

        return np.array([1000 * row.part + row.voice for row in self.rows], np.int64)

    @cached_property
    def desk(self) -> Places:
        """A number for each staff of each part."""
        return 100 * self.part + self.staff

    @cached_property
    def hand(self) -> Places:
        """What is struck as by one hand: a staff; where a solo is accompanied, the solo, and all others together."""
        if self.lone or self.solo is None:
            return self.desk
        accompanies: Places = (self.part != self.solo).astype(self.part.dtype)
        return accompanies

    @cached_property
    def lone(self) -> bool:
        """Whether one player plays everything: a keyboard, or a solo without others."""
        return len({row.part for row in self.rows}) <= 1

    @cached_property
    def _places(self) -> dict[tuple[int, Fraction, float], int]:
        """The row of a note by part, onset and pitch."""
        return {(row.part, row.onset_q, row.pitch): place for place, row in enumerate(self.rows)}

    def row_of(self, part: int, onset_q: Fraction, pitch: float) -> int | None:
        """The row of a note, by any of those it is tied from; `None` for one that is not printed full size."""
        return self._places.get((part, self.tied.get((part, onset_q, pitch), onset_q), pitch))


def sheet_of(score: Score, solo: int | None = None) -> Sheet:
    """The notes of a score."""
    tied: dict[tuple[int, Fraction, float], Fraction] = {}
    rows = [row for part in score.parts if not part.percussion for row in _rows(part, tied)]
    rows.sort(key=lambda row: (row.onset_q, row.part, row.staff, row.pitch))
    return Sheet(score, tuple(rows), solo, tied)


def _rows(part: Part, tied: dict[tuple[int, Fraction, float], Fraction]) -> list[Row]:
    """The notes of a part, what is tied joined to what it is tied to; `tied` learns where those that go on begin."""
    open_at: dict[tuple[Fraction, float], int] = {}
    rows: list[Row] = []
    heads = ((number, event, note) for number, voice in enumerate(part.voices) for event, note in _heads(voice.events))
    for number, event, note in sorted(heads, key=lambda head: head[1].onset_q):
        pitch = float(note.sounding.midi)
        place = open_at.pop((event.onset_q, pitch), None) if note.tied_back else None
        if place is None:
            place = len(rows)
            rows.append(Row(event.onset_q, part.index, note.staff, number, pitch, event.duration_q, event.bar, event))
        else:
            tied[part.index, event.onset_q, pitch] = rows[place].onset_q
            rows[place] = rows[place]._replace(length_q=event.end_q - rows[place].onset_q)
        if note.tied_on:
            open_at[(event.end_q, pitch)] = place
    return rows


def _heads(events: tuple[Event, ...]) -> Iterator[tuple[Event, Note]]:
    return ((event, note) for event in events for note in event.notes if not note.silent and not note.hidden)
