"""From tones to a performance: seconds, levels, touch.

The two notes before a leaning note grow a little (common practice, no source; `approach_db`). `note@dynamics` is the
engraver's word: velocity = 90 × percent / 100 (MusicXML 4.0, read), whatever the dynamics around it say; `note@attack`
moves only the start, `note@release` only the stop (read).
"""

from __future__ import annotations

from collections.abc import Container, Iterable, Mapping, MutableMapping, Sequence
from dataclasses import replace
from functools import lru_cache
from operator import attrgetter
from typing import TYPE_CHECKING, NamedTuple

from appui.exact import Fraction
from appui.perform.breath import held_before
from appui.perform.instruments import program_of
from appui.perform.levels import ACCENTS_DB, FORTE, LevelCurve, db_of, velocity_of
from appui.perform.long_notes import can_swell, swelling
from appui.perform.model import Control, Mark, Performance, PerformedNote, PerformedPart, TempoStep
from appui.perform.swell import swell
from appui.perform.tempo import Clock, performed_tempos
from appui.perform.touch import TONGUE_S, held_share, is_slurred_on, join_ties
from appui.realize.contract import Tone
from appui.score.model import Part, Score
from appui.score.repeats import Occurrence

if TYPE_CHECKING:
    from appui.perform.ensemble import Lateness
    from appui.perform.pace import Pace
    from appui.perform.shaping import Shaping, Sigh, Terms

__all__ = ["APPROACH_DB", "Take", "only", "perform"]

APPROACH_DB = 1.0
SHORTEST_S = 0.01
#  shaped levels stay within these velocities: a note is to be heard, and to sound like its instrument
SHAPED_VELOCITIES = (12, 127)
# roles of notes that can lead to a leaning note
_LEADING = frozenset({"plain", "main"})


class Take(NamedTuple):
    """What is to be performed: the score, the order of its bars, the tones of each part by part index.

    `factor` multiplies the written tempo; `solo` is the solo's part index, `also` those of other solos; `readings` the
    words for the cue points, by place. `curves` keeps the level curves of parts by index from one performance to the
    next. `shaping` shapes the levels; then `asked` are the places that have a weight of their own, `style_db` the
    weight the style teaches. `pace` shapes the time,
    `long_notes_swell` makes long notes swell and fade.
    """

    score: Score
    order: Sequence[Occurrence]
    tones: Mapping[int, Sequence[Tone]]
    factor: Fraction = Fraction(1)
    solo: int | None = None
    also: frozenset[int] = frozenset()
    readings: Mapping[str, str] | None = None
    approach_db: float = APPROACH_DB
    curves: MutableMapping[int, LevelCurve] | None = None
    shaping: Shaping | None = None
    asked: Container[str] = ()
    style_db: float = 4.0
    pace: Pace | None = None
    long_notes_swell: bool = False


def perform(take: Take) -> Performance:
    """Give every tone its seconds, level and length."""
    earliest_q = min((tones[0].onset_q for tones in take.tones.values() if tones), default=Fraction(0))
    shift_q = max(-earliest_q, Fraction(0))
    steps = _tempos(take, shift_q)
    clock = Clock(steps)
    late = _lateness(take, steps)
    parts = tuple(
        _part(
            take,
            take.score.parts[index],
            tones,
            clock,
            shift_q,
            None if index == take.solo or index in take.also else late,
        )
        for index, tones in take.tones.items()
    )
    last = take.order[-1] if take.order else Occurrence(0, Fraction(0), 1)
    length_q = shift_q + last.onset_q + take.score.bars[last.bar].length_q
    length_s = max(
        [clock.seconds(length_q), *(note.onset_s + note.duration_s for part in parts for note in part.notes[-8:])]
    )
    return Performance(take.score.title, parts, steps, tuple(_marks(take, shift_q)), length_q, length_s, shift_q)


def _tempos(take: Take, shift_q: Fraction) -> tuple[TempoStep, ...]:
    if take.pace is None:
        return performed_tempos(take.score, take.order, take.factor, shift_q)
    from appui.perform.pace import paced_tempos

    return paced_tempos(take.score, take.order, take.factor, shift_q, take.pace)


