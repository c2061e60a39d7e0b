"""A reading: one way to play a sign, with its sizes, and its plain words.

A reading is a name and sizes; its text is what people say, type and read in plans: ``leaning 1/2``,
``trill from above with termination``. `parse_reading` reads back what `Reading.text` writes. The families and
their sizes are one table, `FAMILIES`; the text and the parser walk it.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, replace
from numbers import Rational
from typing import NamedTuple

from appui.errors import UsageError
from appui.exact import Fraction, fraction_of
from appui.score.words import Placement, ReadingName
from appui.style.free import Free

__all__ = ["FAMILIES", "Family", "Reading", "Size", "parse_reading"]

Value = str | Fraction


class Size(NamedTuple):
    """One size of a family: either one of several `phrases` (words to value) or a number written as `pattern`.

    `pattern` holds ``{}`` where the number stands; `low` and `high` bound it; `unit` says what it counts.
    """

    key: str
    phrases: Mapping[str, str] | None = None
    pattern: str = ""
    unit: str = ""
    low: Fraction = Fraction(0)
    high: Fraction = Fraction(1)


class Family(NamedTuple):
    """A kind of reading: its name, where its notes fall, its sizes in the order their words are written.

    `pattern` shows its notes on one line: ``|`` stands at the beat, names in brackets may be left out.
    """

    name: ReadingName
    placement: Placement
    sizes: tuple[Size, ...] = ()
    meaning: str = ""
    pattern: str = ""


def _number(key: str, pattern: str, unit: str, low: str, high: str) -> Size:
    return Size(key, None, pattern, unit, fraction_of(low), fraction_of(high))


_MS = _number("ms", "{} ms", "milliseconds", "1", "2000")
_WEIGHT = _number("weight_db", "{} dB", "decibels, lean over release", "-12", "24")
_RATE = _number("rate", "{} notes a second", "notes a second", "2", "30")

_LOWER = Size("lower", {"with the lower note raised": "raised", "with the lower note of the key": "diatonic"})
_BEATS = (
    _number("beats", "of {} notes", "notes of the sign", "2", "500"),
    _number("second", "the second at {} %", "percent of the note", "0", "100"),
    _number("last", "the last at {} %", "percent of the note", "0", "100"),
)

FAMILIES: dict[ReadingName, Family] = {
    family.name: family
    for family in (
        Family("plain", "on", (), "as if the ornament were not there", "| main"),
        Family(
            "leaning",
            "on",
            (
                _number("share", "{}", "share of the main note", "0", "1"),
                _number("made", "for {} quarters", "quarter notes", "0", "64"),
                _number("first", "the first {}", "share of the main note, the first of several small notes", "0", "1"),
                _number("silence", "then silence {}", "share of the main note, at its end", "0", "1"),
                Size("profile", {"swelling": "soft-swell-soft", "loud then soft": "loud-soft"}),
                _WEIGHT,
            ),
            "on the beat, stressed, taking its share of the main note",
            "| small, stressed; main, softer",
        ),
        Family(
            "before",
            "before",
            (_number("share", "taking {} of the note before", "share of the note before", "0", "1"), _MS),
            "before the beat, out of the time of what precedes",
            "small | main",
        ),
        Family(
            "termination",
            "before",
            (_MS,),
            "before the beat, as the end of the trill that precedes",
            "upper main upper main … small | next note",
        ),
        Family("short", "on", (_MS,), "on the beat and gone at once", "| small main"),
        Family("after", "after", (_MS,), "at the end of the note it follows", "| main small | next note"),
        Family(
            "trill",
            "on",
            (
                Size(
                    "start",
                    {
                        "from above": "upper",
                        "from the main note": "main",
                        "from below": "below",
                        "through a turn from above": "turn",
                    },
                ),
                _number("dwell", "dwelling {}", "share of the note spent on the first note", "0", "1"),
                Size("shape", {"even": "even", "accelerating": "accelerating", "half": "half"}),
                _number("share", "taking {}", "share of the note, the quick notes of a half trill together", "0", "1"),
                Size("stop", {"with a stop": "yes", "without a stop": "no"}),
                Size("termination", {"with termination": "yes", "without termination": "no"}),
                _RATE,
                Size("step", {"by a whole tone": "whole", "by a semitone": "half", "on one pitch": "unison"}),
                *_BEATS,
                Size(
                    "turn",
                    {
                        "ending with a whole-tone turn": "whole",
                        "ending with a semitone turn": "half",
                        "ending without a turn": "none",
                    },
                ),
            ),
            "the note and the one above it in quick turn",
            "| upper main upper main … (lower main) | next note",
        ),
        Family(
            "turn",
            "on",
            (
                Size("where", {"on the note": "on", "after the note": "after"}),
                Size("shape", {"upright": "upright", "inverted": "inverted"}),
                Size("start", {"from the auxiliary": "auxiliary", "from the main note": "main"}),
                _number("share", "taking {}", "share of the main note, the turning notes together", "0", "1"),
                _number("at", "beginning at {}", "share of the main note held before it", "0", "1"),
                _LOWER,
                _RATE,
                *_BEATS,
            ),
            "around the note: above it, through it, below it",
            "| upper main lower main; after the note: | main, upper main lower main | next note",
        ),
        Family(
            "mordent",
            "on",
            (
                Size("number", {"single": "1", "double": "2", "long": "long"}),
                Size("start", {"from the main note": "main", "from the lower note": "lower"}),
                Size("approach", {"approached from above": "above", "approached from below": "below"}),
                Size("departure", {"left upwards": "above", "left downwards": "below"}),
                _number("share", "taking {}", "share of the main note, the quick notes together", "0", "1"),
                _LOWER,
                _RATE,
                *_BEATS,
            ),
            "the note, the one below it, and the note again",
            "| main lower main; double: | main lower main lower main",
        ),
        Family(
            "slide",
            "on",
            (
                Size("number", {"of two notes": "2", "of three notes": "3"}),
                Size("shape", {"upwards": "up", "downwards": "down"}),
                _number("share", "taking {}", "share of the main note, the quick notes together", "0", "1"),
                _RATE,
            ),
            "quick steps into the note",
            "| third below, second below, main; of three notes: | lower main upper main",
        ),
        Family(
            "tremolo",
            "on",
            (Size("shape", {"measured": "measured", "unmeasured": "unmeasured"}), _RATE),
            "the note struck many times, or two notes in turn",
            "| main main main main …; between two notes: | first second first second …",
        ),
        Family(
            "arpeggio",
            "on",
            (Size("shape", {"upwards": "up", "downwards": "down"}), _MS),
            "the notes of the chord one after another, all held",
            "| lowest, next, … highest",
        ),
        Family(
            "hold",
            "on",
            (_number("times", "{} times as long", "times its printed length", "1", "20"),),
            "held, all parts waiting",
            "| main, longer",
        ),
        Family("pause", "after", (_MS,), "silence out of the end of the note", "| main, silence | next note"),
        Family(
            "spelled out",
            "on",
            (),
            "as the edition spells it in hidden notes",
            "| the hidden notes at their times, main",
        ),
        Family("embellished", "on", (), "in the notes of the plan", "| notes of the plan | next note"),
    )
}


@dataclass(frozen=True, slots=True)
class Reading:
    """One way to play a sign: the family's `name`, and the `sizes` that are fixed, in the family's order.

    A size is one of its family's words, or a number: an `int` or any fraction. `free` holds the notes of an
    embellishment, which its words do not tell.

    Raises `UsageError` for a name or a size that is none, or a number that is none or out of bounds.

    >>> import fractions
    >>> Reading("leaning", (("share", fractions.Fraction(1, 5)),)).text
    'leaning 1/5'
    """

    name: ReadingName
    sizes: tuple[tuple[str, Value], ...] = ()
    free: Free | None = None

    def __post_init__(self) -> None:
        family = FAMILIES.get(self.name)
        if family is None:
            raise UsageError(f"{self.name!r} is no way to play an ornament; one of {', '.join(sorted(FAMILIES))} is")
        object.__setattr__(self, "sizes", tuple((key, _checked(family, key, value)) for key, value in self.sizes))

    @property
    def text(self) -> str:
        """The reading in words: what is typed in a plan or after ``--take``.

        >>> Reading("leaning", (("share", Fraction(1, 2)),)).text
        'leaning 1/2'
        """
        return " ".join([self.name, *(_words(FAMILIES[self.name], key, value) for key, value in self.sizes)])

    @property
    def placement(self) -> Placement:
        """``before``, ``on`` or ``after`` the beat of the main note."""
        return "after" if self.get("where") == "after" else FAMILIES[self.name].placement

    def get(self, key: str) -> Value | None:
        """A size, or `None` where the reading leaves it open."""
        return dict(self.sizes).get(key)

    def number(self, key: str) -> Fraction | None:
        """A size that is a number, or `None` where the reading leaves it open."""
        value = self.get(key)
        return None if isinstance(value, str) else value

    def fraction(self, key: str, default: Fraction) -> Fraction:
        """A size that is a number."""
        found = self.number(key)
        return default if found is None else found

    def with_sizes(self, **sizes: Value) -> Reading:
        """The same reading with some sizes set, kept in the family's order."""
        merged = dict(self.sizes) | sizes
        return replace(self, sizes=tuple((s.key, merged[s.key]) for s in FAMILIES[self.name].sizes if s.key in merged))

    def as_dict(self) -> dict[str, str]:
        """For JSON: name, words, and each size as text."""
        return {"name": self.name, "text": self.text, **{key: str(value) for key, value in self.sizes}}


