"""What is heard of the score: passages, the excerpt of each sign in them, and what each reading changes.

A passage is a run of bars around signs, played once as printed. Its accompaniment and its solo in the readings chosen
are rendered once a tempo. Of any other reading only the stretch is rendered in which the solo's notes differ: found
by comparing the performed notes of both, which also gives the rise towards a leaning note and what a small note takes
from the note before it. A reading that moves the other parts too (a fermata held longer) has no such stretch: the
bars around it are a passage of their own, played with that reading.

Times are seconds of the passage at one tempo, from the start of its sound; a beat of silence comes before its first
bar, for small notes before the beat.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property
from typing import NamedTuple

from appui.exact import Fraction
from appui.interpret.interpretation import Interpretation
from appui.perform.excerpt import later, led_in
from appui.perform.model import Performance, PerformedNote, PerformedPart
from appui.perform.play import play
from appui.score.repeats import Occurrence, once
from appui.score.signs import Sign
from appui.style.reading import Reading

__all__ = ["LONGEST_S", "RING_S", "Heard", "Passage", "Span", "Stretch", "find_passages", "passages_under", "within"]

#  a browser decodes a whole passage when its first sign is played: 60 s with their readings in about half a second
LONGEST_S = 60.0
#  after the last bar of a passage, while it rings out
RING_S = 0.7
#  small notes before the beat are no longer before it
_EARLIEST_S = 1.0


@dataclass(frozen=True, slots=True)
class Stretch:
    """From `start_s` to `end_s` the solo's notes differ under a reading; `part` is the solo around it, so read."""

    place: str
    reading: str
    start_s: float
    end_s: float
    part: PerformedPart


class Span(NamedTuple):
    """From the first beat of a bar to the end of a bar, and how long before that beat its small notes begin.

    The time between is that of the music, so that it can be played in rounds without a gap.
    """

    from_s: float
    to_s: float
    lead_s: float


@dataclass(frozen=True, slots=True)
class Passage:
    """Bars `first` to `last` (indices, inclusive) and the signs heard in them; `words` where one is read otherwise."""

    first: int
    last: int
    signs: tuple[Sign, ...]
    words: str | None = None


def find_passages(interpretation: Interpretation, signs: Iterable[Sign], first: int, last: int) -> tuple[Passage, ...]:
    """The bars around each sign, one bar before and one after, joined where they meet, none longer than `LONGEST_S`."""
    found: list[Passage] = []
    for sign in sorted(signs, key=lambda sign: sign.main(interpretation.score).bar):
        low, high = _around(interpretation, sign, first, last)
        before = found[-1] if found else None
        if before is not None and low <= before.last + 2 and _length_s(interpretation, before.first, high) <= LONGEST_S:
            found[-1] = Passage(before.first, max(high, before.last), (*before.signs, sign))
        else:
            found.append(Passage(low, high, (sign,)))
    return tuple(found)


def passages_under(
    interpretation: Interpretation, readings: Mapping[str, Sequence[str]], first: int, last: int
) -> Iterator[Passage]:
    """The bars around each fermata in each of its readings but the chosen one, for which all parts wait otherwise.

    `readings` has by place the words of the readings, the chosen one first.
    """
    for place, words in readings.items():
        sign = interpretation.sign_at(place)
        for each in words[1:] if sign.kind == "fermata" else ():
            yield Passage(*_around(interpretation, sign, first, last), (sign,), each)


def _around(interpretation: Interpretation, sign: Sign, first: int, last: int) -> tuple[int, int]:
    """The bar before a sign and the bar after it, within others."""
    bar = sign.main(interpretation.score).bar
    return max(bar - 1, first), min(bar + 1, last)


def _length_s(interpretation: Interpretation, first: int, last: int) -> float:
    bars = interpretation.score.bars[first : last + 1]
    marks = interpretation.score.tempos
    slowest = min(mark.qpm for mark in marks if mark is marks[0] or mark.onset_q <= bars[-1].onset_q)
    return float(sum(bar.length_q for bar in bars) * 60 / slowest)


