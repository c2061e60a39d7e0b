"""What a bar's attributes say: divisions, key, meter, transposition.

Each function takes the element, and where it stands for errors; it raises `ScoreError` for a value that cannot be.
"""

from __future__ import annotations

import re

from appui.exact import Fraction
from appui.musicxml.read.note import Element
from appui.musicxml.read.numbers import MAX_DIVISIONS, Where, decimal, integer
from appui.score.model import Meter
from appui.score.pitch import Transposition

__all__ = ["divisions_of", "key_of", "meter_of", "transposition_of"]

_MOST_BEATS, _FINEST_UNIT = 256, 1024


def divisions_of(node: Element, where: Where) -> Fraction:
    """How many divisions make a quarter note."""
    return decimal(node.text, "divisions", where, node.sourceline, Fraction(1, 1000), MAX_DIVISIONS)


def key_of(node: Element, where: Where) -> tuple[int, str, tuple[tuple[str, int], ...]]:
    """Sharps (flats below zero), mode, and the letters altered one by one where the key is printed so."""
    mode = (node.findtext("mode") or "").strip()
    steps = [(step.text or "").strip() for step in node.iterfind("key-step")]
    alters = [int(decimal(a.text, "key-alter", where, a.sourceline, -3, 3)) for a in node.iterfind("key-alter")]
    altered = tuple((s, a) for s, a in zip(steps, alters, strict=False) if s and s in "CDEFGAB")
    return integer(node.findtext("fifths") or "0", "fifths", where, node.sourceline, -14, 14), mode, altered


def meter_of(node: Element, where: Where) -> Meter | None:
    """The meter, several of them added up; `None` for bars without one."""
    if node.find("senza-misura") is not None:
        return None
    total, kind = Fraction(0), 1
    for beats, beat_type in zip(node.iterfind("beats"), node.iterfind("beat-type"), strict=False):
        numbers = re.findall(r"\d+", beats.text or "")[:16]
        kind = integer(beat_type.text, "beat-type", where, beat_type.sourceline, 1, 256)
        if not numbers or not 0 < sum(map(int, numbers)) <= _MOST_BEATS:
            raise where.error(f"a meter of {beats.text!r} beats", "correct the time signature", beats.sourceline)
        total += Fraction(sum(map(int, numbers)), kind)
    return _whole_meter(total, kind, node, where) if total else None


def _whole_meter(total: Fraction, kind: int, node: Element, where: Where) -> Meter:
    """The meter whose beats are counted in whole numbers of the largest unit that allows it."""
    while (total * kind).denominator != 1:
        kind *= 2
        if kind > _FINEST_UNIT:
            raise where.error("a meter whose parts do not fit together", "correct the time signature", node.sourceline)
    symbol = node.get("symbol", "")
    return Meter(int(total * kind), kind, symbol if symbol in ("common", "cut") else "")


def transposition_of(node: Element, where: Where) -> Transposition:
    """From written to sounding pitch."""
    line = node.sourceline
    chromatic = decimal(node.findtext("chromatic") or "0", "chromatic", where, line, -60, 60)
    octaves = integer(node.findtext("octave-change") or "0", "octave-change", where, line, -5, 5)
    text = node.findtext("diatonic")
    # diatonic may be left out: the nearest letter distance is then the natural one
    diatonic = integer(text, "diatonic", where, line, -60, 60) if text else round(chromatic * 7 / 12)
    whole = chromatic + 12 * octaves
    return Transposition(diatonic + 7 * octaves, int(whole) if whole.denominator == 1 else whole)