def _size(family: Family, key: str) -> Size:
    found = next((size for size in family.sizes if size.key == key), None)
    if found is None:
        raise UsageError(f"{key!r} is no size of {family.name!r}; known are {', '.join(s.key for s in family.sizes)}")
    return found


def _checked(family: Family, key: str, value: object) -> Value:
    """A size as it is kept; raises `UsageError` where it cannot be."""
    size = _size(family, key)
    if size.phrases is not None:
        if isinstance(value, str) and value in size.phrases.values():
            return value
        raise UsageError(f"{key} of {family.name!r} is {value!r}, not one of {', '.join(size.phrases.values())}")
    if isinstance(value, bool) or not isinstance(value, Rational):
        raise UsageError(f"{key} of {family.name!r} is {value!r}, which is no whole number or fraction")
    number = Fraction(value)
    if not size.low <= number <= size.high:
        raise UsageError(f"{key} of {family.name!r} is {value}, outside {size.low} to {size.high} ({size.unit})")
    return number


def _words(family: Family, key: str, value: Value) -> str:
    size = _size(family, key)
    if size.phrases is None:
        return size.pattern.format(_number_words(size, value))
    return next(words for words, meaning in size.phrases.items() if meaning == value)


def _number_words(size: Size, value: Value) -> str:
    """Shares and note values as fractions, as musicians say them; all else as a decimal where it is a short one."""
    decimal = isinstance(value, Fraction) and 1000 % value.denominator == 0
    if not decimal or "share" in size.unit or "quarter" in size.unit:
        return str(value)
    return f"{float(value):g}"


