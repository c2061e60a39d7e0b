"""What is free of the bar, as plans: rows of gestures from the held note over a peak to the arrival.

A gesture is a way and where it goes (``scale>peak``), or a figure on the spot. Ways: ``scale`` by step, ``chord`` in
chord notes, ``decked`` in chord notes each with its neighbour, a sequence, ``sighed`` the same leaning from above.
Ends: ``peak`` a chord note above, ``low`` one below, ``home`` where it may end, ``arrival`` the note that is trilled or
that leads into what comes. Figures: ``turn``, ``breath``, ``again`` the note three times more, ``figure*2`` a motive of
the piece said so many times (`figures`). Every row begins with the printed note, held. The sizes say for which amounts
a row is.

That a cadenza begins on a chord note, has one peak and ends on the second or the leading note is inferred: common
practice, no source. The trill: Türk 1789, V §11, read.
"""

from __future__ import annotations

from typing import NamedTuple

__all__ = ["PLANS", "Plan", "plans_for"]


class Plan(NamedTuple):
    """One row: its name, the kinds of places and moods it fits, the amounts it is for, and its gestures.

    `statements`: how many times in a row it says the piece's own figure.
    """

    name: str
    kinds: frozenset[str]
    moods: frozenset[str]
    amounts: frozenset[str]
    gestures: tuple[str, ...]
    statements: int = 0


_SIZES = {"s": "sparse", "m": "moderate", "r": "rich"}

