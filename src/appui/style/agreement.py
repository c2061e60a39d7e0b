"""What belongs together is played together: ornaments judged jointly.

Small notes belong together

- at one moment in parts that move in unison, octaves, thirds or sixths;
- in a figure that comes again, exactly or in sequence, over equivalent harmony, in the same part or another;
- in neighbouring falling thirds

(common practice, no source). In each such group the way of playing with the most evidence behind it wins, and the
clearest place that has it is named by the others. What the player or the edition has decided stays as it is and decides
for no other place. Where a figure comes again over another harmony and is therefore played otherwise, that is said.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Hashable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import combinations, pairwise

from appui.exact import Fraction
from appui.harmony.model import Verdict
from appui.score.habits import Print
from appui.score.model import Event, Score
from appui.score.movements import movement_of
from appui.score.signs import Sign, bar_names
from appui.style.choose import Choice
from appui.style.reading import Reading

__all__ = ["agree"]

#  unison and octaves, thirds, sixths, as letter steps within an octave
_PARALLEL = frozenset({0, 2, 5})
#  what a place without any harmony, or a doubtful one, still counts
_LEAST_WEIGHT = 0.05
_SURE_SHARE = 0.75


@dataclass(frozen=True, slots=True)
class _Place:
    """One small note or group with what is known of it."""

    sign: Sign
    event: Event
    choice: Choice
    verdict: Verdict | None
    movement: int

    @property
    def weight(self) -> float:
        """How much evidence there is for its choice."""
        sure = self.verdict.confidence if self.verdict is not None and self.verdict.known else 0.0
        return max(sure - 0.5, _LEAST_WEIGHT)

    @property
    def free(self) -> bool:
        """Whether a rule has chosen, and not the player or the edition."""
        return self.choice.by.startswith("style")


def agree(
    score: Score,
    habits: Print,
    signs: Iterable[Sign],
    choices: Mapping[str, Choice],
    verdict: Callable[[Sign], Verdict | None],
) -> dict[str, Choice]:
    """The choices, those of places that belong together made alike; see the module's head."""
    places = [
        _Place(
            sign,
            sign.main(score),
            choices[sign.place],
            verdict(sign),
            movement_of(habits.movements, sign.main(score).bar).number,
        )
        for sign in signs
        if sign.kind == "small notes" and not sign.main(score).is_rest
    ]
    found = dict(choices)
    names = bar_names(score)
    for group in _groups(score, places):
        found.update(_alike(group, names))
    _tell_differences(score, places, found, names)
    return found


def _groups(score: Score, places: Sequence[_Place]) -> Iterator[list[_Place]]:
    """The places that belong together, two and more at a time."""
    leader = list(range(len(places)))

    def top(index: int) -> int:
        while leader[index] != index:
            leader[index] = leader[leader[index]]
            index = leader[index]
        return index

    for one, other in _pairs(score, places):
        leader[top(other)] = top(one)
    groups: dict[int, list[_Place]] = defaultdict(list)
    for index, place in enumerate(places):
        groups[top(index)].append(place)
    yield from (group for group in groups.values() if len(group) > 1)


def _pairs(score: Score, places: Sequence[_Place]) -> Iterator[tuple[int, int]]:
    yield from _at_one_moment(places)
    yield from _coming_again(score, places)
    yield from _falling_thirds(places)


def _at_one_moment(places: Sequence[_Place]) -> Iterator[tuple[int, int]]:
    moments: dict[tuple[Fraction, tuple[int, ...]], list[int]] = defaultdict(list)
    for index, place in enumerate(places):
        moments[place.event.onset_q, _steps(place)].append(index)
    for indices in moments.values():
        for one, other in combinations(indices, 2):
            if _parallel(places[one], places[other]):
                yield one, other


def _steps(place: _Place) -> tuple[int, ...]:
    """The small notes as letter steps from their main note."""
    main = place.event.notes[place.sign.note].written.diatonic
    return tuple(small.written[0].diatonic - main for small in place.sign.small)


def _parallel(one: _Place, other: _Place) -> bool:
    mains = [each.event.notes[each.sign.note].sounding.diatonic for each in (one, other)]
    return abs(mains[0] - mains[1]) % 7 in _PARALLEL


def _coming_again(score: Score, places: Sequence[_Place]) -> Iterator[tuple[int, int]]:
    figures: dict[Hashable, list[int]] = defaultdict(list)
    for index, place in enumerate(places):
        figures[_figure(score, place), _harmony(place)].append(index)
    for indices in figures.values():
        yield from pairwise(indices)


