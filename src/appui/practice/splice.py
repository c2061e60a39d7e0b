"""Two performances of the same bars joined: some stretches of one, the rest of the other."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from itertools import zip_longest

from appui.exact import Fraction
from appui.perform.model import Control, Performance, PerformedNote, PerformedPart
from appui.score.repeats import Occurrence

__all__ = ["spliced"]

_BEFORE_BEAT = frozenset({"before", "termination"})


def spliced(plain: Performance, other: Performance, order: Sequence[Occurrence]) -> Performance:
    """The first time plain, later times the other; a small note before the barline goes with the bar it leads to."""
    lead_q = max(plain.lead_q, other.lead_q)
    plain, other = (_led(each, lead_q) for each in (plain, other))
    parts = [
        replace(one, notes=_notes_spliced(one, two, order, lead_q), controls=_controls_spliced(one, two, order, lead_q))
        for one, two in zip(plain.parts, other.parts, strict=True)
    ]
    return replace(plain, parts=tuple(parts))


def _led(performance: Performance, lead_q: Fraction) -> Performance:
    from appui.perform.excerpt import led_in

    return performance if performance.lead_q == lead_q else led_in(performance, lead_q)


def _notes_spliced(
    one: PerformedPart, two: PerformedPart, order: Sequence[Occurrence], lead_q: Fraction
) -> tuple[PerformedNote, ...]:
    notes = [
        _cut(note, until_q)
        for part, from_q, until_q in _stretches(one, two, order, lead_q)
        for note in part.notes
        if note.onset_q >= from_q and (until_q is None or note.onset_q < until_q)
    ]
    return tuple(sorted(notes, key=lambda note: (note.onset_s, note.key)))


def _controls_spliced(
    one: PerformedPart, two: PerformedPart, order: Sequence[Occurrence], lead_q: Fraction
) -> tuple[Control, ...]:
    """What ends with a bar ends there, whatever comes next."""
    return tuple(
        control
        for part, from_q, until_q in _stretches(one, two, order, lead_q)
        for control in part.controls
        if control.onset_q >= from_q and (until_q is None or control.onset_q <= until_q)
    )


def _stretches(
    one: PerformedPart, two: PerformedPart, order: Sequence[Occurrence], lead_q: Fraction
) -> Iterator[tuple[PerformedPart, Fraction, Fraction | None]]:
    """Bar by bar: whose notes are played, from which moment until which, the last until the end."""
    from_q = Fraction(0)
    for occurrence, following in zip_longest(order, order[1:]):
        part, until_q = two if occurrence.turn > 1 else one, None
        if following is not None:
            until_q = _seam(two if following.turn > 1 else one, following.onset_q + lead_q)
        yield part, from_q, until_q
        from_q = until_q or from_q


def _seam(part: PerformedPart, start_q: Fraction) -> Fraction:
    """Where what belongs to a bar begins: with the small notes that lead to it, if there are any."""
    leading = [
        note.onset_q
        for note in part.notes
        if note.role in _BEFORE_BEAT
        and start_q - 1 < note.onset_q < start_q <= note.onset_q + note.duration_q + Fraction(1, 2)
    ]
    return min(leading, default=start_q)


def _cut(note: PerformedNote, end_q: Fraction | None) -> PerformedNote:
    """A note that small notes of the other reading run into gives way to them; one tied over the seam does not."""
    if end_q is None or note.onset_q + note.duration_q <= end_q or note.role in _BEFORE_BEAT:
        return note
    over_q = note.onset_q + note.duration_q - end_q
    if over_q > Fraction(1, 2):
        return note
    length_q = end_q - note.onset_q
    return note._replace(duration_q=length_q, duration_s=note.duration_s * float(length_q / note.duration_q))
