"""Slurs of ornaments that are written out: from their first note to where they end, numbered beside the part's own."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from appui.exact import Fraction
from appui.notate.line import Line, Slot
from appui.realize.contract import Tone

__all__ = ["NUMBERS", "Slurs"]

# the numbers of our slurs, those the part itself does not use: a slur too many for them is not drawn
NUMBERS = ("6", "5", "4", "3", "2", "1")


class Slurs:
    """Where the slurs of the written-out gestures begin and end: from the first to the last tone of each sign.

    A small note before the beat is slurred to its main note. A note that quick notes of its own follow without a new
    stroke begins theirs. Where a printed slur leads on from the note it covers the gesture too. Ends are by voice and
    onset.
    """

    def __init__(self, line: Line, numbers: Sequence[str]) -> None:
        spans = sorted(set(_spans(line)), key=lambda span: span[1:])
        self.first: dict[tuple[int, Fraction], list[str]] = {}
        self.last: dict[tuple[int, Fraction], list[str]] = {}
        #  notes that stay as printed and end a slur, by ordinal
        self.printed: dict[int, str] = {}
        busy: dict[str, Fraction] = {}
        for voice, first, last, ordinal in spans:
            number = next((n for n in numbers if busy.get(n, first) <= first), None)
            if number is None:
                continue
            busy[number] = last
            self.first.setdefault((voice, first), []).append(number)
            if ordinal < 0:
                self.last.setdefault((voice, last), []).append(number)
            else:
                self.printed[ordinal] = number


_Span = tuple[int, Fraction, Fraction, int]


def _spans(line: Line) -> Iterator[_Span]:
    """Voice, first and last onset of each slur, and the ordinal of the note it ends on where that is no slot."""
    slots: dict[int, list[Slot]] = {}
    for slot in line.slots:
        slots.setdefault(slot.voice, []).append(slot)
    for voice, own in slots.items():
        tones = {tone for slot in own for piece in slot.pieces for tone in piece.tones if not tone.tied_back}
        struck = {tone.onset_q for tone in tones}
        rewritten = {slot.event.ordinal for slot in own}
        leading = {tone.end_q: tone.onset_q for tone in tones if tone.leads_on}
        gestures: dict[tuple[str, Fraction], list[Tone]] = {}
        for tone in tones:
            if tone.sign in line.signs and not tone.event.slur_on:
                gestures.setdefault((tone.sign or "", tone.printed_q), []).append(tone)
        for gesture in gestures.values():
            first = min(tone.onset_q for tone in gesture)
            end, ordinal = _slur_end(gesture, struck, rewritten)
            first = leading.get(first, first)
            if first < end:
                yield voice, first, end, ordinal


def _slur_end(gesture: Sequence[Tone], struck: set[Fraction], rewritten: set[int]) -> tuple[Fraction, int]:
    """The onset a gesture's slur leads to, and the ordinal of the note there if it stays as printed, else -1."""
    latest = max(gesture, key=lambda tone: tone.onset_q)
    main = latest.event
    if latest.role != "before" or latest.end_q != main.onset_q or main.is_rest or main.slur_back:
        return latest.onset_q, -1
    if main.ordinal in rewritten:
        return (main.onset_q if main.onset_q in struck else latest.onset_q), -1
    return main.onset_q, main.ordinal
