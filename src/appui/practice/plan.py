"""From a wish to a track: which rounds a mode asks for, at every tempo."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

from appui.errors import UsageError
from appui.perform.session import Session
from appui.practice.passage import Passage, perform_passage
from appui.practice.track import Round, Track, lay_out
from appui.practice.wish import Wish, check_wish
from appui.score.signs import Sign
from appui.style.reading import Reading

__all__ = ["Tempos", "make_track", "with_plan"]


def with_plan(session: Session, plan: Path) -> Session:
    """The same score prepared with another plan; raises its errors."""
    other = Session(session.score, replace(session.wishes, plan=plan))
    for name in ("signs", "solo", "harmony", "_verdicts"):
        if name in session.__dict__:
            other.__dict__[name] = session.__dict__[name]
    other.check()
    return other


class Tempos:
    """A session at several tempos, each prepared once for all tracks of a set."""

    def __init__(self, session: Session) -> None:
        self.session = session
        self._at: dict[str, Session] = {}
        self._latest = session

    def at(self, tempo: str) -> Session:
        """The session at a tempo; raises `UsageError` for what is none."""
        if tempo not in self._at:
            # from the latest, so that its harmony and verdicts are not found again
            session = self._latest.at_tempo(tempo)
            session.check()
            self._at[tempo] = self._latest = session
        return self._at[tempo]


def make_track(
    session: Session | Tempos, wish: Wish, *, title: str = "", again: Session | Tempos | None = None
) -> Track:
    """Lay out the track a wish asks for; `again` is the session with the other plan.

    Raises `UsageError` for what cannot be meant, `PlaceError` for bars the score does not have.
    """
    check_wish(wish)
    tempos = session if isinstance(session, Tempos) else Tempos(session)
    others = Tempos(again) if isinstance(again, Session) else again
    ladder = [
        _MODES[wish.mode](_Rounds(tempos.at(tempo), others.at(tempo) if others else None, wish, tempo))
        for tempo in wish.tempos
    ]
    return lay_out(title or tempos.session.score.title, wish, ladder)


class _Rounds:
    """Makes the rounds of one tempo; each passage is performed once."""

    def __init__(self, session: Session, again: Session | None, wish: Wish, tempo: str) -> None:
        self.session, self.again, self.wish, self.tempo = session, again, wish, tempo

    def passage(self, session: Session, changed: dict[str, Reading] | None = None) -> Passage:
        wish = self.wish
        return perform_passage(
            session,
            wish.bars,
            repeats=wish.repeats,
            changed=changed,
            again=self.again if wish.bars is None and wish.mode != "alternate" else None,
            interval=wish.interval,
            tuning=wish.tuning,
        )

    def rounds(self, *kinds: tuple[str, Passage, bool]) -> list[Round]:
        """The kinds in turn, as often as wished."""
        made = []
        for number in range(1, self.wish.times + 1):
            for name, passage, solo in kinds:
                made.append(Round(f"{number}, {self.tempo}{', ' if name else ''}{name}", passage, solo))
        return made

    def plain_then_other(self, *, solo: bool) -> list[Round]:
        """All rounds alike; where a few bars are looped and there is a second plan, from the second round on in it."""
        rounds = self.rounds(("", self.passage(self.session), solo))
        if self.again is None or self.wish.bars is None:
            return rounds
        other = self.passage(self.again)
        return [rounds[0], *(replace(each, passage=other) for each in rounds[1:])]


def _along(make: _Rounds) -> list[Round]:
    return make.plain_then_other(solo=False)


def _guide(make: _Rounds) -> list[Round]:
    return make.plain_then_other(solo=True)


def _echo(make: _Rounds) -> list[Round]:
    passage = make.passage(make.session)
    return make.rounds(("listen", passage, True), ("answer", passage, False))


def _alternate(make: _Rounds) -> list[Round]:
    first = make.passage(make.session)
    if make.again is not None:
        return make.rounds(("first plan", first, True), ("second plan", make.passage(make.again), True))
    sign, words = _alternative(make.session, make.wish)
    second = make.passage(make.session, {sign.place: make.session.reading(sign.place, words)})
    here = make.session.choices[sign.place].reading.text
    return make.rounds((f"{sign.place} {here}", first, True), (f"{sign.place} {words}", second, True))


def _alternative(session: Session, wish: Wish) -> tuple[Sign, str]:
    """The first sign of the solo in these bars that can be read in another way, and that way."""
    bars = {occurrence.bar for occurrence in session.order(wish.bars, repeats=False)}
    for sign in session.signs:
        choice = session.choices[sign.place]
        if sign.part == session.solo.index and sign.main(session.score).bar in bars and choice.alternatives:
            return sign, choice.alternatives[0]
    raise UsageError(
        "no sign of the solo in these bars has another reading to alternate with; name other bars, or a second plan "
        "with --embellish"
    )


_MODES = {"along": _along, "guide": _guide, "echo": _echo, "alternate": _alternate}
