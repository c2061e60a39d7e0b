"""Leaning notes written out at full size: a dissonance on the beat that steps into a note of the same chord.

Conventions
    A note is listed where all of this holds (common practice, no source): it starts on a beat, and what follows in its
    voice starts on a weaker place of the bar; it is struck, not tied from before, and does not go by in a run of equal
    notes (unless slurred in twos); it is foreign to the chord; the next note lies a step away and belongs to that
    chord, and the chord is still there when it comes. A suspension struck anew is listed too, as `prepared`: it leans
    as well. The sixth and fourth of a cadential six-four are not: there the chord changes.
    The note itself sounds, and so speaks for a chord it belongs to. So where all else that sounds with it belongs to
    the chord of its resolution, that chord is asked as well, and the mean taken: the chance that the note is foreign,
    times the chance that its resolution belongs, times that of the chord to last. That finds few, so a note that steps
    down is asked by its facts as well (`resolving`), and the larger chance counts; where the chord all but excludes it,
    only if the bass stays. `confidence` is 0..1.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING, NamedTuple

from appui.exact import Fraction
from appui.harmony.analyse import Harmony
from appui.harmony.judge import judged
from appui.harmony.model import Verdict
from appui.harmony.resolving import resolving_chance, resolving_facts
from appui.harmony.segment import members_table
from appui.harmony.spelling import interval_word
from appui.score.model import Bar, Event, Note, Part, Score
from appui.score.pitch import Pitch
from appui.score.signs import Sign, bar_names, beat_name, part_slugs

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

__all__ = ["WrittenOut", "metrical_weight", "pairs_at", "written_out", "written_out_at"]

_LIKELY = 0.5
_LISTED = 0.6
_SURELY = 0.99
_MOMENT_Q = 0.01
# halvings of a part of a beat: beyond them every place is as weak
_FINEST = 5
# a step is at most an augmented second wide, in semitones
_WIDEST_STEP = 3


class WrittenOut(NamedTuple):
    """One written-out leaning note: `part`, `voice`, `event`, `note` are indices into the score.

    `resolution` is the index of the event it steps into, `target` the pitch there. `place` is its part, bar and beat.
    `interval` is that above the bass (``a fourth``), empty where it is itself the lowest; `chord` the label of the
    chord, `prepared` whether the same pitch went before. `confidence` is 0..1; `words` says it in one clause.
    """

    place: str
    part: int
    voice: int
    event: int
    note: int
    resolution: int
    pitch: Pitch
    target: Pitch
    interval: str
    chord: str
    prepared: bool
    confidence: float
    words: str


class _Pair(NamedTuple):
    """A note and what it steps into, before harmony is asked."""

    part: int
    voice: int
    event: int
    note: int
    target: Pitch

    def of(self, score: Score) -> Event:
        """The event the note belongs to."""
        return score.parts[self.part].voices[self.voice].events[self.event]

    @property
    def sign(self) -> Sign:
        """The note as a sign without small notes, to ask the harmony."""
        return Sign("", "written out", self.part, self.voice, self.event, self.note)

    def resolved(self, score: Score) -> Sign:
        """The note it steps into, as a sign without small notes."""
        after = score.parts[self.part].voices[self.voice].events[self.event + 1].notes
        target = next(index for index, note in enumerate(after) if note.sounding == self.target)
        return Sign("", "written out", self.part, self.voice, self.event + 1, target)


def written_out(score: Score, harmony: Harmony, least: float = _LISTED) -> tuple[WrittenOut, ...]:
    """All written-out leaning notes of a confidence of `least` or more, by part and time."""
    ask = _Asked(score, harmony, part_slugs(score), bar_names(score))
    moving = (pair for part in score.parts if not part.percussion for pair in _pairs(score, part))
    pairs = sorted(moving, key=lambda pair: (pair.part, pair.of(score).onset_q, pair.voice, pair.note))
    judged = ((pair, ask.confidence(pair)) for pair in pairs)
    return tuple(ask.told(pair, confidence) for pair, confidence in judged if confidence >= least)


def written_out_at(score: Score, harmony: Harmony, sign: Sign, least: float = _LISTED) -> WrittenOut | None:
    """The written-out leaning note a sign's main note is, if it is one."""
    events = score.parts[sign.part].voices[sign.voice].events
    ask = _Asked(score, harmony, part_slugs(score), bar_names(score))
    for pair in pairs_at(score, sign.part, sign.voice, events, sign.event):
        if pair.note == sign.note and (confidence := ask.confidence(pair)) >= least:
            return ask.told(pair, confidence)
    return None


