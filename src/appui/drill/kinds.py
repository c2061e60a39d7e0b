"""The kinds of drill: what is asked, which answers there are, what shrinks, and how each answer is made to sound.

`KINDS` is the table; a kind's `take` gives the intervals of one trial (performances to be heard one after another) for
the answer that is to be right. Sizes start well above what is known of hearing and end below it: loudness differences
of 0.68 to 1.22 dB are just heard (Psychology of Music 2022, doi 10.1177/03057356221126203, abstract read), timing 6 ms
in intervals up to 240 ms and 2.5 % above (Friberg & Sundberg 1995, abstract read), trills are played at 11 to 14 notes
a second ((n)ASAP, computed). The starting sizes themselves are design choices.

Whatever is not asked about gives no answer away: in all kinds but `heavier` the levels of small and main note are drawn
afresh, whatever the answer; in `heavier` both notes rove together by 5 dB, the other notes by 4 dB, and the loudest of
the pair stands at the same place whether it leans much or little. One cue is left there: at equal loudness the interval
with the heavier note peaks higher, by some 0.2 dB on an average up to 3 dB of lean and 0.3 above, which is less than is
heard, but lets a classifier that reads peaks be right in 63 of 100 trials up to 3 dB.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from appui.drill.answers import (
    LEAN_TIMES,
    Ask,
    heavier,
    lean_or_pass,
    longer,
    member_or_dissonance,
    trill_start,
    which_reading,
)
from appui.drill.ladder import Ladder
from appui.drill.phrase import Phrase
from appui.perform.model import Performance

__all__ = ["KINDS", "Kind"]

Take = Callable[[Ask], tuple[Performance, ...]]


@dataclass(frozen=True)
class Kind:
    """A kind of drill.

    `answers` are in the order of the keys; `gain` says a threshold in words; `intervals` how many performances are
    heard; `sign` what the phrase must have. `room` is how long main note and note before must be, in levels of ms (0:
    in any case `least_ms`). Where `leaning`, no phrase is asked about whose small note belongs to the chord: it would
    have nothing to lean on.
    """

    name: str
    question: str
    answers: tuple[str, ...]
    ladder: Ladder
    take: Take
    gain: str
    intervals: int = 1
    sign: str = "small notes"
    room: tuple[float, float] = (0.0, 0.0)
    least_ms: float = 500.0
    leaning: bool = False

    @property
    def guess(self) -> float:
        """The chance of a guess."""
        return 1 / len(self.answers)

    @property
    def told_by_harmony(self) -> bool:
        """Whether the phrase itself decides which answer is right."""
        return self.take is member_or_dissonance

    def fits(self, phrase: Phrase, answer: int) -> bool:
        """Whether a phrase can be asked about so that this answer is right."""
        if self.told_by_harmony:
            return phrase.member is (answer == 0)
        return not (self.leaning and phrase.member)

    def needed_ms(self, level: float) -> tuple[float, float]:
        """The least lengths of main note and note before at a level."""
        size = level if self.ladder.unit == "ms" else 0.0
        return max(self.room[0] * size, self.least_ms), self.room[1] * size


# fmt: off
KINDS: dict[str, Kind] = {
    kind.name: kind
    for kind in (
        Kind("lean-or-pass", "Was the small note before the beat or on it?",
             ("before the beat", "on the beat"),
             Ladder(240, 17, "ms", "from the small note to its main note"), lean_or_pass,
             "you tell a small note before the beat from one on it when {} lie between it and its main note",
             room=(2.2, 2.0)),
        Kind("heavier", "In which is the leaning note heavier against its release?",
             ("in the first", "in the second"),
             Ladder(8, 15, "dB", "more weight on the leaning note"), heavier,
             "you hear {} of lean", intervals=2, least_ms=700.0, leaning=True),
        Kind("longer", "In which is the leaning note longer?",
             ("in the first", "in the second"),
             Ladder(50, 15, "%", "more length of the leaning note"), longer,
             "you hear when a leaning note is {} longer", intervals=2, least_ms=700.0, leaning=True),
        Kind("member-or-dissonance", "Does the small note belong to the chord under it?",
             ("it belongs", "it is a dissonance"),
             Ladder(1280, 12, "ms", "of the small note over its chord"), member_or_dissonance,
             "you tell a chord note from a dissonance when the small note is held for {}", room=(1.25, 0.0)),
        Kind("which-reading", "Which way was it played?",
             ("before the beat", "on the beat and gone at once", "on the beat, leaning"),
             Ladder(240, 11, "ms", "of a small note that does not lean"), which_reading,
             "you tell the ways apart when the short ones last {}", room=(LEAN_TIMES * 1.3, 2.0)),
        Kind("trill-start", "Did the trill start from above or from its main note?",
             ("from above", "from the main note"),
             Ladder(280, 9, "ms", "for each note of the trill"), trill_start,
             "you tell how a trill starts when each of its notes lasts {}", sign="trill", room=(4.5, 0.0)),
    )
}
# fmt: on
