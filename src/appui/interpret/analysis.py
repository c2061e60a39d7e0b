"""What is found in a score once, whoever plays it: its signs, its harmony, what the harmony says of each sign.

An `Analysis` never changes; what it tells is worked out when first asked for and kept. Players with other plans, styles
or tempos share it.
"""

from __future__ import annotations

from collections.abc import Callable, Hashable, Mapping
from functools import cached_property
from typing import TYPE_CHECKING, TypeVar

from appui.score.model import Score
from appui.score.signs import EMBELLISHMENT, Sign, find_signs
from appui.score.solo import Guess, guess

if TYPE_CHECKING:
    from appui.harmony.analyse import Harmony
    from appui.harmony.ground import Ground
    from appui.harmony.model import Verdict
    from appui.harmony.neighbours import Neighbours
    from appui.harmony.written_out import WrittenOut
    from appui.score.habits import Print
    from appui.score.pitch import Pitch

__all__ = ["Analysis"]

Found = TypeVar("Found")
#  kinds of signs that the harmony has no say in
_SILENT = frozenset({"fermata", "breath mark", "caesura", EMBELLISHMENT})


class Analysis:
    """See the module's head; `score` is what was read, with the accompaniment made for it where it has none."""

    def __init__(self, score: Score) -> None:
        self.score = score
        self._kept: dict[Hashable, object] = {}

    @cached_property
    def signs(self) -> tuple[Sign, ...]:
        """All signs printed in the score, in order of part and time."""
        return find_signs(self.score)

    @cached_property
    def guess(self) -> Guess:
        """Which part would be taken for the solo, why, and which else."""
        return guess(self.score, self.signs)

    @cached_property
    def harmony(self) -> Harmony:
        """The harmony of the whole score."""
        from appui.harmony.analyse import analyse

        return analyse(self.score)

    @cached_property
    def written_out(self) -> tuple[WrittenOut, ...]:
        """The leaning notes that are printed as full-size notes."""
        from appui.harmony.written_out import written_out

        return written_out(self.score, self.harmony)

    def verdict(self, sign: Sign) -> Verdict | None:
        """What the harmony says of a sign; `None` for signs the harmony has no say in."""
        return self.once(("verdict", sign.place), lambda: self._judge(sign))

    def _judge(self, sign: Sign) -> Verdict | None:
        if sign.kind in _SILENT or sign.main_note(self.score) is None:
            return None
        from appui.harmony.verdicts import verdict_of

        return verdict_of(self.harmony, sign)

    def ground(self, part: int, voice: int) -> Ground:
        """The harmony under one voice: part and voice as indices from 0."""
        from appui.harmony.ground import Ground

        return self.once(("ground", part, voice), lambda: Ground(self.score, self.harmony, part, voice))

    def rest_holds(self, sign: Sign) -> bool | None:
        """Whether a main note belongs to the chord where it ends; `None` where the harmony there is not sure."""
        from appui.harmony.ground import SURE

        note, event = sign.main_note(self.score), sign.main(self.score)
        footing = self.ground(sign.part, sign.voice).at(event.end_q) if event.end_q < self.score.length_q else None
        if note is None or footing is None or footing.chance < SURE:
            return None
        return footing.has(note.sounding)

    def neighbours(self, sign: Sign) -> Mapping[int, Pitch]:
        """The notes above (1) and below (-1) a sign's main note, as the page and the harmony have them, sounding."""
        ground = self.ground(sign.part, sign.voice)
        return self.once(("neighbours", sign.place), lambda: self._neighbours.of(sign, ground))

    @cached_property
    def _neighbours(self) -> Neighbours:
        from appui.harmony.neighbours import Neighbours

        return Neighbours(self.score)

    @cached_property
    def print(self) -> Print:
        """The habits of the print, part by part and movement by movement."""
        from appui.score.habits import Print

        return Print(self.score, self.signs)

    def once(self, name: Hashable, find: Callable[[], Found]) -> Found:
        """What `find` finds, worked out the first time and kept under a name that says what it is.

        Rooms that come later keep here what they find in the score alone.
        """
        if name not in self._kept:
            self._kept[name] = find()
        found: Found = self._kept[name]  # type: ignore[assignment]  # each name is asked for with one kind of thing
        return found
