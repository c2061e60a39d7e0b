"""From chord symbols to chords over a bass line of their own.

The bass is the symbol's bass or root, in the octave nearest to the bass before it. A symbol sounds until the next one;
where the file leaves more than four bars without one the accompaniment stops, as the harmony room takes it. What of a
chord must resolve: its seventh and ninth down, a fourth in the place of a third, the third of a dominant up.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence

from appui.accompany.chord import NEVER, Chord, Tone, near_pitch
from appui.exact import Fraction
from appui.harmony.kinds import NO_CHORD, symbol_places
from appui.harmony.places import letter_place
from appui.score.model import ChordSymbol, Part, Score
from appui.score.pitch import LETTERS, Pitch, alter_of

__all__ = ["BASS", "sounding_symbols", "symbol_chords"]

#  keys of the left hand's bass and where it begins
BASS = (38, 55)
_START = 46
_HELD_BARS = 4
#  letter steps above the root: cost of leaving the tone out, of doubling it, how it goes on
_ROLES: dict[int, tuple[float, float, str]] = {
    0: (8.0, 0.0, ""),
    1: (20.0, NEVER, "always"),
    2: (60.0, 4.0, ""),
    3: (60.0, NEVER, "held"),
    4: (6.0, 2.0, ""),
    5: (40.0, 20.0, ""),
    6: (60.0, NEVER, "always"),
}
_SUSPENDED_FOURTH, _MAJOR_THIRD = -1, 4


def sounding_symbols(part: Part) -> tuple[ChordSymbol, ...]:
    """A part's symbols as they sound: those of a transposing part are written for its player (common practice)."""
    return tuple(_moved(part, symbol) for symbol in part.chord_symbols)


def _moved(part: Part, symbol: ChordSymbol) -> ChordSymbol:
    transposition = part.transposition_at(symbol.onset_q)

    def move(letter: str) -> str:
        written = Pitch(letter[0], alter_of(letter), 4)
        return transposition.sounding(written).letter if letter else ""

    return symbol._replace(root=move(symbol.root), bass=symbol.bass and move(symbol.bass))


def symbol_chords(score: Score, symbols: Sequence[ChordSymbol]) -> list[Chord]:
    """The chords of the symbols, cut where the bars end; none where no chord is asked for."""
    chords: list[Chord] = []
    near = _START
    for symbol, end_q in _lasting(score, symbols):
        places = symbol_places(symbol)
        if not places or symbol.kind == NO_CHORD:
            continue
        bass_place = letter_place(symbol.bass or symbol.root)
        bass = near_pitch(bass_place, near, *BASS)
        near = (int(bass.midi) + _START) // 2
        tones = tuple(_tones(symbol, places, bass_place))
        chords += [
            Chord(start_q, stop_q, bass, tones, bass) for start_q, stop_q in _in_bars(score, symbol.onset_q, end_q)
        ]
    return chords


def _lasting(score: Score, symbols: Sequence[ChordSymbol]) -> Iterator[tuple[ChordSymbol, Fraction]]:
    # of several symbols at one moment the last one counts, as for the harmony
    ordered = list({symbol.onset_q: symbol for symbol in symbols}.values())
    for index, symbol in enumerate(ordered):
        last = score.bars[min(score.bar_at(symbol.onset_q).index + _HELD_BARS, len(score.bars) - 1)]
        until_q = last.onset_q + last.length_q
        if index + 1 < len(ordered):
            until_q = min(until_q, ordered[index + 1].onset_q)
        if symbol.onset_q < until_q:
            yield symbol, until_q


def _in_bars(score: Score, onset_q: Fraction, end_q: Fraction) -> Iterator[tuple[Fraction, Fraction]]:
    at_q = onset_q
    while at_q < end_q:
        bar = score.bar_at(at_q)
        stop_q = min(end_q, bar.onset_q + bar.length_q)
        if stop_q <= at_q:
            return
        yield at_q, stop_q
        at_q = stop_q


def _tones(symbol: ChordSymbol, places: Iterable[int], bass_place: int) -> Iterator[Tone]:
    root = letter_place(symbol.root)
    places = tuple(places)
    seventh = any((place - root) % 7 == -2 % 7 for place in places)
    for place in places:
        step = _step(place, root)
        missing, doubled, falls = _ROLES[step]
        rises = step == 2 and place - root == _MAJOR_THIRD and seventh
        if step == 3 and place - root != _SUSPENDED_FOURTH:
            falls = ""
        # an augmented sixth goes out, not down
        if place - root == 10:
            falls = ""
        if place == bass_place:
            yield Tone(place, 0.0, NEVER if rises or doubled >= NEVER else doubled + 1.0)
        else:
            yield Tone(place, missing, NEVER if rises else doubled, falls, rises)


def _step(place: int, root: int) -> int:
    """Letter steps from the root up to a place: 2 for any third."""
    letters = "FCGDAEB"
    return (LETTERS.index(letters[(place + 1) % 7]) - LETTERS.index(letters[(root + 1) % 7])) % 7
