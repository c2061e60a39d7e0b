"""Lengths as note values: what a player reads for an exact time.

Conventions
    Lengths are quarter notes as they look in print: a note in a triplet counts as the eighth it looks like. A slot is
    one printed note or rest; what is played in its place is a row of pieces that fill it.
    Where the pieces are plain values, thirds and their halves, or up to twelve equal notes, they are written as they
    are. Lengths that come from milliseconds have no value: the short ones are written as the nearest plain one and the
    longest piece takes the rest, or, in a trill, the run of equal notes as one tuplet. The rounding is kept beside it,
    so that a player of the file can have the exact time back (`attack` and `release` of MusicXML 4.0, read).
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import groupby
from math import lcm, log2
from typing import NamedTuple

from appui.exact import Fraction

__all__ = [
    "SHORTEST_Q",
    "Piece",
    "Tuplet",
    "Value",
    "divide",
    "is_printable",
    "look_of",
    "values_across",
    "values_of",
]

SHORTEST_Q = Fraction(1, 32)
_TYPES = {
    Fraction(32): "maxima",
    Fraction(16): "long",
    Fraction(8): "breve",
    Fraction(4): "whole",
    Fraction(2): "half",
    Fraction(1): "quarter",
    Fraction(1, 2): "eighth",
    Fraction(1, 4): "16th",
    Fraction(1, 8): "32nd",
    Fraction(1, 16): "64th",
    Fraction(1, 32): "128th",
    Fraction(1, 64): "256th",
    Fraction(1, 128): "512th",
    Fraction(1, 256): "1024th",
}
_DOTTED = {0: Fraction(1), 1: Fraction(3, 2), 2: Fraction(7, 4)}
_LONGEST_EVEN = 12
# of two values nearly as near the longer one is easier to read: 79 thousandths of a quarter note are a 32nd
_LONGER = 0.3
_RUN = 3


class Value(NamedTuple):
    """A printed note value: MusicXML type and dots; `look_q` is its length as it looks."""

    type: str
    dots: int
    look_q: Fraction


class Tuplet(NamedTuple):
    """So many notes in the time of so many of the same value."""

    actual: int
    normal: int


class Piece(NamedTuple):
    """One piece of a slot: its printed values, tied, its exact share of the slot's time, and its tuplet if any."""

    values: tuple[Value, ...]
    length_q: Fraction
    tuplet: Tuplet | None = None


_VALUES = sorted(
    (Value(name, dots, base * factor) for base, name in _TYPES.items() for dots, factor in _DOTTED.items()),
    key=lambda value: (-value.look_q, value.dots),
)


def values_of(look_q: Fraction) -> tuple[Value, ...]:
    """A length as printed values from the longest down, to be tied; raises `ValueError` where none add up to it.

    >>> [(value.type, value.dots) for value in values_of(Fraction(5, 4))]
    [('quarter', 0), ('16th', 0)]
    """
    found, left_q = [], look_q
    for value in _VALUES:
        while value.look_q <= left_q:
            found.append(value)
            left_q -= value.look_q
    if left_q or not found:
        raise ValueError(f"no note values add up to {look_q} quarter notes")
    return tuple(found)


