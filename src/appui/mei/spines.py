"""The columns of a Humdrum text: which kind each field is of, and whether its notes can be notes.

The reader behind this passes over what it does not know, so a slip of the pen would be a note gone without a word.
Source: the Humdrum user's guide, `**kern` and spine paths (memory).
"""

from __future__ import annotations

import re
from collections.abc import Sequence

from appui.errors import ScoreError
from appui.exact import Fraction

__all__ = ["Spines", "check_rhythm", "read_spines"]

KERN = "**kern"
MAX_SPINES = 300
_REMEDY = "correct it there, or export the score as MusicXML"
_PITCH = re.compile(r"([A-Ga-g])\1*|r")
_LENGTH = re.compile(r"(?<!\d)\d{1,4}(?!\d)(?:%\d{1,4})?")
_SHOWN = 20


class Spines:
    """The lines of a text as fields, and the kind of each, such as ``**kern``."""

    def __init__(self, lines: list[list[str]], kinds: list[tuple[str, ...]]) -> None:
        self.lines, self.kinds = lines, kinds

    def token(self, line: int, field: int) -> str:
        """What stands in a field; line and field count from 1. Empty where there is none."""
        fields = self.lines[line - 1] if 0 < line <= len(self.lines) else []
        return fields[field - 1] if 0 < field <= len(fields) else ""

    def kind(self, line: int, field: int) -> str:
        """Of what kind a field is; empty where there is none."""
        kinds = self.kinds[line - 1] if 0 < line <= len(self.kinds) else ()
        return kinds[field - 1] if 0 < field <= len(kinds) else ""

    def part(self, field: int) -> str:
        """The number of the part that a column belongs to, as its first lines say; empty where they do not."""
        for fields in self.lines:
            if fields[0].startswith(("=", ".")) or (fields[0][0] not in "*!"):
                break
            if field <= len(fields) and re.fullmatch(r"\*part\d+", fields[field - 1]):
                return fields[field - 1]
        return ""

    def text(self) -> str:
        """The text as it is handed on: fields without blanks at their ends, which the reader stumbles over."""
        return "".join("\t".join(fields) + "\n" for fields in self.lines)


def read_spines(text: str, file: str) -> Spines:
    """Take a text apart; raises `ScoreError` with line and column for fields too many or few, or that are no notes."""
    lines: list[list[str]] = []
    kinds: list[tuple[str, ...]] = []
    now: tuple[str, ...] = ()
    for number, line in enumerate(text.splitlines(), 1):
        fields = [" ".join(field.split()) for field in line.split("\t")]
        if line.startswith("!!") or not line.strip():
            lines.append([line.rstrip()] if line.strip() else ["!!"])
            kinds.append(())
            continue
        if not now:
            fields, now = _begin(fields, number, file)
        elif len(fields) != len(now):
            raise ScoreError(
                file, f"has {len(fields)} columns where {len(now)} are open", _REMEDY, place=f"line {number}"
            )
        lines.append(fields)
        kinds.append(now)
        if fields[0].startswith("*"):
            now = _after(fields, now)
        elif not fields[0].startswith(("=", "!")):
            _check(fields, now, number, file)
        if len(now) > MAX_SPINES:
            raise ScoreError(
                file, f"has more than {MAX_SPINES} columns", "save the parts you need alone", place=f"line {number}"
            )
    if not any(KERN in each for each in kinds):
        raise ScoreError(file, f"has no {KERN} column, which notes stand in", "choose a file with notes in it")
    return Spines(lines, kinds)


def _begin(fields: list[str], number: int, file: str) -> tuple[list[str], tuple[str, ...]]:
    for place, field in enumerate(fields, 1):
        if not field.startswith("**"):
            raise ScoreError(
                file,
                f"a column begins with {field[:_SHOWN]!r}, not with its kind such as {KERN}",
                _REMEDY,
                place=f"line {number}, column {place}",
            )
    return fields, tuple(fields)


