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

import random
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

from appui.drill.ladder import Ladder
from appui.drill.phrase import Phrase, Setting, signed
from appui.exact import Fraction
from appui.perform.levels import db_of, velocity_of
from appui.perform.model import Performance, PerformedNote, PerformedPart
from appui.score.words import ReadingName
from appui.style.reading import Reading

__all__ = ["CATCH", "KINDS", "Kind", "LEAN_TIMES", "Ask", "weight_db"]

#: the answer of a trial whose intervals are equal
CATCH = -1


@dataclass(frozen=True)
class Ask:
    """What one trial is made of: its chance, its setting, its level, the answer (from 0) that is to be right."""

    chance: random.Random
    setting: Setting
    level: float
    answer: int


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
        return self.take is _member

    def fits(self, phrase: Phrase, answer: int) -> bool:
        """Whether a phrase can be asked about so that this answer is right."""
        if self.told_by_harmony:
            return phrase.member is (answer == 0)
        return not (self.leaning and phrase.member)

    def needed_ms(self, level: float) -> tuple[float, float]:
        """The least lengths of main note and note before at a level."""
        size = level if self.ladder.unit == "ms" else 0.0
        return max(self.room[0] * size, self.least_ms), self.room[1] * size


# how the answers are made to sound


def _ms(name: ReadingName, ms: float) -> Reading:
    return Reading(name, (("ms", Fraction(ms).limit_denominator(1000)),))


def _leaning(share: float) -> Reading:
    return Reading("leaning", (("share", Fraction(share).limit_denominator(10_000)),))


def _leaning_ms(ask: Ask, ms: float) -> Reading:
    return _leaning(min(ms / ask.setting.main_ms, 0.95))


def _lean_or_pass(ask: Ask) -> tuple[Performance, ...]:
    return (_roved(ask, _ms(("before", "short")[ask.answer], ask.level)),)


def _which_reading(ask: Ask) -> tuple[Performance, ...]:
    if ask.answer == 2:
        return (_roved(ask, _leaning_ms(ask, LEAN_TIMES * ask.level)),)
    return _lean_or_pass(ask)


def _member(ask: Ask) -> tuple[Performance, ...]:
    return (_roved(ask, _leaning_ms(ask, ask.level)),)


def _trill_start(ask: Ask) -> tuple[Performance, ...]:
    start, setting = ("upper", "main")[ask.answer], ask.setting
    count = _notes_of_trill(ask, setting.main_ms / ask.level)
    # the tempo gives way, so that its notes are as long as the level says
    main_s = setting.phrase.main.duration_q * 60 / setting.phrase.qpm
    asked_s = count * Fraction(ask.level).limit_denominator(1000) / 1000
    setting = replace(setting, factor=main_s / asked_s)
    performance = setting.perform(Reading("trill").with_sizes(start=start, rate=count / asked_s))
    solo = next(part for part in performance.parts if part.solo)
    trilled = [note for note in solo.notes if note.sign == setting.phrase.sign.place]
    return (_at_level(performance, dict.fromkeys(trilled, ask.chance.choice(_LOUD))),)


def _notes_of_trill(ask: Ask, room: float) -> int:
    """A count of notes near `room`: even from above, odd from the main note, on an average over chance `room` itself.

    So neither the count nor the length of a trill tells how it starts.
    """
    below = int(room)
    below -= (below - ask.answer) % 2
    return below + 2 * (ask.chance.random() < (room - below) / 2)


def _heavier(ask: Ask) -> tuple[Performance, ...]:
    share = ask.chance.choice((Fraction(1, 2), Fraction(3, 5)))
    performance = ask.setting.perform(Reading("leaning", (("share", share),)))
    light_db = ask.chance.uniform(0.0, 2.0)
    light = _pairs(light_db)
    drawn = _equal(ask, light) if ask.answer == CATCH else _closest(ask, light, _pairs(light_db + ask.level))
    # a heavier note makes its interval a little peakier at equal loudness; the others' levels hide that
    return tuple(_weighed(ask, performance, pair, ask.chance.uniform(-_HIDE_DB, _HIDE_DB)) for pair in drawn)


def _longer(ask: Ask) -> tuple[Performance, ...]:
    # half, two thirds, or the small note's printed value
    phrase = ask.setting.phrase
    written = float((phrase.sign.small[0].value_q or Fraction(1, 2)) / phrase.main.duration_q)
    standard = ask.chance.choice((0.5, 2 / 3, min(max(written, 0.2), 0.5)))
    other = standard / (1 + ask.level / 100) if standard > 0.6 else standard * (1 + ask.level / 100)
    shares = sorted((standard, standard if ask.answer == CATCH else other))
    if ask.answer == 0:
        shares.reverse()
    weight_db = ask.chance.uniform(0.0, 4.0)
    return tuple(
        _weighed(ask, ask.setting.perform(_leaning(share)), ask.chance.choice(_pairs(weight_db))) for share in shares
    )


#  the third reading is a leaning note so many times as long as the short ones
LEAN_TIMES = 2.5
#  velocities the louder of small and main note is drawn from: 5 dB
_LOUD = range(84, 113)
_NEAR_DB = 0.05
#  how far the other notes of an interval rove, either way
_HIDE_DB = 2.0