@dataclass
class Heard:
    """One passage at one tempo. `interpretation` is at that tempo."""

    interpretation: Interpretation
    passage: Passage
    _chosen: dict[str, PerformedPart] = field(default_factory=dict)

    @cached_property
    def whole(self) -> Performance:
        """All parts, in the readings chosen, or with the passage's own."""
        passage = self.passage
        changed = None
        if passage.words is not None:
            changed = {sign.place: self.interpretation.reading(sign.place, passage.words) for sign in passage.signs}
        return self._performed(self._order(passage.first, passage.last), changed, None)

    def seconds(self, onset_q: Fraction) -> float:
        """The moment of a printed position."""
        start_q = self.interpretation.score.bars[self.passage.first].onset_q
        return self.whole.seconds(onset_q - start_q + self.whole.lead_q)

    def excerpt(self, sign: Sign, readings: Sequence[str] = ()) -> Span:
        """What is listened to at a sign: the bar before, its bar and the bar after; `readings` may begin earlier."""
        low, high = _around(self.interpretation, sign, self.passage.first, self.passage.last)
        begins_here = sign.main(self.interpretation.score).bar == low
        others = (
            [self._solo_around(sign, words) for words in readings] if begins_here and sign.kind != "fermata" else []
        )
        return self.span(low, high, others)

    def span(self, low: int, high: int, others: Sequence[PerformedPart] = ()) -> Span:
        """Bars `low` to `high` (indices, inclusive); small notes before them are those played and those of `others`."""
        score = self.interpretation.score
        from_s = self.seconds(score.bars[low].onset_q)
        early = [
            from_s - note.onset_s
            for part in (*self.whole.parts, *others)
            for note in part.notes
            if note.sign is not None
            and 0.001 < from_s - note.onset_s < _EARLIEST_S
            and self.interpretation.sign_at(note.sign).main(score).bar == low
        ]
        return Span(from_s, self.seconds(score.bars[high].onset_q + score.bars[high].length_q), max(early, default=0.0))

    def bar_starts(self) -> list[float]:
        """When each bar starts."""
        bars = self.interpretation.score.bars[self.passage.first : self.passage.last + 1]
        return [self.seconds(bar.onset_q) for bar in bars]

    def stretch(self, sign: Sign, words: str) -> Stretch | None:
        """What changes under another reading; `None` where nothing does, or where other parts would wait."""
        if sign.kind == "fermata":
            return None
        if sign.place not in self._chosen:
            self._chosen[sign.place] = self._solo_around(sign)
        chosen, other = self._chosen[sign.place], self._solo_around(sign, words)
        first, last = set(map(_heard, chosen.notes)), set(map(_heard, other.notes))
        changed = [*(first - last), *(last - first)]
        if not changed:
            return None
        start_s = min(onset for onset, *_ in changed)
        return Stretch(sign.place, words, start_s, max(onset + length for onset, length, *_ in changed), other)

    def _solo_around(self, sign: Sign, words: str | None = None) -> PerformedPart:
        """The solo's part around a sign, on the passage's time line."""
        low, high = _around(self.interpretation, sign, self.passage.first, self.passage.last)
        changed = None if words is None else {sign.place: self.interpretation.reading(sign.place, words)}
        near = self._performed(self._order(low, high), changed, [self.interpretation.solo.index])
        bar_q = self.interpretation.score.bars[low].onset_q
        shift_s = self.seconds(bar_q) - near.seconds(near.lead_q)
        return later(near, Fraction(0), shift_s).parts[0]

    def _order(self, first: int, last: int) -> tuple[Occurrence, ...]:
        return once(self.interpretation.score.bars, first, last)

    def _performed(
        self, order: Sequence[Occurrence], changed: dict[str, Reading] | None, parts: Sequence[int] | None
    ) -> Performance:
        made = play(self.interpretation, order, changed, parts)
        beat_q = self.interpretation.score.bars[order[0].bar].meter.beat_q
        return led_in(made, beat_q) if made.lead_q < beat_q else made


def _heard(note: PerformedNote) -> tuple[float, float, int, int]:
    """What of a note is heard, to the tenth of a millisecond."""
    return round(note.onset_s, 4), round(note.duration_s, 4), note.key, note.velocity


def within(part: PerformedPart, start_s: float, end_s: float, shift_s: float) -> PerformedPart:
    """The notes of a part that begin between two moments, moved by so many seconds; they stop at the end."""
    notes = tuple(
        note._replace(onset_s=note.onset_s + shift_s, duration_s=min(note.duration_s, end_s - note.onset_s))
        for note in part.notes
        if start_s <= note.onset_s < end_s
    )
    controls = tuple(
        control._replace(onset_s=control.onset_s + shift_s)
        for control in part.controls
        if start_s <= control.onset_s < end_s
    )
    return replace(part, notes=notes, controls=controls)
