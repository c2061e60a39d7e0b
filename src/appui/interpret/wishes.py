"""What a player asks for, beside the score: style, plan, tempo, weights and the like."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Literal

from appui.exact import Fraction
from appui.score.words import one_of
from appui.style.situation import StrokesWish

__all__ = ["LongNotes", "Shape", "Slowing", "Timing", "Wishes"]

Shape = Literal["plain", "shaped"]
Timing = Literal["strict", "shaped"]
LongNotes = Literal["even", "swell"]
Slowing = Literal["scaled", "natural"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Wishes:
    """What the player asks for; what is left out is guessed (`solo`), the style's or the score's own.

    `takes` are ``PLACE=READING``; `tempo` is ``60%`` or beats a minute; `weight_db` goes before the style's weight.
    `slowing`: below tempo everything slower alike (``scaled``), or short graces and trills at their own speed
    (``natural``). `hold` is how many times its length a plain fermata lasts; `year` when the music is from. `chart` is
    a file of chords where the score has none; `pattern` how an accompaniment made from chords is played, ``none`` for
    no accompaniment but what is printed. `written_out_db` is the weight of leaning notes printed as full-size notes.
    `strokes` says what a stroke through the stem of a small note is worth: ``by habit`` of the print, ``as-printed`` or
    ``ignore``.
    `transpose` is the key of the instrument that the solo is written for, such as ``Bb``, where that is another than
    the score's. `shape` says whether levels are what is printed and no more (``plain``) or shaped as players shape them
    (``shaped``), `time` whether the beat is even but for what is printed (``strict``) or gives and takes (``shaped``).
    `long_notes` that ``swell`` begin and end softly, where the instrument can; else they are ``even``.

    `also` are other solos beside the first. `movement` is the number of a movement, or words that stand over it, where
    a file has several: the others are left out.
    `slow_trills`: so many notes a second in trills up to half tempo, then quicker, at full tempo as usual.

    Raises `UsageError` for a word that is none of these.
    """

    solo: str | None = None
    also: tuple[str, ...] = ()
    style: str | None = None
    plan: Path | None = None
    takes: tuple[str, ...] = ()
    tempo: str | None = None
    slowing: Slowing = "scaled"
    weight_db: Fraction | None = None
    hold: Fraction | None = None
    year: int | None = None
    chart: Path | None = None
    pattern: str = "held"
    written_out_db: Fraction | None = None
    strokes: StrokesWish = "by habit"
    transpose: str | None = None
    shape: Shape = "plain"
    time: Timing = "strict"
    long_notes: LongNotes = "even"
    movement: str | None = None
    slow_trills: Fraction | None = None

    def __post_init__(self) -> None:
        one_of(Slowing, self.slowing, "slowing")
        one_of(Shape, self.shape, "shape")
        one_of(Timing, self.time, "time")
        one_of(LongNotes, self.long_notes, "long_notes")
        one_of(StrokesWish, self.strokes, "strokes")
