"""The piece's own figures: short motives of its theme, those first that come back often and are like no bare scale.

A motive is 3 to 6 notes in a row without a rest, within the length of a bar: its contour in letter steps and its
rhythm, small notes left out, tied notes as one. It comes back wherever steps and values are the same, on whatever
degree; how long its last note is may differ. Looked for in the first phrase (to the first rest, fermata or breath, or
the end of its fourth bar) and in the bar before the fermata; counted over the whole line. That a cadenza grows out of
the chief ideas of its piece is Türk 1789, V §13 (memory); which those are no source says in numbers: the points are
ours.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from itertools import groupby, pairwise
from typing import NamedTuple

from appui.exact import Fraction
from appui.score.model import Event, Score

__all__ = ["Motive", "Tone", "motives", "tones"]

_LENGTHS = range(6, 2, -1)
_THEME_BARS = 4
#  more returns than these say nothing more: fragments always come back oftener than what they are of
_MOST_TIMES = 4
_OCTAVE = 7


class Tone(NamedTuple):
    """One note of the line: its letter position (`Pitch.diatonic`), value, bar by index, and its phrase, by number.

    `bar_q`: how long a bar is there; `on_beat`: it begins with a beat.
    """

    letter: int
    value_q: Fraction
    bar: int
    phrase: int
    bar_q: Fraction
    on_beat: bool = True


class Motive(NamedTuple):
    """One figure: letter steps from note to note, values, the bar of its first place, how often it comes."""

    steps: tuple[int, ...]
    values_q: tuple[Fraction, ...]
    bar: int
    times: int
    points: int

    @property
    def rank(self) -> int:
        """What it is ranked by: how characteristic it is, as often as it comes."""
        return self.points * min(self.times, _MOST_TIMES)


#  what makes two places the same figure
_Shape = tuple[tuple[int, ...], tuple[Fraction, ...]]


def tones(score: Score, events: Sequence[Event]) -> list[Tone]:
    """The line of a voice; rests, fermatas and breaths end its phrases."""
    found: list[Tone] = []
    phrase = 0
    for event in events:
        if not event.notes:
            phrase += 1
            continue
        bar = score.bars[event.bar]
        if found and event.top.tied_back:
            found[-1] = found[-1]._replace(value_q=found[-1].value_q + event.duration_q)
        else:
            on_beat = (event.onset_q - bar.onset_q + bar.lead_q) % bar.meter.beat_q == 0
            found.append(
                Tone(event.top.sounding.diatonic, event.duration_q, event.bar, phrase, bar.meter.bar_q, on_beat)
            )
        if event.fermata is not None or event.pauses:
            phrase += 1
    return found


def motives(line: Sequence[Tone], before: int | None = None, most: int = 3) -> list[Motive]:
    """The chief motives of a line, at most so many, none mainly part of a better one.

    `before`: the bar, by index, of a fermata; the last bar with notes before it is looked at as well as the theme.
    """
    places = _places(line)
    starts = [*_theme(line), *_last_bar(line, before)]
    found: dict[_Shape, tuple[Motive, range]] = {}
    for window in _windows(line, starts):
        shape = _shape(line, window)
        points = _points(line, window)
        if points and shape not in found:
            values = (*shape[1], _last_value(line, window))
            times = _apart(places[shape], len(window))
            found[shape] = Motive(shape[0], values, line[window.start].bar, times, points), window
    ranked = sorted(found.values(), key=lambda each: (-each[0].rank, -len(each[1]), each[1].start))
    kept: list[tuple[Motive, range]] = []
    for motive, window in ranked:
        if len(kept) < most and not any(_covered(window, other) for _, other in kept):
            kept.append((motive, window))
    return [motive for motive, _ in kept]


def _theme(line: Sequence[Tone]) -> list[int]:
    if not line:
        return []
    first = line[0]
    return [i for i, tone in enumerate(line) if tone.phrase == first.phrase and tone.bar - first.bar < _THEME_BARS]


def _last_bar(line: Sequence[Tone], before: int | None) -> list[int]:
    bars = [tone.bar for tone in line if before is not None and tone.bar < before]
    return [index for index, tone in enumerate(line) if bars and tone.bar == bars[-1]]


def _windows(line: Sequence[Tone], starts: Iterable[int]) -> Iterator[range]:
    """The stretches of 3 to 6 notes of one phrase that lie within these notes, the longest first."""
    ordered = sorted(set(starts))
    allowed = set(ordered)
    for length in _LENGTHS:
        for start in ordered:
            window = range(start, start + length)
            if allowed.issuperset(window) and line[start].phrase == line[window[-1]].phrase:
                yield window


def _shape(line: Sequence[Tone], window: range) -> _Shape:
    letters = [line[index].letter for index in window]
    return tuple(b - a for a, b in pairwise(letters)), tuple(line[index].value_q for index in window[:-1])


def _places(line: Sequence[Tone]) -> dict[_Shape, list[int]]:
    """Where each shape of the whole line begins."""
    found: dict[_Shape, list[int]] = {}
    for window in _windows(line, range(len(line))):
        found.setdefault(_shape(line, window), []).append(window.start)
    return found


def _apart(starts: Sequence[int], length: int) -> int:
    """How many of these places do not overlap, from the first on; one may end on the note the next begins with."""
    count, free = 0, 0
    for start in starts:
        if start >= free:
            count, free = count + 1, start + length - 1
    return count


def _points(line: Sequence[Tone], window: range) -> int:
    """How characteristic a figure is; 0 for what is none: repeated notes, a bare scale, a leap past the octave."""
    steps, values = _shape(line, window)
    leaps = sum(abs(step) > 1 for step in steps)
    ways = [way for way, _ in groupby(step > 0 for step in steps if step)]
    own = 2 * min(leaps, 2) + 2 * (len(set(values)) > 1) + _dotted(values) + (len(ways) > 1) - steps.count(0)
    if own < 1 or not ways or max(abs(step) for step in steps) > _OCTAVE or _long(line, window):
        return 0
    first, last = line[window.start], line[window[-1]]
    begins = window.start == 0 or line[window.start - 1].phrase != first.phrase
    return own + (last.value_q >= values[-1]) + first.on_beat + begins


def _long(line: Sequence[Tone], window: range) -> bool:
    """Whether a figure takes more than a bar from its first note to its last: a phrase, no figure."""
    return sum((line[index].value_q for index in window[:-1]), Fraction(0)) > line[window.start].bar_q


def _dotted(values: Iterable[Fraction]) -> bool:
    return any(one == 3 * other or other == 3 * one for one, other in pairwise(values))


def _last_value(line: Sequence[Tone], window: range) -> Fraction:
    """The last note as it stands, but no longer than the longest plain value before it: it is to go on."""
    longest = max(line[index].value_q for index in window[:-1])
    plain = longest * Fraction(2, 3) if longest.numerator % 3 == 0 else longest
    return min(line[window[-1]].value_q, plain)


def _covered(window: range, other: range) -> bool:
    return 2 * len(set(window) & set(other)) > len(window)
