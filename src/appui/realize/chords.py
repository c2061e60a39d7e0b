"""Signs of whole chords and of two events: which notes they are for, and in which order.

An arpeggio is counted over all notes of its event, lowest first, and over the events of other voices at the same
moment whose arpeggio has the same `number` (MusicXML 4.0, read); without a number each event is broken by itself. A
tremolo between two notes is one sign on the first: the second event is found by its ``stop``.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace
from itertools import combinations
from typing import NamedTuple

from appui.exact import Fraction
from appui.score.model import Event, Ornament, Part, SmallNote
from appui.score.signs import Sign

__all__ = ["Place", "Together", "is_small_chord", "small_of_note", "whole_chord"]

_WHOLE = frozenset({"arpeggio", "tremolo", "breath mark", "caesura"})


def whole_chord(sign: Sign) -> bool:
    """Whether a sign is for every note of its event."""
    return sign.kind in _WHOLE


def is_small_chord(sign: Sign) -> bool:
    """Whether small notes are printed as chords, two and more together."""
    return sign.kind == "small notes" and any(len(small.written) > 1 for small in sign.small)


def small_of_note(sign: Sign, event: Event, index: int) -> Sign | None:
    """A sign as far as it is for one note of its chord: each note of a small chord delays the one nearest to it.

    Two small notes together before two notes delay both (common practice, no source); `None` for a note that no small
    note belongs to.
    """
    if not is_small_chord(sign):
        return sign
    small = tuple(own for each in sign.small if (own := _own(each, event, index)) is not None)
    return replace(sign, small=small) if small else None


def _own(small: SmallNote, event: Event, index: int) -> SmallNote | None:
    """The note of a small chord that belongs to a note of the main chord: both counted from below, the nearest fit."""
    mains = sorted(range(len(event.notes)), key=lambda i: event.notes[i].written.midi)
    order = sorted(range(len(small.written)), key=lambda i: small.written[i].midi)
    if len(order) > len(mains):
        return small
    fits = combinations(mains, len(order))
    best = min(fits, key=lambda taken: _apart(small, event, order, taken))
    if index not in best:
        return None
    which = order[best.index(index)]
    return small._replace(written=(small.written[which],), sounding=(small.sounding[which],))


def _apart(small: SmallNote, event: Event, order: Sequence[int], taken: Sequence[int]) -> int:
    return sum(
        abs(small.written[i].diatonic - event.notes[main].written.diatonic)
        for i, main in zip(order, taken, strict=True)
    )


class Place(NamedTuple):
    """A note's place among those it is played with: `rank` from the lowest, of `of`."""

    rank: int = 0
    of: int = 1


class Together:
    """The broken chords and paired tremolos of one part."""

    def __init__(self, part: Part, signs: Iterable[Sign]) -> None:
        self.part = part
        self._places: dict[tuple[int, int, int], Place] = {}
        self.seconds: dict[tuple[int, int], Sign] = {}
        self.firsts: dict[tuple[int, int], int] = {}
        groups: dict[tuple[Fraction, str], list[Sign]] = {}
        for sign in signs:
            if sign.kind == "arpeggio":
                event = part.voices[sign.voice].events[sign.event]
                number = sign.ornament.get("number") if sign.ornament else None
                groups.setdefault((event.onset_q, number or f"voice {sign.voice}"), []).append(sign)
            elif sign.kind == "tremolo" and sign.ornament is not None and sign.ornament.get("type") == "start":
                self._pair(sign)
        for group in groups.values():
            self._rank(group)

    def place(self, sign: Sign, note: int) -> Place:
        """Where a note comes among those broken with it."""
        return self._places.get((sign.voice, sign.event, note), Place())

    def partner(self, voice: int, event: int) -> Event | None:
        """The other of two events a tremolo alternates between."""
        other = self.firsts.get((voice, event))
        return None if other is None else self.part.voices[voice].events[other]

    def _rank(self, group: list[Sign]) -> None:
        notes = [
            (note.sounding.midi, sign.voice, sign.event, index)
            for sign in group
            for index, note in enumerate(self.part.voices[sign.voice].events[sign.event].notes)
            if not note.silent
        ]
        for rank, (_, voice, event, index) in enumerate(sorted(notes)):
            self._places[voice, event, index] = Place(rank, len(notes))

    def _pair(self, sign: Sign) -> None:
        events = self.part.voices[sign.voice].events
        second = sign.event + 1
        if second < len(events) and any(_stops(o) for note in events[second].notes for o in note.ornaments):
            self.seconds[sign.voice, second] = sign
            self.firsts[sign.voice, second] = sign.event
            self.firsts[sign.voice, sign.event] = second


def _stops(ornament: Ornament) -> bool:
    return ornament.kind == "tremolo" and ornament.get("type") == "stop"
