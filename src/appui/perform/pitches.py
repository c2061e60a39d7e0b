"""Pitches that MIDI has no key for, told where they are played as others.

MIDI keys are semitones from 0 (C-1) to 127 (G9): a quarter tone is played as a semitone beside it, what lies beyond the
keys as the first or the last of them.
"""

from __future__ import annotations

from appui.score.model import Part, Score

__all__ = ["pitches_without_key"]

_KEYS = 127
_FIRST_BARS = 4


def pitches_without_key(score: Score, part: Part) -> tuple[tuple[str, str], ...]:
    """Notices, as (part, words), of notes that sound otherwise than they are printed."""
    between: dict[str, None] = {}
    beyond: dict[str, None] = {}
    for voice in part.voices:
        for event in voice.events:
            for note in event.notes:
                key = note.sounding.midi
                if not isinstance(key, int):
                    between[score.bars[event.bar].number] = None
                elif not 0 <= key <= _KEYS:
                    beyond[score.bars[event.bar].number] = None
    said = []
    if between:
        said.append((part.name, f"quarter tones ({_bars(between)}) are played as the nearest semitone"))
    if beyond:
        said.append((part.name, f"notes beyond MIDI's keys ({_bars(beyond)}) are played as the first or last of them"))
    return tuple(said)


def _bars(found: dict[str, None]) -> str:
    numbers = list(found)
    more = f" and {len(numbers) - _FIRST_BARS} more" if len(numbers) > _FIRST_BARS else ""
    return f"{'bar' if len(numbers) == 1 else 'bars'} {', '.join(numbers[:_FIRST_BARS])}{more}"
