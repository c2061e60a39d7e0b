"""A chart proposed from the solo line alone: a beginning for the player to correct, every entry marked as a guess.

The harmony room is asked beat by beat what key and chord the line implies (`appui.harmony.implied`); what stays the
same is said once. A line alone does not tell its bass, so all chords are in root position. Only major and minor triads,
dominant sevenths and diminished chords are proposed. A line tells little: how often the root is right, and how often
where it is sure, `tests.benchmarks.proposed_chords` counts; below that chance the entry is marked unsure.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from itertools import groupby
from typing import TYPE_CHECKING

from appui.accompany.chart import place_name
from appui.exact import Fraction
from appui.harmony.places import place_of
from appui.score.model import Part, Score
from appui.score.signs import bar_names

if TYPE_CHECKING:
    from appui.harmony.implied import Tables

__all__ = ["chart_text", "guesses"]

#  the chord types of the harmony room as a chart writes them are their own suffixes; augmented sixths are not guessed
_NOT_GUESSED = (" Ger6", " It6")
#  below this chance a guess is marked unsure
_SURE = 0.6


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


def guesses(score: Score, solo: Part, tables: Tables | None = None) -> Iterator[tuple[Fraction, str, float]]:
    """Where a chord is proposed that differs from the one before, its label, and the chance of its root, 0..1.

    The chance is the mean over the beats it lasts. `tables` are those of the harmony room.
    """
    from appui.harmony.implied import implied
    from appui.harmony.spelling import name_chord

    line = replace(score, parts=(replace(solo, index=0, chord_symbols=(), figures=()),))
    sounding = (each for each in implied(line, tables) if _sounds(solo, each.onset_q, score))
    for _, beats in groupby(sounding, key=lambda each: each.chord):
        lasting = list(beats)
        start_q, bar = lasting[0].onset_q, score.bar_at(lasting[-1].onset_q)
        printed = _printed(solo, start_q, lasting[-1].onset_q + bar.meter.beat_q)
        named = name_chord(lasting[0].chord, printed, None, lasting[0].key)
        suffix = named.type.suffix if named.type.suffix not in _NOT_GUESSED else "7"
        yield start_q, named.root + suffix, sum(each.chance for each in lasting) / len(lasting)


def _printed(solo: Part, start_q: Fraction, end_q: Fraction) -> set[int]:
    """The spelled notes of a span, as places on the line of fifths."""
    events = (event for voice in solo.voices for event in voice.events)
    inside = (event for event in events if event.onset_q < end_q and event.end_q > start_q)
    return {place_of(note.sounding) for event in inside for note in event.notes}


def _sounds(solo: Part, onset_q: Fraction, score: Score) -> bool:
    """Whether the solo plays anything in the half bar, or the beat, from a moment on."""
    bar = score.bar_at(onset_q)
    end_q = min(bar.onset_q + bar.length_q, onset_q + max(bar.meter.bar_q / 2, bar.meter.beat_q))
    return any(e.notes and e.onset_q < end_q and e.end_q > onset_q for voice in solo.voices for e in voice.events)
