"""Levels and tempo drawn under the bars: one SVG, to be looked at and argued about.

A row holds some bars; in it, from above: the notes of all parts by pitch, the solo dark; how loud each is, the solo as
a thick line, the loudest of the others as a thin one; and the tempo. Quarters are equally wide, so a slower beat shows
as a dip of the lowest line and not as a wider bar. Levels are dB below full velocity (40 log10 of it), tempo is in
quarter notes a minute.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise

from lxml import etree

from appui.exact import Fraction
from appui.musicxml.element import Element
from appui.perform.levels import db_of
from appui.perform.model import Mark, Performance, PerformedNote

__all__ = ["picture"]

SVG = "http://www.w3.org/2000/svg"
WIDTH, LEFT, RIGHT, HEAD = 1200.0, 64.0, 16.0, 34.0
#  heights of the three lanes, what is between them and between rows
NOTES, LEVELS, TEMPO, GAP, BETWEEN = 110.0, 90.0, 60.0, 10.0, 26.0
BARS_A_ROW = 8
_STEP_DB, _LEAST_DB = 5, 10
#  what falls on one of so many parts of a quarter is together
_TOGETHER = 48
_INK, _OTHERS, _RULE, _SOLO = "#222222", "#8a8a8a", "#d9d9d9", "#8c1c13"

Point = tuple[float, float]


@dataclass(frozen=True, slots=True)
class _Lane:
    """A stretch of the picture from `top`, `height` high, for values from `low` to `high`."""

    top: float
    height: float
    low: float
    high: float

    def y(self, value: float) -> float:
        """Where a value stands; what is beyond stands at the edge."""
        inside = min(max(value, self.low), self.high)
        return self.top + self.height * (1 - (inside - self.low) / ((self.high - self.low) or 1.0))


@dataclass(frozen=True, slots=True)
class _Row:
    """Bars that stand side by side, from a moment to another."""

    bars: Sequence[Mark]
    start_q: Fraction
    end_q: Fraction
    top: float

    def x(self, at_q: Fraction) -> float:
        """Where a moment stands."""
        share = (at_q - self.start_q) / (self.end_q - self.start_q)
        return LEFT + float(share) * (WIDTH - LEFT - RIGHT)

    def holds(self, at_q: Fraction) -> bool:
        """Whether a moment is in it."""
        return self.start_q <= at_q < self.end_q


def picture(performance: Performance) -> bytes:
    """The picture of a performance, SVG; nothing but white where nothing is played."""
    rows = list(_rows(performance))
    height = HEAD + len(rows) * (NOTES + LEVELS + TEMPO + 2 * GAP + BETWEEN)
    root = etree.Element("svg", {"xmlns": SVG, "viewBox": f"0 0 {WIDTH:g} {height:g}"})
    _add(root, "rect", x=0, y=0, width=WIDTH, height=height, fill="white")
    solo = next((part.name for part in performance.parts if part.solo), "")
    said = f"{solo} dark; levels in dB below full, tempo in quarter notes a minute" if solo else "levels and tempo"
    _text(root, LEFT, 20, f"{performance.title}: {said}", size=14)
    spans = _spans(performance)
    for row in rows:
        _draw(root, performance, row, spans)
    return etree.tostring(root, xml_declaration=True, encoding="UTF-8", pretty_print=True)


def _rows(performance: Performance) -> Iterator[_Row]:
    bars = [mark for mark in performance.marks if mark.kind == "bar"]
    for number, first in enumerate(range(0, len(bars), BARS_A_ROW)):
        after = bars[first + BARS_A_ROW : first + BARS_A_ROW + 1]
        end_q = after[0].onset_q if after else performance.length_q
        top = HEAD + number * (NOTES + LEVELS + TEMPO + 2 * GAP + BETWEEN)
        if end_q > bars[first].onset_q:
            yield _Row(bars[first : first + BARS_A_ROW], bars[first].onset_q, end_q, top)


def _spans(performance: Performance) -> tuple[Point, Point, Point]:
    """From where to where pitches, levels and tempos reach in the whole piece."""
    notes = [note for part in performance.parts if not part.percussion for note in part.notes]
    keys = [note.key for note in notes] or [60]
    levels = [db_of(note.velocity) for note in notes] or [0.0]
    low_db = _STEP_DB * (min(levels) // _STEP_DB)
    high_db = max(min(0.0, _STEP_DB * (max(levels) // _STEP_DB + 1)), low_db + _LEAST_DB)
    paces = [float(step.qpm) for step in performance.tempos]
    return (min(keys) - 1.0, max(keys) + 1.0), (low_db, high_db), (0.95 * min(paces), 1.05 * max(paces))


def _draw(root: Element, performance: Performance, row: _Row, spans: tuple[Point, Point, Point]) -> None:
    notes = _Lane(row.top + 12, NOTES - 12, *spans[0])
    levels = _Lane(row.top + NOTES + GAP, LEVELS, *spans[1])
    tempo = _Lane(row.top + NOTES + LEVELS + 2 * GAP, TEMPO, *spans[2])
    for bar in row.bars:
        _line(root, [(row.x(bar.onset_q), row.top + 12), (row.x(bar.onset_q), tempo.top + TEMPO)], _RULE)
        _text(root, row.x(bar.onset_q) + 2, row.top + 8, bar.text)
    _scale(root, levels)
    for solo in (False, True):
        _notes(root, performance, row, notes, solo=solo)
        _levels(root, performance, row, levels, solo=solo)
    _tempo(root, performance, row, tempo)


def _scale(root: Element, lane: _Lane) -> None:
    """Lines five decibels apart."""
    for level in range(int(lane.low), int(lane.high) + 1, _STEP_DB):
        _line(root, [(LEFT, lane.y(level)), (WIDTH - RIGHT, lane.y(level))], _RULE)
        _text(root, LEFT - 6, lane.y(level) + 3, f"{level} dB", anchor="end")


def _notes(root: Element, performance: Performance, row: _Row, lane: _Lane, *, solo: bool) -> None:
    for note in _played(performance, row, solo=solo):
        width = max(row.x(min(note.onset_q + note.duration_q, row.end_q)) - row.x(note.onset_q), 1.0)
        x, y, colour = row.x(note.onset_q), lane.y(note.key) - 1.5, _SOLO if solo else _OTHERS
        _add(root, "rect", x=x, y=y, width=width, height=3.0, fill=colour)


def _levels(root: Element, performance: Performance, row: _Row, lane: _Lane, *, solo: bool) -> None:
    """The loudest note of each moment, joined by a line."""
    loudest: dict[Fraction, int] = {}
    for note in _played(performance, row, solo=solo):
        # players begin some milliseconds apart
        at_q = max(Fraction(round(note.onset_q * _TOGETHER), _TOGETHER), row.start_q)
        loudest[at_q] = max(loudest.get(at_q, 0), note.velocity)
    points = [(row.x(at_q), lane.y(db_of(velocity))) for at_q, velocity in sorted(loudest.items())]
    colour, width = (_SOLO, 1.8) if solo else (_OTHERS, 0.8)
    _line(root, points, colour, width)
    for x, y in points:
        _add(root, "circle", cx=x, cy=y, r=width, fill=colour)


def _tempo(root: Element, performance: Performance, row: _Row, lane: _Lane) -> None:
    """A line of steps: the tempo of each stretch."""
    at = [row.start_q, *(step.onset_q for step in performance.tempos if row.holds(step.onset_q)), row.end_q]
    points: list[Point] = []
    for start_q, end_q in pairwise(at):
        y = lane.y(float(performance.step_at(start_q).qpm))
        points += [(row.x(start_q), y), (row.x(end_q), y)]
    _line(root, points, _INK, 1.2)
    values = sorted({round(float(performance.step_at(at_q).qpm), 1) for at_q in at[:-1]})
    for value in {values[0], values[-1]}:
        _text(root, LEFT - 6, lane.y(value) + 3, f"{value:g}", anchor="end")


def _played(performance: Performance, row: _Row, *, solo: bool) -> Iterator[PerformedNote]:
    """The notes of the solo, or of the others, that begin in a row."""
    for part in performance.parts:
        if part.solo == solo and not part.percussion:
            yield from (note for note in part.notes if row.holds(note.onset_q))


def _line(root: Element, points: Iterable[Point], colour: str, width: float = 0.6) -> None:
    said = " ".join(f"{x:.1f},{y:.1f}" for x, y in points)
    if said:
        _add(root, "polyline", points=said, stroke=colour, stroke_width=width, fill="none")


def _text(root: Element, x: float, y: float, words: str, *, size: float = 9, anchor: str = "start") -> None:
    node = _add(root, "text", x=x, y=y, font_size=size, font_family="sans-serif", text_anchor=anchor)
    node.text = words


def _add(root: Element, name: str, **values: str | float) -> Element:
    """An element with attributes; their names with - where Python has _."""
    said = {key.replace("_", "-"): value if isinstance(value, str) else f"{value:.1f}" for key, value in values.items()}
    return etree.SubElement(root, name, said)
