"""Drafts in time: the plan of the phrase put into notes, figure after figure, the best rows kept by a beam.

What a row is worth: as many notes and the treatment of each plain note as the plan wants, the phrase's own figures,
the same figure again in sequence, few values, smooth joints, the compass of the movement. The weights are ours, set so
that the proposals have the proportions that varied repeats of the time have
(``tests/benchmarks/embellish_corpus.py --against``).
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from itertools import islice, pairwise
from typing import NamedTuple

from appui.embellish.case import Case
from appui.embellish.cells import Cell
from appui.embellish.model import Draft, DraftNote
from appui.embellish.phrase_plan import PhrasePlan, Wanted
from appui.embellish.phrases import Phrase
from appui.embellish.rules import is_hard, is_plain
from appui.embellish.working import Option, Position, options, positions, stands
from appui.score.pitch import Pitch

__all__ = ["choices", "time_drafts"]

_BEAM = 12
_PER_NOTE = 12
# fmt: off
_W = {
    "onsets": 0.55, "treatment": 1.4, "plain": 1.3, "gait": 0.4, "trembling": 0.5, "chromatic": 0.9, "unasked": 1.4,
    "taste": 0.9, "sequence": 0.6, "onward": 0.2, "again": 0.6, "values": 0.5, "over": 0.9, "lost": 0.35,
}
#  by letters from one note to the next
_JOIN = {0: -1.1, 1: 0.15, 2: 0.0, 3: -0.15, 4: -0.35, 5: -0.6, 6: -1.0, 7: -0.7}
_INSIDE = {
    "slow": {0: -0.3, 1: 0.06, 2: 0.12, 3: -0.3, 4: -0.6, 5: -0.9, 6: -1.4, 7: -1.4},
    "moderate": {0: -0.3, 1: 0.03, 2: 0.0, 3: -0.06, 4: -0.12, 5: -0.3, 6: -0.8, 7: -0.4},
    "fast": {0: -0.2, 1: 0.0, 2: 0.0, 3: 0.0, 4: 0.0, 5: -0.1, 6: -0.6, 7: -0.2},
}
# fmt: on
_FAR = -1.5
_VALUES = 2


class _Row(NamedTuple):
    """A row of figures so far."""

    score: float
    notes: tuple[DraftNote, ...] = ()
    used: tuple[Cell | None, ...] = ()

    @property
    def last(self) -> Pitch | None:
        return self.notes[-1].pitch if self.notes else None


class Choices(NamedTuple):
    """The positions of a span and everything that may stand at each; the same for every variation."""

    positions: list[Position]
    options: list[list[Option]]
    known: dict[tuple[int, int], bool]

    def stands(self, case: Case, number: int, at: int) -> bool:
        """Whether an option keeps the rules; asked once, and only of those that are wanted."""
        if (number, at) not in self.known:
            self.known[number, at] = stands(case, self.positions[number], self.options[number][at])
        return self.known[number, at]


def choices(case: Case) -> Choices:
    """Everything that may stand in a span."""
    found = positions(case)
    return Choices(found, [options(case, found, number) for number in range(len(found))], {})


def time_drafts(case: Case, found: Choices, before: Pitch | None, variation: int) -> list[tuple[float, Draft]]:
    """The best drafts over the notes of the span in one variation, the plain one left out, with what they are worth."""
    plans = [plan_at(case, position.event, variation) for position in found.positions]
    wanted = [_wanted(case, position, plan) for position, plan in zip(found.positions, plans, strict=True)]
    rows: dict[int, list[_Row]] = {0: [_Row(0.0)]}
    for number, there in enumerate(found.options):
        kept = sorted(rows.get(number, ()), key=lambda row: -row.score)[:_BEAM]
        ranked = sorted(
            ((_fit(option, number, plans[number], wanted), at) for at, option in enumerate(there)),
            key=lambda each: (-each[0], each[1]),
        )
        standing = (each for each in ranked if found.stands(case, number, each[1]))
        for fit, at in islice(standing, _PER_NOTE):
            for row in kept:
                longer = _longer(case, row, there[at], fit, before)
                if longer is not None:
                    rows.setdefault(there[at].last + 1, []).append(longer)
    end = [row for row in rows.get(len(found.options), ()) if not _leaves_hard(case, row)]
    done = sorted(((row.score + _end(case, row), row) for row in end), key=lambda each: -each[0])
    printed = [(event.top.sounding if event.notes else None, event.duration_q) for event in case.events]
    return [
        (round(score, 3), _draft(row))
        for score, row in done
        if any(row.used) and (_trilled(row) or [(note.pitch, note.value_q) for note in row.notes] != printed)
    ]


def _trilled(row: _Row) -> bool:
    return any(note.trill for note in row.notes)


def plan_at(case: Case, index: int, variation: int) -> PhrasePlan:
    """The plan of the phrase an event is in."""
    phrase = next((each for each in case.phrases if each.first <= index <= each.last), Phrase(index, index))
    event = case.voice[index]
    beat_s = case.seconds(case.score.bars[event.bar].meter.beat_q)
    wish = case.wish
    return PhrasePlan(
        phrase, wish.seed, variation, wish.how_much, wish.manner, case.character, beat_s, float(case.quarter_s)
    )


def _wanted(case: Case, position: Position, plan: PhrasePlan) -> Wanted:
    event = case.voice[position.event]
    beats = position.length_q / case.score.bars[event.bar].meter.beat_q
    on_beat = case.on_beat(position.start_q)
    return plan.wanted(position.event, event.bar, beats, on_beat=on_beat, sub=position.sub, of=position.beats)


def _fit(option: Option, number: int, plan: PhrasePlan, wanted: Sequence[Wanted]) -> float:
    """How near an option is to the plan."""
    asked = wanted[number]
    onsets = sum(each.onsets for each in wanted[number : option.last + 1])
    held = option.cell is None and option.sounding is not None
    count = 0 if held else sum(note.pitch is not None for note in option.notes)
    score = -_W["onsets"] * min(abs(count - onsets), 4.0)
    score -= _W["treatment"] * (option.treatment != asked.treatment and option.sounding is None)
    score -= _W["lost"] * (option.last - number)
    if option.chromatic:
        score += _W["chromatic"] if asked.chromatic else -_W["unasked"]
    if option.cell is None:
        return score + _W["plain"] * (asked.onsets <= 1 and asked.treatment == "struck")
    quick_s = plan.beat_s / plan.rate * 0.99
    score -= _W["gait"] * sum(float(note.value_q) * plan.quarter_s < quick_s for note in option.notes)
    return score + _W["taste"] * plan.own.figure * (plan.taste(option.cell) - 0.5)


def _longer(case: Case, row: _Row, option: Option, fit: float, before: Pitch | None) -> _Row | None:
    last = row.last if row.notes else before
    if option.prepared is not None and last != option.prepared:
        return None
    # what the composer wrote stays, hard or not
    first = option.notes[0]
    ours = first.mark != "printed" or (bool(row.notes) and row.notes[-1].mark != "printed")
    if ours and _is_hard(last, first.pitch):
        return None
    if option.chromatic:
        # one colour is enough
        fit -= _W["unasked"] * any(note.mark == "chromatic" for note in row.notes)
    joined = _held_on(row.notes, option)
    if joined is None:
        return None
    kept, new = joined
    score = row.score + fit + (_joined(last, new[0].pitch) if len(kept) == len(row.notes) else 0.0)
    score += _sequence(row.used, option.cell)
    score += sum(_inside(case, one, other) for one, other in pairwise(note.pitch for note in new))
    score += _W["onward"] * _onward([note.pitch for note in (*kept[-2:], *new[:2])])
    score -= _W["trembling"] * _trembles([note.pitch for note in (*kept[-3:], *new)])
    known = {note.value_q for note in kept}
    more = len(known | {note.value_q for note in new}) - max(len(known), _VALUES)
    score -= _W["values"] * max(more, 0)
    score -= _W["over"] * sum(note.pitch is not None and note.pitch.midi > case.top for note in new)
    return _Row(score, kept + new, (*row.used, option.cell))


_Notes = tuple[DraftNote, ...]


def _held_on(notes: _Notes, option: Option) -> tuple[_Notes, _Notes] | None:
    """What is kept and what comes: a plain note that sounds still goes on, where one value says it; else it is struck.

    `None` where it should sound on as printed and no value says it.
    """
    if option.sounding is None or not notes or notes[-1].pitch != option.sounding:
        return notes, option.notes
    longer = notes[-1]._replace(value_q=notes[-1].value_q + option.notes[0].value_q)
    if is_plain(longer.value_q):
        return notes[:-1], (longer, *option.notes[1:])
    return None if option.cell is None else (notes, option.notes)


def _is_hard(one: Pitch | None, other: Pitch | None) -> bool:
    return one is not None and other is not None and is_hard(one, other)


def _joined(one: Pitch | None, other: Pitch | None) -> float:
    if one is None or other is None:
        return 0.0
    return _JOIN.get(abs(one.diatonic - other.diatonic), _FAR)


def _inside(case: Case, one: Pitch | None, other: Pitch | None) -> float:
    """Inside a figure: what is wide counts, the more where it is slow."""
    if one is None or other is None:
        return 0.0
    gap = abs(one.diatonic - other.diatonic)
    return _INSIDE[case.character].get(gap, _FAR)


def _onward(line: Sequence[Pitch | None]) -> int:
    """How often a step goes on the way the last one went, over the joint of two figures."""
    steps = [
        other.diatonic - one.diatonic if one is not None and other is not None else 0 for one, other in pairwise(line)
    ]
    return sum(one == other and abs(one) == 1 for one, other in pairwise(steps))


def _trembles(line: Sequence[Pitch | None]) -> int:
    """How often two notes go to and fro."""
    return sum(
        one == three and two == four and one is not None
        for one, two, three, four in zip(line, line[1:], line[2:], line[3:], strict=False)
    )


def _sequence(used: Iterable[Cell | None], cell: Cell | None) -> float:
    """The same figure again is good up to three times; what stands as printed between does not count."""
    row = [each for each in used if each is not None]
    if cell is None or not row or row[-1] != cell:
        return 0.0
    again = next((count for count, each in enumerate(reversed(row)) if each != cell), len(row))
    return _W["sequence"] if again < 3 else -_W["again"]


def _leaves_hard(case: Case, row: _Row) -> bool:
    """Whether what is added leaps hard into the next printed note."""
    following = case.following
    if following is None or not following.notes or row.notes[-1].mark == "printed":
        return False
    return _is_hard(row.last, following.top.sounding)


def _end(case: Case, row: _Row) -> float:
    following = case.following
    if following is None or not following.notes or row.last is None:
        return 0.0
    return _joined(row.last, following.top.sounding)


def _draft(row: _Row) -> Draft:
    return Draft(row.notes, words=_words(row.used))


_TIMES = {1: "", 2: ", twice", 3: ", three times", 4: ", four times"}


def _words(used: Iterable[Cell | None]) -> tuple[str, ...]:
    """The figures in order, the same one in a row told once."""
    words: list[str] = []
    row = [cell for cell in used if cell is not None]
    at = 0
    while at < len(row):
        count = next((n for n, cell in enumerate(row[at:]) if cell.name != row[at].name), len(row) - at)
        words.append(row[at].name + _TIMES.get(count, f", {count} times"))
        at += count
    return tuple(words)
