"""Where something may be added to the solo, why, and where not.

Fermatas by what they rest on (C.P.E. Bach 1753, 2.9 §2-5, p. 107, read; Türk 1789, V §4 and §11, read): a cadential
six-four asks for a cadenza, a dominant for a lead-in, another chord for a flourish; over a rest it stays plain. In
time: the note before a close, what has been heard before, and long or bare notes where the piece is not fast. What is
ornamented already, quick, or in unison with another part is left alone.
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Iterable, Iterator, Sequence
from itertools import groupby
from typing import NamedTuple

from appui.embellish.case import character_at, mood_at
from appui.embellish.coverage import balanced
from appui.embellish.manners import MANNERS
from appui.embellish.model import KINDS, LeftAlone, Place, Wish
from appui.embellish.phrases import is_close, phrases_of
from appui.embellish.rules import is_trilled
from appui.embellish.working import movable
from appui.errors import PlaceError, UsageError
from appui.exact import Fraction
from appui.harmony.ground import SURE, Footing, Ground
from appui.interpret.interpretation import Interpretation
from appui.plan.embellishment import Span, span_at
from appui.score.model import Event
from appui.score.nearest import full_place
from appui.score.repeats import unfold
from appui.score.signs import bar_names, beat_name, part_slugs

__all__ = ["find_places", "meet"]

_FERMATA = "C.P.E. Bach 1753, 2.9 §2-5, p. 107, read"
_REST = "C.P.E. Bach 1753, 2.9 §4, p. 107, read"
_SAD = "Türk 1789, V §6, pp. 304-305, read"
_CADENZA = "Türk 1789, V §11, pp. 308-309, read"
_HARMONY = "Türk 1789, V §4, p. 301, read"
_AMOUNT = "C.P.E. Bach 1753, 2.1 §19, p. 59, read"
_FILL = "Tartini, c. 1750, memory"
_COMMON = "common practice, no source"
#  a note has to last so long, in seconds, that something in time may be added to it: by character; a second time half
_LONG_S = {"slow": 0.6, "moderate": 0.9, "fast": 1.2}
_AGAIN_S = 0.45
#  so much of that length is enough, by how much is wanted
_ENOUGH = {"sparse": 1.0, "moderate": 1.0, "rich": 0.6}
#  more fermatas than one in so many bars end lines, as in a chorale
_LINES = 4
#  what there may be more or less of
_VARIED = ("second-time", "long-notes")
#  bars that have to be alike for a phrase to be heard again
_PHRASE = 2


class _Looker(NamedTuple):
    """The voice that is looked at."""

    interpretation: Interpretation
    part: int
    voice: int
    ground: Ground

    @property
    def events(self) -> tuple[Event, ...]:
        return self.interpretation.score.parts[self.part].voices[self.voice].events

    def name(self, index: int) -> str:
        score, event = self.interpretation.score, self.events[index]
        bar = score.bars[event.bar]
        beat = beat_name(bar, event.onset_q - bar.onset_q)
        return f"{part_slugs(score)[self.part]}.{bar_names(score)[bar.index]}.{beat}"

    def span(self, first: int, last: int, *, held: bool = False) -> Span:
        return Span(self.part, self.voice, first, last, held)

    def seconds(self, index: int) -> float:
        event = self.events[index]
        return float(event.duration_q * 60 / self.interpretation.score.tempo_at(event.onset_q).qpm)

    def seat(self, index: int) -> str:
        """``slow``, ``moderate`` or ``fast`` at an event."""
        return character_at(self.interpretation, self.span(index, index))


Seen = Iterator[Place | LeftAlone]


def find_places(interpretation: Interpretation, wish: Wish) -> tuple[list[Place], list[LeftAlone]]:
    """The places of the solo, or those asked for, and what is left alone.

    Raises `UsageError` for a kind that is none, `PlaceError` for a place with nothing to embellish.
    """
    unknown = [kind for kind in wish.kinds if kind not in KINDS]
    if unknown:
        raise UsageError(f"kind {unknown[0]!r} is not one of {', '.join(KINDS)}")
    looker = _looker(interpretation)
    found = [*_fermatas(looker), *_closes(looker), *_again(looker), *_long(looker, wish)]
    kinds = wish.kinds or MANNERS[wish.manner].kinds
    places = [each for each in found if isinstance(each, Place) and (not kinds or each.kind in kinds)]
    left = [each for each in found if isinstance(each, LeftAlone)]
    if wish.places:
        return [_asked(looker, name, places, left, wish) for name in wish.places], []
    taken: list[Place] = []
    for place in places:
        if not any(meet(_reach(place), _reach(other)) for other in taken):
            taken.append(place)
    varied = [place for place in taken if place.kind in _VARIED]
    phrases = phrases_of(interpretation.score, looker.events, looker.ground) if varied else ()
    chosen, plain = balanced(varied, phrases, looker.events, wish.how_much)
    left += [LeftAlone(place.place, f"plain beside what is varied: --how-much {wish.how_much}") for place in plain]
    kept = [*(place for place in taken if place.kind not in _VARIED), *chosen]
    return sorted(kept, key=lambda place: place.span.first), left


def _reach(place: Place) -> Span:
    """What a place may take up: a cadenza the note it trills, too."""
    return place.span._replace(last=place.span.last + 1) if place.kind == "cadenza" else place.span


def meet(one: Span, other: Span) -> bool:
    """Whether two spans have a note in common."""
    return one.first <= other.last and other.first <= one.last


def _looker(interpretation: Interpretation) -> _Looker:
    part = interpretation.solo
    voice = max(range(len(part.voices)), key=lambda v: sum(1 for e in part.voices[v].events if e.notes), default=0)
    return _Looker(interpretation, part.index, voice, interpretation.analysis.ground(part.index, voice))


def _asked(looker: _Looker, name: str, places: list[Place], left: list[LeftAlone], wish: Wish) -> Place:
    """A place the player names: one that was found, or any note that can be filled."""
    names = {
        sign.place: looker.name(sign.event) for sign in looker.interpretation.analysis.signs if sign.part == looker.part
    }
    full = full_place(looker.interpretation.score, name, looker.part)
    if full in names or any(each.notes and looker.name(index) == full for index, each in enumerate(looker.events)):
        name = names.get(full, full)
    try:
        span = span_at(looker.interpretation.score, name, Fraction(0), ())
    except ValueError as error:
        if "no note" in str(error) or "rest" in str(error):
            problem = f"at {name}: {error}"
            raise PlaceError(
                looker.interpretation.score.file, problem, "name a note of the solo, as oboe.12.3"
            ) from None
        span = span_at(looker.interpretation.score, name, _value_at(looker, name), ())
    if span.part != looker.part:
        raise PlaceError(looker.interpretation.score.file, f"{name} is not in the solo", "name the part with --solo")
    own = next((each for each in places if each.span.first <= span.first <= each.span.last), None)
    if own is not None:
        return own
    reason = next((f"; it was left alone: {each.why}" for each in left if each.place == name), "")
    if looker.events[span.first].fermata is not None:
        kind = next((kind for kind in wish.kinds if kind in ("cadenza", "lead-in", "fermata")), "fermata")
        return Place(name, kind, looker.span(span.first, span.first, held=True), f"asked for{reason}", "the player")
    return Place(name, "long-notes", looker.span(span.first, span.first), f"asked for{reason}", "the player")


def _value_at(looker: _Looker, name: str) -> Fraction:
    index = next((i for i, e in enumerate(looker.events) if e.notes and looker.name(i) == name), 0)
    return looker.events[index].duration_q


# fermatas


def _fermatas(looker: _Looker) -> Seen:
    held = [index for index, event in enumerate(looker.events) if event.fermata is not None]
    lines = len(held) > 2 and len(held) * _LINES > len(looker.interpretation.score.bars)
    for index in held:
        name = looker.name(index)
        if lines:
            yield LeftAlone(name, f"its many fermatas mark the ends of lines [{_COMMON}]")
        else:
            yield _fermata(looker, index, name)


def _fermata(looker: _Looker, index: int, name: str) -> Place | LeftAlone:
    event = looker.events[index]
    moved_q = max(looker.interpretation.score.last_onset_q(event.end_q), event.onset_q)
    footing = looker.ground.at(moved_q) if event.notes else None
    plain = _stays_plain(event, footing)
    if footing is None or plain:
        return LeftAlone(name, plain)
    span = looker.span(index, index, held=True)
    if footing.six_four:
        why = f"a fermata on the cadential six-four {footing.label}: a cadenza, before the last trill"
        return Place(name, "cadenza", span, why, _CADENZA)
    if not any(e.notes for e in looker.events[index + 1 :]):
        return LeftAlone(name, f"the last note, on {footing.label}: it rests [{_COMMON}]")
    if footing.dominant:
        back = " that has been heard before" if _returns(looker, index + 1) else ""
        why = f"a fermata on the dominant {footing.label}: a lead-in to what comes{back}"
        return Place(name, "lead-in", span, why, _FERMATA)
    plain = _better_plain(looker, index)
    if plain:
        return LeftAlone(name, plain)
    return Place(name, "fermata", span, f"a fermata on {footing.label}: a flourish on its notes", _HARMONY)


def _better_plain(looker: _Looker, index: int) -> str:
    """Why a fermata that is neither a six-four nor a dominant is better held than filled; empty where it is not."""
    score, event = looker.interpretation.score, looker.events[index]
    if mood_at(looker.interpretation, event.onset_q, looker.seat(index)) == "sad":
        return f"in what is sad a fermata is rather left plain [{_SAD}]"
    following = looker.events[index + 1]
    sounding = any(
        other.notes and event.end_q <= other.onset_q < following.end_q
        for part in score.parts
        for voice in part.voices
        for other in voice.events
    )
    return "" if following.notes or sounding else f"silence follows: it is held, not filled [{_COMMON}]"


def _stays_plain(event: Event, footing: Footing | None) -> str:
    """Why nothing is added to a fermata; empty where something may be."""
    if not event.notes:
        return f"a fermata over a rest stays plain [{_REST}]"
    if event.small_before or event.small_after or any(note.ornaments for note in event.notes):
        return "ornamented already"
    if len(event.notes) > 1 or event.notes[0].tied_back or event.notes[0].tied_on:
        return "more than one note is held"
    return _no_ground(footing)


def _no_ground(footing: Footing | None) -> str:
    """Why a harmony is none to build upon; empty where it is one."""
    if footing is None:
        return "no harmony to build upon"
    return "" if footing.shared >= SURE else f"its harmony is doubtful: {footing.label}, {footing.shared:.0%}"


def _returns(looker: _Looker, index: int) -> bool:
    """Whether the next four notes have been heard in a row before."""
    notes = [(i, e.top.sounding) for i, e in enumerate(looker.events) if e.notes]
    head = [pitch for i, pitch in notes if i >= index][:4]
    before = [pitch for i, pitch in notes if i < index]
    return len(head) == 4 and any(before[start : start + 4] == head for start in range(len(before) - 3))


# closes


def _closes(looker: _Looker) -> Seen:
    for index in range(len(looker.events) - 1):
        event, following = looker.events[index], looker.events[index + 1]
        if not is_close(looker.interpretation.score, looker.ground, event, following):
            continue
        if is_trilled(event):
            continue
        name = looker.name(index)
        if not movable(event):
            yield LeftAlone(name, "a close that has an ornament or a dot already")
        elif looker.seconds(index) < _LONG_S["moderate"] / 2:
            yield LeftAlone(name, f"a close, but its note lasts only {looker.seconds(index):.1f} s")
        else:
            why = f"{event.top.written.name} leads into a close and has no trill"
            yield Place(name, "cadence", looker.span(index, index), why, "C.P.E. Bach 1753, 2.3 §13, p. 73, read")


# what comes again, and long notes


def _again(looker: _Looker) -> Seen:
    score = looker.interpretation.score
    repeated = {occurrence.bar for occurrence in unfold(score.bars) if occurrence.turn > 1}
    returning = _returning(looker)
    for bar, indices in _bars(looker):
        if bar in repeated or bar in returning:
            names = bar_names(score)
            what = (
                f"bar {names[bar]} is repeated"
                if bar in repeated
                else f"bar {names[bar]} is bar {names[returning[bar]]} again"
            )
            why = f"{what}: the second time may be varied"
            for found in _run(looker, indices, "second-time", _AGAIN_S, why, _COMMON):
                yield found._replace(repeated=bar in repeated) if isinstance(found, Place) else found


def _bars(looker: _Looker) -> Iterator[tuple[int, list[int]]]:
    for bar, group in groupby(range(len(looker.events)), key=lambda index: looker.events[index].bar):
        yield bar, list(group)


def _returning(looker: _Looker) -> dict[int, int]:
    """Bars, by index, of phrases that have been heard before, with the bar they repeat."""
    told = {bar: _told(looker, indices) for bar, indices in _bars(looker)}
    bars, found = sorted(told), dict[int, int]()
    for bar in bars:
        for earlier in bars:
            length = 0
            while bar + length in told and earlier + length < bar and told[bar + length] == told.get(earlier + length):
                length += 1
            if length >= _PHRASE and sum(len(told[bar + step]) for step in range(length)) > 2 * _PHRASE:
                found |= {bar + step: earlier + step for step in range(length) if bar + step not in found}
                break
    return found


def _told(looker: _Looker, indices: Iterable[int]) -> list[tuple[object, Fraction]]:
    events = [looker.events[index] for index in indices]
    return [(event.top.sounding if event.notes else None, event.duration_q) for event in events]


def _long(looker: _Looker, wish: Wish) -> Seen:
    for _, indices in _bars(looker):
        seat = looker.seat(indices[0])
        if seat == "fast":
            continue
        why = "long or bare notes in a piece that is not fast"
        yield from _run(
            looker,
            indices,
            "long-notes",
            _LONG_S[seat] * _ENOUGH[wish.how_much],
            why,
            _AMOUNT if seat == "slow" else _FILL,
        )


def _run(looker: _Looker, indices: list[int], kind: str, least_s: float, why: str, source: str) -> Seen:
    """The stretches of a bar whose notes may all be varied, one of them long enough; of the others, why not."""
    again = kind == "second-time"
    for fit, group in groupby(indices, key=lambda index: _unfit(looker, index, again=again)):
        own = list(group)
        if fit == "" and (again or max(looker.seconds(index) for index in own) >= least_s):
            if sum(looker.seconds(index) for index in own) >= least_s:
                yield Place(looker.name(own[0]), kind, looker.span(own[0], own[-1]), why, source)
        elif fit not in ("", "rest"):
            yield from (LeftAlone(looker.name(index), fit) for index in own)


def _unfit(looker: _Looker, index: int, *, again: bool) -> str:
    """Why nothing is added to a note in time; empty where something may be. `again`: it has been heard before."""
    event = looker.events[index]
    following = looker.events[index + 1] if index + 1 < len(looker.events) else None
    if not event.notes or event.fermata is not None or following is None:
        return "rest"
    if not movable(event, again=again):
        return "ornamented, tied or detached already"
    if looker.ground.at(following.onset_q) is None:
        return _no_ground(None)
    # what comes again is varied against those who double it
    unison = "in unison with another part" if not again and _unison(looker, event, following) else ""
    paired = "in thirds or sixths with another part: both vary it or neither" if _paired(looker, index) else ""
    return _no_ground(looker.ground.at(event.onset_q)) or unison or paired


def _unison(looker: _Looker, event: Event, following: Event) -> bool:
    """Whether another voice has this note and the next, in whatever octave, at the same moments."""
    return any(
        _with(voice.events, event) and _with(voice.events, following)
        for part in looker.interpretation.score.parts
        for v, voice in enumerate(part.voices)
        if (part.index, v) != (looker.part, looker.voice)
    )


def _paired(looker: _Looker, index: int) -> bool:
    """Whether another voice but the lowest goes with three notes in a row in thirds or sixths, in the same values."""
    score, own = looker.interpretation.score, looker.events
    threes = [own[at : at + 3] for at in range(max(0, index - 2), index + 1) if at + 3 <= len(own)]
    return any(
        _beside(voice.events, three)
        for three in threes
        if all(event.notes for event in three)
        for part in score.parts[:-1]
        for v, voice in enumerate(part.voices)
        if (part.index, v) != (looker.part, looker.voice)
    )


def _beside(events: Sequence[Event], own: Sequence[Event]) -> bool:
    """Whether events go with others note by note, moving, all thirds or all sixths away."""
    at = bisect_left(events, own[0].onset_q, key=lambda event: event.onset_q)
    others = events[at : at + len(own)]
    if len(others) < len(own) or any(
        not other.notes or (other.onset_q, other.duration_q) != (event.onset_q, event.duration_q)
        for other, event in zip(others, own, strict=True)
    ):
        return False
    gaps = {abs(o.top.sounding.diatonic - e.top.sounding.diatonic) % 7 for o, e in zip(others, own, strict=True)}
    moves = len({event.top.sounding.diatonic for event in own}) > 1
    return moves and gaps in ({2}, {5})


def _with(events: Sequence[Event], own: Event) -> bool:
    if not own.notes:
        return False
    at = bisect_left(events, own.onset_q, key=lambda event: event.onset_q)
    other = events[at] if at < len(events) and events[at].onset_q == own.onset_q else None
    return other is not None and bool(other.notes) and other.top.sounding.letter == own.top.sounding.letter
