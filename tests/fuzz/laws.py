"""What must come of any file whatever: a result that keeps the laws, or an error of ours.

`outcome` takes a file all the way a player does (read, survey, realize in the readings chosen and in others, MIDI);
`guarded` does so within limits of time and memory. Whatever else leaves them is a finding.
"""

from __future__ import annotations

import io
import json
import random
import resource
import signal
from collections import Counter, defaultdict
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from itertools import pairwise
from pathlib import Path
from typing import Any

import mido

from appui.compare.survey import select, survey_record
from appui.errors import AppuiError, ScoreError, SoundError
from appui.interpret.interpretation import Interpretation, interpret
from appui.interpret.realizing import realize
from appui.perform.play import play
from appui.realize.contract import Tone
from appui.score.model import Event, Note, Score, Voice
from appui.score.repeats import Occurrence
from appui.score.signs import find_signs
from appui.score.solo import guess_solo
from appui.sound.midi import midi_bytes

__all__ = ["LIMIT_BYTES", "LIMIT_S", "LawBrokenError", "TooSlowError", "guarded", "outcome", "score_faults"]

LIMIT_S = 10
LIMIT_BYTES = 1_000_000_000
#  readings tried at random beside the chosen ones
_OTHERS = 12


class LawBrokenError(AssertionError):
    """A result that breaks a law."""


class TooSlowError(BaseException):
    """More than `LIMIT_S` of computing; no `except Exception` takes it for something else."""


def guarded(path: Path, chance: random.Random, way: Callable[[Path, random.Random], str] | None = None) -> str:
    """What a way (`outcome`) ends in, in `LIMIT_S` of computing time and `LIMIT_BYTES` of memory at most."""
    before = _peak_bytes()
    with _clocked():
        found = (way or outcome)(path, chance)
    # the peak is the process's: what was there before is not this file's
    if (taken := _peak_bytes() - before) > LIMIT_BYTES:
        raise LawBrokenError(f"{taken // 1_000_000} MB of memory")
    return found


def _peak_bytes() -> int:
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss * 1024


@contextmanager
def _clocked() -> Iterator[None]:
    def stop(number: int, frame: object) -> None:
        raise TooSlowError(f"more than {LIMIT_S} s, in {frame}")

    before = signal.signal(signal.SIGPROF, stop)
    signal.setitimer(signal.ITIMER_PROF, LIMIT_S)
    try:
        yield
    finally:
        signal.setitimer(signal.ITIMER_PROF, 0)
        signal.signal(signal.SIGPROF, before)


def outcome(path: Path, chance: random.Random) -> str:
    """``result``, or the name of the error the file was refused with; raises `LawBrokenError`."""
    try:
        interpretation = interpret(path)
    except AppuiError as error:
        if not str(error).startswith(path.name):
            raise LawBrokenError(f"the error does not name the file: {error}") from error
        return type(error).__name__
    _demand(score_faults(interpretation.score))
    _demand(_sign_faults(interpretation.score))
    json.dumps(survey_record(interpretation, select(interpretation, all_parts=True, bars=None)), allow_nan=False)
    try:
        _hear(interpretation, interpretation.order(None, repeats=True), {})
        _hear(interpretation, interpretation.order(None, repeats=False), _others(interpretation, chance))
    except (ScoreError, SoundError) as error:
        # nothing else of a score may be refused so late
        if "more than a file holds" not in str(error):
            raise
        return type(error).__name__
    return "result"


def _demand(faults: Sequence[str]) -> None:
    if faults:
        raise LawBrokenError("; ".join(faults[:3]))


# the score