def _lateness(take: Take, steps: Sequence[TempoStep]) -> Lateness | None:
    """What keeps several players from being glued together; `None` for strict time and for one player."""
    if take.pace is None or sum(not part.percussion for part in take.score.parts) < 2:
        return None
    from appui.perform.ensemble import Lateness

    return Lateness(steps)


def _part(
    take: Take, part: Part, tones: Sequence[Tone], clock: Clock, shift_q: Fraction, late: Lateness | None
) -> PerformedPart:
    curve = _curve(part, take.curves)
    joined = join_ties(tones) if any(tone.tied_on for tone in tones) else list(tones)
    if take.long_notes_swell and can_swell(program_of(part)):
        joined = swelling(sorted(joined, key=attrgetter("onset_q")), clock)
    rise, sighs = _approach(joined, take.approach_db), _sighs(take, part, joined, clock)
    notes = [
        _note(tone, _level_of(take, part, curve, tone, rise.get(index, 0.0), sighs.get(index)), clock, shift_q)
        for index, tone in enumerate(joined)
    ]
    swells = [control for tone in joined if tone.swell_db for control in _swell(part, tone, clock, shift_q, late)]
    if late is not None:
        notes = list(late.notes(part.index, joined, notes))
    volume = 100 if part.volume_percent is None else max(0, min(127, round(127 * float(part.volume_percent) / 100)))
    return PerformedPart(
        part.id,
        part.name,
        program_of(part),
        tuple(sorted(notes, key=attrgetter("onset_s", "key"))),
        tuple(swells),
        part.percussion,
        part.index == take.solo or part.index in take.also,
        max(volume, 1),
    )


def _swell(part: Part, tone: Tone, clock: Clock, shift_q: Fraction, late: Lateness | None) -> Iterable[Control]:
    controls = swell(tone, clock, shift_q)
    return late.controls(part.index, tone, controls) if late is not None else controls


def _curve(part: Part, curves: MutableMapping[int, LevelCurve] | None) -> LevelCurve:
    if curves is None:
        return LevelCurve.of(part)
    if part.index not in curves:
        curves[part.index] = LevelCurve.of(part)
    return curves[part.index]


def _approach(tones: Sequence[Tone], approach_db: float) -> dict[int, float]:
    """What the notes that lead to a leaning note gain, by index: the last `approach_db`, the one before half of it."""
    if not any(tone.role == "lean" for tone in tones):
        return {}
    ending: dict[Fraction, list[int]] = {}
    for index, tone in enumerate(tones):
        ending.setdefault(tone.end_q, []).append(index)
    rise: dict[int, float] = {}
    for tone in tones:
        if tone.role == "lean":
            first = [i for i in ending.get(tone.onset_q, ()) if _leads(tones[i])]
            for index in first:
                rise[index] = approach_db
                for earlier in ending.get(tones[index].onset_q, ()):
                    if _leads(tones[earlier]):
                        rise.setdefault(earlier, approach_db / 2)
    return rise


def _leads(tone: Tone) -> bool:
    """Whether a note may rise: one with a weight of its own keeps it, so that chains of leaning notes weigh as said."""
    return tone.role in _LEADING and not tone.level_db


class _Level(NamedTuple):
    """How loud a tone is, by what, the share of its length it is held for that, and whether a breath follows it."""

    velocity: int
    terms: Terms = ()
    held: float = 1.0
    breath: bool = False


def _note(tone: Tone, level: _Level, clock: Clock, shift_q: Fraction) -> PerformedNote:
    # without a shift a note shares the onset of its tone: long scores have millions
    onset_q, length_q = tone.onset_q + shift_q if shift_q else tone.onset_q, tone.duration_q
    if tone.note is not None and (tone.note.attack_q or tone.note.release_q):
        end_q = onset_q + length_q + tone.note.release_q
        onset_q = max(Fraction(0), onset_q + tone.note.attack_q)
        length_q = max(end_q - onset_q, Fraction(1, 64))
    onset_s, end_s = clock.span(onset_q, length_q)
    length_s = end_s - onset_s
    share = min(held_share(tone), level.held)
    held_s = length_s * share
    if share == 1.0 and not is_slurred_on(tone):
        held_s = max(length_s - TONGUE_S, length_s * 0.6)
    if level.breath:
        held_s = min(held_s, length_s * held_before(length_s))
    held_s = max(held_s, min(SHORTEST_S, length_s))
    # the MIDI file is written from quarter notes, so what is held is told there too
    held_q = length_q
    if held_s < length_s:
        held_q = _part_of(length_q, max(round(held_s / length_s * 4096), 1))
    return PerformedNote(
        onset_q,
        held_q,
        onset_s,
        held_s,
        tone.pitch,
        max(0, min(127, round(tone.pitch.midi))),
        level.velocity,
        tone.role,
        tone.sign,
        level.terms,
    )