def values_across(start_q: Fraction, length_q: Fraction, beat_q: Fraction) -> tuple[Value, ...]:
    """A length from a place in a bar as printed values: where one does not do, tied at the beat, so that it is seen.

    Raises `ValueError` as `values_of`.

    >>> [(value.type, value.dots) for value in values_across(Fraction(0), Fraction(15, 8), Fraction(1))]
    [('quarter', 0), ('eighth', 2)]
    """
    values = values_of(length_q)
    if len(values) == 1 or beat_q <= SHORTEST_Q:
        return values
    end_q = start_q + length_q
    cut_q = (start_q // beat_q + 1) * beat_q
    if cut_q >= end_q:
        return values_across(start_q, length_q, _part_of_beat(beat_q))
    if start_q % beat_q == 0:
        # from a beat on, as many whole beats as there are
        cut_q = (end_q // beat_q) * beat_q
    if cut_q == end_q:
        return values
    return (*values_across(start_q, cut_q - start_q, beat_q), *values_across(cut_q, end_q - cut_q, beat_q))


def _part_of_beat(beat_q: Fraction) -> Fraction:
    return beat_q / (3 if beat_q.numerator % 3 == 0 else 2)


def is_printable(length_q: Fraction) -> bool:
    """Whether some printed values add up to a length."""
    return length_q > 0 and (length_q / min(_TYPES)).denominator == 1


def look_of(type_name: str, dots: int) -> Fraction:
    """The length of a printed value; raises `ValueError` for a name MusicXML does not have.

    >>> look_of("quarter", 1)
    Fraction(3, 2)
    """
    base_q = next((base for base, name in _TYPES.items() if name == type_name), None)
    if base_q is None:
        raise ValueError(f"{type_name!r} is no note value")
    return base_q * (2 - Fraction(1, 2**dots))


def divide(lengths: Sequence[Fraction], *, exact: bool = False) -> tuple[Piece, ...]:
    """The pieces of a slot with these lengths, none of them 0; what they add up to must be a plain length.

    With `exact`, where the lengths are shares that somebody asked for, fifths and sevenths are written as such too.
    Raises `ValueError` where it is not, or where there are more pieces than the shortest value allows.

    >>> [piece.tuplet for piece in divide([Fraction(2, 3), Fraction(1, 3)])]
    [Tuplet(actual=3, normal=2), Tuplet(actual=3, normal=2)]
    """
    whole_q = sum(lengths, Fraction(0))
    if not _plain(whole_q):
        raise ValueError(f"{whole_q} quarter notes are no length to print")
    if all(_plain(length) and length >= SHORTEST_Q / 2 for length in lengths):
        return tuple(Piece(values_of(length), length) for length in lengths)
    parts = lcm(*((length / whole_q).denominator for length in lengths))
    if parts <= _LONGEST_EVEN and (exact or parts % 3 == 0 or len(set(lengths)) == 1):
        return tuple(_even(lengths, whole_q, parts))
    return _rounded(lengths, whole_q)


def _plain(length: Fraction) -> bool:
    """Whether a length is made of halves and doubles of a quarter note."""
    return length.denominator & (length.denominator - 1) == 0


def _normal(whole_q: Fraction, parts: int) -> int:
    """In the time of how many plain values so many equal parts of a length are written: as many as fit in."""
    odd = whole_q.numerator
    while odd % 2 == 0:
        odd //= 2
    normal = odd
    while normal * 2 <= parts:
        normal *= 2
    return normal


def _even(lengths: Sequence[Fraction], whole_q: Fraction, parts: int) -> Iterator[Piece]:
    normal = _normal(whole_q, parts)
    for length in lengths:
        share = length / whole_q * parts
        yield Piece(values_of(share * whole_q / normal), length, Tuplet(parts, normal))


# lengths that come from milliseconds


def _nearest(length: Fraction, finer: int) -> Fraction:
    """The plain value nearest to a length, the longer one in doubt, so many halvings finer."""
    power = round(log2(length) + _LONGER) - finer
    return max(Fraction(2) ** power, SHORTEST_Q / 4)


def _rounded(lengths: Sequence[Fraction], whole_q: Fraction) -> tuple[Piece, ...]:
    runs = [list(group) for _, group in groupby(range(len(lengths)), key=lambda index: lengths[index])]
    longest = max(range(len(lengths)), key=lambda index: (lengths[index], -index))
    run = max(runs, key=len)
    if len(run) >= _RUN and (longest in run or len(run) * lengths[run[0]] > whole_q / 2):
        return _run_takes_the_rest(lengths, whole_q, run)
    return _one_takes_the_rest(lengths, whole_q, longest)


def _one_takes_the_rest(lengths: Sequence[Fraction], whole_q: Fraction, longest: int) -> tuple[Piece, ...]:
    for finer in range(8):
        new = [_nearest(length, finer) for length in lengths]
        new[longest] += whole_q - sum(new)
        if new[longest] >= max((length for index, length in enumerate(new) if index != longest), default=SHORTEST_Q):
            return tuple(Piece(values_of(length), length) for length in new)
    raise ValueError(f"{len(lengths)} pieces are too many for {whole_q} quarter notes")


def _run_takes_the_rest(lengths: Sequence[Fraction], whole_q: Fraction, run: Sequence[int]) -> tuple[Piece, ...]:
    """Notes beside the run as plain values, of those near their length the ones that leave it the plainest room."""
    best: tuple[tuple[bool, int, int], list[Fraction], Fraction] | None = None
    for coarser in (0, -1, 1, 2):
        new = [_nearest(length, coarser) for length in lengths]
        room_q = whole_q - sum(length for index, length in enumerate(new) if index not in run)
        if room_q <= 0:
            continue
        odd = (room_q / len(run)).denominator
        rank = (not _plain(room_q / len(run)), odd, abs(coarser))
        if best is None or rank < best[0]:
            best = rank, new, room_q
    if best is None:
        raise ValueError(f"{len(lengths)} pieces are too many for {whole_q} quarter notes")
    _, new, room_q = best
    each_q = room_q / len(run)
    if _plain(each_q):
        return tuple(
            Piece(values_of(each_q if index in run else length), each_q if index in run else length)
            for index, length in enumerate(new)
        )
    tuplet = Tuplet(len(run), _normal(room_q, len(run)))
    inside = Piece(values_of(room_q / tuplet.normal), each_q, tuplet)
    return tuple(inside if index in run else Piece(values_of(length), length) for index, length in enumerate(new))