def score_faults(score: Score) -> list[str]:
    """What is wrong with a score, in words; nothing if it is sound."""
    faults = [f"bar {bar.number} of no length" for bar in score.bars if bar.length_q <= 0]
    faults += [f"bar {b.number} starts early" for a, b in pairwise(score.bars) if b.onset_q != a.onset_q + a.length_q]
    for part in score.parts:
        for voice in part.voices:
            faults += [
                f"{part.name}, voice {voice.name}: {a.end_q} overlaps {b.onset_q}"
                for a, b in pairwise(voice.events)
                if b.onset_q < a.end_q
            ]
            faults += [f"line {event.line}: of no length" for event in voice.events if event.duration_q <= 0]
            faults += [f"line {event.line}: before the score" for event in voice.events if event.onset_q < 0]
            faults += [
                f"line {event.line}: outside its bar"
                for event in voice.events
                if not score.bars[event.bar].onset_q
                <= event.onset_q
                < event.end_q
                <= score.bars[event.bar].onset_q + score.bars[event.bar].length_q
            ]
        faults += _loose_ties(part.voices)
    return faults


def _loose_ties(voices: Any) -> list[str]:
    """Ties that do not lead from one note to another of the same pitch that follows at once."""
    notes: list[tuple[Event, Note]] = [(e, n) for voice in voices for e in voice.events for n in e.notes]
    starts = Counter((event.end_q, note.sounding.midi) for event, note in notes if note.tied_on)
    stops = Counter((event.onset_q, note.sounding.midi) for event, note in notes if note.tied_back)
    return [f"tie at {onset_q} with one end" for onset_q, _ in (starts - stops) + (stops - starts)]


def _sign_faults(score: Score) -> list[str]:
    signs = find_signs(score)
    faults = [] if len(signs) == len({sign.place for sign in signs}) else ["two signs of one place"]
    for sign in signs:
        main = sign.main(score)
        if sign.onset_q(score) != main.onset_q or sign.main_note(score) not in (None, *main.notes):
            faults.append(f"{sign.place} has another's main note")
    return faults if guess_solo(score, signs) in score.parts else [*faults, "the solo is no part"]


# what is heard


def _others(interpretation: Interpretation, chance: random.Random) -> dict[str, Any]:
    """Some signs in a reading that was not chosen."""
    open_ = [place for place, choice in interpretation.choices.items() if choice.realized and choice.alternatives]
    places = chance.sample(open_, min(len(open_), _OTHERS))
    return {
        place: interpretation.reading(place, chance.choice(interpretation.choices[place].alternatives))
        for place in places
    }


def _hear(interpretation: Interpretation, order: Sequence[Occurrence], changed: dict[str, Any]) -> None:
    tones = realize(interpretation, order, changed).tones
    once = len({each.bar for each in order}) == len(order)
    for part in interpretation.score.parts:
        _demand(list(_tone_faults(part.voices, tones[part.index], once=once)))
    performance = play(interpretation, order, changed)
    length_q = sum(interpretation.score.bars[each.bar].length_q for each in order)
    if performance.length_q < length_q:
        raise LawBrokenError(f"{performance.length_q} quarters of {length_q}")
    notes = sum(len(part.notes) for part in performance.parts)
    data = midi_bytes(performance)
    starts = sum(
        message.type == "note_on" and message.velocity > 0
        for track in mido.MidiFile(file=io.BytesIO(data)).tracks
        for message in track
    )
    if not min(notes, 1) <= starts <= notes:
        raise LawBrokenError(f"{starts} notes in the MIDI file of {notes}")


def _tone_faults(voices: Sequence[Voice], tones: Sequence[Tone], *, once: bool) -> Iterator[str]:
    yield from (f"{tone.pitch} at {tone.onset_q} lasts {tone.duration_q}" for tone in tones if tone.duration_q <= 0)
    if not once:
        return
    by_event = defaultdict(list)
    for tone in tones:
        by_event[id(tone.event)].append(tone)
    for voice in voices:
        if _single(voice):
            own = sorted((t for e in voice.events for t in by_event[id(e)]), key=lambda tone: tone.onset_q)
            yield from (
                f"{a.pitch} sounds over {b.pitch} at {b.onset_q}" for a, b in pairwise(own) if a.end_q > b.onset_q
            )


def _single(voice: Voice) -> bool:
    """Whether a voice never has two notes at once; of a chord only one note gives way to a sign."""
    return all(len(event.notes) < 2 for event in voice.events) and not any(
        len(small.sounding) > 1 for event in voice.events for small in (*event.small_before, *event.small_after)
    )
