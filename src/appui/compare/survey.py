"""The survey of a score: every sign with its harmony, its reading and the reason, as data.

Field names and their meaning are fixed: programs rely on them. `*_q` are exact quarter notes as text; `bar` is the
number as printed, `bar_index` counts from 0 in the part.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from typing import Any

from appui.harmony.model import Verdict
from appui.harmony.written_out import WrittenOut
from appui.interpret.interpretation import Interpretation, in_solos
from appui.score.bars import bar_range
from appui.score.movements import movement_of, movements
from appui.score.pitch import Pitch
from appui.score.signs import Sign, bar_names
from appui.score.words import ReadingName
from appui.style.choose import Choice
from appui.style.measured import Practice, practice_of, practice_words
from appui.text import counted

__all__ = [
    "movement_records",
    "movement_words",
    "ornament_record",
    "print_words",
    "score_record",
    "select",
    "summary",
    "survey_record",
    "written_out_notes",
]


def select(interpretation: Interpretation, *, all_parts: bool, bars: str | None) -> list[Sign]:
    """The signs asked for: the solo's, or all parts', within a range of bars."""
    low, high = bar_range(interpretation.score, bars)
    return [
        sign
        for sign in interpretation.signs
        if (all_parts or in_solos(interpretation, sign.part)) and low <= sign.main(interpretation.score).bar <= high
    ]


def written_out_notes(interpretation: Interpretation, *, all_parts: bool, bars: str | None) -> list[WrittenOut]:
    """The leaning notes printed as full-size notes: the solo's, or all parts', within a range of bars."""
    low, high = bar_range(interpretation.score, bars)
    parts = interpretation.score.parts
    return [
        found
        for found in interpretation.analysis.written_out
        if (all_parts or in_solos(interpretation, found.part))
        and low <= parts[found.part].voices[found.voice].events[found.event].bar <= high
    ]


def survey_record(
    interpretation: Interpretation, signs: Iterable[Sign], written_out: Iterable[WrittenOut] | None = None
) -> dict[str, Any]:
    """The survey as one object, ready for JSON; the written-out leaning notes where they were asked for."""
    solo, second = interpretation.solo, interpretation.analysis.guess.second
    more = {"written_out": [_written_out_record(found) for found in written_out]} if written_out is not None else {}
    return {
        "score": score_record(interpretation),
        "solo": {
            "index": solo.index,
            "id": solo.id,
            "name": solo.name,
            "guessed": interpretation.wishes.solo is None,
            "why": interpretation.analysis.guess.why if interpretation.wishes.solo is None else None,
            "second_guess": second.name if second is not None and interpretation.wishes.solo is None else None,
        },
        "solos": [part.name for part in interpretation.solos],
        "style": interpretation.style.name,
        "print": print_record(interpretation),
        "ornaments": [ornament_record(interpretation, sign) for sign in signs],
        **more,
    }


def print_record(interpretation: Interpretation) -> list[dict[str, Any]]:
    """What this print does, part by part and movement by movement, as far as it says anything."""
    found = interpretation.analysis.print
    rows = [(part, movement) for movement in found.movements for part in interpretation.score.parts]
    return [
        {
            "part": part.id,
            "movement": movement.number,
            "single_small_notes": habits.single,
            "with_stroke": habits.stroked,
            "strokes": habits.strokes,
            "one_value_q": str(habits.one_value) if habits.one_value is not None else None,
            "trill_endings": dict(habits.endings),
            "spelled_out": habits.hidden,
            "words": habits.words,
        }
        for part, movement in rows
        if (habits := found.at(part.index, movement)).words
    ]


def print_words(interpretation: Interpretation) -> list[str]:
    """What this print does in the solo, in a sentence a movement, and when the music is taken to be from."""
    found, index = interpretation.analysis.print, interpretation.solo.index
    several = len(found.movements) > 1
    lines = []
    for movement in found.movements:
        words = found.at(index, movement).words
        if words:
            lines.append(f"Print{f', movement {movement.number}' if several else ''}: {words}")
    if interpretation.year:
        asked = "as asked for" if interpretation.wishes.year else "as the file says"
        lines.append(f"Music of about {interpretation.year}, {asked}.")
    return lines


def movement_words(interpretation: Interpretation) -> list[str]:
    """The movements of a score that has several: number, what stands over it, bars, tempo, ornaments of the solo."""
    rows = movement_records(interpretation)
    return [
        f"{row['number']}  {row['heading'] or 'without a heading'}: {row['bars']} bars, {row['qpm']:g} quarter notes a "
        f"minute ({row['origin']}), {counted(row['signs'], 'ornament')}"
        for row in (rows if len(rows) > 1 else ())
    ]


def movement_records(interpretation: Interpretation) -> list[dict[str, Any]]:
    """The movements, each with its own tempo; `first_bar` is how places and ranges of the whole file name its first."""
    score, solos = interpretation.score, {part.index for part in interpretation.solos}
    names, found = bar_names(score), movements(score)
    count = Counter(
        movement_of(found, sign.main(score).bar).number for sign in interpretation.signs if sign.part in solos
    )
    return [
        {
            "number": movement.number,
            "heading": movement.heading,
            "first_bar": names[movement.first],
            "last_bar": names[movement.last],
            "bars": movement.last - movement.first + 1,
            "qpm": float(tempo.qpm * interpretation.factor),
            "origin": tempo.origin,
            "signs": count[movement.number],
        }
        for movement in found
        for tempo in [score.tempo_at(score.bars[movement.first].onset_q)]
    ]


def _written_out_record(found: WrittenOut) -> dict[str, Any]:
    return {
        "id": found.place,
        "pitch": found.pitch.name,
        "resolution": found.target.name,
        "interval": found.interval,
        "chord": found.chord,
        "prepared": found.prepared,
        "confidence": found.confidence,
        "words": found.words,
    }


def score_record(interpretation: Interpretation) -> dict[str, Any]:
    """What the survey says of the score itself."""
    score = interpretation.score
    first = score.tempos[0]
    return {
        "title": score.title,
        "file": score.file,
        "sha256": score.sha256,
        "parts": [{"id": part.id, "name": part.name, "program": part.program} for part in score.parts],
        "tempo": {
            "qpm": float(first.qpm * interpretation.factor),
            "written_qpm": float(first.qpm),
            "origin": first.origin,
            "words": first.words,
        },
        "movements": movement_records(interpretation),
        "bars": len(score.bars),
        "length_q": str(score.length_q),
        "notices": [f"{notice.place}: {notice.text}" for notice in score.notices],
    }


def _names(pitches: Iterable[Pitch]) -> list[str]:
    return [pitch.name for pitch in pitches]


def ornament_record(interpretation: Interpretation, sign: Sign) -> dict[str, Any]:
    """One sign as the survey tells it."""
    score, event, note = interpretation.score, sign.main(interpretation.score), sign.main_note(interpretation.score)
    part, bar = score.parts[sign.part], score.bars[event.bar]
    number = part.bar_numbers[bar.index] if bar.index < len(part.bar_numbers) else bar.number
    return {
        "id": sign.place,
        "part": part.id,
        "part_name": part.name,
        "bar": number,
        "bar_index": bar.index,
        "offset_in_bar_q": str(event.onset_q - bar.onset_q),
        "onset_q": str(event.onset_q),
        "sign": sign.kind,
        "slashed": sign.slashed,
        "written": _names(p for small in sign.small for p in small.written),
        "sounding": _names(p for small in sign.small for p in small.sounding),
        "main_written": note.written.name if note else None,
        "main_sounding": note.sounding.name if note else None,
        **_harmony_record(interpretation.analysis.verdict(sign), sign),
        **_choice_record(interpretation.choices[sign.place]),
        "practice": practice_words(sign.kind, sign.slashed, interpretation.year),
    }


def _harmony_record(verdict: Verdict | None, sign: Sign) -> dict[str, Any]:
    if verdict is None or not verdict.known:
        count = len(sign.small)
        return {
            "harmony": None,
            "members": ["unknown"] * count,
            "struck": [["unknown"] * len(small.sounding) for small in sign.small],
            "leans": [None] * count,
            "main_member": None,
            "evidence": [],
        }
    return {
        "harmony": {
            "label": verdict.label,
            "root": verdict.root,
            "quality": verdict.quality,
            "bass": verdict.bass,
            "figure": verdict.figure,
            "confidence": verdict.confidence,
            "pitches": list(verdict.pitches),
            "key": verdict.key,
            "roman": verdict.roman,
            "runner_up": verdict.runner_up,
            "doubtful": verdict.doubtful,
            "words": verdict.words,
        },
        "members": list(verdict.members),
        "struck": [list(each) for each in verdict.struck],
        "leans": list(verdict.leans),
        "main_member": verdict.main_member,
        "evidence": [
            {"part": e.part, "pitch": e.pitch.name, "start_q": str(e.start_q), "end_q": str(e.end_q)}
            for e in verdict.evidence
        ],
    }


def _choice_record(choice: Choice) -> dict[str, Any]:
    return {
        "reading": choice.reading.as_dict(),
        "placement": choice.placement,
        "by": choice.by,
        "reason": choice.reason,
        "source": {"citation": choice.source, "known": choice.known},
        "alternatives": list(choice.alternatives),
        "doubtful": choice.doubtful,
        "like": choice.like or None,
        "realized": choice.realized,
    }


def summary(interpretation: Interpretation, signs: Iterable[Sign]) -> list[str]:
    """The survey in a few sentences."""
    signs = list(signs)
    readings = Counter(interpretation.choices[sign.place].reading.name for sign in signs if sign.small)
    doubtful = [sign.place for sign in signs if sign.small and interpretation.choices[sign.place].doubtful]
    unknown = sum(
        1 for sign in signs if sign.small and ((v := interpretation.analysis.verdict(sign)) is None or not v.known)
    )
    waiting = Counter(sign.kind for sign in signs if not interpretation.choices[sign.place].realized)
    lines = [_counted(len(signs), readings)]
    if doubtful:
        lines.append(f"Doubtful, hear both: {', '.join(doubtful[:12])}{' ...' if len(doubtful) > 12 else ''}.")
    if unknown:
        lines.append(f"No harmony to judge by at {unknown} of them.")
    found = practice_of(interpretation.year)
    if found is not None and readings:
        lines.append(_practice(interpretation, found))
    if waiting:
        lines.append(
            "Ornaments of the edition's own, played plain: "
            + ", ".join(f"{count} {kind}" for kind, count in waiting.most_common())
            + "."
        )
    return lines


def _counted(ornaments: int, small: Counter[ReadingName]) -> str:
    """How many ornaments, and how their small notes are played."""
    said = counted(ornaments, "ornament")
    total, ways = sum(small.values()), ", ".join(f"{count} {name}" for name, count in small.most_common())
    if not total:
        return f"{said}, none of them small notes."
    if total == ornaments:
        return f"{said}, {'a small note or group' if total == 1 else 'all small notes or groups'}: {ways}."
    return f"{said}, {total} of them small notes or groups: {ways}."


def _practice(interpretation: Interpretation, found: Practice) -> str:
    share = f"small notes before the beat in {found.before:.0%} of performances, " if found.before is not None else ""
    return (
        f"Measured practice, not a source: in music of about {interpretation.year} ({found.repertoire}) pianists "
        f"of today play {share}trills at {found.trill_rate:g} notes a second. `--style measured` plays as they do."
    )
