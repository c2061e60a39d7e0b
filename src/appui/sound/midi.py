"""Standard MIDI Files: format 1, 960 ticks a quarter note, every position rounded once.

A conductor track holds tempo, meter, key, a marker a bar and a cue point a sign (`oboe.12.3 leaning 1/2`); then a named track a part.
Source: Standard MIDI File 1.0 (read). Channel 10 is for percussion; other parts take the other fifteen in order. Beyond fifteen parts a MIDI
port (meta FF 21, common practice) gives fifteen more, so that no part's note-off can end another's note.
"""

from __future__ import annotations

import io
from collections.abc import Iterable
from fractions import Fraction
from operator import itemgetter
from pathlib import Path

import mido

from appui.perform.model import Mark, Performance, PerformedPart
from appui.sound.files import write_whole

__all__ = ["PPQ", "midi_bytes", "tick", "write_midi"]

PPQ = 960
PERCUSSION = 9
_SLOWEST_US = 16_777_215
_Timed = tuple[int, int, mido.Message | mido.MetaMessage]
#  keys by fifths, major and minor, as mido names them
_MAJOR = "Cb Gb Db Ab Eb Bb F C G D A E B F# C#".split()
_MINOR = "Abm Ebm Bbm Fm Cm Gm Dm Am Em Bm F#m C#m G#m D#m A#m".split()


def tick(at_q: Fraction) -> int:
    """The tick nearest to a performed position."""
    return round(at_q * PPQ)


def midi_bytes(performance: Performance) -> bytes:
    """The bytes of the file; the same performance gives the same bytes."""
    file = mido.MidiFile(type=1, ticks_per_beat=PPQ, charset="utf-8")
    end = tick(performance.length_q)
    file.tracks.append(_track(_conductor(performance), end))
    channel = 0
    for part in performance.parts:
        if part.percussion:
            place = (0, PERCUSSION)
        else:
            place = divmod(channel, 15)
            channel += 1
        file.tracks.append(_track(_part_events(part, *place), end))
    stream = io.BytesIO()
    file.save(file=stream)
    return stream.getvalue()


def write_midi(performance: Performance, path: Path) -> None:
    """Write the file, whole or not at all."""
    write_whole(path, midi_bytes(performance))


def _track(events: Iterable[_Timed], end: int) -> mido.MidiTrack:
    """Absolute events, sorted, as a track of differences."""
    track = mido.MidiTrack()
    now = 0
    for at, _, message in sorted(events, key=itemgetter(0, 1)):
        message.time = at - now
        now = at
        track.append(message)
    track.append(mido.MetaMessage("end_of_track", time=max(end - now, 0)))
    return track


def _conductor(performance: Performance) -> Iterable[_Timed]:
    yield 0, 0, mido.MetaMessage("track_name", name=_text(performance.title))
    for step in performance.tempos:
        tempo = min(_SLOWEST_US, max(1, round(60_000_000 / step.qpm)))
        yield tick(step.onset_q), 1, mido.MetaMessage("set_tempo", tempo=tempo)
    for mark in performance.marks:
        message = _mark(mark)
        if message is not None:
            yield tick(mark.onset_q), 2, message


def _mark(mark: Mark) -> mido.MetaMessage | None:
    if mark.kind == "meter":
        beats, kind = map(int, mark.text.split("/"))
        if beats > 255 or kind & (kind - 1):
            return None
        clocks = 36 if beats > 3 and beats % 3 == 0 and kind == 8 else min(255, 96 // kind)
        return mido.MetaMessage("time_signature", numerator=beats, denominator=kind, clocks_per_click=max(clocks, 1))
    if mark.kind == "key":
        fifths, mode = mark.text.split()
        place = int(fifths) + 7
        if not 0 <= place < 15:
            return None
        return mido.MetaMessage("key_signature", key=(_MINOR if mode == "minor" else _MAJOR)[place])
    return mido.MetaMessage("marker" if mark.kind == "bar" else "cue_marker", text=_text(mark.text))


def _text(text: str) -> str:
    return text.encode("utf-8", "replace").decode("utf-8")[:200]


def _part_events(part: PerformedPart, port: int, place: int) -> Iterable[_Timed]:
    channel = place if place < PERCUSSION or part.percussion else place + 1
    yield 0, 0, mido.MetaMessage("track_name", name=_text(part.name))
    if port:
        yield 0, 0, mido.MetaMessage("midi_port", port=port)
    yield 0, 1, mido.Message("program_change", channel=channel, program=part.program)
    yield 0, 1, mido.Message("control_change", channel=channel, control=7, value=part.volume)
    yield 0, 1, mido.Message("control_change", channel=channel, control=10, value=part.pan)
    for control in part.controls:
        yield tick(control.onset_q), 3, mido.Message("control_change", channel=channel, control=control.number, value=control.value)
    for key, start, stop, velocity in _without_collisions(part):
        # values are in range by construction; mido's own checks of every note would cost more than the writing
        yield start, 4, mido.Message("note_on", skip_checks=True, channel=channel, note=key, velocity=velocity)
        yield stop, 2, mido.Message("note_off", skip_checks=True, channel=channel, note=key, velocity=64)


def _without_collisions(part: PerformedPart) -> Iterable[tuple[int, int, int, int]]:
    """Notes as (key, start tick, stop tick, velocity).

    On one channel a key sounds once: where two voices of a part hold the same key, the later stroke ends the earlier note, and two strokes at
    one moment are one.
    """
    by_key: dict[int, list[list[int]]] = {}
    for note in part.notes:
        start = tick(note.onset_q)
        stop = max(tick(note.onset_q + note.duration_q), start + 1)
        notes = by_key.setdefault(note.key, [])
        if notes and notes[-1][0] == start:
            notes[-1][1:] = [max(notes[-1][1], stop), max(notes[-1][2], note.velocity)]
        else:
            notes.append([start, stop, note.velocity])
    for key, notes in by_key.items():
        notes.sort()
        for index, (start, stop, velocity) in enumerate(notes):
            following = notes[index + 1][0] if index + 1 < len(notes) else stop
            yield key, start, min(stop, following), velocity
