"""Signs: what is printed beside the plain notes, each with a place name people can say and type.

A place is part, bar, beat, as in ``oboe.12.3``; a beat between two counts is a fraction (``oboe.12.2+1/2``), a second
sign at the same place adds its number (``oboe.12.3.2``). Names depend on the printed score only.
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from appui.score.model import Event, Note, Ornament, Score, SmallNote

__all__ = ["Sign"]


@dataclass(frozen=True, slots=True)
class Sign:
    """One sign. `part`, `voice`, `event` are indices into the score; `note` the index of its note in the event.

    `kind`: ``small notes`` (before the event), ``after-notes`` (after it), else the sign's plain name
    (``trill``, ``turn``, ``mordent`` …). `small` is empty for printed signs, `ornament` is `None` for small notes.
    For after-notes the event is the note they follow.
    """

    place: str
    kind: str
    part: int
    voice: int
    event: int
    note: int
    small: tuple[SmallNote, ...] = ()
    ornament: Ornament | None = None

    @property
    def slashed(self) -> bool | None:
        """Whether the small notes are crossed; `None` for signs that are no small notes."""
        return bool(self.small[0].slash) if self.small else None

    def main(self, score: Score) -> Event:
        """The event the sign belongs to."""
        return score.parts[self.part].voices[self.voice].events[self.event]

    def main_note(self, score: Score) -> Note:
        """The full-size note the sign belongs to."""
        return self.main(score).notes[self.note]

    def onset_q(self, score: Score) -> Fraction:
        """Where the main note starts on the printed time line."""
        return self.main(score).onset_q
