"""A chart: the harmony of a score by bar and beat, in a text or TOML file that a player can write.

    # a line is a place and a chord; beats count from 1 as in the names of places: 3.2+1/2 is a half after beat 2
    key G minor              holds for the Roman numerals below it
    1       i
    1.3     V6/5
    5       D7/F#            chord symbols need no key
    9       N.C.             nothing sounds

or, in a file ending in ``.toml``, the same as tables; a key's place is written as a chord's:

    [keys]
    "1" = "G minor"
    [chords]
    "1.3" = "V6/5"

A chord holds until the next one. What stands after ``#`` and a blank, or at the start of a line, is a comment. A chart
becomes chord symbols of the score in place of those printed, so the harmony room judges by it.
"""

from __future__ import annotations

import json
import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any, NamedTuple

from appui.accompany.numerals import parse_key, parse_numeral
from appui.errors import ChartError
from appui.exact import Fraction, fraction_of
from appui.harmony.kinds import KINDS, NO_CHORD, parse_symbol
from appui.score.model import Bar, ChordSymbol, Score
from appui.score.signs import bar_names, beat_name
from appui.text import tables_of, text_of

__all__ = ["Chart", "place_name", "read_chart", "with_chart"]

_COMMENT = re.compile(r"^\s*#.*|\s#(?:\s.*|$)")
_BEAT = re.compile(r"(?P<beat>\d{1,3})(?:\+(?P<part>\d{1,3}/0*[1-9]\d{0,2}))?")
_AGAIN_BARS = 4


@dataclass(frozen=True, slots=True)
class Chart:
    """A chart read for one score: its file and its chords as sounding symbols, in order of time."""

    file: str
    symbols: tuple[ChordSymbol, ...]


class _Line(NamedTuple):
    """One entry: where it stands in the file, the place it names, a key or a chord."""

    where: str
    place: str
    text: str
    is_key: bool = False


def read_chart(path: Path, score: Score) -> Chart:
    """Read and check a chart; raises `ChartError` naming file, line and remedy."""
    text = text_of(path, ChartError, "chart", "save it as UTF-8 text", "check the path, or have a proposal written")
    lines = list(_toml(text, path) if path.suffix.lower() == ".toml" else _plain(text, path))
    reader = _Reader(str(path), score)
    symbols = reader.symbols(lines)
    if not symbols:
        raise ChartError(path, "holds no chord", "write at least one line such as `1 G7`: a bar and a chord")
    return Chart(path.name, symbols)


def with_chart(score: Score, chart: Chart) -> Score:
    """The score with the chart's chords as its chord symbols, and no others; they stand in its first part."""
    parts = [replace(part, chord_symbols=()) for part in score.parts]
    parts[0] = replace(parts[0], chord_symbols=tuple(_lasting(score, chart.symbols)))
    return replace(score, parts=tuple(parts))


def _lasting(score: Score, symbols: Sequence[ChordSymbol]) -> Iterator[ChordSymbol]:
    """The symbols, said again every four bars: that is how long a printed one is believed."""
    ends = [symbol.onset_q for symbol in symbols[1:]] + [score.length_q]
    for symbol, end_q in zip(symbols, ends, strict=True):
        yield symbol
        first = score.bar_at(symbol.onset_q).index
        for bar in score.bars[first + _AGAIN_BARS :: _AGAIN_BARS]:
            if bar.onset_q < end_q:
                yield symbol._replace(onset_q=bar.onset_q)


def place_name(score: Score, onset_q: Fraction, names: Sequence[str] = ()) -> str:
    """A moment as a chart names it: ``12`` or ``12.3``; `names`, if given, are those of the bars."""
    bar = score.bar_at(onset_q)
    name = (names or bar_names(score))[bar.index]
    return name if onset_q == bar.onset_q else f"{name}.{beat_name(bar, onset_q - bar.onset_q)}"


def _plain(text: str, path: Path) -> Iterator[_Line]:
    for number, line in enumerate(text.splitlines(), 1):
        words = _COMMENT.sub("", line).split(None, 1)
        if not words:
            continue
        where = f"line {number}"
        if words[0].rstrip(":=").lower() == "key":
            yield _Line(where, "", (words[1] if len(words) > 1 else "").lstrip(":= ").strip(), is_key=True)
        elif len(words) == 2:
            yield _Line(where, words[0], words[1].strip())
        else:
            raise ChartError(
                path,
                f"{line.strip()!r} is not a place and a chord",
                "write a bar and a chord, as `12.3 D7/F#`",
                place=where,
            )


