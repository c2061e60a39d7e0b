"""A picture of one place as it was played: the beat as a band, the notes as bars, the level under them.

The band is as wide as the beat is unknown; what begins within it is on the beat as far as can be told.
"""

from __future__ import annotations

import math
from html import escape
from typing import TYPE_CHECKING, NamedTuple

from appui.listen.figured import FigureHeard
from appui.listen.judge import Heard

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

__all__ = ["BEFORE_S", "picture"]

WIDTH, HEIGHT = 720, 230
BEFORE_S, _AFTER_S = 0.5, 1.5
_LEFT, _RIGHT = 16, 16
_NOTES_Y, _NOTE_HIGH, _LEVEL_Y, _LEVEL_HIGH = 62, 26, 205, 70
#  so much of the main note at rest after a late figure is shown; to so many seconds half seconds are marked
_SHOWN_S, _NEAR_TICKS_S = 0.4, 3.0
#  a note of a figure, which has three heights
_FIGURE_HIGH = 16
_QUIETEST_DB = 40.0
#  how wide a moment is drawn, seconds
_MOMENT_S = 0.01
_LETTERS = 'font-family="sans-serif" font-size="13"'
_INK, _SMALL, _MAIN, _BAND = "#222", "#b4541a", "#3d6a8a", "#e4dcc4"


def picture(heard: Heard, title: str, level_db: NDArray[np.float64] | None, frame_s: float) -> str:
    """The picture as SVG; `level_db` is of the whole take, a value every `frame_s` seconds."""
    scale = _scale_of(heard)
    parts = [
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {WIDTH} {HEIGHT}" fill="{_INK}" {_LETTERS}>',
        f"<title>{escape(title)}</title>",
        f'<rect width="{WIDTH}" height="{HEIGHT}" fill="#fff"/><text x="{_LEFT}" y="22">{escape(title)}</text>',
        *_band(heard, scale),
        *_bars(heard, scale),
        _level(scale, level_db, frame_s),
        _ticks(scale),
        "</svg>",
    ]
    return "\n".join(part for part in parts if part) + "\n"


class _Scale(NamedTuple):
    """From half a second before a moment (the beat) to so long after it."""

    at_s: float
    after_s: float = _AFTER_S

    def x(self, seconds: float) -> float:
        """Where a moment of the take stands."""
        inside = min(max(seconds - self.at_s, -BEFORE_S), self.after_s)
        return _LEFT + (inside + BEFORE_S) / (BEFORE_S + self.after_s) * (WIDTH - _LEFT - _RIGHT)


def _scale_of(heard: Heard) -> _Scale:
    """A late figure is shown to its end, in half seconds."""
    at_s = heard.beat.at_s
    if not math.isfinite(at_s):
        at_s = heard.main_s if math.isfinite(heard.main_s) else 0.0
    if heard.figure is None:
        return _Scale(at_s)
    rests_s = heard.main_s - at_s + _SHOWN_S
    return _Scale(at_s, max(_AFTER_S, math.ceil(2 * rests_s) / 2))


def _band(heard: Heard, scale: _Scale) -> list[str]:
    if not math.isfinite(heard.beat.at_s) or not math.isfinite(heard.beat.spread_s):
        return [f'<text x="{_LEFT}" y="44">where the beat is cannot be told</text>']
    half = 2 * heard.beat.spread_s
    left, right = scale.x(heard.beat.at_s - half), scale.x(heard.beat.at_s + half)
    middle = scale.x(heard.beat.at_s)
    return [
        f'<rect x="{left:.1f}" y="34" width="{right - left:.1f}" height="{_LEVEL_Y - 34}" fill="{_BAND}"/>',
        f'<path d="M{middle:.1f} 34V{_LEVEL_Y}" stroke="{_INK}" stroke-dasharray="3 3"/>',
        f'<text x="{middle + 4:.1f}" y="46">beat</text>',
    ]


