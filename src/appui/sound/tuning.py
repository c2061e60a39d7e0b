"""Pitch standard and temperament: cents of the twelve pitch classes, and the MIDI messages that carry them.

Conventions: cents are counted upward from C, fifths go C-G-D-A-E-B-F#-C#-G#-Eb-Bb-F-C. A temperament is a recipe: by
how much of a comma each fifth is narrower than pure; the fifth that is left out takes what the circle of 8400 cents
asks for (the wolf, or what closes the circle). Nothing is copied from a table of cents. The key note moves a whole
recipe from C to that note. Whatever the temperament, A4 has the pitch standard.

Recipes and conventional pitch levels: memory (sources beside them). MIDI tuning messages: MIDI Tuning Standard with
CA-020, CA-021 and RP-020 (read). The whole shift goes into the coarse and fine tuning of the channel (RPN 2 and 1),
the twelve offsets into the two-byte scale/octave message: 415 Hz is 101.27 cents down, more than that message holds.
A step of either is 0.0122 cents. Our own audio is tuned key by key instead, since FluidSynth rounds the two apart.
Bends are not used: FluidSynth ignores part of their range after a fine tuning.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterable
from pathlib import Path
from typing import NamedTuple

from appui.errors import SoundError, UsageError
from appui.exact import Fraction, fraction_of
from appui.perform.model import Tuning
from appui.text import text_of

__all__ = [
    "FIFTHS",
    "PITCH_HZ",
    "PITCH_LEVELS",
    "TEMPERAMENTS",
    "cents_of",
    "channel_controls",
    "fifths_of",
    "key_number",
    "make_tuning",
    "octave_message",
    "pitch_hz",
    "read_cents",
    "shift_cents",
]

PURE_FIFTH = 1200 * math.log2(3 / 2)
SYNTONIC = 1200 * math.log2(81 / 80)
PYTHAGOREAN = 12 * PURE_FIFTH - 8400
SCHISMA = PYTHAGOREAN - SYNTONIC
PITCH_HZ = (380.0, 480.0)
#  conventional levels, A4 in Hz (B. Haynes, A History of Performing Pitch, 2002; memory); 440 is ISO 16:1975 (read)
PITCH_LEVELS = (392, 415, 430, 440, 442, 466)
FIFTHS = tuple("C G D A E B F# C# G# Eb Bb F".split())
_NAMES = "C C# D Eb E F F# G G# A Bb B".split()
_SAME = {"Db": 1, "D#": 3, "Gb": 6, "Ab": 8, "A#": 10, "Cb": 11, "B#": 0, "E#": 5, "Fb": 4}
_A = 9
_NARROWEST, _WIDEST = -100.0, 100.0


class _Recipe(NamedTuple):
    """Fifths by their lower note; each group narrower than pure by a share of a comma.

    `rest` is the fifth, or the equal fifths, that close the circle; all others are pure.
    """

    groups: tuple[tuple[str, Fraction, float], ...]
    rest: str = ""


def _share(top: int, bottom: int) -> Fraction:
    return Fraction(top, bottom)


_ALL_BUT_WOLF = "C G D A E B F# C# Eb Bb F"
#   name                    fifths               share           comma            what closes the circle
TEMPERAMENTS: dict[str, _Recipe | None] = {
    "equal": _Recipe(((" ".join(FIFTHS), _share(1, 12), PYTHAGOREAN),)),
    # Eb to G#, the wolf is G#-Eb (memory)
    "quarter-comma": _Recipe(((_ALL_BUT_WOLF, _share(1, 4), SYNTONIC),), "G#"),
    "sixth-comma": _Recipe(((_ALL_BUT_WOLF, _share(1, 6), SYNTONIC),), "G#"),
    # Werckmeister 1691 (memory); he does not say which comma, the Pythagorean closes the circle
    "werckmeister-3": _Recipe((("C G D B", _share(1, 4), PYTHAGOREAN),)),
    # Kirnberger 1779 (memory)
    "kirnberger-3": _Recipe((("C G D A", _share(1, 4), SYNTONIC), ("F#", _share(1, 1), SCHISMA))),
    "vallotti": _Recipe((("F C G D A E", _share(1, 6), PYTHAGOREAN),)),
    # Young 1800 (memory): in the first, four fifths share what is left
    "young-1": _Recipe((("C G D A", _share(3, 16), SYNTONIC),), "E B Bb F"),
    "young-2": _Recipe((("C G D A E B", _share(1, 6), PYTHAGOREAN),)),
    "pythagorean": _Recipe((), "G#"),
    "just": None,
}
#  just intonation by ratios from the key note (memory)
_JUST = "1 16/15 9/8 6/5 5/4 4/3 45/32 3/2 8/5 5/3 9/5 15/8".split()


def fifths_of(name: str) -> tuple[float, ...]:
    """The sizes of the twelve fifths from C-G round to F-C, in cents; they sum to 8400."""
    recipe = TEMPERAMENTS[name]
    if recipe is None:
        cents = cents_of(name)
        return tuple((cents[(7 * i + 7) % 12] - cents[7 * i % 12]) % 1200 for i in range(12))
    sizes = dict.fromkeys(FIFTHS, PURE_FIFTH)
    for notes, share, comma in recipe.groups:
        sizes |= dict.fromkeys(notes.split(), PURE_FIFTH - float(share) * comma)
    rest = recipe.rest.split()
    left = 8400 - sum(size for note, size in sizes.items() if note not in rest)
    sizes |= dict.fromkeys(rest, left / len(rest) if rest else 0.0)
    return tuple(sizes[note] for note in FIFTHS)


def cents_of(name: str) -> tuple[float, ...]:
    """Cents above C of C, C#, D … B, the recipe standing on C.

    >>> [round(c, 1) for c in cents_of("quarter-comma")[:5]]
    [0.0, 76.0, 193.2, 310.3, 386.3]
    """
    if TEMPERAMENTS[name] is None:
        return tuple(1200 * math.log2(fraction_of(ratio)) for ratio in _JUST)
    cents, at = [0.0] * 12, 0.0
    for place, size in enumerate(fifths_of(name)):
        cents[7 * place % 12] = at % 1200
        at += size
    return tuple(cents)


def key_number(name: str) -> int:
    """Pitch class 0..11 of a note name such as ``Bb``; raises `UsageError`."""
    text = name.strip()
    text = text[:1].upper() + text[1:]
    if text in _NAMES:
        return _NAMES.index(text)
    if text in _SAME:
        return _SAME[text]
    raise UsageError(f"key note {name!r} is no note; name one such as C, F# or Bb")


def pitch_hz(text: str | float) -> float:
    """A4 in Hz from 380 to 480; raises `UsageError`."""
    try:
        hz = float(text)
    except ValueError:
        hz = math.nan
    low, high = PITCH_HZ
    if not low <= hz <= high:
        levels = ", ".join(map(str, PITCH_LEVELS))
        raise UsageError(f"pitch {text} is not A4 in Hz from {low:.0f} to {high:.0f}; usual levels are {levels}")
    return hz


def read_cents(path: Path) -> tuple[float, ...]:
    """Twelve cents above C, one a line from C to B; empty lines and what follows ``#`` are passed over.

    Raises `SoundError` for a file that does not hold them.
    """
    lines = text_of(path, SoundError, "file of cents", "name a text file of twelve cents").splitlines()
    cents = [_cents_line(path, number, line) for number, line in enumerate(lines, 1) if line.partition("#")[0].strip()]
    if len(cents) != 12:
        raise SoundError(
            path, f"holds {len(cents)} cents, not twelve", "write twelve lines, the cents above C of C, C#, D to B"
        )
    return tuple(cents)


def _cents_line(path: Path, number: int, line: str) -> float:
    text = line.partition("#")[0].strip()
    if re.fullmatch(r"[-+]?\d{1,4}(\.\d*)?", text):
        return float(text)
    raise SoundError(
        path, f"{text!r} is no number of cents", "write one number a line, such as 90.225", place=f"line {number}"
    )


def make_tuning(a4_hz: float = 440.0, name: str = "equal", key_note: str = "C") -> Tuning:
    """The tuning of a pitch standard and a temperament; `name` may be a file of twelve cents.

    Raises `UsageError` for an unknown name, `SoundError` for a file that holds no twelve cents or one that is more than
    100 cents off equal temperament.
    """
    if name in TEMPERAMENTS:
        cents = cents_of(name)
    elif Path(name).suffix or Path(name).exists():
        cents = read_cents(Path(name))
    else:
        raise UsageError(f"tuning {name!r} is none of {', '.join(TEMPERAMENTS)}, nor a file of twelve cents")
    key = key_number(key_note)
    placed = [cents[(pitch - key) % 12] + 100 * key - 100 * pitch for pitch in range(12)]
    placed = [(offset + 600) % 1200 - 600 for offset in placed]
    offsets = tuple(round(offset - placed[_A], 9) for offset in placed)
    worst = max(offsets, key=abs)
    if not _NARROWEST <= worst <= _WIDEST:
        note = _NAMES[offsets.index(worst)]
        raise SoundError(name, f"puts {note} {worst:+.1f} cents off equal temperament", "keep within 100 cents of it")
    return Tuning(f"{name} on {key_note}, A4 = {a4_hz:g} Hz", pitch_hz(a4_hz), offsets)


def shift_cents(a4_hz: float) -> float:
    """How far a pitch standard lies from 440 Hz.

    >>> round(shift_cents(415), 2)
    -101.27
    """
    return 1200 * math.log2(a4_hz / 440)


# messages

_RPN_MSB, _RPN_LSB, _DATA_MSB, _DATA_LSB = 101, 100, 6, 38
_FINE, _COARSE, _NO_RPN = 1, 2, 127


def channel_controls(tuning: Tuning) -> tuple[tuple[int, int], ...]:
    """Controllers (number, value) that shift a channel to the pitch standard: RPN 2 in semitones, RPN 1 the rest."""
    cents = shift_cents(tuning.a4_hz)
    semitones = round(cents / 100)
    fine = _fourteen_bits(cents - 100 * semitones)
    return (
        (_RPN_MSB, 0),
        (_RPN_LSB, _COARSE),
        (_DATA_MSB, 64 + semitones),
        (_DATA_LSB, 0),
        (_RPN_MSB, 0),
        (_RPN_LSB, _FINE),
        (_DATA_MSB, fine >> 7),
        (_DATA_LSB, fine & 0x7F),
        (_RPN_MSB, _NO_RPN),
        (_RPN_LSB, _NO_RPN),
    )


def octave_message(tuning: Tuning, channels: Iterable[int]) -> bytes:
    """Scale/octave tuning, two bytes a pitch class, real time, without F0 and F7: 31 bytes.

    `channels` 0..15: two bits, seven, seven, highest first.
    """
    mask = sum(1 << channel for channel in set(channels))
    words = [_fourteen_bits(offset) for offset in tuning.offsets_cents]
    head = bytes((0x7F, 0x7F, 0x08, 0x09, mask >> 14, mask >> 7 & 0x7F, mask & 0x7F))
    return head + b"".join(bytes((word >> 7, word & 0x7F)) for word in words)


def _fourteen_bits(cents: float) -> int:
    """-100 cents is 0000, 0 is 4000, +100 is 7F7F (hex, seven bits a byte)."""
    return max(0, min(0x3FFF, 0x2000 + round(cents / 100 * 0x2000)))
