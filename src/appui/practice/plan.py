"""From a wish to a track: which rounds a mode asks for, at every tempo."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

from appui.errors import UsageError
from appui.interpret.interpretation import Interpretation
from appui.practice.change import Change, changes_between, changes_wished
from appui.practice.levels import ACCOMPANIMENT, OFF, own, own_levels
from appui.practice.passage import Passage, perform_passage
from appui.practice.place import bars_around
from appui.practice.track import Piece, Round, Track, lay_out
from appui.practice.wish import Wish, check_wish
from appui.score.solo import find_part
from appui.style.reading import Reading

__all__ = ["Tempos", "make_track"]


_ALONE = "no part but the solo plays in these bars; where a score has no other, --harmony makes one from chords"


class Tempos:
    """An interpretation at several tempos, each prepared once for all tracks of a set."""

    def __init__(self, interpretation: Interpretation) -> None:
        self.interpretation = interpretation
        self._at: dict[str, Interpretation] = {}

    def at(self, tempo: str) -> Interpretation:
        """The interpretation at a tempo; raises `UsageError` for what is none."""
        if tempo not in self._at:
            found = self.interpretation.at_tempo(tempo)
            found.check()
            self._at[tempo] = found
        return self._at[tempo]


def make_track(
    interpretation: Interpretation | Tempos,
    wish: Wish,
    *,
    title: str = "",
    again: Interpretation | Tempos | None = None,
) -> Track:
    """Lay out the track a wish asks for; `again` is the interpretation with the other plan.

    Raises `UsageError` for what cannot be meant, `PlaceError` for bars the score does not have.
    """
    check_wish(wish)
    tempos = interpretation if isinstance(interpretation, Tempos) else Tempos(interpretation)
    others = Tempos(again) if isinstance(again, Interpretation) else again
    wish = _settled(tempos.interpretation, wish)
    ladder = [_Rounds(tempos.at(tempo), others.at(tempo) if others else None, wish, tempo) for tempo in wish.tempos]
    track = lay_out(title or tempos.interpretation.score.title, wish, [_MODES[wish.mode](step) for step in ladder])
    if track.level_db(ACCOMPANIMENT) != OFF and not any(_is_accompanied(piece) for piece in track.pieces):
        track.notices = ("accompaniment", _ALONE), *track.notices
    track.part, track.score = tempos.interpretation.solo.name, tempos.interpretation.score.title
    track.changes = tuple(dict.fromkeys(change.words for step in ladder for change in step.changes()))
    return track


def _settled(player: Interpretation, wish: Wish) -> Wish:
    """The wish with its parts by their ids, and the bars of its ornament."""
    solos = {part.index for part in player.solos}
    mine = tuple(find_part(player.score, name) for name in wish.without)
    for part in mine:
        if part.index not in solos:
            named = " and ".join(each.name for each in player.solos)
            raise UsageError(f"without {part.name}: the solo is {named}; name it with --solo, too")
    wish = replace(wish, levels=own_levels(wish.levels, player.score, solos), without=tuple(part.id for part in mine))
    if wish.at is None:
        return wish
    changes = wish.changes or ((wish.at,) if wish.mode == "alternate" else ())
    return replace(wish, bars=bars_around(player, wish.at), at=None, changes=changes)


def _is_accompanied(piece: Piece) -> bool:
    return (piece.group == ACCOMPANIMENT or piece.group.startswith(own(""))) and any(
        part.notes for part in piece.performance.parts
    )


class _Rounds:
    """Makes the rounds of one tempo; each passage is performed once."""

    def __init__(self, interpretation: Interpretation, again: Interpretation | None, wish: Wish, tempo: str) -> None:
        self.interpretation, self.again, self.wish, self.tempo = interpretation, again, wish, tempo

    def changes(self) -> tuple[Change, ...]:
        """What is read in two ways."""
        wish = self.wish
        if self.again is not None:
            return changes_between(self.interpretation, self.again, wish.bars)
        return changes_wished(self.interpretation, wish.bars, wish.changes) if wish.mode == "alternate" else ()

    def passage(self, interpretation: Interpretation, changed: Mapping[str, Reading] | None = None) -> Passage:
        wish = self.wish
        return perform_passage(
            interpretation,
            wish.bars,
            repeats=wish.repeats,
            changed=changed,
            again=self.again if wish.bars is None and wish.mode != "alternate" else None,
            interval=wish.interval,
            tuning=wish.tuning,
            rests=wish.rests,
        )

    def rounds(self, *kinds: tuple[str, Passage, bool]) -> list[Round]:
        """The kinds in turn, as often as wished."""
        made = []
        for number in range(1, self.wish.times + 1):
            for name, passage, solo in kinds:
                made.append(Round(f"{number}, {self.tempo}{', ' if name else ''}{name}", passage, solo))
        return made

    def plain_then_other(self, *kinds: tuple[str, bool]) -> list[Round]:
        """All rounds alike; where a few bars are looped and there is a second plan, from the second round on in it."""
        plain = self.passage(self.interpretation)
        rounds = self.rounds(*((name, plain, solo) for name, solo in kinds))
        if self.again is None or self.wish.bars is None:
            return rounds
        other = self.passage(self.again)
        return rounds[: len(kinds)] + [replace(each, passage=other) for each in rounds[len(kinds) :]]


def _along(make: _Rounds) -> list[Round]:
    return make.plain_then_other(("", False))


def _guide(make: _Rounds) -> list[Round]:
    return make.plain_then_other(("", True))


def _echo(make: _Rounds) -> list[Round]:
    return make.plain_then_other(("listen", True), ("answer", False))


def _alternate(make: _Rounds) -> list[Round]:
    first, changes = make.passage(make.interpretation), make.changes()
    if make.again is not None:
        if make.wish.changes:
            raise UsageError(f"a second plan says what alternates; leave it out, or change {make.wish.changes[0]!r}")
        if not changes:
            raise UsageError(
                "the second plan plays all ornaments of these bars as the first; name other bars, or change it"
            )
        return make.rounds(("first plan", first, True), ("second plan", make.passage(make.again), True))
    second = make.passage(make.interpretation, {change.place: change.second for change in changes})
    return make.rounds((_called(changes, "first"), first, True), (_called(changes, "second"), second, True))


def _called(changes: Sequence[Change], which: str) -> str:
    """A round by the reading of its one sign, or by how many signs have another."""
    if len(changes) == 1:
        return f"{changes[0].place} {getattr(changes[0], which).text}"
    return f"{which} way of {len(changes)} ornaments"


_MODES = {"along": _along, "guide": _guide, "echo": _echo, "alternate": _alternate}