@lru_cache(maxsize=4096)
def _part_of(length_q: Fraction, parts: int) -> Fraction:
    """So many 4096ths of a length; a piece has few lengths, so thousands of notes share one object."""
    return length_q * Fraction(parts, 4096)


def _sighs(take: Take, part: Part, tones: Sequence[Tone], clock: Clock) -> Mapping[int, Sigh]:
    if take.shaping is None:
        return {}
    from appui.perform.shaping import sighs_of

    return sighs_of(tones, part.index, take.shaping, clock, take.asked, take.style_db)


def _level_of(take: Take, part: Part, curve: LevelCurve, tone: Tone, rise_db: float, sigh: Sigh | None) -> _Level:
    if tone.note is not None and tone.note.dynamics_percent is not None:
        return _Level(max(1, min(127, round(FORTE * float(tone.note.dynamics_percent) / 100))))
    accent_db = max((ACCENTS_DB.get(name, 0.0) for name in tone.event.articulations), default=0.0)
    weight_db = float(tone.level_db) if tone.level_db else 0.0
    if take.shaping is None:
        printed_q = float(tone.printed_q)
        return _Level(velocity_of(curve.at(printed_q) + curve.stress(printed_q) + weight_db + rise_db + accent_db))
    own = (
        ("weight" if sigh is None else "sigh", weight_db if sigh is None else sigh.level_db),
        ("approach", rise_db),
        ("accent", accent_db),
    )
    terms = (*take.shaping.terms(part.index, tone), *((name, round(db, 3)) for name, db in own if db))
    low, high = map(db_of, SHAPED_VELOCITIES)
    level_db = sum(db for _, db in terms)
    velocity = velocity_of(round(max(low, min(high, level_db)), 3))
    # a velocity is a whole number: what that takes or adds is told, so that the terms add up to what is heard
    terms = (*terms, ("rounding", round(db_of(velocity) - level_db, 3)))
    return _Level(velocity, terms, 1.0 if sigh is None else sigh.held, take.shaping.breathes_after(part, tone))


def _marks(take: Take, shift_q: Fraction) -> Iterable[Mark]:
    meter = key = None
    keyed = next((part for part in take.score.parts if part.keys and not part.transpositions), None)
    for occurrence in take.order:
        bar = take.score.bars[occurrence.bar]
        at_q = occurrence.onset_q + shift_q
        if bar.meter != meter:
            meter = bar.meter
            yield Mark(at_q, "meter", f"{meter.beats}/{meter.beat_type}")
        if keyed is not None and (now := keyed.key_at(bar.onset_q)) != key:
            key = now
            yield Mark(at_q, "key", f"{key.fifths} {key.mode or 'major'}")
        yield Mark(at_q, "bar", bar.number)
    yield from _cues(take, shift_q)


def _cues(take: Take, shift_q: Fraction) -> Iterable[Mark]:
    seen: set[tuple[Fraction, str]] = set()
    for tones in take.tones.values():
        for tone in tones:
            if tone.sign is not None and tone.role not in ("release", "main"):
                head = (tone.event.onset_q, tone.sign)
                if head not in seen:
                    seen.add(head)
                    words = (take.readings or {}).get(tone.sign, "")
                    yield Mark(max(tone.onset_q + shift_q, Fraction(0)), "sign", f"{tone.sign} {words}".strip())


def only(performance: Performance, *, solo: bool) -> Performance:
    """The same performance with only the solo, or only the accompaniment."""
    return replace(performance, parts=tuple(part for part in performance.parts if part.solo == solo))