def _pairs(weight_db: float) -> list[tuple[int, int]]:
    """Velocities (small, main) that stand so far apart, to 0.05 dB or the nearest; the louder is in `_LOUD`."""
    found = []
    for loud in _LOUD:
        soft = velocity_of(db_of(loud) - abs(weight_db))
        found.append((abs(db_of(loud) - db_of(soft) - abs(weight_db)), loud, soft))
    found.sort()
    kept = [each for each in found if each[0] <= _NEAR_DB] if found[5][0] <= _NEAR_DB else found[:6]
    return [(loud, soft) if weight_db >= 0 else (soft, loud) for _, loud, soft in kept]


def _equal(ask: Ask, light: Sequence[tuple[int, int]]) -> tuple[tuple[int, int], tuple[int, int]]:
    """Two pairs that stand as far apart, mostly not at the same level."""
    first = ask.chance.choice(light)
    return first, ask.chance.choice([pair for pair in light if abs(weight_db(*pair) - weight_db(*first)) <= _NEAR_DB])


def _closest(
    ask: Ask, light: Sequence[tuple[int, int]], heavy: Sequence[tuple[int, int]]
) -> tuple[tuple[int, int], tuple[int, int]]:
    """A light and a heavy pair whose difference is the level, in the order of the answer: one of the nearest tenth."""
    both = [(one, other) for one in light for other in heavy]
    both.sort(key=lambda pair: abs(weight_db(*pair[1]) - weight_db(*pair[0]) - ask.level))
    one, other = ask.chance.choice(both[: max(len(both) // 4, 6)])
    return (other, one) if ask.answer == 0 else (one, other)


def weight_db(small: int, main: int) -> float:
    """How much louder the small note is than the main note, from their velocities.

    >>> round(weight_db(90, 64), 1)
    5.9
    """
    return db_of(small) - db_of(main)


def _roved(ask: Ask, reading: Reading) -> Performance:
    """The reading with levels of small and main note that tell nothing."""
    return _weighed(ask, ask.setting.perform(reading), ask.chance.choice(_pairs(ask.chance.uniform(-2.0, 2.0))))


def _weighed(ask: Ask, performance: Performance, velocities: tuple[int, int], others_db: float = 0.0) -> Performance:
    pair = signed(performance, ask.setting.phrase.sign)
    return _at_level(performance, dict(zip(pair, velocities, strict=True)), others_db)


#  the solo's own level where the phrase is printed softer or louder, and how far the others stand back
_SOLO_VELOCITY, _BACK = 92, 0.8


def _at_level(performance: Performance, levels: dict[PerformedNote, int], others_db: float = 0.0) -> Performance:
    """Some notes at velocities of their own; the others as printed, but raised so that the solo is not lost."""
    solo = next(part for part in performance.parts if part.solo)
    plain = [note.velocity for note in solo.notes if note not in levels] or [_SOLO_VELOCITY]
    raised = _SOLO_VELOCITY / (sum(plain) / len(plain)) * float(10 ** (others_db / 40))
    parts = []
    for part in performance.parts:
        factor = raised if part.solo else raised * _BACK
        parts.append(_at_factor(part, factor, levels if part.solo else {}))
    return replace(performance, parts=tuple(parts))


def _at_factor(part: PerformedPart, factor: float, levels: dict[PerformedNote, int]) -> PerformedPart:
    notes = (n._replace(velocity=levels.get(n) or min(max(round(n.velocity * factor), 1), 127)) for n in part.notes)
    return replace(part, notes=tuple(notes))


# fmt: off
KINDS: dict[str, Kind] = {
    kind.name: kind
    for kind in (
        Kind("lean-or-pass", "Was the small note before the beat or on it?",
             ("before the beat", "on the beat"),
             Ladder(240, 17, "ms", "from the small note to its main note"), _lean_or_pass,
             "you tell a small note before the beat from one on it when {} lie between it and its main note",
             room=(2.2, 2.0)),
        Kind("heavier", "In which is the leaning note heavier against its release?",
             ("in the first", "in the second"),
             Ladder(8, 15, "dB", "more weight on the leaning note"), _heavier,
             "you hear {} of lean", intervals=2, least_ms=700.0, leaning=True),
        Kind("longer", "In which is the leaning note longer?",
             ("in the first", "in the second"),
             Ladder(50, 15, "%", "more length of the leaning note"), _longer,
             "you hear when a leaning note is {} longer", intervals=2, least_ms=700.0, leaning=True),
        Kind("member-or-dissonance", "Does the small note belong to the chord under it?",
             ("it belongs", "it is a dissonance"),
             Ladder(1280, 12, "ms", "of the small note over its chord"), _member,
             "you tell a chord note from a dissonance when the small note is held for {}", room=(1.25, 0.0)),
        Kind("which-reading", "Which way was it played?",
             ("before the beat", "on the beat and gone at once", "on the beat, leaning"),
             Ladder(240, 11, "ms", "of a small note that does not lean"), _which_reading,
             "you tell the ways apart when the short ones last {}", room=(LEAN_TIMES * 1.3, 2.0)),
        Kind("trill-start", "Did the trill start from above or from its main note?",
             ("from above", "from the main note"),
             Ladder(280, 9, "ms", "for each note of the trill"), _trill_start,
             "you tell how a trill starts when each of its notes lasts {}", sign="trill", room=(4.5, 0.0)),
    )
}
# fmt: on
