"""What a second reading changes: the signs of a passage that are read in two ways, and how.

Where nothing is named, every sign of the solo that has a rival reading takes the first of them. A change is typed as
``PLACE`` (its first rival) or ``PLACE=READING``.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import NamedTuple

from appui.errors import UsageError
from appui.interpret.hearing import worth_hearing
from appui.interpret.interpretation import Interpretation, in_solos
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
        """As it is told: ``oboe.12.1: leaning 1/2, then before``."""
        return f"{self.place}: {self.first.text}, then {self.second.text}"


def changes_wished(interpretation: Interpretation, bars: str | None, wished: tuple[str, ...]) -> tuple[Change, ...]:
    """The changes asked for in these bars, or all that can be made there.

    Raises `UsageError` for a sign that has no other reading or lies elsewhere, `PlaceError` for a place that is none.
    """
    inside = {sign.place: sign for sign in _signs_in(interpretation, bars)}
    if wished:
        return tuple(_wished(interpretation, inside, words, bars) for words in wished)
    rivals = (_rival(interpretation, sign) for sign in inside.values() if in_solos(interpretation, sign.part))
    found = tuple(change for change in rivals if change is not None)
    if not found:
        raise UsageError(
            "no ornament of the solo in these bars has another way to alternate with; name other bars, or a second "
            "plan with --embellish"
        )
    return found


def changes_between(interpretation: Interpretation, other: Interpretation, bars: str | None) -> tuple[Change, ...]:
    """The signs in these bars that another plan reads in another way."""
    mine, theirs = _readings(interpretation), _readings(other)
    signs = {sign.place: sign for each in (interpretation, other) for sign in _signs_in(each, bars)}
    places = sorted(signs, key=lambda place: (signs[place].part, signs[place].onset_q(interpretation.score)))
    pairs = [(place, mine.get(place, _PLAIN), theirs.get(place, _PLAIN)) for place in places]
    return tuple(Change(*each) for each in pairs if each[1] != each[2])


_PLAIN = Reading("plain")


def _readings(interpretation: Interpretation) -> Mapping[str, Reading]:
    return {place: choice.reading for place, choice in interpretation.choices.items()}


def _signs_in(interpretation: Interpretation, bars: str | None) -> Iterator[Sign]:
    inside = {occurrence.bar for occurrence in interpretation.order(bars, repeats=False)}
    return (sign for sign in interpretation.signs if sign.main(interpretation.score).bar in inside)


def _rival(interpretation: Interpretation, sign: Sign) -> Change | None:
    rivals = worth_hearing(interpretation, sign)
    if not rivals:
        return None
    chosen = interpretation.choices[sign.place].reading
    return Change(sign.place, chosen, interpretation.reading(sign.place, rivals[0]))


def _wished(interpretation: Interpretation, inside: Mapping[str, Sign], words: str, bars: str | None) -> Change:
    place, equals, reading = (part.strip() for part in words.partition("="))
    sign = interpretation.sign_at(place)
    place = sign.place
    if place not in inside:
        raise UsageError(f"change {words!r}: {place} is not in bars {bars}; name an ornament there, or other bars")
    if equals:
        first, second = interpretation.choices[place].reading, interpretation.reading(place, reading)
        if first == second:
            rival = _rival(interpretation, sign)
            other = f"; {rival.second.text} is another" if rival is not None else ""
            raise UsageError(
                f"change {words!r}: {place} is played {first.text} already, so nothing would alternate; name another "
                f"way{other}"
            )
        return Change(place, first, second)
    change = _rival(interpretation, sign)
    if change is None:
        raise UsageError(f"change {words!r}: {place} has no other way; name one, as in {place}=plain")
    return change