def _figure(score: Score, place: _Place) -> Hashable:
    """What a listener knows a figure by: its small notes, its length, its place in the bar, and how it goes on."""
    facts = place.choice.situation
    events = score.parts[place.sign.part].voices[place.sign.voice].events
    following = events[place.sign.event + 1] if place.sign.event + 1 < len(events) else None
    main = place.event.notes[place.sign.note].written.diatonic
    goes_on = None
    if following is not None:
        goes_on = (following.duration_q, following.top.written.diatonic - main if following.notes else None)
    kept = ("beat", "main_staccato", "figure", "slurred_back", "ends_trill", "stroke", "syncopated")
    values = tuple(small.value_q for small in place.sign.small)
    marks = tuple(facts[name] for name in kept)
    return place.movement, _steps(place), values, place.event.duration_q, goes_on, marks


def _harmony(place: _Place) -> Hashable:
    """What makes two harmonies equivalent: what the small notes are in them, and where the main note stands in them."""
    verdict = place.verdict
    if verdict is None or not verdict.known:
        return None
    return verdict.quality, _degree(place, verdict)


def _degree(place: _Place, verdict: Verdict) -> int:
    """How many letters the main note is above the root."""
    letters = "CDEFGAB"
    step = place.event.notes[place.sign.note].sounding.step
    return (letters.index(step) - letters.index(verdict.root[0])) % 7


def _falling_thirds(places: Sequence[_Place]) -> Iterator[tuple[int, int]]:
    chain = [index for index, place in enumerate(places) if place.choice.situation["fills_third"]]
    for one, other in pairwise(chain):
        first, second = places[one].sign, places[other].sign
        if (first.part, first.voice, first.event + 1) == (second.part, second.voice, second.event):
            yield one, other


def _alike(group: Sequence[_Place], names: Sequence[str]) -> Iterator[tuple[str, Choice]]:
    """The choices of a group that change, by place."""
    votes: dict[str, float] = defaultdict(float)
    free = [place for place in group if place.free]
    for place in free:
        votes[_kind(place)] += place.weight
    if not votes:
        return
    # of equals the first in the score wins
    winner = max(votes, key=lambda words: votes[words])
    leader = max((place for place in free if _kind(place) == winner), key=lambda place: place.weight)
    doubtful = votes[winner] < _SURE_SHARE * sum(votes.values())
    for place in free:
        # the same words last longer on a longer note: what sounds together lasts alike
        if _kind(place) != winner or _scaled(leader, place) != place.choice.reading:
            yield place.sign.place, _following(place, leader, names, doubtful=doubtful)


def _kind(place: _Place) -> str:
    return place.choice.reading.text


def _following(place: _Place, leader: _Place, names: Sequence[str], *, doubtful: bool) -> Choice:
    own, reading = place.choice, _scaled(leader, place)
    also = tuple(dict.fromkeys((own.reading.text, *own.alternatives)))
    where = f"bar {names[leader.event.bar]}"
    if leader.sign.part != place.sign.part:
        where = leader.sign.place
    why = f"as in {where}, which belongs with it and is clearer: {leader.choice.why}"
    return replace(
        own,
        reading=reading,
        why=why,
        source=leader.choice.source,
        known=leader.choice.known,
        alternatives=tuple(words for words in also if words != reading.text),
        like=leader.sign.place,
        doubtful=own.doubtful or doubtful,
    )


def _scaled(leader: _Place, place: _Place) -> Reading:
    """The leader's reading on a note of another length: what sounds together lasts as long."""
    reading, length_q = leader.choice.reading, leader.event.duration_q
    share = reading.number("share")
    together = leader.event.onset_q == place.event.onset_q
    if reading.name != "leaning" or share is None or length_q == place.event.duration_q or not together:
        return reading
    sizes = {key: value for key, value in reading.sizes if key != "share"}
    return Reading("leaning").with_sizes(**sizes, made=share * length_q)


def _tell_differences(score: Score, places: Sequence[_Place], found: dict[str, Choice], names: Sequence[str]) -> None:
    """Say where a figure that comes again is played otherwise since its harmony is another."""
    figures: dict[Hashable, list[_Place]] = defaultdict(list)
    for place in places:
        figures[place.sign.part, _figure(score, place)].append(place)
    for group in figures.values():
        for place in group[1:]:
            first, choice = group[0], found[place.sign.place]
            if found[first.sign.place].reading.name != choice.reading.name and place.free and first.free:
                there = f"over another harmony than in bar {names[first.event.bar]}, where the same figure is "
                words = f"{there}{found[first.sign.place].reading.text}"
                found[place.sign.place] = replace(choice, why=f"{choice.why}; {words}")
