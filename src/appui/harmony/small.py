"""The chance of each small note of a sign to belong to the chord: chord, line and chords ranked anew, weighed together.

What the chord says alone (`belonging`), over a thin chord the facts of the line (`facts`), and the chords ranked anew
with the line beside them (`ranking`): their log-odds are averaged. Over a thin chord the line and the ranking count
half each; where more sounds, the chord counts most and the ranking the rest. Where nothing of the moment is heard
(`Membership.certainty` below 1), and for after-notes, the chord alone decides.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from appui.exact import Fraction
from appui.harmony.analyse import Harmony
from appui.harmony.belonging import Membership, belonging
from appui.harmony.facts import LEANS, Facts, facts_of, is_heard, is_thin, reason_of, weighed
from appui.harmony.ranking import Table, decided_by, place_of, ranked, small_table, table_of
from appui.harmony.segment import members_table
from appui.score.pitch import Pitch
from appui.score.signs import Sign

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

__all__ = ["Asked", "Judged", "asked", "judge_small", "mixed"]

_EVEN = 0.5
#  what the ranking counts of the whole: over a thin chord beside the line, else beside the chord
_SHARE_THIN, _SHARE_FULL = 0.5, 0.3
_SUREST = 0.997


class Asked(NamedTuple):
    """One small note as it is asked: its chance by the chord alone, its facts, whether the chord is thin, its tables.

    `tables` are those of its place and of itself, empty where the chord alone decides.
    """

    pitch: Pitch
    by_chord: float
    facts: Facts | None
    thin: bool
    tables: tuple[Table, ...] = ()

    @property
    def by_line(self) -> float:
        """Its chance before the chords are ranked: by the line over a thin chord, else by the chord."""
        return weighed(self.facts) if self.thin and self.facts is not None else self.by_chord


class Judged(NamedTuple):
    """The chances of all small notes of a sign to belong to the chord, one for each note of each struck together.

    `chords` is the chance of every chord as ranked for the first of them, `None` where they were not. `why` says what
    decided where the chord alone was overturned for it; `main_leans` whether it was that the main note leans itself.
    """

    chances: tuple[tuple[float, ...], ...]
    chords: Floats | None = None
    why: str = ""
    main_leans: bool = False


def asked(harmony: Harmony, sign: Sign, known: Membership, bass: int | None, moment_q: Fraction) -> list[list[Asked]]:
    """The small notes of a sign with all that is weighed; `bass` is a number in the texture."""
    inside, score = belonging(known, harmony.parameters), harmony.score
    if not is_heard(sign, known):
        return [[Asked(pitch, _of(inside, pitch), None, False) for pitch in small.sounding] for small in sign.small]
    place, thin = place_of(harmony, sign, known, bass, moment_q), is_thin(score, sign, known)
    below, around = harmony.below(sign, bass), table_of(harmony, sign, place)
    found = []
    for index, small in enumerate(sign.small):
        facts = [facts_of(score, sign, index, pitch, known, below) for pitch in small.sounding]
        found.append(
            [
                Asked(pitch, _of(inside, pitch), fact, thin, (around, small_table(place, sign, index, pitch, fact)))
                for pitch, fact in zip(small.sounding, facts, strict=True)
            ]
        )
    return found


def mixed(by_line: float, by_rank: float, *, thin: bool) -> float:
    """The chance of both together: their log-odds averaged."""
    share = _SHARE_THIN if thin else _SHARE_FULL
    total = (1 - share) * _log_odds(by_line) + share * _log_odds(by_rank)
    return float(1 / (1 + np.exp(-total)))


def judge_small(
    harmony: Harmony, sign: Sign, known: Membership, bass: int | None, moment_q: Fraction, alone: Floats
) -> Judged:
    """The chances of the small notes of a sign; `alone` is the chance of every chord before they are ranked."""
    found = asked(harmony, sign, known, bass, moment_q)
    if not found or not found[0][0].tables:
        return Judged(tuple(tuple(each.by_chord for each in struck) for struck in found))
    chords = [[ranked(*each.tables) for each in struck] for struck in found]
    chances = tuple(
        tuple(_chance(each, chord) for each, chord in zip(struck, ranks, strict=True))
        for struck, ranks in zip(found, chords, strict=True)
    )
    least = min(range(len(found[0])), key=lambda place: chances[0][place])
    why = _why(found[0][least], chords[0][least], chances[0][least], int(alone.argmax()))
    return Judged(chances, chords[0][least], why, why == LEANS)


def _chance(each: Asked, chords: Floats) -> float:
    return mixed(each.by_line, _of(chords @ members_table(), each.pitch), thin=each.thin)


def _why(each: Asked, chords: Floats, chance: float, alone: int) -> str:
    """What decided, in words, where the chord alone says otherwise; else nothing."""
    member = chance >= _EVEN
    if member == (each.by_chord >= _EVEN):
        return ""
    by_rank = _of(chords @ members_table(), each.pitch)
    louder = abs(_log_odds(each.by_line)) >= abs(_log_odds(by_rank))
    if each.facts is not None and (each.by_line >= _EVEN) == member and ((by_rank >= _EVEN) != member or louder):
        return reason_of(each.facts, each.by_chord)
    fits = members_table()[:, round(each.pitch.midi) % 12] == member
    return decided_by(int(np.where(fits, chords, -1.0).argmax()), alone, *each.tables)


def _of(chances: Floats, pitch: Pitch) -> float:
    return float(chances[round(pitch.midi) % 12])


def _log_odds(chance: float) -> float:
    held = min(max(chance, 1 - _SUREST), _SUREST)
    return float(np.log(held / (1 - held)))
