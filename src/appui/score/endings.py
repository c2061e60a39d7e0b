"""How the ending of a trill is printed: in small notes, at full size, or not at all.

An ending is the note below and the note itself, quick, after the trill and before what it leads to; also one of them
alone (C.P.E. Bach 1753, 2.3 §6, §16, read; Türk 1789, IV.3 §36, read: in ordinary or in small notes). Where the note
that follows is printed before its time instead, as an anticipation, no ending is played (the same, read).
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Literal

from appui.exact import Fraction
from appui.score.model import Event, Score
from appui.score.signs import Sign

__all__ = ["Ending", "ending_after", "printed_ending"]

Ending = Literal["small", "full", "anticipation", "none"]
#  a note of the ending is at most half of the trilled note and an eighth, or a quarter of the trilled note
_HALF, _QUARTER = Fraction(1, 2), Fraction(1, 4)
_EIGHTH_Q = Fraction(1, 2)


def printed_ending(score: Score, sign: Sign) -> Ending:
    """How the ending of a trill is printed."""
    events = score.parts[sign.part].voices[sign.voice].events
    return ending_after(events, sign.event)


def ending_after(events: Sequence[Event], index: int) -> Ending:
    """How the ending of a trill on the event at `index` of its voice is printed; ties are followed to their end."""
    event = events[index]
    last = index
    while last + 1 < len(events) and _is_tied(events[last], events[last + 1]):
        last += 1
    following = [each for each in events[last + 1 : last + 4] if not each.is_rest]
    if events[last].small_after or event.small_after or _is_ending(event, _small(events, last + 1)):
        return "small"
    whole_q = events[last].end_q - event.onset_q
    if not following or following[0].onset_q != events[last].end_q:
        return "none"
    return _at_full_size(event, following, whole_q)


def _is_tied(event: Event, later: Event) -> bool:
    return bool(event.notes and later.notes and event.top.tied_on and later.top.tied_back)


def _small(events: Sequence[Event], index: int) -> list[int]:
    if index >= len(events):
        return []
    return [small.written[0].diatonic for small in events[index].small_before]


def _is_ending(event: Event, letters: Sequence[int]) -> bool:
    if event.is_rest:
        return False
    steps = [letter - event.top.written.diatonic for letter in letters]
    return steps in ([-1, 0], [-1])


def _at_full_size(event: Event, following: Sequence[Event], whole_q: Fraction) -> Ending:
    steps = [each.top.written.diatonic - event.top.written.diatonic for each in following]
    quick = [_is_quick(each.duration_q, whole_q) for each in following]
    if len(steps) >= 2 and steps[:2] == [-1, 0] and all(quick[:2]):
        goes_on = len(steps) < 3 or steps[2] != -1 or following[2].duration_q > following[1].duration_q
        if following[0].duration_q == following[1].duration_q and goes_on:
            return "full"
    if len(steps) >= 2 and steps[0] == steps[1] != 0 and abs(steps[0]) <= 2:
        shorter = following[0].duration_q < following[1].duration_q and following[0].duration_q <= whole_q / 3
        return "anticipation" if shorter else "none"
    return "none"


def _is_quick(length_q: Fraction, whole_q: Fraction) -> bool:
    return length_q <= whole_q * _QUARTER or (length_q <= whole_q * _HALF and length_q <= _EIGHTH_Q)