# what is printed


def metrical_weight(bar: Bar, onset_q: Fraction) -> Fraction:
    """How strong a place in a bar is: the bar's start most, then its half, then beats, then their parts.

    The length in quarters of the longest regular span that starts there: in 4/4 beat 1 has 4, beat 3 has 2, beats 2
    and 4 have 1, the half-beats 1/2. In triple time beats 2 and 3 weigh the same.
    """
    place_q, beat_q = onset_q - bar.onset_q + bar.lead_q, bar.meter.beat_q
    if not place_q:
        return bar.meter.bar_q
    half = 2 if bar.meter.bar_q / beat_q % 4 == 0 else 1
    part_q = beat_q / (3 if bar.meter.compound else 2)
    spans = (beat_q * half, beat_q, *(part_q / 2**n for n in range(_FINEST)))
    return next((span_q for span_q in spans if place_q % span_q == 0), Fraction(0))


def _pairs(score: Score, part: Part) -> Iterator[_Pair]:
    for index, voice in enumerate(part.voices):
        for event in range(len(voice.events) - 1):
            yield from pairs_at(score, part.index, index, voice.events, event)


def pairs_at(score: Score, part: int, voice: int, events: tuple[Event, ...], index: int) -> Iterator[_Pair]:
    """The notes of an event that stand and move as a leaning note does."""
    if index + 1 >= len(events):
        return
    here, after = events[index], events[index + 1]
    struck = [(i, n) for i, n in enumerate(here.notes) if not (n.tied_back or n.hidden or n.cue or n.unpitched)]
    steps = [(place, target) for place, note in struck if (target := _step(note, after)) is not None]
    if steps and _placed(score, events, index) and not _running(events, index):
        for place, target in steps:
            yield _Pair(part, voice, index, place, target)


def _placed(score: Score, events: tuple[Event, ...], index: int) -> bool:
    """Whether an event is on a beat and followed at once by one on a weaker place of the same or the next beats."""
    here, after = events[index], events[index + 1]
    if here.bar != after.bar or here.end_q != after.onset_q:
        return False
    bar = score.bars[here.bar]
    if (here.onset_q - bar.onset_q + bar.lead_q) % bar.meter.beat_q:
        return False
    weaker = metrical_weight(bar, after.onset_q) < metrical_weight(bar, here.onset_q)
    return weaker and here.duration_q <= bar.meter.bar_q


def _running(events: tuple[Event, ...], index: int) -> bool:
    """Whether a note goes by in a run of three or more equal notes that step one way, not slurred in twos."""
    here, after = events[index], events[index + 1]
    way = _interval(here, after)
    if index and _equal(events[index - 1], here) and _interval(events[index - 1], here) * way > 0:
        return True
    pair = here.slur_on and not here.slur_back and not after.slur_on
    beyond = events[index + 2] if index + 2 < len(events) else here
    return not pair and _equal(here, after) and _equal(after, beyond) and _interval(after, beyond) * way > 0


def _equal(one: Event, other: Event) -> bool:
    # files round triplets
    return abs(one.duration_q - other.duration_q) < Fraction(1, 64)


def _interval(one: Event, other: Event) -> int:
    """Steps of the staff from one event to the next at once: 1 up, -1 down, 0 for anything but a step."""
    if not one.notes or not other.notes or one.end_q != other.onset_q:
        return 0
    steps = other.top.written.diatonic - one.top.written.diatonic
    return steps if abs(steps) == 1 else 0


def _step(note: Note, after: Event) -> Pitch | None:
    """What a note steps into in the next event, down rather than up; `None` where it stays or leaps."""
    here, found = note.sounding, [other.sounding for other in after.notes]
    steps = [pitch for pitch in found if abs(pitch.diatonic - here.diatonic) == 1]
    if not steps or here in found:
        return None
    near = [pitch for pitch in steps if 0 < abs(float(pitch.midi - here.midi)) <= _WIDEST_STEP]
    return min(near, key=lambda pitch: pitch.midi, default=None)


# what the harmony says


