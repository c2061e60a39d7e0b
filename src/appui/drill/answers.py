"""How the answers of each kind of drill are made to sound: the intervals of one trial, performed."""

from __future__ import annotations

import random
from collections.abc import Sequence
from dataclasses import dataclass, replace

from appui.drill.phrase import Setting, signed
from appui.exact import Fraction
from appui.perform.levels import db_of, velocity_of
from appui.perform.model import Performance, PerformedNote, PerformedPart
from appui.score.words import ReadingName
from appui.style.reading import Reading

__all__ = [
    "Ask",
    "CATCH",
    "LEAN_TIMES",
    "heavier",
    "lean_or_pass",
    "longer",
    "member_or_dissonance",
    "trill_start",
    "weight_db",
    "which_reading",
]

#: the answer of a trial whose intervals are equal
CATCH = -1


@dataclass(frozen=True)
class Ask:
    """What one trial is made of: its chance, its setting, its level, the answer (from 0) that is to be right."""

    chance: random.Random
    setting: Setting
    level: float
    answer: int


def _ms(name: ReadingName, ms: float) -> Reading:
    return Reading(name, (("ms", Fraction(ms).limit_denominator(1000)),))


def _leaning(share: float) -> Reading:
    return Reading("leaning", (("share", Fraction(share).limit_denominator(10_000)),))


def _leaning_ms(ask: Ask, ms: float) -> Reading:
    return _leaning(min(ms / ask.setting.main_ms, 0.95))


def lean_or_pass(ask: Ask) -> tuple[Performance, ...]:
    """Before the beat, or short on it."""
    return (_roved(ask, _ms(("before", "short")[ask.answer], ask.level)),)


def which_reading(ask: Ask) -> tuple[Performance, ...]:
    """Before the beat, short on it, or leaning some time longer."""
    if ask.answer == 2:
        return (_roved(ask, _leaning_ms(ask, LEAN_TIMES * ask.level)),)
    return lean_or_pass(ask)


def member_or_dissonance(ask: Ask) -> tuple[Performance, ...]:
    """The small note on the beat, for as long as the level says."""
    return (_roved(ask, _leaning_ms(ask, ask.level)),)


def trill_start(ask: Ask) -> tuple[Performance, ...]:
    """A trill from above, or from its main note."""
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


def heavier(ask: Ask) -> tuple[Performance, ...]:
    """Twice the same leaning note, in one interval heavier against its release."""
    share = ask.chance.choice((Fraction(1, 2), Fraction(3, 5)))
    performance = ask.setting.perform(Reading("leaning", (("share", share),)))
    light_db = ask.chance.uniform(0.0, 2.0)
    light = _pairs(light_db)
    drawn = _equal(ask, light) if ask.answer == CATCH else _closest(ask, light, _pairs(light_db + ask.level))
    # a heavier note makes its interval a little peakier at equal loudness; the others' levels hide that
    return tuple(_weighed(ask, performance, pair, ask.chance.uniform(-_HIDE_DB, _HIDE_DB)) for pair in drawn)


def longer(ask: Ask) -> tuple[Performance, ...]:
    """Twice a leaning note, in one interval longer."""
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