def _toml(text: str, path: Path) -> Iterator[_Line]:
    data = tables_of(text, path, ChartError)
    unknown = sorted(set(data) - {"keys", "chords"})
    if unknown:
        raise ChartError(
            path, f"has a table {unknown[0]!r}", "use the tables [keys] and [chords]", place=_at(text, unknown[0])
        )
    for table in ("keys", "chords"):
        entries: Any = data.get(table, {})
        if not isinstance(entries, dict):
            raise ChartError(
                path, f"{table!r} is no table", f"write [{table}] and the entries below it", place=_at(text, table)
            )
        for place, value in entries.items():
            if not isinstance(value, str):
                raise ChartError(path, f"{place} is not text", 'write it in quotes, as "V6/5"', place=_at(text, place))
            yield _Line(_at(text, place), place, value.strip(), is_key=table == "keys")


def _at(text: str, key: str) -> str:
    """The line of a key of a TOML file, in words."""
    starts = (json.dumps(key, ensure_ascii=False), f"'{key}'", f"{key} ", f"{key}=", f"[{key}]", f"[[{key}")
    for number, line in enumerate(text.splitlines(), 1):
        if line.lstrip().startswith(starts):
            return f"line {number}"
    return f"entry {key}"


class _Reader:
    """Turns entries into symbols, each checked against the score."""

    def __init__(self, file: str, score: Score) -> None:
        self.file, self.score = file, score
        self.bars = dict(zip(bar_names(score), score.bars, strict=True))

    def symbols(self, lines: Sequence[_Line]) -> tuple[ChordSymbol, ...]:
        """All chords in order of time; a key holds for what follows it, in the file or, with a place, in the music."""
        placed = [(self._onset(line), line) for line in lines if line.is_key and line.place]
        keys = sorted(((onset_q, self._key(line)) for onset_q, line in placed), key=lambda entry: entry[0])
        found: dict[Fraction, tuple[ChordSymbol, str]] = {}
        running: tuple[int, bool] | None = None
        for line in lines:
            if line.is_key:
                running = running if line.place else self._key(line)
                continue
            onset_q = self._onset(line)
            key = running or next((key for start_q, key in reversed(keys) if start_q <= onset_q), None)
            if onset_q in found:
                raise self._error(
                    line, f"{line.place} has a chord already, in {found[onset_q][1]}", "leave one of them out"
                )
            found[onset_q] = self._chord(line, onset_q, key), line.where
        return tuple(found[onset_q][0] for onset_q in sorted(found))

    def _error(self, line: _Line, problem: str, remedy: str) -> ChartError:
        return ChartError(self.file, problem, remedy, place=line.where)

    def _key(self, line: _Line) -> tuple[int, bool]:
        key = parse_key(line.text)
        if key is None:
            raise self._error(line, f"{line.text!r} is no key", "write a letter and major or minor, as `key G minor`")
        return key

    def _chord(self, line: _Line, onset_q: Fraction, key: tuple[int, bool] | None) -> ChordSymbol:
        symbol = parse_symbol(line.text, onset_q)
        if symbol is not None:
            return symbol
        numeral = parse_numeral(line.text, *(key or (0, False))[:1], minor=bool(key and key[1]), onset_q=onset_q)
        if numeral is not None and key is None:
            raise self._error(
                line, f"{line.text!r} is a Roman numeral without a key", "put a line such as `key G minor` before it"
            )
        if numeral is None:
            known = ", ".join(f"G{kind.texts[0]}" for name, kind in KINDS.items() if kind.texts and name != NO_CHORD)
            raise self._error(
                line,
                f"{line.text!r} is no chord",
                f"write a symbol ({known}; with /B for a bass), a numeral as V6/5, or N.C.",
            )
        return numeral

    def _onset(self, line: _Line) -> Fraction:
        name, _, beat = line.place.partition(".")
        bar = self.bars.get(name)
        if bar is None:
            first, last = next(iter(self.bars)), list(self.bars)[-1]
            raise self._error(line, f"there is no bar {name!r}", f"use the printed bar numbers, here {first} to {last}")
        return bar.onset_q + self._in_bar(line, bar, beat)

    def _in_bar(self, line: _Line, bar: Bar, beat: str) -> Fraction:
        if not beat:
            return Fraction(0)
        match = _BEAT.fullmatch(beat)
        if match is None:
            raise self._error(
                line, f"{beat!r} is no beat", "count beats from 1, and write a half after beat 2 as 2+1/2"
            )
        beats = int(match["beat"]) - 1 + fraction_of(match["part"] or "0")
        at_q = beats * bar.meter.beat_q - bar.lead_q
        if not 0 <= at_q < bar.length_q:
            first, last = beat_name(bar, Fraction(0)), beat_name(bar, bar.length_q - bar.meter.beat_q / 24)
            raise self._error(
                line, f"bar {bar.number} has no beat {beat}", f"its beats go from {first} to {last.split('+')[0]}"
            )
        return at_q
