"""What was made, as data: the realized signs of a rendering, and styles."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Any

from appui.interpret.interpretation import Interpretation
from appui.perform.levels import db_of
from appui.perform.model import Performance, PerformedNote
from appui.style.table import Style

__all__ = ["render_record", "style_record"]


def render_record(interpretation: Interpretation, performance: Performance, outputs: Sequence[Path]) -> dict[str, Any]:
    """A rendering: its files, each realized sign with its reading and tones, all notes and the tempo.

    A sign played several times (repeats) has one entry with the tones of all its turns. Positions count from the
    start of what was rendered. `level_db` is dB below full velocity; where levels are shaped it is the sum of `terms`.
    """
    by_sign: dict[str, list[PerformedNote]] = {}
    for part in performance.parts:
        for note in part.notes:
            if note.sign is not None:
                by_sign.setdefault(note.sign, []).append(note)
    choices = interpretation.choices
    return {
        "score": {"title": interpretation.score.title, "file": interpretation.score.file},
        "style": interpretation.style.name,
        "solo": {"id": interpretation.solo.id, "name": interpretation.solo.name},
        "files": [str(path) for path in outputs],
        "length_s": performance.length_s,
        "lead_q": str(performance.lead_q),
        "tempo_factor": float(interpretation.factor),
        "signs": [
            {
                "id": place,
                "reading": choices[place].reading.as_dict(),
                "by": choices[place].by,
                "tones": [_tone(note) for note in notes],
            }
            for place, notes in by_sign.items()
        ],
        "notices": [{"place": place, "text": text} for place, text in performance.notices],
        "shape": interpretation.wishes.shape,
        "time": interpretation.wishes.time,
        "parts": [
            {"id": part.id, "name": part.name, "solo": part.solo, "notes": [_note(note) for note in part.notes]}
            for part in performance.parts
        ],
        "tempos": [
            {"onset_q": str(step.onset_q), "onset_s": round(step.onset_s, 6), "qpm": round(float(step.qpm), 3)}
            for step in performance.tempos
        ],
    }


def _note(note: PerformedNote) -> dict[str, Any]:
    return _tone(note) | {"sign": note.sign}


def _tone(note: PerformedNote) -> dict[str, Any]:
    return {
        "onset_q": str(note.onset_q),
        "duration_q": str(note.duration_q),
        "onset_s": round(note.onset_s, 6),
        "duration_s": round(note.duration_s, 6),
        "pitch": note.pitch.name,
        "velocity": note.velocity,
        "role": note.role,
        "level_db": round(db_of(note.velocity), 3),
        "terms": dict(note.terms),
    }


def style_record(style: Style) -> dict[str, Any]:
    """A style with all its rules."""
    return {
        "name": style.name,
        "title": style.title,
        "year": style.year,
        "about": style.about,
        "silent": style.silent,
        "falls_back": style.falls_back,
        "weight_db": float(style.weight_db),
        "profile": style.profile,
        "rules": [
            {
                "when": dict(rule.when),
                "reading": rule.reading,
                "also": list(rule.also),
                "why": rule.why,
                "cite": rule.cite,
                "known": rule.known,
            }
            for rule in style.rules
        ],
    }
