"""From drafts to proposals: those that keep every rule, the best first, each unlike the ones before it.

The seed shifts scores a little, so another seed shows other good ones; the same seed gives the same, on any machine.
"""

from __future__ import annotations

from collections.abc import Sequence
from difflib import SequenceMatcher
from hashlib import blake2b
from typing import NamedTuple

from appui.embellish.case import Case, case_of
from appui.embellish.free_time import free_drafts
from appui.embellish.in_time import choices, time_drafts
from appui.embellish.judge import judged
from appui.embellish.model import Draft, DraftNote, Place, Proposal, Wish
from appui.embellish.phrases import Phrase
from appui.embellish.rules import faults
from appui.embellish.words import told
from appui.interpret.interpretation import Interpretation
from appui.plan.embellishment import bound, placed
from appui.score.pitch import Pitch
from appui.style.free import SWELL_S, FreeLine, FreeNote

__all__ = ["DIFFERENT", "Found", "difference", "propose", "propose_all"]

#  how unlike two proposals of a place are at least: 0 the same, 1 nothing in common
DIFFERENT = 0.3
_SHIFT = 0.35
_SWELLED = "plain, with messa di voce: it begins softly, swells and falls"
#  so many proposals of one long note have it alone among them
_FEW = 3
#  so many variations more than asked for are tried
_SPARE = 4
#  what a draft loses by one like it that is proposed already
_SAME_PLAN, _BOTH_FIGURES, _SAME_FIGURE = 0.4, 0.5, 0.3


class Found(NamedTuple):
    """The proposals of a place, best first; where there are none, why."""

    place: Place
    proposals: tuple[Proposal, ...]
    why_none: str = ""


def propose(interpretation: Interpretation, place: Place, wish: Wish) -> Found:
    """Up to `wish.count` proposals for a place; plain, as printed, is always there beside them."""
    return propose_all(interpretation, [place], wish)[0]


def propose_all(interpretation: Interpretation, places: Sequence[Place], wish: Wish) -> list[Found]:
    """The proposals of several places of one solo.

    In time those of one number belong together: they are one variation, with its plan of every phrase.
    """
    phrases: tuple[Phrase, ...] = ()
    ends: Ends = {}
    found = []
    for place in places:
        case = case_of(interpretation, place, wish, phrases)
        if (case.held if place.span.held else case.ground.at(case.start_q)) is None:
            found.append(Found(place, (), "there is no harmony here to build on; give the chords with --harmony"))
            continue
        chosen, refused = _chosen(case) if place.span.held else _varied(case, ends)
        phrases = case.phrases if not place.span.held else phrases
        proposals = tuple(_proposal(case, draft, score) for score, draft in chosen)
        found.append(Found(place, proposals, "" if chosen else _why_none(case, refused)))
    return found


#  for each variation, after which event it ended and on which pitch
Ends = dict[int, tuple[int, Pitch | None]]
Scored = list[tuple[float, Draft]]


def _varied(case: Case, ends: Ends) -> tuple[Scored, dict[str, int]]:
    """In time: of each variation the best draft that keeps every rule, each unlike those before it."""
    chosen: Scored = []
    refused: dict[str, int] = {}
    there = choices(case)
    variation = 0
    while len(chosen) < case.wish.count and variation < case.wish.count + _SPARE:
        variation += 1
        end, pitch = ends.get(variation, (0, None))
        before = pitch if end == case.span.first - 1 and pitch is not None else case.before
        for score, draft in time_drafts(case, there, before, variation):
            if any(difference(draft, other) < DIFFERENT for _, other in chosen):
                continue
            rule, _ = next(faults(case, draft), ("", ""))
            if not rule:
                chosen.append((score, draft))
                ends[variation] = case.span.last, draft.notes[-1].pitch
                break
            refused[rule] = refused.get(rule, 0) + 1
    return _with_swell(case, chosen), refused