#  words of plans that were written before: "passing" is another thing to a musician, "hold 2 times" is asked twice
_OLD_WORDS = (
    (re.compile(r"^passing (?=\S+ of the note before)"), "before taking "),
    (re.compile(r"^passing\b"), "before"),
    (re.compile(r"^(hold \S+ times)$"), r"\1 as long"),
)


def _today(words: str) -> str:
    for old, new in _OLD_WORDS:
        words = old.sub(new, words)
    return words


def parse_reading(text: str) -> Reading:
    """Read a reading's words; raises `UsageError` naming what is wrong and what would do.

    >>> parse_reading("trill from above with termination").sizes
    (('start', 'upper'), ('termination', 'yes'))
    """
    words = _today(" ".join(text.split()))
    name = next((name for name in sorted(FAMILIES, key=len, reverse=True) if _begins(words, name)), None)
    if name is None:
        raise UsageError(
            f"{text!r} is no way to play an ornament; one of {', '.join(sorted(FAMILIES))}, with its sizes, is"
        )
    family, rest = FAMILIES[name], words[len(name) :].strip()
    found: dict[str, Value] = {}
    while rest:
        key, value, length = _take(family, rest, text)
        if key in found:
            raise UsageError(f"{text!r} gives {key} twice")
        found[key], rest = value, rest[length:].strip()
    return Reading(name).with_sizes(**found)


def _begins(text: str, words: str) -> bool:
    """Whether a text, single-spaced, begins with whole words. No pattern: a style would compile fifty."""
    return text.startswith(words) and text[len(words) : len(words) + 1] in ("", " ")


_FRACTION = re.compile(r"-?[0-9]{1,40}(?:/[0-9]{1,40}|\.[0-9]{1,40})?")


def _take(family: Family, rest: str, text: str) -> tuple[str, Value, int]:
    """The next size in the words: its key, its value, and how many characters it took."""
    # patterns with words first: "12 notes a second" must not be read as the bare number of another size
    for size in sorted(family.sizes, key=lambda size: -len(size.pattern)):
        if size.phrases is not None:
            for words, meaning in size.phrases.items():
                if _begins(rest, words):
                    return size.key, meaning, len(words)
            continue
        before, after = size.pattern.split("{}")
        match = _FRACTION.match(rest, len(before)) if rest.startswith(before) else None
        if match and _begins(rest[match.end() :], after):
            return size.key, _bounded(size, match.group(), text), match.end() + len(after)
    raise UsageError(f"{text!r}: {rest!r} is no size of {family.name!r}; known are {_known(family)}")


def _bounded(size: Size, number: str, text: str) -> Fraction:
    try:
        value = fraction_of(number)
    except ZeroDivisionError:
        raise UsageError(f"{text!r}: {number} has zero below the line") from None
    if not size.low <= value <= size.high:
        raise UsageError(f"{text!r}: {number} is outside {size.low} to {size.high} ({size.unit})")
    return value


def _known(family: Family) -> str:
    words = [repr(w) for size in family.sizes for w in (size.phrases or {size.pattern.format("N"): ""})]
    return ", ".join(words) or "none"
