"""Printed harmony: chord symbols and figured bass are the harmony, wherever they stand.

Chord symbols: MusicXML 4.0 `kind` values (read). Figures: the usual completions (any textbook; common practice): no
figure 3 5, 6 is 3 6, 7 is 3 5 7, 6/5 is 3 5 6, 4/3 is 3 4 6, 4/2 or 2 is 2 4 6, 4 is 4 5, 9 is 3 5 9; a lone
accidental alters the third.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

from appui.harmony.spelling import class_of, letter_of
from appui.score.model import ChordSymbol, Event, Figure, Note, Part, Score

__all__ = ["Printed", "printed_at", "printed_six_four"]

#   kind                     places on the line of fifths above the root
_KINDS: dict[str, tuple[int, ...]] = {
    "major": (0, 4, 1),
    "minor": (0, -3, 1),
    "augmented": (0, 4, 8),
    "diminished": (0, -3, -6),
    "dominant": (0, 4, 1, -2),
    "major-seventh": (0, 4, 1, 5),
    "minor-seventh": (0, -3, 1, -2),
    "diminished-seventh": (0, -3, -6, -9),
    "augmented-seventh": (0, 4, 8, -2),
    "half-diminished": (0, -3, -6, -2),
    "major-minor": (0, -3, 1, 5),
    "major-sixth": (0, 4, 1, 3),
    "minor-sixth": (0, -3, 1, 3),
    "dominant-ninth": (0, 4, 1, -2, 2),
    "major-ninth": (0, 4, 1, 5, 2),
    "minor-ninth": (0, -3, 1, -2, 2),
    "suspended-second": (0, 2, 1),
    "suspended-fourth": (0, -1, 1),
    "power": (0, 1),
    "Neapolitan": (0, 4, 1),
    "Italian": (0, 4, 10),
    "French": (0, 4, 6, 10),
    "German": (0, 4, 1, 10),
}
_SUFFIXES = {
    "major": "",
    "minor": "m",
    "dominant": "7",
    "major-seventh": "maj7",
    "minor-seventh": "m7",
    "diminished": "dim",
    "diminished-seventh": "dim7",
    "half-diminished": "m7b5",
    "augmented": "aug",
    "suspended-fourth": "sus4",
    "suspended-second": "sus2",
}
_PLACES = {"F": -1, "C": 0, "G": 1, "D": 2, "A": 3, "E": 4, "B": 5}
#  letter steps above the bass, by what is printed
_COMPLETIONS: dict[tuple[int, ...], tuple[int, ...]] = {
    (): (3, 5),
    (3,): (3, 5),
    (5,): (3, 5),
    (8,): (3, 5),
    (6,): (3, 6),
    (6, 4): (4, 6),
    (7,): (3, 5, 7),
    (6, 5): (3, 5, 6),
    (4, 3): (3, 4, 6),
    (6, 4, 3): (3, 4, 6),
    (4, 2): (2, 4, 6),
    (2,): (2, 4, 6),
    (6, 4, 2): (2, 4, 6),
    (4,): (4, 5),
    (5, 4): (4, 5),
    (9,): (3, 5, 9),
    (9, 7): (3, 5, 7, 9),
    (7, 4): (4, 5, 7),
}
_ALTERS = {
    "sharp": 1,
    "flat": -1,
    "natural": 0,
    "slash": 1,
    "double-sharp": 2,
    "flat-flat": -2,
    "sharp-sharp": 2,
    "back-slash": 1,
    "vertical": 1,
}


@dataclass(frozen=True, slots=True)
class Printed:
    """A printed chord: `fifths` its notes on the line of fifths, first the root (or the bass, for figures).

    `source` in words.
    """

    label: str
    fifths: tuple[int, ...]
    bass: int
    figure: str
    source: str

    @property
    def letters(self) -> tuple[str, ...]:
        """Its notes as letters."""
        return tuple(letter_of(fifth) for fifth in self.fifths)


def printed_at(score: Score, onset_q: Fraction) -> Printed | None:
    """The printed harmony in force at a moment, or `None`: a symbol holds until the next one, four bars at most."""
    for part in score.parts:
        symbol = _latest(part.chord_symbols, onset_q)
        if symbol is not None and _near(score, symbol.onset_q, onset_q):
            found = _of_symbol(symbol)
            if found is not None:
                return found
    for part in score.parts:
        if part.figures:
            return _figured(score, part, onset_q)
    return None


def _near(score: Score, start_q: Fraction, onset_q: Fraction) -> bool:
    # a chord symbol holds until the next one; four bars without one means the player was left alone
    return score.bar_at(onset_q).index - score.bar_at(start_q).index <= 4


def _latest(symbols: Sequence[ChordSymbol], onset_q: Fraction) -> ChordSymbol | None:
    found = None
    for symbol in symbols:
        if symbol.onset_q > onset_q:
            break
        found = symbol
    return found


def _place(letter: str) -> int:
    return _PLACES[letter[0]] + 7 * (letter.count("#") - letter[1:].count("b"))


def _of_symbol(symbol: ChordSymbol) -> Printed | None:
    gaps = _KINDS.get(symbol.kind)
    if gaps is None:
        return None
    root = _place(symbol.root)
    fifths = [root + gap for gap in gaps]
    for value, alter, kind in symbol.degrees:
        place = root + {2: 2, 3: 4, 4: -1, 5: 1, 6: 3, 7: -2, 9: 2, 11: -1, 13: 3}.get(value, 0) + 7 * alter
        if kind == "add":
            fifths.append(place)
        elif kind == "subtract":
            fifths = [f for f in fifths if f != place]
    bass = _place(symbol.bass) if symbol.bass else root
    label = symbol.root + _SUFFIXES.get(symbol.kind, f" {symbol.kind}") + (f"/{symbol.bass}" if symbol.bass else "")
    return Printed(label, tuple(fifths), bass, "", "printed chord symbol")


def _figured(score: Score, part: Part, onset_q: Fraction) -> Printed | None:
    bass = _bass_at(part, onset_q)
    if bass is None:
        return None
    event, note = bass
    figures: tuple[Figure, ...] = ()
    shift_q = Fraction(0)
    for entry in part.figures:
        if entry.onset_q > onset_q:
            break
        if entry.onset_q >= event.onset_q:
            # several figures under one note follow each other by their durations
            starts_q = entry.onset_q + (shift_q if entry.duration_q else 0)
            if starts_q <= onset_q:
                figures = entry.figures
            shift_q += entry.duration_q
    return _complete(note, figures, part, onset_q)


def _bass_at(part: Part, onset_q: Fraction) -> tuple[Event, Note] | None:
    for voice in part.voices:
        for event in voice.events:
            if event.onset_q <= onset_q < event.end_q and event.notes:
                return event, min(event.notes, key=lambda note: note.sounding.midi)
    return None


def _complete(bass: Note, figures: tuple[Figure, ...], part: Part, onset_q: Fraction) -> Printed:
    altered: dict[int, int] = {}
    printed: list[int] = []
    for figure in figures:
        number = int(match.group()) if (match := re.match(r"\d{1,2}", figure.number)) else 3
        alter = _ALTERS.get(figure.prefix, _ALTERS.get(figure.suffix))
        if match:
            printed.append(number)
        if alter is not None:
            altered[number] = alter
    numbers = tuple(sorted(printed, reverse=True))
    # what goes without saying may be printed all the same: 7 5 3 is 7
    telling = tuple(number for number in numbers if number not in (3, 5, 8))
    steps = _COMPLETIONS.get(numbers) or _COMPLETIONS.get(telling) or tuple(printed)
    key = part.key_at(onset_q)
    places = [_place(bass.sounding.letter if isinstance(bass.sounding.alter, int) else bass.sounding.step)]
    for step in steps:
        letter = "CDEFGAB"[(bass.sounding.diatonic + step - 1) % 7]
        places.append(_PLACES[letter] + 7 * altered.get(step, key.alter(letter)))
    shown = "/".join((f.prefix[:1] if f.prefix else "") + f.number for f in figures if f.number or f.prefix)
    return Printed(f"{letter_of(places[0])} {shown}".strip(), tuple(places), places[0], shown, "printed figured bass")


def printed_six_four(score: Score, printed: Printed, onset_q: Fraction) -> bool:
    """Whether a printed six-four goes on to another chord over the same bass within a bar: a cadential one may.

    Symbols have no figure; there the fifth of a triad is the bass.
    """
    bass = class_of(printed.bass)
    over_fifth = not printed.figure and len(printed.fifths) == 3 and class_of(printed.fifths[2]) == bass
    if printed.figure != "6/4" and not over_fifth:
        return False
    beat_q = score.bar_at(onset_q).meter.beat_q
    for halves in range(1, 7):
        following = printed_at(score, onset_q + halves * beat_q / 2)
        if following is None or class_of(following.bass) != bass:
            return False
        if following.letters != printed.letters:
            return True
    return False
