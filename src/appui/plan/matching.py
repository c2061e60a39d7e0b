"""Places found again by their music, when a score has been corrected or only one movement of it is given.

A plan keeps what stands at each place: the kind of sign, its small notes, its main note, and the notes around it in
its voice. In another score the signs of a part are set against those of the plan in order, so that the likeness of all
pairs together is greatest: no pair crosses another, and only signs of one kind are paired that have a good part of
their notes in common. Ties go to the same bar and beat.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import NamedTuple

from appui.score.model import Event, Score
from appui.score.signs import EMBELLISHMENT, Sign

__all__ = ["Found", "enough", "match_places", "music_of"]

#  notes remembered on each side of the main note
_AROUND = 3
#  what likeness counts: the main note, the small notes, each note around; the same bar and beat break ties
_MAIN, _SMALL, _NEAR, _SAME_PLACE, _SAME_BEAT = 4.0, 3.0, 1.0, 0.5, 0.25
#  so many notes around must be the same where the main note is not; one less where it is, none with all the small ones
_LEAST = 3
_NOTHING = "-"
#  a part with 1,700 signs against itself
_MOST_PAIRS = 3_000_000
_PARTS = 5


class _Place(NamedTuple):
    """What is kept of a place, read; the notes around from the main note outwards."""

    name: str
    kind: str
    small: str
    main: str
    before: tuple[str, ...]
    after: tuple[str, ...]


class Found(NamedTuple):
    """A place of a plan and where it is now (`None`: nowhere); `changed` says what is printed otherwise there."""

    old: str
    new: str | None
    changed: str = ""

    @property
    def words(self) -> str:
        """What became of it, in words; empty where all is as it was."""
        if self.new is None:
            return "there is no such ornament any more: what was decided for it is left out"
        moved = f"is now at {self.new}" if self.new != self.old else ""
        return "; ".join(filter(None, (moved, self.changed)))


def music_of(score: Score, sign: Sign) -> str:
    """What a plan keeps of a place: ``small notes|D5|C5|A4 B4 C5|B4 A4 G4``."""
    events = score.parts[sign.part].voices[sign.voice].events
    note = sign.main_note(score)
    before = [_name(event) for event in events[max(0, sign.event - _AROUND) : sign.event]]
    after = [_name(event) for event in events[sign.event + 1 : sign.event + 1 + _AROUND]]
    small = [pitch.name for one in sign.small for pitch in one.written]
    main = note.written.name if note else "rest"
    return "|".join((sign.kind, " ".join(small), main, " ".join(before), " ".join(after)))


def _name(event: Event) -> str:
    return event.top.written.name if event.notes else "rest"


def match_places(kept: Mapping[str, str], score: Score, signs: Sequence[Sign]) -> dict[str, Found]:
    """Where each place of a plan is in a score, by what it keeps of their music."""
    here, there = _sorted((sign.place, music_of(score, sign)) for sign in signs), _sorted(kept.items())
    # a part may have been given another name: where all are named otherwise, they are taken in their order
    if not set(there) & set(here):
        there = dict(zip(here, there.values(), strict=False))
    return {each.old: each for group, places in there.items() for each in _aligned(places, here.get(group, []))}


def _sorted(music: Iterable[tuple[str, str]]) -> dict[tuple[str, bool], list[_Place]]:
    """Places of one part together, the player's own notes apart from what is printed."""
    found: dict[tuple[str, bool], list[_Place]] = {}
    for place, text in music:
        parts = tuple(text.split("|"))
        if len(parts) == _PARTS:
            kind, small, main, before, after = parts
            read = _Place(place, kind, small, main, _filled(before.split()[::-1]), _filled(after.split()))
            found.setdefault((_part(place), kind == EMBELLISHMENT), []).append(read)
    return found


def enough(found: Mapping[str, Found], signs: Sequence[Sign]) -> bool:
    """Whether so much is found again that it is the same music: half of the plan's places, or of those in the score."""
    again = [each.new for each in found.values() if each.new is not None]
    parts = {_part(place) for place in again}
    here = sum(_part(sign.place) in parts for sign in signs)
    return bool(again) and 2 * len(again) >= min(len(found), here)


def _part(place: str) -> str:
    return place.partition(".")[0]


def _aligned(old: Sequence[_Place], new: Sequence[_Place]) -> list[Found]:
    """Pairs in order, of greatest likeness together; none where there are more than any music has."""
    if len(old) * len(new) > _MOST_PAIRS:
        return [Found(each.name, None) for each in old]
    likeness = [[_likeness(one, other) for other in new] for one in old]
    best = [[0.0] * (len(new) + 1) for _ in range(len(old) + 1)]
    for i in reversed(range(len(old))):
        row, under = best[i], best[i + 1]
        for j in reversed(range(len(new))):
            paired = likeness[i][j] + under[j + 1] if likeness[i][j] else 0.0
            row[j] = max(under[j], row[j + 1], paired)
    found: list[Found] = []
    i = j = 0
    while i < len(old):
        if j < len(new) and likeness[i][j] and best[i][j] == likeness[i][j] + best[i + 1][j + 1]:
            found.append(Found(old[i].name, new[j].name, _changed(old[i], new[j])))
            i, j = i + 1, j + 1
        elif j < len(new) and best[i][j] == best[i][j + 1]:
            j += 1
        else:
            found.append(Found(old[i].name, None))
            i += 1
    return found


def _likeness(one: _Place, other: _Place) -> float:
    pairs = list(zip((*one.before, *one.after), (*other.before, *other.after), strict=True))
    around, notes = sum(a == b for a, b in pairs), sum(a == b != _NOTHING for a, b in pairs)
    same_main, same_small = one.main == other.main, one.small == other.small
    known = notes >= _LEAST or (same_main and ((same_small and one.small != "") or notes >= _LEAST - 1))
    if one.kind != other.kind or not known:
        return 0.0
    count = _MAIN * same_main + _SMALL * same_small + _NEAR * around
    beats = [place.name.split(".", 2)[-1] for place in (one, other)]
    return count + _SAME_PLACE * (one.name == other.name) + _SAME_BEAT * (beats[0] == beats[1])


def _filled(names: Sequence[str]) -> tuple[str, ...]:
    """As many notes as are remembered; where a voice begins or ends, that is alike too."""
    return (*names[:_AROUND], *[_NOTHING] * (_AROUND - len(names)))


def _changed(old: _Place, new: _Place) -> str:
    pairs = (("its small notes were", old.small, new.small), ("its main note was", old.main, new.main))
    return "; ".join(f"{words} {was or 'none'}, now {now or 'none'}" for words, was, now in pairs if was != now)
