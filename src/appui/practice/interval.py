"""Transposing what is performed: an interval by name (``M2``, ``-m3``, ``P8``) or semitones (``+2``, ``-1``).

A named interval keeps the spelling; semitones are spelled as the interval usual for them.
"""

from __future__ import annotations

from dataclasses import replace
from functools import partial

from appui.errors import UsageError
from appui.perform.model import Mark, Performance, PerformedNote, PerformedPart
from appui.score.pitch import Transposition

__all__ = ["INTERVALS", "parse_interval", "transposed"]

#   name: letter steps, semitones
INTERVALS: dict[str, tuple[int, int]] = {
    "P1": (0, 0),
    "m2": (1, 1),
    "M2": (1, 2),
    "m3": (2, 3),
    "M3": (2, 4),
    "P4": (3, 5),
    "A4": (3, 6),
    "d5": (4, 6),
    "P5": (4, 7),
    "m6": (5, 8),
    "M6": (5, 9),
    "m7": (6, 10),
    "M7": (6, 11),
    "P8": (7, 12),
}
_BY_SEMITONES = {semitones: (steps, semitones) for steps, semitones in INTERVALS.values()}


def parse_interval(text: str | None) -> Transposition:
    """Read an interval of an octave at most; raises `UsageError`.

    >>> parse_interval("-m3"), parse_interval("+2")
    (Transposition(diatonic=-2, chromatic=-3), Transposition(diatonic=1, chromatic=2))
    """
    words = (text or "P1").strip()
    sign = -1 if words.startswith("-") else 1
    name = words.lstrip("+-")
    found = INTERVALS.get(name)
    if found is None and name.isdecimal():
        found = _BY_SEMITONES.get(int(name))
    if found is None or len(words) - len(name) > 1:
        raise UsageError(
            f"transpose {text!r} is no interval; name one such as M2, -m3 or P8, or semitones such as -2, an octave at "
            "most"
        )
    return Transposition(sign * found[0], sign * found[1])


def transposed(performance: Performance, interval: Transposition) -> Performance:
    """The same performance so much higher; raises `UsageError` where a note leaves what MIDI can name."""
    if not interval.chromatic:
        return performance
    move = partial(_note, interval)
    return replace(
        performance,
        parts=tuple(
            part if part.percussion else _moved(part, tuple(map(move, part.notes))) for part in performance.parts
        ),
        marks=tuple(_mark(mark, interval) for mark in performance.marks),
    )


def _moved(part: PerformedPart, notes: tuple[PerformedNote, ...]) -> PerformedPart:
    return replace(part, notes=notes)


def _note(interval: Transposition, note: PerformedNote) -> PerformedNote:
    key = note.key + int(interval.chromatic)
    if not 0 <= key <= 127:
        raise UsageError(
            f"transposed by {interval.chromatic} semitones, {note.pitch.name} leaves the range of MIDI keys; "
            "take a smaller interval"
        )
    return note._replace(key=key, pitch=interval.sounding(note.pitch))


def _mark(mark: Mark, interval: Transposition) -> Mark:
    if mark.kind != "key":
        return mark
    fifths, mode = mark.text.split()
    # up a fifth (4 letters, 7 semitones) is one sharp more, up an octave (7, 12) none
    shifted = int(fifths) + 7 * int(interval.chromatic) - 12 * interval.diatonic
    return mark._replace(text=f"{shifted} {mode}")