def _after(fields: Sequence[str], kinds: tuple[str, ...]) -> tuple[str, ...]:
    """The kinds of the columns after a line that may split, join, swap, end or begin some."""
    found = [kinds[places[0]] if places else "" for places in _columns_after(fields)]
    begun = [field for field in fields if field != "*-"]
    if any(field.startswith("**") for field in fields) and len(begun) == len(found):
        return tuple(field if field.startswith("**") else kind for field, kind in zip(begun, found, strict=True))
    return tuple(found)


def _columns_after(fields: Sequence[str]) -> list[list[int]]:
    """For each column after a line, the columns before it that it comes from; none for a new one."""
    found: list[list[int]] = []
    joined = False
    for place, field in enumerate(fields):
        if field == "*v" and joined:
            found[-1].append(place)
        elif field == "*^":
            found += [[place], [place]]
        elif field == "*+":
            found += [[place], []]
        elif field != "*-":
            found.append([place])
        joined = field == "*v"
    swapped = [place for place, field in enumerate(fields) if field == "*x"]
    if len(swapped) == 2 and len(found) == len(fields):
        first, second = swapped
        found[first], found[second] = found[second], found[first]
    return found


def _check(fields: Sequence[str], kinds: Sequence[str], number: int, file: str) -> None:
    for place, (field, kind) in enumerate(zip(fields, kinds, strict=True), 1):
        if kind == KERN and field != ".":
            for word in field.split():
                problem = _problem(word)
                if problem:
                    raise ScoreError(
                        file,
                        f"{word[:_SHOWN]!r} is no note: {problem}",
                        "write a length and a pitch, as 4cc, or a small note, as 8qcc",
                        place=f"line {number}, column {place}",
                    )


def _problem(word: str) -> str:
    if not _PITCH.search(word):
        return "it has no pitch"
    if len({found[0][0] for found in _PITCH.finditer(word) if found[0] != "r"}) > 1:
        return "it has several pitches without a blank between"
    if not _LENGTH.search(word) and not re.search(r"[qQ]", word):
        return "it has no length"
    return ""


def check_rhythm(spines: Spines, file: str) -> None:
    """Refuse a text in whose columns a note begins before the one above it ends, by line and column.

    The reader behind this would set all that follows elsewhere without a word. Raises `ScoreError`.
    """
    now = Fraction(0)
    until: list[Fraction] = []
    for number, (fields, kinds) in enumerate(zip(spines.lines, spines.kinds, strict=True), 1):
        if not kinds:
            continue
        if len(until) != len(fields):
            until = [now] * len(fields)
        if fields[0].startswith("*"):
            until = [max((until[place] for place in places), default=now) for places in _columns_after(fields)]
        elif not fields[0].startswith(("=", "!")):
            for place, (field, kind) in enumerate(zip(fields, kinds, strict=True)):
                length_q = _length_q(field) if kind == KERN and field != "." else Fraction(0)
                if length_q and until[place] > now:
                    raise ScoreError(
                        file,
                        f"{field[:_SHOWN]!r} begins before the note above it ends: the lengths do not come out",
                        "correct the lengths of the columns up to here",
                        place=f"line {number}, column {place + 1}",
                    )
                until[place] = max(until[place], now + length_q)
            now = min((end_q for end_q in until if end_q > now), default=now)


def _length_q(field: str) -> Fraction:
    """How long a note, chord or rest lasts; nothing for a small note."""
    word = field.split(" ", 1)[0]
    match = _LENGTH.search(word)
    if match is None or re.search(r"[qQ]", word):
        return Fraction(0)
    number, _, share = match[0].partition("%")
    if number.strip("0"):
        length_q = Fraction(4 * int(share or "1"), int(number))
    else:
        length_q = Fraction(8 * 2 ** (len(number) - 1))
    dots = len(word[match.end() :]) - len(word[match.end() :].lstrip("."))
    return length_q * (2 - Fraction(1, 2 ** min(dots, 8)))
