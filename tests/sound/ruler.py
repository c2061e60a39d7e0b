"""Pitch measured from samples."""

from __future__ import annotations

import math

import numpy as np

from appui.perform.model import Tuning

__all__ = ["cents", "hz_of", "measured_hz"]

RATE = 44_100


def hz_of(tuning: Tuning, key: int) -> float:
    """What a key should sound."""
    return tuning.a4_hz * 2 ** ((key - 69 + tuning.offsets_cents[key % 12] / 100) / 12)


def measured_hz(sound: np.ndarray, near: float) -> float:
    """The fundamental: how fast its phase moves against a steady tone nearby, looked at twenty times a second."""
    turned = sound * np.exp(-2j * math.pi * near * np.arange(len(sound)) / RATE)
    window, hop = np.hanning(RATE // 2), RATE // 20
    phases = [
        np.angle(np.sum(window * turned[at : at + len(window)])) for at in range(0, len(sound) - len(window), hop)
    ]
    slope = np.polyfit(np.arange(len(phases)) * hop / RATE, np.unwrap(phases), 1)[0]
    return near + float(slope) / (2 * math.pi)


def cents(one: float, other: float) -> float:
    """How far one frequency lies above another."""
    return 1200 * math.log2(one / other)
