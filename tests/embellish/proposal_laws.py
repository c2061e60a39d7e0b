"""What every proposal keeps, checked apart from the rules that chose it; intervals and parallels by music21 (read)."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import pairwise

from music21 import interval
from music21 import pitch as m21_pitch
from music21.voiceLeading import VoiceLeadingQuartet

from appui.embellish.model import Proposal
from appui.exact import Fraction
from appui.interpret.interpretation import Interpretation, offering
from appui.interpret.realizing import realize
from appui.score.model import Event
from appui.score.pitch import Pitch
from appui.score.repeats import once
from appui.style.free import Free

__all__ = ["faults"]


def as_music21(pitch: Pitch) -> m21_pitch.Pitch:
    """The same pitch; music21 writes flats as minus signs."""
    accidentals = "#" * int(pitch.alter) if pitch.alter > 0 else "-" * int(-pitch.alter)
    return m21_pitch.Pitch(f"{pitch.step}{accidentals}{pitch.octave}")


def faults(interpretation: Interpretation, proposal: Proposal, low: Pitch, high: Pitch) -> Iterator[str]:
    """The laws that a proposal breaks; `low` and `high` as written."""
    yield from _sums(interpretation, proposal)
    yield from _range(interpretation, proposal, low, high)
    yield from _augmented(interpretation, proposal)
    yield from _parallels(interpretation, proposal)
    yield from _played(interpretation, proposal)


def events(interpretation: Interpretation, proposal: Proposal) -> tuple[Event, ...]:
    """The printed events that are replaced."""
    sign, free = proposal.embellishment.sign, proposal.embellishment.free
    return interpretation.score.parts[sign.part].voices[sign.voice].events[sign.event : free.last + 1]


def following(interpretation: Interpretation, proposal: Proposal) -> Event | None:
    """The next printed event with notes."""
    sign, free = proposal.embellishment.sign, proposal.embellishment.free
    later = interpretation.score.parts[sign.part].voices[sign.voice].events[free.last + 1 :]
    return next((event for event in later if event.notes), None)


def sounding(interpretation: Interpretation, proposal: Proposal) -> list[tuple[Fraction, Pitch]]:
    """When the notes begin, from the start of what they replace and in their own time, and how they sound."""
    at_q, found = Fraction(0), []
    transposition = interpretation.score.parts[proposal.embellishment.sign.part].transposition_at(
        events(interpretation, proposal)[0].onset_q
    )
    for note in proposal.line.all:
        if note.pitch is not None:
            found.append((at_q, transposition.sounding(note.pitch)))
        at_q += note.value_q
    return found


def _sums(interpretation: Interpretation, proposal: Proposal) -> Iterator[str]:
    own, line = events(interpretation, proposal), proposal.line
    printed_q = own[-1].end_q - own[0].onset_q
    if own[0].fermata is None and line.free_q != printed_q:
        yield f"adds up to {line.free_q}, not {printed_q}"
    if own[0].fermata is not None and (
        line.free_q < own[0].duration_q or line.in_time_q != printed_q - own[0].duration_q
    ):
        yield f"adds up to {line.free_q} and {line.in_time_q} over {printed_q}"


def _range(interpretation: Interpretation, proposal: Proposal, low: Pitch, high: Pitch) -> Iterator[str]:
    printed = {note.written for event in events(interpretation, proposal) for note in event.notes}
    for note in proposal.line.all:
        if note.pitch is not None and note.pitch not in printed and not low.midi <= note.pitch.midi <= high.midi:
            yield f"{note.pitch.name} is outside {low.name} to {high.name}"


def _augmented(interpretation: Interpretation, proposal: Proposal) -> Iterator[str]:
    line = [pitch for _, pitch in sounding(interpretation, proposal)]
    # what the composer wrote stays
    printed = set(pairwise(event.top.sounding for event in events(interpretation, proposal) if event.notes))
    for one, other in pairwise(line):
        if (one, other) in printed:
            continue
        if interval.Interval(as_music21(one), as_music21(other)).simpleName == "A2":
            yield f"{one.name} {other.name} is an augmented second"


def _parallels(interpretation: Interpretation, proposal: Proposal) -> Iterator[str]:
    """From beat to beat, as music21 finds them, where the printed notes have none."""
    own = events(interpretation, proposal)
    goal = following(interpretation, proposal)
    if own[0].fermata is not None or goal is None:
        return
    bar = interpretation.score.bars[own[0].bar]
    line = [(own[0].onset_q + at_q, pitch) for at_q, pitch in sounding(interpretation, proposal)]
    plain = [(event.onset_q, event.top.sounding) for event in own if event.notes]
    count = int((own[-1].end_q - bar.onset_q + bar.lead_q) / bar.meter.beat_q) + 1
    beats = [bar.onset_q - bar.lead_q + step * bar.meter.beat_q for step in range(count)]
    beats = [at_q for at_q in beats if own[0].onset_q <= at_q < own[-1].end_q] + [goal.onset_q]
    after = [(goal.onset_q, goal.top.sounding)]
    for start_q, end_q in pairwise(beats):
        one, other = (_at(line + after, at_q) for at_q in (start_q, end_q))
        low, next_low = (_bass(interpretation, proposal, at_q) for at_q in (start_q, end_q))
        if one is None or other is None or low is None or next_low is None:
            continue
        if [one, other] == [_at(plain + after, at_q) for at_q in (start_q, end_q)]:
            continue
        quartet = VoiceLeadingQuartet(as_music21(one), as_music21(other), as_music21(low), as_music21(next_low))
        if quartet.parallelFifth() or quartet.parallelOctave():
            yield f"{one.name} {other.name} over {low.name} {next_low.name}"


def _at(line: list[tuple[Fraction, Pitch]], at_q: Fraction) -> Pitch | None:
    """What has begun last at a moment; nothing before the first note."""
    return next((pitch for onset_q, pitch in reversed(line) if onset_q <= at_q), None)


def _bass(interpretation: Interpretation, proposal: Proposal, at_q: Fraction) -> Pitch | None:
    """The lowest note that sounds at a moment in the other parts."""
    mine = proposal.embellishment.sign.part
    found = [
        note.sounding
        for part in interpretation.score.parts
        for voice in part.voices
        for event in voice.events
        for note in event.notes
        if part.index != mine and event.onset_q <= at_q < event.end_q and not note.unpitched
    ]
    lowest = min(found, key=lambda pitch: pitch.midi, default=None)
    own = interpretation.score.parts[mine].voices[proposal.embellishment.sign.voice].events
    above = any(e.onset_q <= at_q < e.end_q and e.top.sounding.midi < lowest.midi for e in own if e.notes and lowest)
    return None if above else lowest


def _played(interpretation: Interpretation, proposal: Proposal) -> Iterator[str]:
    """What is played is what the plan says: pitches in order, trills apart, and each part's time."""
    free = proposal.embellishment.free._replace(second_time=False)
    one = proposal.embellishment
    sign = one.sign
    offered = offering(interpretation, [type(one)(one.place, sign, free)])
    order = once(interpretation.score.bars)
    from appui.style.reading import Reading

    tones = realize(offered, order, {sign.place: Reading("embellished", free=free)}, [sign.part]).tones[sign.part]
    own = [tone for tone in tones if tone.sign == sign.place]
    heard = [tone.pitch for tone in own if tone.role != "trill"]
    wanted = [note.pitch for note in free.notes if note.pitch is not None and note.trill is None]
    short = [note.pitch for note in free.notes if note.trill is not None]
    if [pitch for pitch in heard if pitch not in short] != [pitch for pitch in wanted if pitch not in short]:
        yield f"plays {[p.name for p in heard]}, not {[p.name for p in wanted]}"
    after = interpretation.score.parts[sign.part].voices[sign.voice].events[free.last + 1 : free.last + 2]
    if any(event.small_before for event in after):
        # they take their time from the last note
        return
    silent_q = sum((free.moment_q(end) - free.moment_q(start) for start, end in _rests(free)), Fraction(0))
    if sum((tone.duration_q for tone in own), Fraction(0)) != free.span_q - silent_q:
        yield "its tones do not fill its time"


def _rests(free: Free) -> Iterator[tuple[Fraction, Fraction]]:
    at_q = Fraction(0)
    for note in free.notes:
        if note.pitch is None:
            yield at_q, at_q + note.value_q
        at_q += note.value_q
