"""Tempo words, and what is assumed where a score prints no number.

The values are beats a minute, counted on the bar's own beat: common practice, no source. They are starting points that
`survey` reports as assumed; the player's ``--tempo`` overrides them. `character` is what styles ask about.
"""

from __future__ import annotations

import re
from functools import lru_cache

__all__ = ["TEMPO_WORDS", "tempo_character", "tempo_word"]

# fmt: off
#  word             beats a minute, character
TEMPO_WORDS: dict[str, tuple[int, str]] = {
    "grave":           (44, "slow"),
    "larghissimo":     (40, "slow"),
    "largo":           (48, "slow"),
    "lento":           (52, "slow"),
    "adagissimo":      (44, "slow"),
    "adagio":          (56, "slow"),
    "larghetto":       (63, "slow"),
    "langsam":         (56, "slow"),
    "andante":         (76, "moderate"),
    "andantino":       (80, "moderate"),
    "moderato":        (100, "moderate"),
    "mäßig":           (92, "moderate"),
    "menuetto":        (112, "moderate"),
    "minuetto":        (112, "moderate"),
    "menuet":          (112, "moderate"),
    "affettuoso":      (69, "moderate"),
    "sostenuto":       (69, "moderate"),
    "siciliano":       (60, "moderate"),
    "allegretto":      (108, "moderate"),
    "allegro":         (126, "fast"),
    "lebhaft":         (126, "fast"),
    "vivace":          (138, "fast"),
    "presto":          (160, "fast"),
    "prestissimo":     (176, "fast"),
    "schnell":         (138, "fast"),
    "scherzo":         (138, "fast"),
}
# fmt: on

_WORD = re.compile("|".join(sorted(TEMPO_WORDS, key=len, reverse=True)), re.IGNORECASE)


def tempo_word(words: str) -> str | None:
    """The first tempo word in a text, lower case, or `None`.

    >>> tempo_word("Adagio ma non troppo")
    'adagio'
    """
    match = _WORD.search(words)
    return match.group().lower() if match else None


@lru_cache(maxsize=256)
def tempo_character(words: str) -> str | None:
    """``slow``, ``moderate`` or ``fast`` as the words say, `None` where they say nothing."""
    word = tempo_word(words)
    return TEMPO_WORDS[word][1] if word else None
