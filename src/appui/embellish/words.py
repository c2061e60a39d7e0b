"""A proposal in a line: what it does, in the trade's words."""

from __future__ import annotations

from appui.embellish.case import Case
from appui.embellish.line import heard
from appui.embellish.model import Draft
from appui.harmony.places import letter_place
from appui.harmony.spelling import class_of
from appui.score.pitch import LETTERS, Pitch

__all__ = ["degree_words", "told"]

_DEGREES = ("key note", "second", "third", "fourth", "fifth", "sixth", "seventh")
_WAYS = {
    "scale>peak": "a scale up",
    "scale>low": "a scale down",
    "scale>arrival": "by step into the close",
    "scale>home": "by step to its end",
    "chord>peak": "a broken chord up",
    "chord>low": "a broken chord down",
    "chord>home": "by chord notes to its end",
    "decked>peak": "a sequence up the chord, each note with its neighbour",
    "sighed>peak": "sighs up the chord",
    "sighed>low": "sighs down the chord",
    "again": "a repeated note",
    "turn": "a turn",
    "breath": "a breath",
}


def told(case: Case, draft: Draft) -> str:
    """One line on a draft."""
    return _free(case, draft) if case.span.held else "; ".join(dict.fromkeys(draft.words))


def _free(case: Case, draft: Draft) -> str:
    # the piece's figure has its own words
    words = [_WAYS.get(gesture, gesture) for gesture in draft.words]
    if case.place.kind == "lead-in":
        words = [each.replace("into the close", "into the theme") for each in words]
    line = heard(case, draft)
    top = max(line, key=lambda moment: float(moment.note.pitch.midi) if moment.note.pitch else 0.0).note.pitch
    assert top is not None
    peak = f"peak {_written(case, top)}, the {degree_words(case, top)}" if top != line[0].note.pitch else ""
    trill = next((f"trill on {_written(case, n.pitch)}" for n in draft.all if n.trill and n.pitch is not None), "")
    length = f"{case.seconds(draft.length_q):.1f} s"
    return f"{draft.plan}: {', '.join(filter(None, [*words, peak, trill, length]))}"


def _written(case: Case, pitch: Pitch) -> str:
    return case.score.parts[case.span.part].transposition_at(case.start_q).written(pitch).name


def degree_words(case: Case, pitch: Pitch) -> str:
    """The degree of the local key a pitch stands on: ``sixth``."""
    footing = case.held if case.span.held else case.ground.at(case.start_q)
    assert footing is not None
    tonic = footing.key[0]
    if case.place.kind == "cadenza" and class_of(tonic) != class_of(footing.root):
        tonic = footing.root
    letter = next(name for name in LETTERS if (letter_place(name) - tonic) % 7 == 0)
    return _DEGREES[(LETTERS.index(pitch.step) - LETTERS.index(letter)) % 7]
