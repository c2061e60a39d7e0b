"""The whole way: a score with figures, chord symbols or a chart, and no accompaniment, gets one as its last part.

Everything after this room then works as with a printed accompaniment. What is added is named as such in its part's name
and in a notice of the score.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import replace

from appui.accompany.chart import Chart, with_chart
from appui.accompany.continuo import bass_notes, continuo_chords
from appui.accompany.keyboard import INSTRUMENTS, PART_ID, Span, keyboard_part
from appui.accompany.patterns import PATTERNS, play
from appui.accompany.symbols import sounding_symbols, symbol_chords
from appui.accompany.voicing import voice_chords
from appui.errors import UsageError
from appui.score.model import ChordSymbol, Notice, Part, Score
from appui.score.signs import find_signs
from appui.score.solo import guess_solo

__all__ = ["accompanied", "with_continuo", "with_sounding_symbols", "with_symbols"]

#  a part is an accompaniment if it has chords at this share of its strokes, or if this many parts besides the solo play
_CHORDAL = 0.25
_FULL = 3


def accompanied(
    score: Score,
    *,
    pattern: str = "held",
    chart: Chart | None = None,
    instrument: str | None = None,
    solo: Part | None = None,
) -> Score:
    """The score with an accompaniment, where it has figures, symbols or a chart and none of its own.

    `pattern` is a name in `patterns.PATTERNS` and shapes what is played from symbols; figures are played as plain
    chords. `instrument` is one in `keyboard.INSTRUMENTS`: by default a harpsichord for figures, else a pianoforte.
    Symbols of transposing parts become sounding ones in any case, and a chart takes their place. Raises `UsageError`
    for a pattern or an instrument there is not. A score that has its added part already is given back.
    """
    _check("pattern", pattern, PATTERNS)
    _check("instrument", instrument or "organ", INSTRUMENTS)
    if any(part.id == PART_ID for part in score.parts):
        return score
    score = with_chart(score, chart) if chart else with_sounding_symbols(score)
    melody = solo or guess_solo(score, find_signs(score))
    others = [part for part in score.parts if part.index != melody.index and _plays(part)]
    if any(_chordal(part) for part in others):
        return score
    symbols = next((part.chord_symbols for part in score.parts if part.chord_symbols), ())
    if symbols and len(others) < _FULL:
        return _heard(with_symbols(score, symbols, pattern, instrument or "pianoforte", melody), score)
    figured = next((part for part in score.parts if part.figures), None)
    if figured is not None and not symbols:
        return _heard(with_continuo(score, figured, instrument or "harpsichord"), score)
    return score


def _heard(made: Score, score: Score) -> Score:
    """The score as made, or as it was where nothing is heard of what was added."""
    return made if _plays(made.parts[-1]) else score


def _check(what: str, name: str, known: Collection[str]) -> None:
    if name not in known:
        raise UsageError(f"there is no {what} {name!r}; choose one of {', '.join(known)}")


def with_sounding_symbols(score: Score) -> Score:
    """The score with the chord symbols of transposing parts as they sound; others stay."""
    return replace(score, parts=tuple(replace(p, chord_symbols=sounding_symbols(p)) for p in score.parts))


def _plays(part: Part) -> bool:
    return not part.percussion and any(event.notes for voice in part.voices for event in voice.events)


def _chordal(part: Part) -> bool:
    """Whether a part plays chords, by itself or in voices of its own over one another."""
    struck = [event for voice in part.voices for event in voice.events if event.notes]
    chords = sum(len({note.sounding for note in event.notes}) > 1 for event in struck)
    voices = sum(any(event.notes for event in voice.events) for voice in part.voices)
    return chords >= _CHORDAL * len(struck) or (voices > 1 and part.staves > 1)


def with_continuo(score: Score, bass: Part, instrument: str = "harpsichord") -> Score:
    """The score with a plain continuo in four parts over a figured bass; the bass part keeps the figures supplied."""
    from appui.harmony.analyse import analyse

    chords, figures = continuo_chords(score, bass, analyse(score).keys)
    upper = [Span(c.onset_q, c.end_q, v) for c, v in zip(chords, voice_chords(chords), strict=True)]
    lower = [Span(note.onset_q, note.end_q, (note.pitch,)) for note in bass_notes(bass)]
    parts = tuple(replace(part, figures=figures) if part.index == bass.index else part for part in score.parts)
    figured = replace(score, parts=parts)
    added = keyboard_part(figured, instrument, upper, lower, source=bass, figures=figures)
    return _with(figured, added, f"added from the figures of {bass.name}")


def with_symbols(score: Score, symbols: Sequence[ChordSymbol], pattern: str, instrument: str, source: Part) -> Score:
    """The score with a plain accompaniment from chord symbols; `source` lends its dynamics."""
    chords = symbol_chords(score, symbols)
    upper, lower = play(score, pattern, chords, voice_chords(chords))
    added = keyboard_part(score, instrument, upper, lower, source=source, symbols=tuple(symbols))
    return _with(score, added, f"added from the chord symbols: {PATTERNS[pattern].words}")


def _with(score: Score, added: Part, words: str) -> Score:
    notice = Notice(f"part {added.name}", words)
    assert all(part.id != PART_ID for part in score.parts)
    return replace(score, parts=(*score.parts, added), notices=(*score.notices, notice))
