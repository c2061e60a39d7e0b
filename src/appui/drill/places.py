"""Phrases out of a player's own scores: the places of the solo that a kind of drill can ask about.

Usable is a place of one small note (or a trill) of the solo on a single note that is not tied, over an accompaniment
that sounds; its bars are those of the sign, one before, one after. For `member-or-dissonance` the harmony must be known
and not doubtful. Leaning notes need a small note a step or more away from its main note.
"""

from __future__ import annotations

from collections.abc import Iterator

from appui.drill.kinds import Kind
from appui.drill.phrase import Phrase
from appui.errors import PlaceError
from appui.harmony.model import MEMBER
from appui.interpret.interpretation import Interpretation
from appui.score.model import Event
from appui.score.pitch import parse_pitch
from appui.score.repeats import once
from appui.score.signs import Sign

__all__ = ["phrases_of", "usable"]

_NEEDS = {
    "small notes": "single small notes of the solo, with a note before them and an accompaniment",
    "trill": "trills of the solo, with an accompaniment",
}


def usable(interpretation: Interpretation, kind: Kind) -> list[Phrase]:
    """The phrases of a score a kind can ask about; raises `PlaceError` where there are none."""
    found = [phrase for phrase in phrases_of(interpretation, kind.sign) if any(kind.fits(phrase, a) for a in (0, 1))]
    if not found:
        extra = ", over a harmony that is not doubtful" if kind.told_by_harmony else ""
        raise PlaceError(
            interpretation.score.file,
            f"has no place for {kind.name}, which needs {_NEEDS[kind.sign]}{extra}",
            "name the solo with --solo, give another score, or drill on invented phrases by naming no score",
        )
    return found


def phrases_of(interpretation: Interpretation, kind: str) -> Iterator[Phrase]:
    """The phrases around the solo's signs of a kind."""
    score, solo = interpretation.score, interpretation.solo
    names = {
        sign.place: choice.reading
        for sign in interpretation.signs
        if (choice := interpretation.choices[sign.place]).realized
    }
    for sign in interpretation.signs:
        if sign.part != solo.index or sign.kind != kind or not _simple(interpretation, sign):
            continue
        main = sign.main(score)
        order = once(score.bars, max(main.bar - 1, 0), min(main.bar + 1, len(score.bars) - 1))
        before = _before(interpretation, sign)
        if before is None or not _accompanied(interpretation, main):
            continue
        verdict = interpretation.analysis.verdict(sign)
        sure = verdict is not None and verdict.known
        member = None
        if verdict is not None and verdict.members and not verdict.doubtful and verdict.known:
            member = verdict.members[0] == MEMBER
        yield Phrase(
            score,
            solo.index,
            sign,
            interpretation.signs,
            order,
            f"{score.title}, {sign.place}",
            verdict.pitches if verdict is not None and sure else (),
            parse_pitch(f"{verdict.bass}2") if verdict is not None and sure and verdict.bass else None,
            member,
            before.duration_q,
            {place: reading for place, reading in names.items() if place != sign.place},
            interpretation.factor,
        )


def _simple(interpretation: Interpretation, sign: Sign) -> bool:
    main = sign.main(interpretation.score)
    if len(main.notes) != 1 or main.fermata or sign.within is not None:
        return False
    if main.notes[0].tied_on or main.notes[0].tied_back:
        return False
    alone = sum(each.main(interpretation.score) is main for each in interpretation.signs) == 1
    if sign.kind != "small notes":
        return alone
    small = sign.small[0]
    return alone and len(sign.small) == 1 and len(small.sounding) == 1 and small.sounding[0] != main.notes[0].sounding


def _before(interpretation: Interpretation, sign: Sign) -> Event | None:
    """The event that sounds right before the sign in its voice."""
    events = interpretation.score.parts[sign.part].voices[sign.voice].events
    before = events[sign.event - 1] if sign.event else None
    joined = before is not None and before.notes and before.end_q == events[sign.event].onset_q
    return before if joined else None


def _accompanied(interpretation: Interpretation, main: Event) -> bool:
    """Whether something of the others is struck with the main note."""
    return any(
        event.onset_q == main.onset_q and event.notes and not event.notes[0].cue
        for part in interpretation.score.parts
        if part.index != interpretation.solo.index and not part.percussion
        for voice in part.voices
        for event in voice.events
    )
