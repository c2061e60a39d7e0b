"""The added part: spans of notes become events on two staves, cut at barlines and into values that can be printed.

A span cut in two is tied. The right hand is voice ``1`` on staff 1, the left hand voice ``2`` on staff 2; where a hand
has nothing to play it rests. Notes carry no small notes and no signs: nothing in the part is left open.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from typing import NamedTuple

from appui.exact import Fraction
from appui.musicxml.read.note import NOTE_VALUES
from appui.score.model import Bar, ChordSymbol, Event, FiguredBass, Key, Note, Part, Score, Voice
from appui.score.pitch import Pitch

__all__ = ["INSTRUMENTS", "PART_ID", "Span", "keyboard_part", "printed_value", "sounding_keys"]

#  who plays: part name, MusicXML sound, General MIDI program on the wire (0..127)
INSTRUMENTS: dict[str, tuple[str, str, int]] = {
    "harpsichord": ("Harpsichord (added)", "keyboard.harpsichord", 6),
    "organ": ("Organ (added)", "keyboard.organ", 19),
    "pianoforte": ("Pianoforte (added)", "keyboard.piano", 0),
}
PART_ID = "ADDED"
_VALUES = {value: name for name, value in NOTE_VALUES.items() if value <= 8}


class Span(NamedTuple):
    """Notes struck together and held from an onset to an end, printed quarter notes."""

    onset_q: Fraction
    end_q: Fraction
    pitches: tuple[Pitch, ...]


def printed_value(duration_q: Fraction) -> tuple[str, int, Fraction] | None:
    """Type, dots and tuplet factor of a note value; `None` where no single note has it.

    >>> printed_value(Fraction(3, 2)), printed_value(Fraction(1, 3))
    (('quarter', 1, Fraction(1, 1)), ('eighth', 0, Fraction(2, 3)))
    """
    for tuplet in (Fraction(1), Fraction(2, 3)):
        for dots in (0, 1):
            plain = duration_q / tuplet / (2 - Fraction(1, 2**dots))
            if plain in _VALUES:
                return _VALUES[plain], dots, tuplet
    return None


def keyboard_part(
    score: Score,
    instrument: str,
    upper: Sequence[Span],
    lower: Sequence[Span],
    *,
    source: Part,
    symbols: tuple[ChordSymbol, ...] = (),
    figures: tuple[FiguredBass, ...] = (),
) -> Part:
    """The part, to stand last in the score; `source` lends its dynamics. Symbols and figures are written with it."""
    name, sound, program = INSTRUMENTS[instrument]
    return Part(
        index=len(score.parts),
        id=PART_ID,
        name=name,
        voices=(
            Voice("1", tuple(_events(score, upper, staff=1))),
            Voice("2", tuple(_events(score, lower, staff=2))),
        ),
        keys=sounding_keys(score),
        dynamics=tuple(dynamic._replace(staff=None) for dynamic in source.dynamics),
        hairpins=tuple(hairpin._replace(staff=None) for hairpin in source.hairpins),
        chord_symbols=symbols,
        figures=figures,
        staves=2,
        instrument=sound,
        program=program,
        bar_numbers=tuple(bar.number for bar in score.bars),
    )


def sounding_keys(score: Score) -> tuple[Key, ...]:
    """The key signatures as they sound: those of a part that does not transpose, else a transposing part's moved."""
    plain = next((part for part in score.parts if part.keys and not _transposes(part)), None)
    if plain is not None:
        return plain.keys
    part = next((part for part in score.parts if part.keys), None)
    if part is None:
        return ()
    return tuple(key._replace(fifths=key.fifths + part.transposition_at(key.onset_q).fifths) for key in part.keys)


def _transposes(part: Part) -> bool:
    return any(transposition.fifths for _, transposition in part.transpositions)


def _events(score: Score, spans: Iterable[Span], staff: int) -> Iterator[Event]:
    at_q = Fraction(0)
    for span in spans:
        yield from _pieces(score, Span(at_q, span.onset_q, ()), staff)
        yield from _pieces(score, span, staff)
        at_q = span.end_q
    yield from _pieces(score, Span(at_q, score.length_q, ()), staff)


def _pieces(score: Score, span: Span, staff: int) -> Iterator[Event]:
    cuts = [(bar, piece) for bar, start, end in _bars(score, span) for piece in _values(start, end)]
    for index, (bar, (onset_q, duration_q)) in enumerate(cuts):
        value = printed_value(duration_q)
        name, dots, tuplet = value or (None, 0, Fraction(1))
        notes = tuple(
            Note(pitch, pitch, tied_on=index + 1 < len(cuts), tied_back=index > 0, staff=staff)
            for pitch in span.pitches
        )
        yield Event(onset_q, duration_q, bar.index, notes, name, dots, tuplet)


def _bars(score: Score, span: Span) -> Iterator[tuple[Bar, Fraction, Fraction]]:
    at_q = span.onset_q
    while at_q < span.end_q:
        bar = score.bar_at(at_q)
        end_q = min(span.end_q, bar.onset_q + bar.length_q)
        if end_q <= at_q:
            return
        yield bar, at_q, end_q
        at_q = end_q


def _values(start_q: Fraction, end_q: Fraction) -> Iterator[tuple[Fraction, Fraction]]:
    """Pieces with printable values, longest first; what no value fits stays whole."""
    at_q = start_q
    while at_q < end_q:
        rest_q = end_q - at_q
        piece = rest_q if printed_value(rest_q) else max((v for v in _VALUES if v <= rest_q), default=rest_q)
        if rest_q.denominator & (rest_q.denominator - 1):
            piece = rest_q
        yield at_q, piece
        at_q += piece
