"""The weights of the facts of `ranking`, as `tests.benchmarks.harmony_labels` prints them.

A fact is named by its group, which says what it is about, and what it is; `ranking` tells how it is measured. Each is
multiplied by its weight (natural logarithms).
"""

from __future__ import annotations

__all__ = ["RANKING"]

RANKING: dict[str, float] = {
    "chance": 0.55,
    "chance by parts": 0.08,
    "chance by beats": 0.11,
    "ahead to the next beat": 0.35,
    "beside the part before": 0.07,
    "beside the beat after": -0.09,
    "main": 0.69,
    "main prepared": -1.60,
    "main leaps on": 0.77,
    "main dissonant": 0.47,
    "main long": -0.33,
    "main steps down, thin": -0.33,
    "next longer": 0.82,
    "next shorter": -0.68,
    "bass root": 0.61,
    "bass third": 0.39,
    "bass fifth": -0.37,
    "bass held": -1.28,
    "sounding now": 0.58,
    "sounding in the beat": -0.61,
    "sounding missing": -0.39,
    "sounding in the bar": 0.26,
    "sounding nearby": 0.39,
    "kind minor": 0.39,
    "kind dominant seventh": -0.46,
    "kind diminished": 1.36,
    "kind diminished seventh": -0.24,
    "kind half-diminished": 0.01,
    "kind minor seventh": -0.49,
    "kind major seventh": -0.41,
    "degree tonic": 1.22,
    "degree dominant": 2.59,
    "degree dominant seventh": 1.70,
    "degree subdominant": 0.63,
    "small with main": 0.55,
    "small without main, which steps down": 0.39,
    "small repeated": 0.53,
    "small leapt to": 0.51,
    "small before a short note": -0.83,
    "small a second apart": -0.46,
    "small and what follows": -0.17,
    "small before a leaning note": 1.01,
    "small plays round": 1.02,
    "group": 2.91,
    "group leaps": 5.62,
}
