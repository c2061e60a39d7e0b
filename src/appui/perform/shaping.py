"""Levels shaped as pianists were measured to shape them: what each tone is the sum of.

A tone takes the terms of the printed note it comes from (`terms`), an ornament's notes those of their main note; on top
come accents, what its role weighs, and for leaning notes the sigh. The piece as a whole stands where its marks put it:
the terms are counted from the mean of all its notes, whatever bars or parts are played, so that excerpts agree.
"""

from __future__ import annotations

from collections.abc import Container, Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property

from appui.exact import Fraction
from appui.perform.breath import breathes, breaths_of
from appui.perform.instruments import program_of
from appui.perform.sheet import Sheet
from appui.perform.sigh import HELD_RELEASE, LEAST_S, LONGEST_RELEASE_S, TAUGHT_DB, sigh_db
from appui.perform.tempo import Clock
from appui.perform.terms import base_db, term_levels
from appui.realize.contract import Tone
from appui.score.model import Part

__all__ = ["Shaping", "Sigh", "Terms", "sighs_of"]

Terms = tuple[tuple[str, float], ...]
#  what is less than a hundredth of a decibel is not told
_LEAST_DB = 0.005
#  roles of tones that a note ends with, where it ends with nothing quick
_ENDING = frozenset({"plain", "main", "release"})


@dataclass(frozen=True, eq=False)
class Shaping:
    """What shapes the levels of one score.

    `written_out` are leaning notes printed full size: part, onset and pitch of each, with those of its release.
    """

    sheet: Sheet
    written_out: Mapping[tuple[int, Fraction, float], tuple[Fraction, float]] = field(default_factory=dict)
    _breaths: dict[int, frozenset[Fraction]] = field(default_factory=dict)

    @cached_property
    def _base(self) -> tuple[str, float]:
        return "base", round(base_db(self.sheet), 3)

    @cached_property
    def _terms(self) -> tuple[Terms, ...]:
        """The terms of each row."""
        columns = {name: column.tolist() for name, column in term_levels(self.sheet).items()}
        return tuple(
            (self._base, *((name, round(db, 3)) for name, db in zip(columns, row, strict=True) if abs(db) > _LEAST_DB))
            for row in zip(*columns.values(), strict=True)
        )

    def breathes_after(self, part: Part, tone: Tone) -> bool:
        """Whether a wind player or singer breathes after a tone where no rest lets them."""
        if tone.role not in _ENDING or not breathes(program_of(part)):
            return False
        if part.index not in self._breaths:
            self._breaths[part.index] = breaths_of(self.sheet, part.index)
        return tone.printed_q in self._breaths[part.index]

    def terms(self, part: int, tone: Tone) -> Terms:
        """What the printed note behind a tone adds up to, the piece's own level first."""
        note = tone.note or tone.event.top
        row = self.sheet.row_of(part, tone.printed_q, float(note.sounding.midi))
        if row is not None:
            return self._terms[row]
        return (self._base,)


@dataclass(frozen=True, slots=True)
class Sigh:
    """What a tone adds for being a leaning note or its release, and the share of its length it is held."""

    level_db: float
    held: float = 1.0


def sighs_of(
    tones: Sequence[Tone], part: int, shaping: Shaping, clock: Clock, asked: Container[str], style_db: float
) -> dict[int, Sigh]:
    """The sighs of a part by the index of the tone; places in `asked` have a weight of their own."""
    found: dict[int, Sigh] = {}
    scale = style_db / TAUGHT_DB
    starts = {tone.onset_q for tone in tones}
    for lean, release in (*_realized(tones, asked), *_printed(tones, part, shaping)):
        first = clock.seconds(tones[lean].onset_q)
        begin, end = clock.span(tones[release].onset_q, tones[release].duration_q)
        ends = not tones[release].event.slur_on or tones[release].end_q not in starts
        weight = scale * sigh_db(begin - first, ends=ends)
        short = ends and begin - first >= LEAST_S and end - begin <= LONGEST_RELEASE_S
        found[lean] = Sigh(weight / 2)
        found[release] = Sigh(-weight / 2, HELD_RELEASE if short else 1.0)
    return found


def _realized(tones: Sequence[Tone], asked: Container[str]) -> list[tuple[int, int]]:
    """Leaning notes made of small notes, with their releases; those that swell have another shape."""
    heads: dict[tuple[str, Fraction], list[int]] = {}
    pairs = []
    for index, tone in enumerate(tones):
        if tone.sign is None or tone.sign in asked:
            continue
        if tone.role == "lean" and tone.level_db and not tone.swell_db:
            heads.setdefault((tone.sign, tone.printed_q), []).append(index)
        elif tone.role == "release":
            pairs += [(lean, index) for lean in heads.pop((tone.sign, tone.printed_q), ())]
    return pairs


def _printed(tones: Sequence[Tone], part: int, shaping: Shaping) -> list[tuple[int, int]]:
    """Leaning notes printed full size, with their releases, where both are played as printed."""
    here = {key[1:]: release for key, release in shaping.written_out.items() if key[0] == part}
    if not here:
        return []
    plain = [(index, tone) for index, tone in enumerate(tones) if tone.role == "plain"]
    begins = {(tone.onset_q, tone.printed_q, float(tone.pitch.midi)): index for index, tone in plain}
    pairs = []
    for index, tone in plain:
        release = here.get((tone.printed_q, float(tone.pitch.midi)))
        other = begins.get((tone.end_q, *release)) if release is not None else None
        if other is not None:
            pairs.append((index, other))
    return pairs
