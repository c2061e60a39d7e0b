"""A MIDI file of a keyboard or wind controller as a take: what was pressed, when and how hard, exactly.

It goes the same way as a sound file, with a frame's key known instead of guessed; then every moment is set to that of
the note itself. Levels are of velocities: 40 log10(v/127) dB (SoundFont 2.04, section 8.4.1, read). Of keys held
together the one pressed last counts, so it is for one line at a time.
"""

from __future__ import annotations

from collections.abc import Iterable
from math import isnan, log10
from pathlib import Path
from typing import Any, NamedTuple

from appui.errors import SoundError
from appui.given import give
from appui.listen.align import Aligned, Fitting, Span, align_fitted, all_keys
from appui.listen.frames import FRAME_S, RATE
from appui.listen.heard import HeardFigure, HeardLine, HeardNotes, HeardTrill
from appui.listen.line import Line
from appui.listen.places import hear
from appui.listen.take import LONGEST_S, Take

__all__ = ["Pressed", "hear_midi", "pressed_in"]

_NEAR_S = 0.05
#  how a frame fits a key that is not down, nothing in particular, silence while something sounds
_OTHER, _ANYTHING, _SOUNDING = -6.0, -2.0, -6.0
_MOST_BYTES = 10_000_000
_DRUMS = 9


class Pressed(NamedTuple):
    """A note of the file: from when to when, which key, how hard (1 to 127)."""

    start_s: float
    end_s: float
    key: int
    velocity: int


def pressed_in(path: Path) -> list[list[Pressed]]:
    """The notes of a MIDI file by channel, each in order; raises `SoundError` for a file that is none, or has none."""
    import mido

    give(path)
    if not path.is_file():
        raise SoundError(path, "is no MIDI file that is there", "check the path")
    if path.stat().st_size > _MOST_BYTES:
        raise SoundError(path, f"is larger than {_MOST_BYTES // 1_000_000} MB", "give one take")
    try:
        notes = _notes(mido.MidiFile(path))
    except (OSError, EOFError, ValueError, KeyError, IndexError) as error:
        raise SoundError(path, f"cannot be read as MIDI ({error})", "record or export it again") from None
    if not notes:
        raise SoundError(path, "has no notes in it", "record again")
    if max(note.end_s for each in notes for note in each) > LONGEST_S:
        raise SoundError(path, f"lasts more than {LONGEST_S // 60} minutes", "cut it into movements or passages")
    return notes


def _notes(messages: Iterable[Any]) -> list[list[Pressed]]:
    at_s, down = 0.0, dict[tuple[int, int], tuple[float, int]]()
    found: dict[int, list[Pressed]] = {}
    for message in messages:
        at_s += message.time
        kind = message.type
        if kind not in ("note_on", "note_off"):
            continue
        key = (message.channel, message.note)
        if key in down:
            start_s, velocity = down.pop(key)
            if key[0] != _DRUMS:
                found.setdefault(key[0], []).append(Pressed(start_s, at_s, key[1], velocity))
        if kind == "note_on" and message.velocity:
            down[key] = at_s, message.velocity
    return [sorted(found[channel]) for channel in sorted(found)]


def hear_midi(line: Line, notes: list[Pressed]) -> tuple[Aligned, HeardLine]:
    """Find the line in the notes of a MIDI file."""
    take, fitting = _as_frames(line, notes)
    span = Span.free(round(notes[0].start_s / FRAME_S), round(notes[-1].end_s / FRAME_S))
    aligned = align_fitted(line, fitting, span)
    return aligned, _exactly(line, hear(line, take, aligned), notes)


def _as_frames(line: Line, notes: list[Pressed]) -> tuple[Take, Fitting]:
    import numpy as np

    keys = all_keys(line)
    count = round(max(note.end_s for note in notes) / FRAME_S) + 20
    by_key = np.full((len(keys), count), _OTHER, np.float32)
    anything, silence = np.full(count, _ANYTHING), np.zeros(count)
    level_db, rise = np.full(count, -90.0), np.zeros(count + 1)
    for note, following in zip(notes, [*notes[1:], None], strict=True):
        first, last = round(note.start_s / FRAME_S), round(note.end_s / FRAME_S)
        if following is not None:
            last = min(last, round(following.start_s / FRAME_S))
        last = max(last, first + 1)
        by_key[:, first:last], silence[first:last] = _OTHER, _SOUNDING
        if note.key in keys:
            by_key[keys.index(note.key), first:last] = 0.0
        level_db[first:last], rise[first] = 40 * log10(note.velocity / 127), 1.0
    spectrum = np.zeros((0, 0), np.float16)
    samples = np.zeros(round(count * FRAME_S * RATE), np.float32)
    return Take(samples, spectrum, level_db, rise[:-1], 440.0, -90.0), Fitting(keys, by_key, anything, silence, rise)


def _exactly(line: Line, heard: HeardLine, notes: list[Pressed]) -> HeardLine:
    """The same with every moment set to that of the note itself, where there is one."""
    from dataclasses import replace

    keys = [step.key for step in line.steps]
    small = {
        number: _notes_exactly(each, line.places[number].small, keys[line.places[number].step], notes)
        for number, each in heard.notes.items()
    }
    trills = {number: _trill_exactly(each, notes) for number, each in heard.trills.items()}
    figures = {number: _figure_exactly(each, notes) for number, each in heard.figures.items()}
    starts = tuple(_at(start, key, notes) for start, key in zip(heard.starts_s, keys, strict=True))
    return replace(heard, starts_s=starts, notes=small, trills=trills, figures=figures)


def _notes_exactly(each: HeardNotes, small: tuple[int, ...], key: int, notes: list[Pressed]) -> HeardNotes:
    strokes = tuple((_at(at, None, notes), size) for at, size in each.strokes)
    small_s = tuple(_at(at, one, notes) for at, one in zip(each.small_s, small, strict=True))
    main_s = _at(each.main_s, key, notes)
    small_db, main_db = _level_at(small_s[-1], notes), _level_at(main_s, notes)
    return each._replace(
        small_s=small_s, main_s=main_s, strokes=strokes, exact=True, small_db=small_db, main_db=main_db
    )


def _level_at(at_s: float, notes: list[Pressed]) -> float:
    """The level of the note that begins at a moment, or last before it."""
    begun = [note for note in notes if note.start_s <= at_s + 1e-6]
    return 40 * log10(begun[-1].velocity / 127) if begun else float("nan")


def _trill_exactly(each: HeardTrill, notes: list[Pressed]) -> HeardTrill:
    return each._replace(starts_s=tuple(_at(at, key, notes) for at, key in zip(each.starts_s, each.keys, strict=True)))


def _figure_exactly(each: HeardFigure, notes: list[Pressed]) -> HeardFigure:
    starts_s = tuple(_at(at, key, notes) for at, key in zip(each.starts_s, each.keys, strict=True))
    ended = [note.end_s for note in notes if abs(note.end_s - each.end_s) < _NEAR_S]
    return each._replace(
        starts_s=starts_s,
        end_s=min(ended, key=lambda end_s: abs(end_s - each.end_s), default=each.end_s),
        alone_s=_at(each.alone_s, each.keys[-1], notes),
    )


def _at(at_s: float, key: int | None, notes: list[Pressed]) -> float:
    """The start of the nearest note of a key, or of any."""
    if isnan(at_s):
        return at_s
    near = [note.start_s for note in notes if key in (None, note.key) and abs(note.start_s - at_s) < _NEAR_S]
    return min(near, key=lambda start_s: abs(start_s - at_s), default=at_s)