def _bars(heard: Heard, scale: _Scale) -> list[str]:
    if heard.trill is not None:
        return _trill_bars(heard, scale)
    if heard.figure is not None:
        return _figure_bars(heard.figure, scale)
    starts = [*heard.small_s, heard.main_s]
    found = []
    for number, start in enumerate(starts[:-1]):
        found.append(_bar(scale, start, starts[number + 1], 0, _SMALL, "small note" if not number else ""))
    if math.isnan(heard.main_s) and heard.small_s:
        # how long it is cannot be told: only where it begins is shown
        begins_s = heard.small_s[0]
        return [_bar(scale, begins_s, begins_s + _MOMENT_S, 0, _SMALL, "the first note begins")]
    if math.isfinite(heard.main_s):
        end = heard.end_s if math.isfinite(heard.end_s) else heard.main_s + 0.3
        found.append(_bar(scale, heard.main_s, end, 1, _MAIN, "main note"))
    return found


def _trill_bars(heard: Heard, scale: _Scale) -> list[str]:
    """Each note of a trill: what lies above the main note in the upper row, the rest in the lower."""
    assert heard.trill is not None
    starts, keys = heard.trill.starts_s, heard.trill.keys
    top = max(keys, default=0)
    ends = [*starts[1:], heard.end_s]
    return [
        _bar(scale, start, end, int(key < top), _SMALL if key == top else _MAIN, "")
        for start, end, key in zip(starts, ends, keys, strict=True)
    ]


def _figure_bars(figure: FigureHeard, scale: _Scale) -> list[str]:
    """Each note of a turn or mordent: above the main note, at its height, or below it."""
    ends = [*figure.starts_s[1:], figure.end_s]
    main = figure.keys[-1]
    found = []
    for number, (start, end, key) in enumerate(zip(figure.starts_s, ends, figure.keys, strict=True)):
        row = 1 - (key > main) + (key < main)
        name = "main note" if number == len(ends) - 1 else ""
        found.append(_bar(scale, start, end, row, _MAIN if key == main else _SMALL, name, _FIGURE_HIGH))
    return found


def _bar(scale: _Scale, start: float, end: float, row: int, colour: str, name: str, high: int = _NOTE_HIGH) -> str:
    if not (math.isfinite(start) and math.isfinite(end)):
        return ""
    left, right, top = scale.x(start), scale.x(end), _NOTES_Y + row * (high + 8)
    bar = f'<rect x="{left:.1f}" y="{top}" width="{max(right - left, 1):.1f}" height="{high}" fill="{colour}"/>'
    below = top + high // 2 + 5
    return bar + (f'<text x="{right + 5:.1f}" y="{below}" fill="{colour}">{name}</text>' if name else "")


def _level(scale: _Scale, level_db: NDArray[np.float64] | None, frame_s: float) -> str:
    if level_db is None or not len(level_db):
        return ""
    first, last = (round((scale.at_s + away) / frame_s) for away in (-BEFORE_S, scale.after_s))
    cut = level_db[max(first, 0) : max(last, 0)]
    if not len(cut):
        return ""
    top = float(cut.max())
    points = []
    for number, level in enumerate(cut):
        x = scale.x((max(first, 0) + number) * frame_s)
        y = _LEVEL_Y - _LEVEL_HIGH * max(1 - (top - float(level)) / _QUIETEST_DB, 0)
        points.append(f"{x:.1f},{y:.1f}")
    return f'<polyline points="{" ".join(points)}" fill="none" stroke="{_INK}" stroke-width="1.2"/>'


def _ticks(scale: _Scale) -> str:
    ticks = []
    apart = 5 if scale.after_s <= _NEAR_TICKS_S else 10
    first = -5 if apart == 5 else 0
    for tenth in range(first, round(10 * scale.after_s) + 1, apart):
        x = scale.x(scale.at_s + tenth / 10)
        ticks.append(
            f'<path d="M{x:.1f} {_LEVEL_Y}v5" stroke="{_INK}"/>'
            f'<text x="{x:.1f}" y="{_LEVEL_Y + 18}" text-anchor="{_anchor(x)}">{100 * tenth} ms</text>'
        )
    return f'<path d="M{_LEFT} {_LEVEL_Y}H{WIDTH - _RIGHT}" stroke="{_INK}"/>' + "".join(ticks)


def _anchor(x: float) -> str:
    """Where a number stands against its tick, so that none is cut off at the edge."""
    return "start" if x <= _LEFT else "end" if x > WIDTH - _RIGHT - 1 else "middle"
