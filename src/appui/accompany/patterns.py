"""Patterns of a plain accompaniment: what the hands do with a chord (common practice, no source).

A pattern says what the right hand strikes on each part of a beat, as voices of the chord (0 the lowest of three), and
whether the bass is held or struck on the beat and left. Simple beats divide in two, compound beats in three. The figure
begins anew with each chord and each bar.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import NamedTuple

from appui.accompany.chord import Chord
from appui.accompany.keyboard import Span
from appui.accompany.voicing import Voicing
from appui.score.model import Score
from appui.score.pitch import Pitch

__all__ = ["PATTERNS", "Pattern", "play"]

_ALL = (0, 1, 2)


class Pattern(NamedTuple):
    """Strokes of the right hand, over and over: voices, none for a rest. `by_beat`: a stroke lasts a beat."""

    words: str
    simple: tuple[tuple[int, ...], ...] = ()
    compound: tuple[tuple[int, ...], ...] = ()
    by_beat: bool = False


# fmt: off
PATTERNS: dict[str, Pattern] = {
    "held":     Pattern("each chord struck once and held"),
    "offbeats": Pattern("the bass on the first beat, the chord on the others; in a single beat on its second half",
                        ((), _ALL), ((), _ALL, _ALL), by_beat=True),
    "alberti":  Pattern("lowest, highest, middle, highest over a held bass",
                        ((0,), (2,), (1,), (2,)), ((0,), (2,), (1,))),
    "arpeggio": Pattern("up and down through the chord over a held bass",
                        ((0,), (1,), (2,), (1,)), ((0,), (1,), (2,), (2,), (1,), (0,))),
}
# fmt: on


def play(
    score: Score, pattern: str, chords: Sequence[Chord], voicings: Sequence[Voicing]
) -> tuple[list[Span], list[Span]]:
    """What the right and the left hand play; `pattern` is a name in `PATTERNS`."""
    found = PATTERNS[pattern]
    upper: list[Span] = []
    lower: list[Span] = []
    for chord, voicing in zip(chords, voicings, strict=True):
        if not found.simple:
            upper.append(Span(chord.onset_q, chord.end_q, voicing))
            lower.append(Span(chord.onset_q, chord.end_q, (chord.bass,)))
            continue
        strokes = list(_strokes(score, found, chord, voicing))
        upper += [stroke for stroke in strokes if stroke.pitches]
        lower.append(Span(chord.onset_q, strokes[0].end_q if found.by_beat else chord.end_q, (chord.bass,)))
    return upper, lower


def _strokes(score: Score, pattern: Pattern, chord: Chord, voicing: Sequence[Pitch]) -> Iterator[Span]:
    meter = score.bar_at(chord.onset_q).meter
    length_q = chord.end_q - chord.onset_q
    parts = 3 if meter.compound else 2
    value_q = meter.beat_q if pattern.by_beat and length_q > meter.beat_q else meter.beat_q / parts
    beats = pattern.by_beat and length_q > meter.beat_q
    figure = _of_beats(score, chord) if beats else (pattern.compound if meter.compound else pattern.simple)
    at_q, index = chord.onset_q, 0
    while at_q < chord.end_q:
        end_q = min(at_q + value_q, chord.end_q)
        yield Span(at_q, end_q, tuple(voicing[voice] for voice in figure[index % len(figure)]))
        at_q, index = end_q, index + 1


def _of_beats(score: Score, chord: Chord) -> tuple[tuple[int, ...], ...]:
    """Bass and chord by turns; in bars of three beats the chord twice."""
    meter = score.bar_at(chord.onset_q).meter
    return ((), _ALL, _ALL) if (meter.bar_q / meter.beat_q) % 3 == 0 else ((), _ALL)
