"""Thresholds over time as one SVG: a panel a kind, since each has its own unit; drawn by pygal.

The height is the logarithm of the threshold, as the ladders go; lower is finer hearing. A line a player; the upright
strokes are the 95 % intervals. Sittings without a threshold are not drawn. Same results, same bytes.
"""

from __future__ import annotations

import html
import sys
from collections.abc import Sequence
from datetime import UTC, datetime, timedelta
from typing import Any, NamedTuple

from appui.drill.kinds import KINDS, Kind
from appui.drill.results import Result

__all__ = ["chart"]

WIDTH, PANEL = 760, 300
_COLOURS = ("#1f6f8b", "#b3541e", "#5b7f2b", "#7a4b8f", "#8a6d1d", "#444444")
_SVG = "http://www.w3.org/2000/svg"
#  days a clock may say, and the day taken where it says another
_YEARS, _NO_DAY = range(1971, 2200), datetime(2000, 1, 1, tzinfo=UTC)


def chart(results: Sequence[Result]) -> str:
    """The chart of every kind there is a threshold for, and a line of text where there is none."""
    kinds = [kind for kind in KINDS.values() if any(each.kind is kind and each.threshold for each in results)]
    players = list(dict.fromkeys(each.player for each in results if each.threshold))
    panels = [_panel(kind, [each for each in results if each.kind is kind], players) for kind in kinds]
    height = max(len(panels), 1) * PANEL
    inside = "".join(
        f'<svg y="{number * PANEL}" width="{WIDTH}" height="{PANEL}" viewBox="0 0 {WIDTH} {PANEL}">{panel}</svg>'
        for number, panel in enumerate(panels)
    )
    nothing = f'<text x="20" y="40" font-family="sans-serif" font-size="16">{html.escape(_NOTHING)}</text>'
    return (
        f'<svg xmlns="{_SVG}" xmlns:xlink="http://www.w3.org/1999/xlink" width="{WIDTH}" height="{height}" '
        f'viewBox="0 0 {WIDTH} {height}"><rect width="100%" height="100%" fill="#ffffff"/>{inside or nothing}</svg>\n'
    )


_NOTHING = "No thresholds yet: a sitting needs 20 trials and more right answers than guessing brings."


def _panel(kind: Kind, results: Sequence[Result], players: Sequence[str]) -> str:
    """One kind's panel, as what stands inside its `svg` element."""
    from lxml import etree

    drawn = _drawn(kind, results, players)
    tree = etree.fromstring(drawn.render(is_unicode=False))
    etree.strip_elements(tree, f"{{{_SVG}}}script", with_tail=False)
    inside = "".join(etree.tostring(child, encoding="unicode", with_tail=False) for child in tree)
    # its style names the chart by this id
    return f'<g id="{tree.get("id")}">{inside}</g>'


def _library() -> Any:
    """Pygal without its finder of map plugins: of an older kind, it makes every later import of the process warn."""
    import pygal

    sys.meta_path[:] = [finder for finder in sys.meta_path if not isinstance(finder, pygal.PluginImportFixer)]
    return pygal


def _drawn(kind: Kind, results: Sequence[Result], players: Sequence[str]) -> Any:
    pygal = _library()
    moments = [_moment(each) for each in results if each.threshold]
    lines = _lines(results, players)
    drawn = pygal.DateTimeLine(
        style=_style(lines),
        width=WIDTH,
        height=PANEL,
        title=f"{kind.name}: {kind.ladder.unit} {kind.ladder.of}",
        logarithmic=True,
        show_legend=len(players) > 1,
        legend_at_bottom=True,
        js=(),
        explicit_size=True,
        dots_size=4,
        margin_right=45,
        x_label_rotation=0,
        x_value_formatter=lambda moment: f"{moment.day} {moment:%b %Y}",
        value_formatter=kind.ladder.number,
        x_labels=_ticks(moments),
        xrange=_span(moments),
        y_labels=_levels(kind, results),
        disable_xml_declaration=True,
    )
    drawn.uuid = kind.name
    for line in lines:
        drawn.add(line.title, list(line.points), show_dots=line.title is not None)
    return drawn


class _Line(NamedTuple):
    """Points joined by a line; an interval's has no title."""

    player: int
    title: str | None
    points: tuple[tuple[datetime, float], ...]


def _style(lines: Sequence[_Line]) -> Any:
    from pygal.style import Style

    return Style(
        colors=tuple(_COLOURS[line.player % len(_COLOURS)] for line in lines),
        guide_stroke_color="#dddddd",
        major_guide_stroke_color="#dddddd",
        guide_stroke_dasharray="",
        major_guide_stroke_dasharray="",
        background="#ffffff",
        plot_background="#ffffff",
        foreground="#333333",
        foreground_strong="#111111",
        foreground_subtle="#888888",
        font_family="sans-serif",
        title_font_size=16,
        label_font_size=11,
        major_label_font_size=11,
        legend_font_size=12,
    )


def _lines(results: Sequence[Result], players: Sequence[str]) -> list[_Line]:
    """A line a player, then one for every interval."""
    found = [(players.index(each.player), _moment(each), each.threshold) for each in results if each.threshold]
    lines = [
        _Line(number, player, tuple((at, threshold.level) for who, at, threshold in found if who == number))
        for number, player in enumerate(players)
    ]
    return lines + [_Line(who, None, ((at, each.low), (at, each.high))) for who, at, each in found]


def _moment(result: Result) -> datetime:
    """When the sitting began; a fixed day where its clock was surely wrong."""
    try:
        found = datetime.fromisoformat(result.moment)
    except ValueError:
        return _NO_DAY
    return found.replace(tzinfo=found.tzinfo or UTC) if found.year in _YEARS else _NO_DAY


def _span(moments: Sequence[datetime]) -> tuple[float, float]:
    """The time shown, a little more than there is: seconds, as pygal has them."""
    first, last = min(moments), max(moments)
    more = max((last - first) / 20, timedelta(hours=12))
    return (first - more).timestamp(), (last + more).timestamp()


def _ticks(moments: Sequence[datetime]) -> list[datetime]:
    """Up to five days evenly over the time."""
    first, last = min(moments), max(moments)
    if last - first < timedelta(days=1):
        return [first]
    count = min(5, (last - first).days + 1)
    return [first + (last - first) * step / (count - 1) for step in range(count)]


def _levels(kind: Kind, results: Sequence[Result]) -> list[float]:
    """Every octave of the ladder that the intervals reach into."""
    found = [each.threshold for each in results if each.threshold]
    low, high = min(t.low for t in found), max(t.high for t in found)
    octaves = [kind.ladder.level(rung) for rung in range(-3, kind.ladder.rungs + 7, 3)]
    return [level for level in octaves if low / 2 < level < high * 2]