def _with_swell(case: Case, chosen: Scored) -> Scored:
    """Where the place is one long note, one proposal is that note alone, swelled; in a lament the first."""
    long = len(case.events) == 1 and case.seconds(case.events[0].duration_q) >= SWELL_S
    if not long or case.character == "fast" or case.place.kind == "cadence" or (case.wish.count < _FEW and chosen):
        return chosen
    event = case.events[0]
    swelled = 0.0, Draft((DraftNote(event.top.sounding, event.duration_q, "printed"),), words=(_SWELLED,))
    row = chosen[: case.wish.count - 1]
    return [swelled, *row] if case.mood == "sad" else [*row, swelled]


def _chosen(case: Case) -> tuple[Scored, dict[str, int]]:
    """Under a fermata: the best drafts that keep every rule, each unlike the others; how many a rule refused."""
    scored = [(judged(case, draft)[0] + _shift(case.wish.seed, draft), draft) for draft in free_drafts(case)]
    ranked = sorted(scored, key=_order)
    chosen: list[Draft] = []
    refused: dict[str, int] = {}
    while ranked and len(chosen) < case.wish.count:
        _, draft = ranked.pop(0)
        if any(difference(draft, other) < DIFFERENT for other in chosen):
            continue
        rule, _ = next(faults(case, draft), ("", ""))
        if rule:
            refused[rule] = refused.get(rule, 0) + 1
        else:
            chosen.append(draft)
            ranked = sorted(((score - _kin(each, draft), each) for score, each in ranked), key=lambda one: -one[0])
    return [(judged(case, draft)[0], draft) for draft in chosen], refused


def _kin(draft: Draft, other: Draft) -> float:
    """How much of one kind two drafts under a fermata are: the same plan, both with a figure of the piece, or one."""
    plans = draft.plan != "" and draft.plan == other.plan
    one, two = draft.figure, other.figure
    if one is None or two is None:
        return _SAME_PLAN * plans
    return _SAME_PLAN * plans + _BOTH_FIGURES + _SAME_FIGURE * (one.letters == two.letters)


def _why_none(case: Case, refused: dict[str, int]) -> str:
    if not refused:
        return "no move fits these notes in the time and range there is"
    most = max(sorted(refused), key=lambda rule: refused[rule])
    count = sum(refused.values())
    bounds = f"{case.low.name} to {case.high.name}"
    return f"none of {count} candidates keeps every rule within {bounds} (sounding); most break: {most}"


def _order(ranked: tuple[float, Draft]) -> tuple[float, str]:
    return -ranked[0], repr(ranked[1].all)


def _shift(seed: int, draft: Draft) -> float:
    """A small number that only seed and draft decide."""
    digest = blake2b(f"{seed} {draft.all!r}".encode(), digest_size=4).digest()
    return _SHIFT * int.from_bytes(digest, "big") / 0xFFFFFFFF


def difference(one: Draft, other: Draft) -> float:
    """How unlike two drafts are, 0..1: three parts their pitches in a row, one part their values."""
    return 0.75 * _unlike(*([(n.pitch, n.trill) for n in draft.all] for draft in (one, other))) + 0.25 * _unlike(
        *([n.value_q for n in draft.all] for draft in (one, other))
    )


def _unlike(first: Sequence[object], second: Sequence[object]) -> float:
    return 1 - SequenceMatcher(None, first, second, autojunk=False).ratio()


def _proposal(case: Case, draft: Draft, score: float) -> Proposal:
    part = case.score.parts[case.span.part]
    transposition = part.transposition_at(case.start_q)

    def written(notes: tuple[DraftNote, ...]) -> tuple[FreeNote, ...]:
        return tuple(
            FreeNote(transposition.written(note.pitch) if note.pitch is not None else None, note.value_q, note.trill)
            for note in notes
        )

    line = FreeLine(written(draft.notes), written(draft.in_time))
    span = case.span
    if draft.in_time:
        span = span._replace(last=span.first + 1)
    free = bound(case.score, span, line, case.ground)._replace(second_time=case.place.repeated)
    terms = judged(case, draft)[1] if span.held else {"plan of the phrase": score}
    one = placed(case.place.place, span, free, case.interpretation.analysis.signs)
    return Proposal(case.place, told(case, draft), line, one, round(score, 3), terms)