# fmt: off
#  name                          kinds             moods              sizes  gestures
_ROWS = (
    # cadenzas
    ("the piece's own figure",            "cadenza",  "sad tender lively",  "smr",
     "figure*2 scale>arrival"),
    ("the piece's own figure, a breath, a peak", "cadenza", "tender lively", "mr",
     "figure*2 breath scale>peak scale>arrival"),
    ("the piece's own figure, once",      "cadenza",  "sad tender lively",  "smr",
     "figure*1 scale>arrival"),
    ("the piece's own figure to a peak",  "cadenza",  "sad tender lively",  "smr",
     "figure*2 scale>peak scale>arrival"),
    ("the piece's own figure, then by chord to a peak", "cadenza",  "tender lively",  "mr",
     "figure*2 chord>peak scale>arrival"),
    ("the piece's own figure, three times",  "cadenza",  "sad tender lively",  "mr",
     "figure*3 scale>arrival"),
    ("the piece's own figure, a sequence to a peak and the way down", "cadenza", "tender lively", "mr",
     "figure*1 decked>peak scale>low turn scale>arrival"),
    ("the piece's own figure, a breath, a sequence to a peak", "cadenza", "tender lively", "mr",
     "figure*1 breath decked>peak scale>arrival"),
    ("the piece's own figure, repeated notes to a peak", "cadenza", "tender lively", "mr",
     "figure*1 again chord>peak scale>arrival"),
    ("the piece's own figure to a peak, then sighs", "cadenza", "sad tender", "mr",
     "figure*1 scale>peak sighed>low scale>arrival"),
    ("the piece's own figure in sequence to a peak, a breath", "cadenza", "tender lively", "mr",
     "figure*2 chord>peak breath scale>arrival"),
    ("up and over with a turn",           "cadenza",  "sad tender lively",  "s",
     "chord>peak scale>low turn scale>arrival"),
    ("a turn, down by chord, up by step", "cadenza",  "sad tender lively",  "smr",
     "turn chord>low scale>arrival"),
    ("repeated notes to a peak",          "cadenza",  "tender lively",      "smr",
     "again chord>peak scale>arrival"),
    ("sighs down from a peak",            "cadenza",  "sad tender",         "smr",
     "scale>peak sighed>low scale>arrival"),
    ("up by step, down by chord",         "cadenza",  "sad tender lively",  "smr",
     "scale>peak chord>low scale>arrival"),
    ("up by chord, down by step",         "cadenza",  "sad tender lively",  "smr",
     "chord>peak scale>arrival"),
    ("a turn, up by chord, down by step", "cadenza",  "sad tender lively",  "smr",
     "turn chord>peak scale>arrival"),
    ("down first, then up",               "cadenza",  "sad tender lively",  "smr",
     "chord>low scale>peak scale>arrival"),
    ("chord up and scale down, turned",   "cadenza",  "tender lively",      "mr",
     "chord>peak scale>low turn scale>arrival"),
    ("in two breaths",                    "cadenza",  "tender lively",      "mr",
     "chord>low chord>peak breath scale>arrival"),
    ("down by chord, ornamented up",      "cadenza",  "tender lively",      "mr",
     "chord>low decked>peak scale>arrival"),
    ("a turn, over a peak to a sigh",     "cadenza",  "sad tender lively",  "smr",
     "turn scale>peak sighed>low scale>arrival"),
    ("ornamented chord",                  "cadenza",  "tender lively",      "mr",
     "decked>peak scale>low scale>arrival"),
    ("ornamented chord and fall",         "cadenza",  "tender lively",      "r",
     "chord>low decked>peak scale>low scale>arrival"),
    # lead-ins
    ("the piece's own figure",            "lead-in",  "sad tender lively",  "smr",
     "figure*1 scale>arrival"),
    ("the piece's own figure, answered",  "lead-in",  "sad tender lively",  "mr",
     "figure*2 scale>arrival"),
    ("the piece's own figure to a peak",  "lead-in",  "sad tender lively",  "mr",
     "figure*1 scale>peak scale>arrival"),
    ("the piece's own figure, repeated notes", "lead-in",  "tender lively",      "mr",
     "figure*1 again scale>arrival"),
    ("repeated notes and a scale",        "lead-in",  "tender lively",      "sm",
     "again scale>arrival"),
    ("sighs down into the theme",         "lead-in",  "sad tender",         "mr",
     "scale>peak sighed>low scale>arrival"),
    ("a scale into the theme",            "lead-in",  "sad tender lively",  "smr",
     "scale>arrival"),
    ("a turn and a scale",                "lead-in",  "sad tender",         "smr",
     "turn scale>arrival"),
    ("up and over",                       "lead-in",  "sad tender lively",  "smr",
     "scale>peak scale>arrival"),
    ("broken chord and scale",            "lead-in",  "sad tender lively",  "mr",
     "chord>peak scale>arrival"),
    ("down by chord, up by step",         "lead-in",  "tender lively",      "mr",
     "chord>low scale>arrival"),
    ("over a peak from below",            "lead-in",  "tender lively",      "mr",
     "chord>low scale>peak scale>arrival"),
    ("ornamented chord and scale",        "lead-in",  "tender lively",      "r",
     "decked>peak scale>arrival"),
    # flourishes
    ("a turn",                            "fermata",  "sad tender lively",  "smr",
     "turn"),
    ("out and back by chord",             "fermata",  "tender lively",      "smr",
     "chord>peak chord>home"),
    ("up by chord, back by step",         "fermata",  "sad tender lively",  "smr",
     "chord>peak scale>home"),
    ("up by step, back by chord",         "fermata",  "tender lively",      "mr",
     "scale>peak chord>home"),
    ("down and back",                     "fermata",  "sad tender lively",  "smr",
     "scale>low scale>home"),
    ("a wider round",                     "fermata",  "tender lively",      "mr",
     "chord>low scale>peak scale>home"),
    ("ornamented chord",                  "fermata",  "tender lively",      "r",
     "decked>peak scale>home"),
)
# fmt: on
PLANS: tuple[Plan, ...] = tuple(
    Plan(
        name,
        frozenset(kinds.split()),
        frozenset(moods.split()),
        frozenset(_SIZES[size] for size in sizes),
        tuple(gesture.partition("*")[0] for gesture in gestures.split()),
        next((int(gesture[-1]) for gesture in gestures.split() if "*" in gesture), 0),
    )
    for name, kinds, moods, sizes, gestures in _ROWS
)


def plans_for(kind: str, mood: str, amount: str) -> tuple[Plan, ...]:
    """The rows for a place."""
    return tuple(plan for plan in PLANS if kind in plan.kinds and mood in plan.moods and amount in plan.amounts)
