"""The slide (Schleifer): quick steps into the note.

    of two notes               | third below, second below, main      (downwards: from above)
    of three notes             | lower main upper, main

C.P.E. Bach 1753, 2.7 §2-5 (read): of two notes before a leap, always fast, filling the interval; of three notes a turn
in contrary motion.
"""

from __future__ import annotations

from appui.realize.contract import Cut, Stand
from appui.realize.quick import head

__all__ = ["SLIDES", "slide"]

#         number  shape     letter steps before the main note
SLIDES = {
    ("2", "up"):   (-2, -1),
    ("2", "down"): (2, 1),
    ("3", "up"):   (-1, 0, 1),
    ("3", "down"): (1, 0, -1),
}  # fmt: skip


def slide(stand: Stand) -> Cut:
    """The slide at the head of its note."""
    number, shape = str(stand.reading.get("number") or "2"), str(stand.reading.get("shape") or "up")
    return head(stand, SLIDES[number, shape], "slide", stand.auxiliary)
