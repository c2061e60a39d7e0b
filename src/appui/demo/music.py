"""The demos' music as data: words for notes, read into bars of beats that add up.

The language of the words is told at the top of ``ferry.toml``. Times are `Fraction` of a quarter note; pitches are
spelled, with flats written ``b`` (``Bb5``) and octaves in scientific numbers.
"""

from __future__ import annotations

import re
import tomllib
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from appui.exact import Fraction

__all__ = ["FILE", "VALUES", "Music", "Part", "Small", "Word", "midi", "parse_bar", "read_music", "split_pitch"]

FILE = Path(__file__).with_name("ferry.toml")
#  letter: MusicXML type, quarters
VALUES = {
    "w": ("whole", Fraction(4)),
    "h": ("half", Fraction(2)),
    "q": ("quarter", Fraction(1)),
    "e": ("eighth", Fraction(1, 2)),
    "s": ("16th", Fraction(1, 4)),
}
ALTERS = {"": 0, "#": 1, "b": -1}
_SEMITONES = dict(zip("CDEFGAB", (0, 2, 4, 5, 7, 9, 11), strict=True))
_SMALL = r"/?[A-G][#b]?\d[hqes]\.?(?:,[A-G][#b]?\d[hqes])*"
_WORD = re.compile(
    rf"(?P<opens>\()?(?:\[(?P<before>{_SMALL})\])?(?P<pitch>r|[A-G][#b]?\d)(?P<value>[whqes])(?P<dot>\.)?"
    rf"(?P<marks>[~@_'>^-]*)(?:\{{(?P<after>{_SMALL})\}})?(?P<closes>\))?"
)


@dataclass(frozen=True, slots=True)
class Small:
    """A small note: pitch, the letter of its value, dotted or not, with a stroke through its stem or not."""

    pitch: str
    value: str
    dotted: bool
    slashed: bool


@dataclass(frozen=True, slots=True)
class Word:
    """A note or rest (`pitch` ``r``) with what hangs on it; `onset_q` counts from the start of its bar."""

    onset_q: Fraction
    pitch: str
    value: str
    dotted: bool
    marks: str
    before: tuple[Small, ...]
    after: tuple[Small, ...]
    opens: bool
    closes: bool

    @property
    def duration_q(self) -> Fraction:
        """Its length."""
        return VALUES[self.value][1] * (Fraction(3, 2) if self.dotted else 1)

    @property
    def rest(self) -> bool:
        """Whether nothing sounds."""
        return self.pitch == "r"


@dataclass(frozen=True, slots=True)
class Part:
    """A part: its table as in the file, and its bars."""

    facts: dict[str, Any]
    bars: tuple[tuple[Word, ...], ...]

    @property
    def name(self) -> str:
        """Its full name."""
        return str(self.facts["name"])


@dataclass(frozen=True, slots=True)
class Music:
    """The whole piece: the facts at the head of the file, and the parts from the top."""

    facts: dict[str, Any]
    parts: tuple[Part, ...]

    @property
    def meter(self) -> tuple[int, int]:
        """The time signature: so many of such values, quarters where the file names none."""
        return self.facts["beats"], self.facts.get("beat_type", 4)

    @property
    def bar_q(self) -> Fraction:
        """The length of a bar."""
        beats, beat_type = self.meter
        return Fraction(4 * beats, beat_type)

    @property
    def beat_q(self) -> Fraction:
        """The length of a counted beat: three eighths in 6/8."""
        beats, beat_type = self.meter
        return Fraction(12 if beats > 3 and beats % 3 == 0 else 4, beat_type)

    def moment_q(self, count: int) -> Fraction:
        """Where in a bar a count of the meter's values is; the first is 1, the fourth of 6/8 its second beat."""
        return Fraction(4 * (count - 1), self.meter[1])


def split_pitch(pitch: str) -> tuple[str, int, int]:
    """Letter, alteration in semitones, octave.

    >>> split_pitch("Bb5")
    ('B', -1, 5)
    """
    return pitch[0], ALTERS[pitch[1:-1]], int(pitch[-1])


def midi(pitch: str) -> int:
    """The key of a pitch, C4 = 60.

    >>> midi("C4"), midi("Bb5")
    (60, 82)
    """
    letter, alter, octave = split_pitch(pitch)
    return 12 * (octave + 1) + _SEMITONES[letter] + alter


def read_music(file: Path = FILE) -> Music:
    """Read the data; raises `ValueError` naming part and bar where a word is wrong or a bar does not add up."""
    facts = tomllib.loads(file.read_text(encoding="utf-8"))
    length_q = Music(facts, ()).bar_q
    parts = tuple(Part(table, _bars(table, length_q)) for table in facts["part"])
    if len({len(part.bars) for part in parts}) != 1:
        raise ValueError(f"parts of unequal length: {[len(part.bars) for part in parts]} bars")
    return Music(facts, parts)


def _bars(table: dict[str, Any], length_q: Fraction) -> tuple[tuple[Word, ...], ...]:
    name = table["name"]
    return tuple(parse_bar(text, length_q, f"{name}, bar {number}") for number, text in enumerate(table["bars"], 1))


def parse_bar(text: str, length_q: Fraction, place: str) -> tuple[Word, ...]:
    """The words of one bar; raises `ValueError` where one cannot be read or they do not fill `length_q`."""
    words: list[Word] = []
    onset_q = Fraction(0)
    for word in text.split():
        match = _WORD.fullmatch(word)
        if match is None:
            raise ValueError(f"{place}: {word!r} is no note")
        words.append(_word(match, onset_q))
        onset_q += words[-1].duration_q
    if onset_q != length_q:
        raise ValueError(f"{place}: {onset_q} quarters, not {length_q}")
    return tuple(words)


def _word(match: re.Match[str], onset_q: Fraction) -> Word:
    return Word(
        onset_q,
        match["pitch"],
        match["value"],
        bool(match["dot"]),
        match["marks"],
        _small(match["before"]),
        _small(match["after"]),
        bool(match["opens"]),
        bool(match["closes"]),
    )


def _small(text: str | None) -> tuple[Small, ...]:
    if text is None:
        return ()
    each = (note.rstrip(".") for note in text.removeprefix("/").split(","))
    return tuple(Small(note[:-1], note[-1], "." in text, text.startswith("/")) for note in each)
