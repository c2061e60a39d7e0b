"""The weights of the facts of `ranking`, as `tests/benchmarks/harmony_labels.py` prints them.

A fact is named by its group, which says what it is about, and what it is; `ranking` tells how it is measured. Each is
multiplied by its weight (natural logarithms).
"""

from __future__ import annotations

__all__ = ["RANKING"]

RANKING: dict[str, float] = {
    "chance": 0.55,
    "chance by parts": 0.09,
    "chance by beats": 0.11,
    "ahead to the next beat": 0.34,
    "beside the part before": 0.07,
    "beside the beat after": -0.08,
    "main": 0.66,
    "main prepared": -1.61,
    "main leaps on": 0.80,
    "main dissonant": 0.44,
    "main long": -0.32,
    "main steps down, thin": -0.29,
    "next longer": 0.84,
    "next shorter": -0.70,
    "bass root": 0.61,
    "bass third": 0.35,
    "bass fifth": -0.42,
    "bass held": -1.29,
    "sounding now": 0.56,
    "sounding in the beat": -0.68,
    "sounding missing": -0.43,
    "sounding in the bar": 0.27,
    "sounding nearby": 0.75,
    "kind minor": 0.13,
    "kind dominant seventh": -0.57,
    "kind diminished": 1.08,
    "kind diminished seventh": -0.49,
    "kind half-diminished": -0.26,
    "kind minor seventh": -0.81,
    "kind major seventh": -0.70,
    "degree tonic": 0.64,
    "degree dominant": 1.71,
    "degree dominant seventh": 1.08,
    "degree subdominant": 0.27,
    "small with main": 0.58,
    "small without main, which steps down": 0.36,
    "small repeated": 0.50,
    "small leapt to": 0.53,
    "small before a short note": -0.84,
    "small a second apart": -0.47,
    "small and what follows": -0.20,
    "small before a leaning note": 1.02,
    "small plays round": 1.01,
    "group": 2.74,
    "group leaps": 6.11,
}
