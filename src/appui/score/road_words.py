"""Words that send the player to another place in the score: da capo, dal segno, to coda, fine."""

from __future__ import annotations

import re

__all__ = ["road_word"]

_LONGEST = 60  # a longer text tells of something else
_WORDS = (
    (re.compile(r"\bd\.?\s*c\.?\b|da\s*capo", re.IGNORECASE), "dacapo"),
    (re.compile(r"\bd\.?\s*s\.?\b|dal\s*segno", re.IGNORECASE), "dalsegno"),
    (re.compile(r"\b(to|al)\s*coda\b", re.IGNORECASE), "tocoda"),
    (re.compile(r"^\s*fine\s*$", re.IGNORECASE), "fine"),
)


def road_word(text: str) -> str | None:
    """The kind of leap (`model.Jump`) a text asks for, or `None`.

    >>> road_word("D. C. al Fine"), road_word("dolce")
    ('dacapo', None)
    """
    if len(text) > _LONGEST:
        return None
    return next((kind for pattern, kind in _WORDS if pattern.search(text)), None)
