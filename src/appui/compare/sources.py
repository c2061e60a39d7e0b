"""What the sources say, as data: a digest of one, one place through all of them, and everything in one file.

The file is for other programs: `SCHEMA_VERSION` counts up whenever a name in it changes its meaning;
`rules.schema.json` beside this module describes it (JSON Schema 2020-12).
"""

from __future__ import annotations

import json
from collections.abc import Iterator, Sequence
from importlib.resources import files
from typing import Any, NamedTuple

from appui.compare.report import style_record
from appui.interpret.interpretation import Interpretation, choice_by
from appui.realize.mordent import APPROACH, DEPARTURE, MORDENTS
from appui.realize.slide import SLIDES
from appui.realize.trill import STARTS
from appui.realize.turn import TURNS
from appui.score.signs import SIGN_NAMES, Sign
from appui.score.words import Known
from appui.style.choose import READINGS_FOR
from appui.style.measured import LENGTHS, PRACTICE, SOURCE, practice_words
from appui.style.reading import FAMILIES, Family, Size
from appui.style.rule import Rule
from appui.style.situation import FACTS
from appui.style.table import Style, load_style, style_names

__all__ = ["SCHEMA_VERSION", "Opinion", "digest", "opinions", "practice_at", "published", "schema"]

SCHEMA_VERSION = 1

#   heading                     signs it gathers
SUBJECTS = {
    "small notes":            ("small notes", "after-notes"),
    "trills":                 ("trill", "wavy line", "shake", "short trill"),
    "turns":                  (*tuple(kind for kind in READINGS_FOR if "turn" in kind), "haydn ornament"),
    "mordents and slides":    ("mordent", "slide"),
    "chords and repetitions": ("arpeggio", "no arpeggio", "tremolo"),
    "holds and breaths":      ("fermata", "breath mark", "caesura"),
}  # fmt: skip


def _signs(rule: Rule) -> tuple[str, ...]:
    sign = rule.when.get("sign", "")
    return tuple(map(str, sign)) if isinstance(sign, list) else (str(sign),)


def digest(style: Style) -> Iterator[tuple[str, list[Rule]]]:
    """A source's own rules by subject, in the order they are tried."""
    for subject, kinds in SUBJECTS.items():
        rules = [rule for rule in style.rules if set(_signs(rule)) & set(kinds)]
        if rules:
            yield subject, rules


class Opinion(NamedTuple):
    """What one style makes of a place; `same` whether it plays as the first of them does."""

    style: str
    reading: str
    same: bool
    why: str
    cite: str
    known: Known


def opinions(interpretation: Interpretation, sign: Sign, names: Sequence[str] | None = None) -> list[Opinion]:
    """One place through all sources; the first is the style the interpretation stands on."""
    chosen = [interpretation.style.name, *(n for n in names or style_names() if n != interpretation.style.name)]
    out: list[Opinion] = []
    for name in chosen:
        choice = choice_by(interpretation, sign, load_style(name))
        same = not out or choice.reading == choice_by(interpretation, sign, load_style(chosen[0])).reading
        out.append(Opinion(name, choice.reading.text, same, choice.reason, choice.source, choice.known))
    return out


def practice_at(interpretation: Interpretation, sign: Sign) -> str:
    """What players do with such a sign in music of this time; empty where the time or the practice is not known."""
    return practice_words(sign.kind, sign.slashed, interpretation.year)


def schema() -> dict[str, Any]:
    """The JSON Schema of what `published` gives."""
    text = files("appui.compare").joinpath("rules.schema.json").read_text(encoding="utf-8")
    return dict(json.loads(text))


_CONVENTIONS = {
    "shares": "fractions of the main note's length, as text: 1/2",
    "steps": "letter steps from the main note: 1 is the note above, -1 the note below, 0 the note itself",
    "rules": "tried in order, the first whose facts all hold wins; then those of the style it falls back on",
    "placeholders": "{length}: the printed value up to half of the main note, else {rule}; "
    "{rule}: 1/2, or 2/3 of a note in three parts",
}


def published() -> dict[str, Any]:
    """Every sign, reading and pattern, every source's rules with their places, as one object."""
    return {
        "format": "appui rules",
        "version": SCHEMA_VERSION,
        "conventions": dict(_CONVENTIONS),
        "signs": [_sign(kind, readings) for kind, readings in READINGS_FOR.items()],
        "readings": [_family(family) for family in FAMILIES.values()],
        "figures": {
            "turn": {shape: list(steps) for shape, steps in TURNS.items()},
            "mordent": {number: list(steps) for number, steps in MORDENTS.items()},
            "mordent approach": {side: list(steps) for side, steps in APPROACH.items()},
            "mordent departure": {side: list(steps) for side, steps in DEPARTURE.items()},
            "slide": {f"{number} {shape}": list(steps) for (number, shape), steps in SLIDES.items()},
            "trill start": {start: [*before, first] for start, (before, first) in STARTS.items()},
        },
        "facts": dict(FACTS),
        "sources": [style_record(load_style(name)) for name in style_names()],
        "practice": {
            "source": SOURCE,
            "repertoires": [row._asdict() for row in PRACTICE],
            "lengths_ms": {name: spread._asdict() for name, spread in LENGTHS.items()},
        },
        "decisions": [{"question": question, "answer": answer} for question, answer in DECISIONS],
    }


def _sign(kind: str, readings: Sequence[str]) -> dict[str, Any]:
    elements = [element for element, name in SIGN_NAMES.items() if name == kind]
    return {"name": kind, "musicxml": elements, "readings": list(readings)}


def _family(family: Family) -> dict[str, Any]:
    return {
        "name": family.name,
        "placement": family.placement,
        "meaning": family.meaning,
        "pattern": family.pattern,
        "sizes": [_size(size) for size in family.sizes],
    }


#: What MusicXML 4.0 leaves open, and what is done here.
DECISIONS = (
    (
        "How do several small notes share steal-time-previous or steal-time-following?",
        "The percentage is the whole run's, the first one printed counts; within the run by printed values.",
    ),
    (
        "How does make-time sound?",
        "As a leaning note of that length: the next main note is never moved.",
    ),
    (
        "How do small notes and arpeggios meet?",
        (
            "The arpeggio first delays each chord note by its rank; a small note then takes its time from its own "
            "chord note, counted from that moment. Every other note stays."
        ),
    ),
    (
        "How does stealing meet attack and release?",
        (
            "Stealing makes the notes; attack then moves the start and release the stop of the main note as it came "
            "out, never of the small notes."
        ),
    ),
    (
        "Over what is a delayed turn with trill-sound attributes divided?",
        "Over the second half of its note.",
    ),
    (
        "How do approach and departure of a mordent sound?",
        "Approach: one note from that side before it. Departure: that neighbour and the note at the end.",
    ),
    (
        "How long are fermatas, breath marks and caesuras?",
        (
            "A fermata holds all parts for so many times its length (2, by shape 5/4 to 3); a breath mark takes 150 "
            "ms, a caesura 350 ms from the end of its note, at most half of it."
        ),
    ),
)


def _size(size: Size) -> dict[str, Any]:
    if size.phrases is not None:
        return {"key": size.key, "words": dict(size.phrases)}
    return {
        "key": size.key,
        "pattern": size.pattern,
        "unit": size.unit,
        "low": str(size.low),
        "high": str(size.high),
    }
