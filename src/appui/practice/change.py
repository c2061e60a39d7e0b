"""What a second reading changes: the signs of a passage that are read in two ways, and how.

Where nothing is named, every sign of the solo that has a rival reading takes the first of them. A change is typed as
``PLACE`` (its first rival) or ``PLACE=READING``.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import NamedTuple

from appui.errors import UsageError
from appui.perform.session import Session
from appui.score.signs import Sign
from appui.style.reading import Reading

__all__ = ["Change", "changes_between", "changes_wished"]


class Change(NamedTuple):
    """One sign in two readings."""

    place: str
    first: Reading
    second: Reading

    @property
    def words(self) -> str:
        """As it is told: ``oboe.12.1: leaning 1/2, then passing``."""
        return f"{self.place}: {self.first.text}, then {self.second.text}"


def changes_wished(session: Session, bars: str | None, wished: tuple[str, ...]) -> tuple[Change, ...]:
    """The changes asked for in these bars, or all that can be made there.

    Raises `UsageError` for a sign that has no other reading or lies elsewhere, `PlaceError` for a place that is none.
    """
    inside = {sign.place: sign for sign in _signs_in(session, bars)}
    if wished:
        return tuple(_wished(session, inside, words, bars) for words in wished)
    rivals = (_rival(session, sign) for sign in inside.values() if sign.part == session.solo.index)
    found = tuple(change for change in rivals if change is not None)
    if not found:
        raise UsageError(
            "no sign of the solo in these bars has another reading to alternate with; name other bars, or a second "
            "plan with --embellish"
        )
    return found


def changes_between(session: Session, other: Session, bars: str | None) -> tuple[Change, ...]:
    """The signs in these bars that another plan reads in another way."""
    mine, theirs = _readings(session), _readings(other)
    signs = {sign.place: sign for each in (session, other) for sign in _signs_in(each, bars)}
    places = sorted(signs, key=lambda place: (signs[place].part, signs[place].onset_q(session.score)))
    pairs = [(place, mine.get(place, _PLAIN), theirs.get(place, _PLAIN)) for place in places]
    return tuple(Change(*each) for each in pairs if each[1] != each[2])


_PLAIN = Reading("plain")


def _readings(session: Session) -> Mapping[str, Reading]:
    return {place: choice.reading for place, choice in session.choices.items()}


def _signs_in(session: Session, bars: str | None) -> Iterator[Sign]:
    inside = {occurrence.bar for occurrence in session.order(bars, repeats=False)}
    return (sign for sign in session.signs if sign.main(session.score).bar in inside)


def _rival(session: Session, sign: Sign) -> Change | None:
    choice = session.choices[sign.place]
    if not choice.alternatives:
        return None
    return Change(sign.place, choice.reading, session.reading(sign.place, choice.alternatives[0]))


def _wished(session: Session, inside: Mapping[str, Sign], words: str, bars: str | None) -> Change:
    place, equals, reading = (part.strip() for part in words.partition("="))
    sign = session.sign_at(place)
    if place not in inside:
        raise UsageError(f"change {words!r}: {place} is not in bars {bars}; name a sign there, or other bars")
    if equals:
        return Change(place, session.choices[place].reading, session.reading(place, reading))
    change = _rival(session, sign)
    if change is None:
        raise UsageError(f"change {words!r}: {place} has no other reading; name one, as in {place}=plain")
    return change
