"""Standard MIDI Files: format 1, 960 ticks a quarter note, every position rounded once.

A conductor track holds tempo, meter, key, a marker a bar and a cue point a sign (`oboe.12.3 leaning 1/2`); then a
named track a part, on the port and channel `seats` gives it, tuned as `tuning` says. Source: Standard MIDI File 1.0
(read). Text is UTF-8.

Departures: a tempo below 3.58 quarter notes a minute does not fit the format and is written as that; meters whose
lower number is no power of two and keys beyond seven signs cannot be written and are left out.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from functools import lru_cache
from pathlib import Path

from appui.errors import SoundError
from appui.exact import Fraction
from appui.perform.model import Control, Mark, Performance, PerformedNote, PerformedPart, Tuning
from appui.sound.files import write_whole
from appui.sound.seats import Seat, seats
from appui.sound.strokes import Stroke, single_strokes
from appui.sound.tuning import channel_controls, octave_message

__all__ = ["PPQ", "midi_bytes", "tick", "tempo_bytes", "variable_length", "write_midi"]

PPQ = 960
_LAST_TICK = 0x0FFFFFFF
SLOWEST_US = 0xFFFFFF  # three bytes of microseconds a quarter note
LONGEST_TEXT = 200  # characters; the format has no limit, old readers do
RELEASE_VELOCITY = 64  # SMF 1.0, worked example of appendix: 40 hex (read)

# meta events, SMF 1.0 (read); the port is common practice
TRACK_NAME, MARKER, CUE_POINT, PORT, END, TEMPO, METER, KEY = 0x03, 0x06, 0x07, 0x21, 0x2F, 0x51, 0x58, 0x59
# channel messages, MIDI 1.0 (memory)
NOTE_OFF, NOTE_ON, CONTROL, PROGRAM = 0x80, 0x90, 0xB0, 0xC0
EXCLUSIVE, END_OF_EXCLUSIVE = 0xF0, 0xF7
VOLUME, PAN = 7, 10
# effects depths, MIDI 1.0 (memory): what a player adds of its own room
REVERB, CHORUS = 91, 93

# what comes first at one tick: the name, the setting up, then note-off before note-on
_NAME, _SETUP, _OFF, _CHANGE, _ON = range(5)
_Event = tuple[int, int, bytes]  # tick, order at this tick, the bytes


def tick(at_q: Fraction) -> int:
    """The tick nearest to a performed position; halfway goes up."""
    return (2 * PPQ * at_q.numerator + at_q.denominator) // (2 * at_q.denominator)


def midi_bytes(performance: Performance) -> bytes:
    """The bytes of the file; the same performance gives the same bytes."""
    strokes = [list(single_strokes(map(_stroke, part.notes))) for part in performance.parts]
    places = seats(performance.parts, strokes)
    end = tick(performance.length_q)
    if end > _LAST_TICK:
        length, most = round(performance.length_q), _LAST_TICK // PPQ
        raise SoundError("MIDI", f"{length:,} quarter notes are more than a file holds ({most:,})", "take fewer bars")
    tracks = [_track(_conductor(performance), end)]
    for part, seat, played in zip(performance.parts, places, strokes, strict=True):
        tuned = () if part.percussion or performance.tuning is None else _tuned(performance.tuning, seat.channel)
        tracks.append(_track([*_setup(part, seat), *tuned, *_played(part, seat, played)], end))
    header = b"".join(number.to_bytes(2, "big") for number in (1, len(tracks), PPQ))
    return _chunk(b"MThd", header) + b"".join(tracks)


def write_midi(performance: Performance, path: Path) -> None:
    """Write the file, whole or not at all; raises `OutputError`."""
    write_whole(path, midi_bytes(performance))


def _stroke(note: PerformedNote) -> Stroke:
    start, stop = tick(note.onset_q), tick(note.onset_q + note.duration_q)
    return Stroke(note.key, start, max(stop, start + 1), note.velocity)


# tracks


def _setup(part: PerformedPart, seat: Seat) -> Iterator[_Event]:
    yield 0, _NAME, _text(TRACK_NAME, part.name)
    if seat.port:
        yield 0, _SETUP, _meta(PORT, bytes([seat.port]))
    yield 0, _SETUP, bytes([PROGRAM | seat.channel, part.program])
    yield 0, _SETUP, _control(seat.channel, VOLUME, part.volume)
    yield 0, _SETUP, _control(seat.channel, PAN, part.pan)
    if part.apart:
        # a room answers on both sides
        yield 0, _SETUP, _control(seat.channel, REVERB, 0)
        yield 0, _SETUP, _control(seat.channel, CHORUS, 0)


def _tuned(tuning: Tuning, channel: int) -> Iterator[_Event]:
    for number, value in channel_controls(tuning):
        yield 0, _SETUP, _control(channel, number, value)
    message = octave_message(tuning, [channel]) + bytes([END_OF_EXCLUSIVE])
    yield 0, _SETUP, bytes([EXCLUSIVE]) + variable_length(len(message)) + message


def _played(part: PerformedPart, seat: Seat, strokes: Iterable[Stroke]) -> Iterator[_Event]:
    for control in part.controls:
        yield _controlled(control, seat.channel)
    on, off = NOTE_ON | seat.channel, NOTE_OFF | seat.channel
    for key, start, stop, velocity in strokes:
        yield start, _ON, bytes((on, key, velocity))
        yield stop, _OFF, bytes((off, key, RELEASE_VELOCITY))


def _controlled(control: Control, channel: int) -> _Event:
    return tick(control.onset_q), _CHANGE, _control(channel, control.number, control.value)


def _conductor(performance: Performance) -> Iterator[_Event]:
    yield 0, _NAME, _text(TRACK_NAME, performance.title)
    for step in performance.tempos:
        yield tick(step.onset_q), _SETUP, _meta(TEMPO, tempo_bytes(step.qpm))
    for mark in performance.marks:
        encoded = _MARKS[mark.kind](mark)
        if encoded:
            yield tick(mark.onset_q), _CHANGE, encoded


def _track(events: Iterable[_Event], end: int) -> bytes:
    """Events at absolute ticks as a track chunk of differences, closed at `end` or later."""
    pieces: list[bytes] = []
    now = 0
    for at, _, encoded in sorted(events, key=_moment):
        pieces += variable_length(at - now), encoded
        now = at
    pieces += variable_length(max(end - now, 0)), _meta(END, b"")
    return _chunk(b"MTrk", b"".join(pieces))


def _moment(event: _Event) -> tuple[int, int]:
    return event[:2]


# bytes


@lru_cache(maxsize=4096)
def variable_length(number: int) -> bytes:
    """A number as MIDI writes it: seven bits a byte, all but the last with the high bit.

    >>> variable_length(0x4000).hex(" ")
    '81 80 00'
    """
    if not 0 <= number <= _LAST_TICK:
        raise ValueError(f"{number} does not fit a variable-length number (0 to 0FFFFFFF hex)")
    septets = [number & 0x7F]
    while number := number >> 7:
        septets.append(number & 0x7F | 0x80)
    return bytes(reversed(septets))


def tempo_bytes(qpm: Fraction) -> bytes:
    """`qpm` quarter notes a minute as three bytes of microseconds a quarter note.

    >>> tempo_bytes(Fraction(120)).hex(" ")
    '07 a1 20'
    """
    return min(SLOWEST_US, max(1, round(60_000_000 / qpm))).to_bytes(3, "big")


def _chunk(kind: bytes, data: bytes) -> bytes:
    return kind + len(data).to_bytes(4, "big") + data


def _meta(kind: int, data: bytes) -> bytes:
    return bytes((0xFF, kind)) + variable_length(len(data)) + data


def _text(kind: int, text: str) -> bytes:
    return _meta(kind, text[:LONGEST_TEXT].encode("utf-8", "replace"))


def _control(channel: int, number: int, value: int) -> bytes:
    return bytes((CONTROL | channel, number, value))


# marks


def _bar(mark: Mark) -> bytes:
    return _text(MARKER, mark.text)


def _sign(mark: Mark) -> bytes:
    return _text(CUE_POINT, mark.text)


def _meter(mark: Mark) -> bytes:
    """Beats, the unit's power of two, MIDI clocks (24 a quarter) a click, 32nds a quarter."""
    beats, unit = map(int, mark.text.split("/"))
    if not 0 < beats < 256 or unit < 1 or unit & (unit - 1):
        return b""
    units_a_click = 3 if beats > 3 and beats % 3 == 0 else 1
    clocks = max(1, min(255, 96 * units_a_click // unit))
    return _meta(METER, bytes((beats, unit.bit_length() - 1, clocks, 8)))


def _key(mark: Mark) -> bytes:
    """Sharps, flats negative; 1 for minor."""
    fifths, mode = mark.text.split()
    if not -7 <= int(fifths) <= 7:
        return b""
    return _meta(KEY, int(fifths).to_bytes(1, "big", signed=True) + bytes([mode == "minor"]))


_MARKS = {"bar": _bar, "round": _bar, "sign": _sign, "meter": _meter, "key": _key}
