"""What a teacher of composition would strike out in a demo: parallel fifths and octaves, crossed parts, odd ranges.

Looked at from one beat to the next, and from one stroke to the next, between every two parts. Small notes are left out:
they delay or fill, they are not the parts' progression. Rules: common practice, no source.
"""

from __future__ import annotations

from collections.abc import Iterator
from itertools import combinations, pairwise

from appui.demo.music import Music, Part, midi
from appui.exact import Fraction

__all__ = ["RANGES", "faults"]

#  part: lowest and highest note asked for, keys; the oboe's is that of about 1780
RANGES = {
    "Oboe": (60, 89),
    "Violin": (55, 88),
    "Viola": (48, 76),
    "Violoncello": (36, 67),
    "Flute": (62, 91),
    "Basso": (36, 62),
    "Clarinet": (52, 89),
}
_PERFECT = {0: "octaves", 7: "fifths"}
_Line = dict[Fraction, int]


def faults(music: Music) -> list[str]:
    """Every fault in words; empty for clean writing."""
    lines = {part.name: _line(music, part) for part in music.parts}
    found = [*_out_of_range(lines)]
    for upper, lower in combinations(lines, 2):
        found += _parallels(music, upper, lower, lines[upper], lines[lower])
        found += _crossed(music, upper, lower, lines[upper], lines[lower])
    return found


def _line(music: Music, part: Part) -> _Line:
    """What a part sounds at every 16th of the piece, by its key; rests are missing."""
    sounding: _Line = {}
    for bar, words in enumerate(part.bars):
        for word in words:
            start_q = bar * music.bar_q + word.onset_q
            if not word.rest:
                sounding |= {start_q + Fraction(step, 4): midi(word.pitch) for step in range(int(word.duration_q * 4))}
    return sounding


def _place(music: Music, at_q: Fraction) -> str:
    bar, rest_q = divmod(at_q, music.bar_q)
    return f"bar {bar + 1}, beat {rest_q / music.beat_q + 1}"


def _out_of_range(lines: dict[str, _Line]) -> Iterator[str]:
    for name, line in lines.items():
        low, high = RANGES[name]
        if min(line.values()) < low or max(line.values()) > high:
            yield f"{name}: {min(line.values())} to {max(line.values())} is outside {low} to {high}"


def _crossed(music: Music, upper: str, lower: str, high: _Line, low: _Line) -> Iterator[str]:
    for at_q in sorted(high.keys() & low.keys()):
        if high[at_q] < low[at_q]:
            yield f"{upper} below {lower}: {_place(music, at_q)}"


def _parallels(music: Music, upper: str, lower: str, high: _Line, low: _Line) -> Iterator[str]:
    both = sorted(high.keys() & low.keys())
    beats = [at_q for at_q in both if at_q % music.beat_q == 0]
    # a rest longer than a beat breaks the progression
    moves = (
        (earlier, later) for earlier, later in (*pairwise(both), *pairwise(beats)) if later - earlier <= music.beat_q
    )
    moved = {(later, _parallel(_pair(high, low, earlier), _pair(high, low, later))) for earlier, later in moves}
    for at_q, kind in sorted(each for each in moved if each[1]):
        yield f"parallel {kind}, {upper} and {lower}: to {_place(music, at_q)}"


def _pair(high: _Line, low: _Line, at_q: Fraction) -> tuple[int, int]:
    return high[at_q], low[at_q]


def _parallel(earlier: tuple[int, int], later: tuple[int, int]) -> str | None:
    """The name of the perfect interval in which two parts move, or `None`."""
    gaps = {(high - low) % 12 for high, low in (earlier, later)}
    moved = earlier[0] != later[0] and earlier[1] != later[1]
    return _PERFECT.get(gaps.pop()) if moved and len(gaps) == 1 else None
