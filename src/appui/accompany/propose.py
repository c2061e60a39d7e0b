"""A chart proposed from the solo line alone: a beginning for the player to correct, every entry marked as a guess.

The harmony room is asked what chord the line itself suggests, half bar by half bar (a whole bar of three beats); what
stays the same is said once. A line alone does not tell its bass, so all chords are in root position. Augmented triads,
suspensions and anything the chord types of that room lack are never proposed. A line tells little: on the upper voices
of scores with an expert's chords, everything else hidden, the root is right in 43 beats of 100, and in 59 of those
whose chance is at least 0.7 (`tests/benchmarks/proposed_chords.py`); below that the entry is marked unsure.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from appui.accompany.chart import place_name
from appui.exact import Fraction
from appui.score.model import Part, Score
from appui.score.signs import bar_names

__all__ = ["chart_text", "guesses"]

#  the chord types of the harmony room as a chart writes them are their own suffixes; augmented sixths are not guessed
_NOT_GUESSED = (" Ger6", " It6")
#  below this chance a guess is marked unsure
_SURE = 0.7


def chart_text(score: Score, solo: Part, *, toml: bool = False) -> str:
    """The text of a chart inferred from the solo alone, to be saved as UTF-8; each line ends with its chance, 0..1.

    Plain, or as TOML for a file that ends so.
    """
    lines = [f"# Chords guessed from {solo.name or 'the solo'} alone: a beginning, to be corrected by ear and eye."]
    if toml:
        lines += [
            "# A place is bar.beat; a chord as G7, D/F#, N.C.; a numeral as V6/5 where [keys] has its key.",
            "[chords]",
        ]
    else:
        lines += [
            "# A line is bar.beat and a chord (G7, D/F#, N.C.) or, below a line `key G minor`, a numeral (V6/5).",
            "",
        ]
    names = bar_names(score)
    for onset_q, label, chance in guesses(score, solo):
        place = place_name(score, onset_q, names)
        entry = f'"{place}" = "{label}"  ' if toml else f"{place:<8}{label:<8}"
        unsure = "" if chance >= _SURE else ", unsure"
        lines.append(f"{entry}# guess, chance {chance:.2f}{unsure}")
    return "\n".join(lines) + "\n"


def guesses(score: Score, solo: Part) -> Iterator[tuple[Fraction, str, float]]:
    """Where a chord is proposed that differs from the one before, its label, and its chance, 0..1."""
    from appui.harmony.analyse import analyse

    alone = replace(solo, index=0, chord_symbols=(), figures=())
    harmony = analyse(replace(score, parts=(alone,)))
    before = ""
    for onset_q in _moments(score):
        if not _sounds(solo, onset_q, score):
            continue
        named, chance = harmony.chord_at(onset_q)
        suffix = named.type.suffix if named.type.suffix not in _NOT_GUESSED else "7"
        label = named.root + suffix
        if label != before:
            yield onset_q, label, chance
        before = label


def _moments(score: Score) -> Iterator[Fraction]:
    """Where a chord may change: the bar, and its middle where it has an even number of beats."""
    for bar in score.bars:
        yield bar.onset_q
        half_q = bar.meter.bar_q / 2
        if (bar.meter.bar_q / bar.meter.beat_q) % 2 == 0 and bar.length_q > half_q:
            yield bar.onset_q + half_q


def _sounds(solo: Part, onset_q: Fraction, score: Score) -> bool:
    """Whether the solo plays anything within the beats from a moment on."""
    bar = score.bar_at(onset_q)
    end_q = min(bar.onset_q + bar.length_q, onset_q + max(bar.meter.bar_q / 2, bar.meter.beat_q))
    return any(e.notes and e.onset_q < end_q and e.end_q > onset_q for voice in solo.voices for e in voice.events)
