"""What players do: measured on performances of today, beside what a source says and never as its reason.

Source: (n)ASAP, 1,063 performances by competition pianists aligned note by note to their scores (Foscarin et al.,
ISMIR 2020; Peter et al., TISMIR 2023), computed for this project from the open data. Modern pianos, modern players:
evidence of today's practice at the keyboard, not of the sources'. The repertoire stands for the time it is from; a
year falls to the nearest.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from typing import NamedTuple

__all__ = ["LENGTHS", "PRACTICE", "SOURCE", "Practice", "Spread", "practice_of", "practice_words", "year_of"]

SOURCE = "measured: (n)ASAP, pianists of today"


class Spread(NamedTuple):
    """A median with its quartiles."""

    median: float
    low: float
    high: float


class Practice(NamedTuple):
    """What was measured in one repertoire; `None` where too few places were counted.

    `before` is the share of performances in which a small note comes before the beat; `trill_rate` in notes a
    second; `from_main` and `from_above` the shares of trills that begin so. `year` stands for the repertoire.
    """

    repertoire: str
    year: int
    before: float | None
    trill_rate: float
    from_main: float | None
    from_above: float | None


#        repertoire    year  before  trills/s  main   above
PRACTICE = (
    Practice("Bach",      1730, None, 11.3, 0.24, 0.74),
    Practice("Haydn",     1780, 0.21, 14.1, 0.33, 0.64),
    Practice("Beethoven", 1805, 0.52, 13.1, 0.61, 0.28),
    Practice("Chopin",    1835, 0.69, 12.3, 0.75, 0.09),
    Practice("Liszt",     1850, 0.82, 13.2, 0.65, 0.32),
)  # fmt: skip
#   ms of a single small note to its main note, over all repertoires
LENGTHS = {
    "unslashed": Spread(62, 49, 95),
    "slashed": Spread(38, 16, 92),
    "before the beat": Spread(95, 60, 218),
    "on the beat": Spread(77, 57, 127),
}
TRILLS = Spread(13.0, 11.3, 14.4)

_OF_FILES = 1900
_YEARS = re.compile(r"\b(1[5-9]\d\d)\b")
_LIFE = re.compile(r"(?<!\d)(1[5-9]\d\d)\s*[-\u2013\u2014]\s*(1[5-9]\d\d)(?!\d)")


def practice_of(year: int) -> Practice | None:
    """The repertoire nearest in time; `None` for year 0, and further off than 60 years from every one."""
    nearest = min(PRACTICE, key=lambda row: abs(row.year - year))
    return nearest if year and abs(nearest.year - year) <= 60 else None


def year_of(creators: Iterable[tuple[str, str]]) -> int:
    """A year for music: when it was written, else by its composer's dates, else a year in its title; 0 for none.

    Of the years of a life the middle of its working years.

    >>> year_of([("composer", "N. N. (1732-1809)")]), year_of([("composer", "N. N. (1732-1809)"), ("date", "1761")])
    (1780, 1761)
    """
    known = list(creators)
    for kinds, of_life in ((("date",), False), (("composer", "credit", "music", ""), True), (("title",), False)):
        for kind, text in known:
            found = _year_in(text, of_life=of_life) if kind.lower() in kinds else 0
            if found and (of_life or found < _OF_FILES):  # else it tells of the file
                return found
    return 0


def _year_in(text: str, *, of_life: bool) -> int:
    life = _LIFE.search(text)
    if life:
        first, last = int(life.group(1)), int(life.group(2))
        # working years from twenty on
        return (min(first + 20, last) + last) // 2 if of_life else (first + last) // 2
    year = _YEARS.search(text)
    return int(year.group(1)) if year else 0


def practice_words(kind: str, slashed: bool | None, year: int) -> str:
    """What players do with such a sign, in a sentence; empty where nothing was measured."""
    found = practice_of(year)
    if found is None:
        return ""
    if kind == "small notes" and found.before is not None:
        length = LENGTHS["slashed" if slashed else "unslashed"]
        return (
            f"before the beat in {found.before:.0%} of performances of {found.repertoire}; "
            f"{length.median:g} ms [{length.low:g} to {length.high:g}] to the main note ({SOURCE})"
        )
    if kind in ("trill", "wavy line") and found.from_above is not None:
        return (
            f"from above in {found.from_above:.0%}, from the main note in {found.from_main:.0%} of trills in "
            f"{found.repertoire}, {found.trill_rate:g} notes a second ({SOURCE})"
        )
    return ""
