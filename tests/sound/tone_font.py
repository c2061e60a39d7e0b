"""A SoundFont of our own: one preset, one looped sample, so that no instrument's own tuning enters.

The sample is a period of 100 frames at 44.1 kHz, 441 Hz, with the first six harmonics; its root key is 69 and its
correction the -4 cents nearest to 441 Hz, so the exact frequency of a key is known: `exact_hz`.
Source: SoundFont 2.04 (memory).
"""

from __future__ import annotations

import math
import struct
from pathlib import Path

import numpy as np

__all__ = ["exact_hz", "write_tone_font"]

PERIOD, RATE, ROOT, CORRECTION = 100, 44_100, 69, -4
HARMONICS = (1, 0.5, 0.4, 0.35, 0.3, 0.2)


def exact_hz(key: int, cents: float = 0.0) -> float:
    """What a key sounds in equal temperament at 440 Hz, so many cents off."""
    return RATE / PERIOD * 2 ** ((key - ROOT + (CORRECTION + cents) / 100) / 12)


def write_tone_font(path: Path) -> Path:
    """Write the SoundFont."""
    turn = 2 * math.pi * np.arange(PERIOD) / PERIOD
    wave = np.sum([level * np.sin((n + 1) * turn) for n, level in enumerate(HARMONICS)], axis=0)
    periods = 40
    samples = np.tile(np.rint(8000 * wave / abs(wave).max()), periods).astype("<i2")
    data = samples.tobytes() + bytes(92)
    name = b"tone".ljust(20, b"\0")
    end = b"end".ljust(20, b"\0")
    loop = (8 * PERIOD, 32 * PERIOD)
    tables = {
        b"phdr": name + struct.pack("<HHHIII", 0, 0, 0, 0, 0, 0) + end + struct.pack("<HHHIII", 0, 0, 1, 0, 0, 0),
        b"pbag": struct.pack("<4H", 0, 0, 1, 0),
        b"pmod": bytes(10),
        b"pgen": struct.pack("<4H", 41, 0, 0, 0),
        b"inst": name + struct.pack("<H", 0) + end + struct.pack("<H", 1),
        b"ibag": struct.pack("<4H", 0, 0, 2, 0),
        b"imod": bytes(10),
        b"igen": struct.pack("<6H", 54, 1, 53, 0, 0, 0),
        b"shdr": name + struct.pack("<5IBbHH", 0, len(samples), *loop, RATE, ROOT, CORRECTION, 0, 1) + end + bytes(26),
    }
    info = _chunk(b"ifil", struct.pack("<2H", 2, 4)) + _chunk(b"isng", b"EMU8000\0") + _chunk(b"INAM", b"tone\0\0")
    body = b"sfbk"
    body += _chunk(b"LIST", b"INFO" + info)
    body += _chunk(b"LIST", b"sdta" + _chunk(b"smpl", data))
    body += _chunk(b"LIST", b"pdta" + b"".join(_chunk(kind, table) for kind, table in tables.items()))
    path.write_bytes(_chunk(b"RIFF", body))
    return path


def _chunk(kind: bytes, data: bytes) -> bytes:
    return kind + struct.pack("<I", len(data)) + data + bytes(len(data) % 2)
