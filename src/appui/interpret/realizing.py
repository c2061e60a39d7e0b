"""The tones of an interpretation: every part realized, the others silent where the solo has a cadenza."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import NamedTuple

from appui.errors import ScoreError
from appui.exact import Fraction
from appui.interpret.holds import let_go, silences_of
from appui.interpret.interpretation import Interpretation, ornament_tempo, readings_of
from appui.realize.contract import Tone
from appui.realize.trill import RATE
from appui.realize.voice import Manner, realize_part
from appui.score.pitch import Pitch
from appui.score.repeats import Occurrence
from appui.style.reading import Reading

__all__ = ["LONGEST_Q", "Realized", "realize"]

#  what a MIDI file holds at its most
LONGEST_Q = 279_620


class Realized(NamedTuple):
    """The tones of each part by its index, and what had to be said on the way: (place, words), each once."""

    tones: Mapping[int, Sequence[Tone]]
    notices: tuple[tuple[str, str], ...]


def realize(
    interpretation: Interpretation,
    order: Sequence[Occurrence],
    changed: Mapping[str, Reading] | None = None,
    parts: Sequence[int] | None = None,
) -> Realized:
    """The tones of some bars and parts (all by default), with some readings changed by place.

    Raises `ScoreError` for more than `LONGEST_Q` quarters.
    """
    _check_length(interpretation, order)
    score, readings = interpretation.score, _slow_trills(interpretation, readings_of(interpretation, changed))
    tempo, weight = ornament_tempo(interpretation, interpretation.held(changed).tempos), interpretation.wishes.weight_db
    manner = Manner(interpretation.style.weight_db if weight is None else weight, interpretation.style.profile)
    first = score.bars[order[0].bar]
    lead_q = first.meter.beat_q if first.index else first.lead_q
    silences = silences_of(score, (s for s in interpretation.signs if s.kind == "fermata"), readings)
    signs = interpretation.signs_by_part
    tones: dict[int, Sequence[Tone]] = {}
    notices: dict[tuple[str, str], None] = {}
    for index in range(len(score.parts)) if parts is None else parts:
        done = realize_part(
            score,
            index,
            signs[index],
            readings,
            order,
            tempo,
            manner=manner,
            lead_q=lead_q,
            neighbours=interpretation.analysis.neighbours,
        )
        tones[index] = let_go(_weighed(interpretation, index, done.tones), index, silences, order, score)
        notices.update(dict.fromkeys(done.notices))
    return Realized(tones, tuple(notices))


def _slow_trills(interpretation: Interpretation, readings: Mapping[str, Reading]) -> Mapping[str, Reading]:
    """The readings, trills below tempo as slow as asked for: measured up to half tempo, then in proportion quicker."""
    wished, factor = interpretation.wishes.slow_trills, interpretation.factor
    if wished is None or factor >= 1:
        return readings
    share = max(2 * factor - 1, Fraction(0))
    # a trill that slows with the rest is made at the written tempo
    scale = 1 if interpretation.wishes.slowing == "natural" else 1 / factor

    def slowed(reading: Reading) -> Reading:
        usual = reading.fraction("rate", RATE)
        if reading.name != "trill" or reading.number("beats") is not None or usual <= wished:
            return reading
        return reading.with_sizes(rate=(wished + (usual - wished) * share) * scale)

    return {place: slowed(reading) for place, reading in readings.items()}


def _check_length(interpretation: Interpretation, order: Sequence[Occurrence]) -> None:
    """Before anything is made of a knot of repeats."""
    length_q = order[-1].onset_q + interpretation.score.bars[order[-1].bar].length_q
    if length_q > LONGEST_Q:
        raise ScoreError(
            interpretation.score.file,
            f"plays {round(length_q):,} quarter notes, more than a file holds ({LONGEST_Q:,})",
            "take fewer bars, or leave out the repeats",
        )


def _weighed(interpretation: Interpretation, part: int, tones: list[Tone]) -> list[Tone]:
    """The tones with the weight asked for on written-out leaning notes and their releases."""
    if interpretation.wishes.written_out_db is None:
        return tones
    levels = dict(_levels(interpretation, part, interpretation.wishes.written_out_db))
    return [
        tone._replace(level_db=tone.level_db + level[1])
        if tone.role in ("plain", "main") and (level := levels.get(id(tone.event))) and tone.pitch == level[0]
        else tone
        for tone in tones
    ]


def _levels(
    interpretation: Interpretation, part: int, weight_db: Fraction
) -> Iterator[tuple[int, tuple[Pitch, Fraction]]]:
    """What the notes of a part gain or lose, by the identity of their event; a note that leans itself gains."""
    found = [one for one in interpretation.analysis.written_out if one.part == part]
    events = [interpretation.score.parts[part].voices[one.voice].events for one in found]
    for one, voice in zip(found, events, strict=True):
        yield id(voice[one.resolution]), (one.target, -weight_db / 2)
    for one, voice in zip(found, events, strict=True):
        yield id(voice[one.event]), (one.pitch, weight_db / 2)
