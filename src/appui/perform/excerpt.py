"""Excerpts one after another: a bar of clicks before each, on one time line."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from appui.exact import Fraction
from appui.perform.model import Mark, Performance, PerformedNote, PerformedPart, TempoStep
from appui.score.model import Meter
from appui.score.pitch import Pitch

__all__ = ["CLICKS", "chain", "clicks", "later", "led_in"]

#  General MIDI percussion keys (read): high wood block on the first beat, low on the others
CLICKS = (76, 77)
CLICK_VELOCITY = (92, 74)
_UNPITCHED = Pitch("C", 0, 4)


def clicks(meter: Meter, qpm: Fraction) -> Performance:
    """One bar of clicks on the meter's beats, at `qpm` quarter notes a minute."""
    notes = []
    beats = max(1, int(meter.bar_q / meter.beat_q))
    beat_s = float(meter.beat_q * 60 / qpm)
    for beat in range(beats):
        rank = 0 if beat == 0 else 1
        notes.append(
            PerformedNote(
                beat * meter.beat_q,
                meter.beat_q / 4,
                beat * beat_s,
                beat_s / 4,
                _UNPITCHED,
                CLICKS[rank],
                CLICK_VELOCITY[rank],
                "click",
            )
        )
    part = PerformedPart("click", "Click", 0, tuple(notes), percussion=True)
    length_q = beats * meter.beat_q
    return Performance(
        "clicks",
        (part,),
        (TempoStep(Fraction(0), 0.0, qpm),),
        (Mark(Fraction(0), "meter", f"{meter.beats}/{meter.beat_type}"),),
        length_q,
        float(length_q * 60 / qpm),
    )


def later(performance: Performance, shift_q: Fraction, shift_s: float) -> Performance:
    """The same performance, everything in it moved on its time line by `shift_q` quarters and `shift_s` seconds."""
    return replace(
        performance,
        parts=tuple(
            replace(
                part,
                notes=tuple(n._replace(onset_q=n.onset_q + shift_q, onset_s=n.onset_s + shift_s) for n in part.notes),
                controls=tuple(
                    c._replace(onset_q=c.onset_q + shift_q, onset_s=c.onset_s + shift_s) for c in part.controls
                ),
            )
            for part in performance.parts
        ),
        tempos=tuple(
            step._replace(onset_q=step.onset_q + shift_q, onset_s=step.onset_s + shift_s) for step in performance.tempos
        ),
        marks=tuple(mark._replace(onset_q=mark.onset_q + shift_q) for mark in performance.marks),
        length_q=performance.length_q + shift_q,
        length_s=performance.length_s + shift_s,
    )


def led_in(performance: Performance, lead_q: Fraction) -> Performance:
    """The same performance with silence before it, so that its first printed beat comes `lead_q` after the start."""
    shift_q = lead_q - performance.lead_q
    first = performance.tempos[0]
    moved = later(performance, shift_q, float(shift_q * 60 / first.qpm))
    return replace(moved, tempos=(first, *moved.tempos[1:]), lead_q=lead_q)


def chain(performances: Sequence[Performance], title: str) -> Performance:
    """Performances one after another; parts of the same id become one part."""
    parts: dict[str, PerformedPart] = {}
    tempos: list[TempoStep] = []
    marks: list[Mark] = []
    at_q, at_s = Fraction(0), 0.0
    for performance in performances:
        moved = later(performance, at_q, at_s)
        tempos += moved.tempos
        marks += moved.marks
        for part in moved.parts:
            known = parts.get(part.id)
            parts[part.id] = (
                part
                if known is None
                else replace(known, notes=known.notes + part.notes, controls=known.controls + part.controls)
            )
        at_s += performance.seconds(performance.length_q)
        at_q += performance.length_q
    return Performance(title, tuple(parts.values()), tuple(tempos), tuple(marks), at_q, at_s)