class _Asked(NamedTuple):
    """A score with its harmony and the names of its parts and bars."""

    score: Score
    harmony: Harmony
    slugs: tuple[str, ...]
    bars: tuple[str, ...]

    def confidence(self, pair: _Pair) -> float:
        """The chance of a written-out leaning note; 0 where there is no harmony to judge by."""
        here, voice = pair.of(self.score), (pair.part, pair.voice)
        if self.harmony.heard(pair.sign, here.onset_q) is None:
            return 0.0
        by_chord = self._by_chord(pair)
        if pair.target.diatonic > here.notes[pair.note].sounding.diatonic:
            return by_chord
        if not (self._possible(pair) or self._bass_stays(pair)):
            return 0.0
        facts = resolving_facts(self.harmony, voice, pair.event, pair.note, pair.target)
        return max(by_chord, resolving_chance(facts))

    def _possible(self, pair: _Pair) -> bool:
        """Whether one fit of three does not all but exclude it: to ask all of every note takes long."""
        here, fits = pair.of(self.score), self.harmony.fits
        row = fits.belonging[fits.parts_of_beats.slices.at(float(here.onset_q))]
        own, target = (round(p.midi) % 12 for p in (here.notes[pair.note].sounding, pair.target))
        return bool(row[own] < _SURELY and row[target] > 1 - _SURELY)

    def _bass_stays(self, pair: _Pair) -> bool:
        """Whether the bass is the same letter at a note and at its resolution, or nothing else sounds."""
        own, here = (pair.part, pair.voice), pair.of(self.score)
        sounding = self.harmony.fits.sounding
        at = (float(here.onset_q), float(here.end_q))
        lowest = [sounding.lowest(sounding.others(onset, onset + _MOMENT_Q, own)) for onset in at]
        letters = {sounding.note(each)[2].sounding.letter for each in lowest if each is not None}
        return len(letters) < 2

    def _by_chord(self, pair: _Pair) -> float:
        belonging = self.harmony.class_chances(pair.sign) if self._possible(pair) else None
        if belonging is None:
            return 0.0
        here = pair.of(self.score)
        own, target = (round(p.midi) % 12 for p in (here.notes[pair.note].sounding, pair.target))
        foreign = 1 - belonging[own]
        after = self.harmony.class_chances(pair.resolved(self.score))
        if after is not None and self._rest_fits(pair, own, after):
            foreign = (foreign + 1 - after[own]) / 2
        return float(foreign * belonging[target] * _lasts(self.harmony, here.onset_q, here.end_q))

    def _rest_fits(self, pair: _Pair, own: int, after: Floats) -> bool:
        """Whether what sounds with a note in other voices (not doubling it) belongs to a later chord."""
        sounding, start = self.harmony.fits.sounding, float(pair.of(self.score).onset_q)
        others = sounding.others(start, start + _MOMENT_Q, (pair.part, pair.voice))
        classes = {int(sounding.texture.midi[i]) % 12 for i in others} - {own}
        return bool(classes) and all(after[each] >= _LIKELY for each in classes)

    def told(self, pair: _Pair, confidence: float) -> WrittenOut:
        """The note with its place, interval and words."""
        here, events = pair.of(self.score), self.score.parts[pair.part].voices[pair.voice].events
        pitch, bar = here.notes[pair.note].sounding, self.score.bars[here.bar]
        verdict, bass = self._chord(pair, pitch), self.harmony.bass_under(pair.sign)
        interval = "" if bass is None or bass.midi >= pitch.midi else interval_word(pitch, bass)
        above = f"{interval} above the bass, " if interval else ""
        way = "down" if pair.target.midi < pitch.midi else "up"
        before = events[pair.event - 1] if pair.event else None
        return WrittenOut(
            place=f"{self.slugs[pair.part]}.{self.bars[bar.index]}.{beat_name(bar, here.onset_q - bar.onset_q)}",
            part=pair.part,
            voice=pair.voice,
            event=pair.event,
            note=pair.note,
            resolution=pair.event + 1,
            pitch=pitch,
            target=pair.target,
            interval=interval,
            chord=verdict.label,
            prepared=before is not None and any(other.sounding == pitch for other in before.notes),
            confidence=round(confidence, 3),
            words=f"{pitch.pretty} against {' '.join(verdict.pitches)}: {above}steps {way} to {pair.target.pretty}",
        )

    def _chord(self, pair: _Pair, pitch: Pitch) -> Verdict:
        """The chord at the note, or where it has been heard as part of it, at its resolution."""
        verdict = judged(self.harmony, pair.sign)
        if pitch.letter not in verdict.pitches:
            return verdict
        return judged(self.harmony, pair.resolved(self.score))


def _lasts(harmony: Harmony, start_q: Fraction, end_q: Fraction) -> float:
    """The chance that the likeliest chord of one moment, or one that only adds or leaves out notes, holds later."""
    members = members_table()
    best = members[int(harmony.chances(start_q).argmax())]
    shared = members @ best
    same = (shared == best.sum()) | (shared == members.sum(1))
    return float(harmony.chances(end_q)[same].sum())
