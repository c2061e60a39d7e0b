"""A practice track laid out in time: pieces of each group, one after another and over one another.

A round is the passage once. Rounds follow one another without a gap in the beat: the next begins where the bars of
the last end, while its sound still rings; small notes before the first beat lie over the end of what precedes. Before
the first round, and where the tempo changes, come the bars of count-in; before a pickup a full count and the beats of
the pickup's bar that are not played (common practice, no source).

Everything is said once, as pieces; the MIDI file and the audio are both made of them.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field, replace

from appui.exact import Fraction
from appui.perform.excerpt import later
from appui.perform.model import Control, Mark, Performance, PerformedNote, PerformedPart, TempoStep, Tuning
from appui.practice.click import CLICK_KEYS, CLICK_VELOCITIES, Click, beats_of
from appui.practice.drone import BASS, bass_part, drone_part
from appui.practice.levels import ACCOMPANIMENT, DRONE, OFF, SOLO, level_of, midi_pan, midi_volume, own
from appui.practice.passage import Passage
from appui.practice.wish import Wish
from appui.score.pitch import Pitch
from appui.sound.synth import check_length

__all__ = ["Loop", "Piece", "Round", "Track", "lay_out", "whole_performance"]

_UNPITCHED = Pitch("C", 0, 4)
_CLICK_Q = Fraction(1, 8)
_CLICK_S = 0.05


@dataclass(frozen=True, slots=True)
class Round:
    """One playing of a passage: what it is called, and whether the solo sounds."""

    name: str
    passage: Passage
    solo: bool


@dataclass(frozen=True, slots=True)
class Piece:
    """Some parts placed in the track: `performance` begins (its own time 0) at `onset_q`, `onset_s` of the track.

    `round_s` is the moment of the first printed beat it is counted from.
    """

    group: str
    performance: Performance
    onset_q: Fraction
    onset_s: float
    round_s: float


@dataclass(frozen=True, slots=True)
class Loop:
    """What is heard again unchanged: from `start_s` to `stop_s`, `times` times more, until `resume_s`."""

    start_s: float
    stop_s: float
    times: int
    resume_s: float


@dataclass(slots=True)
class Track:
    """A track laid out; `round_s` are the moments the rounds begin, `loops` what need not be measured again.

    `round_alone` says of each round whether the solo is left to the player.
    `changes` tells the signs that are read in two ways, `part` and `score` the solo's and the piece's name, `notices`
    what had to be said on the way: (place, words), each once.
    """

    title: str
    wish: Wish
    pieces: list[Piece] = field(default_factory=list)
    tempos: list[TempoStep] = field(default_factory=list)
    marks: list[Mark] = field(default_factory=list)
    round_s: list[float] = field(default_factory=list)
    round_alone: list[bool] = field(default_factory=list)
    loops: list[Loop] = field(default_factory=list)
    changes: tuple[str, ...] = ()
    part: str = ""
    score: str = ""
    notices: tuple[tuple[str, str], ...] = ()
    length_q: Fraction = Fraction(0)
    length_s: float = 0.0

    def level_db(self, group: str) -> float:
        """The level of a group, `-inf` where it is off."""
        return self.wish.solo_db if group == "solo" else level_of(self.wish.levels, group)


def lay_out(title: str, wish: Wish, ladder: Sequence[Sequence[Round]]) -> Track:
    """Lay rounds out, each element of `ladder` those of one tempo."""
    track = Track(title, wish)
    layout = _Layout(track, wish)
    for step, rounds in enumerate(ladder):
        layout.step(rounds, last_step=step == len(ladder) - 1)
    layout.finish()
    track.notices = tuple(dict.fromkeys(said for piece in track.pieces for said in piece.performance.notices))
    return track


class _Layout:
    """Where the track has got to."""

    def __init__(self, track: Track, wish: Wish) -> None:
        self.track, self.wish = track, wish
        self.at_q, self.at_s, self.bars = Fraction(0), 0.0, 0
        self.music_from: tuple[Fraction, float] | None = None
        self._clicks: dict[tuple[int, bool, bool], list[tuple[Click, float]]] = {}

    def step(self, rounds: Sequence[Round], *, last_step: bool) -> None:
        first = rounds[0].passage
        self._check_groups(first)
        check_length(self.at_s + sum(each.passage.body_s for each in rounds), "a track")
        if self.wish.count_in:
            self._count_in(first)
        elif not self.at_q:
            self._wait(max(each.passage.lead_q for each in rounds), first.qpm)
        for number, each in enumerate(rounds):
            last = number == len(rounds) - 1
            self._round(each, goes_on=not (last and last_step))
            if self.wish.gap and not (last and last_step):
                self._gap(each.passage)
        self._loop(rounds)

    def _loop(self, rounds: Sequence[Round]) -> None:
        """Note which playing of these rounds is like all that follow, where one is."""
        kinds, times = len(rounds) // self.wish.times, self.wish.times
        bars = sum(len(each.passage.order) + self.wish.gap for each in rounds[:kinds])
        changing = self.wish.click.silent_bars and bars % 2
        # with a second plan only the first round is another
        first = 0 if rounds[0].passage is rounds[-kinds].passage else 1
        if times - first < 2 or changing or any(each.passage.ends_held for each in rounds):
            return
        begun = self.track.round_s[-len(rounds) :]
        start_s, stop_s = begun[first * kinds], begun[(first + 1) * kinds]
        again = times - first - 1
        self.track.loops.append(Loop(start_s, stop_s, again, stop_s + again * (stop_s - start_s)))

    def _check_groups(self, passage: Passage) -> None:
        groups, meters = self.wish.click.groups, {passage.score.bars[each.bar].meter for each in passage.order}
        if groups and not any(self.wish.click.fits(meter) for meter in meters):
            beats_of(next(iter(meters)), groups)

    def _tempo(self, qpm: Fraction) -> None:
        if not self.track.tempos or self.track.tempos[-1].qpm != qpm:
            self.track.tempos.append(TempoStep(self.at_q, self.at_s, qpm))

    def _wait(self, length_q: Fraction, qpm: Fraction) -> None:
        self._tempo(qpm)
        self.at_q, self.at_s = self.at_q + length_q, self.at_s + float(length_q * 60 / qpm)

    def _count_in(self, passage: Passage) -> None:
        """Full bars, then what is missing of the pickup's bar; always enough for small notes before the beat."""
        bar = passage.first
        clicks, length_q = passage.count_in(self.wish.count_in, self.wish.click)
        self.track.marks += (
            Mark(self.at_q, "meter", f"{bar.meter.beats}/{bar.meter.beat_type}"),
            Mark(self.at_q, "round", "count-in"),
        )
        pace = float(60 / passage.qpm)
        self._click([(each, float(each.offset_q) * pace) for each in clicks])
        self._wait(length_q, passage.qpm)

    def _gap(self, passage: Passage) -> None:
        """Bars without music; the click, if there is one, goes on."""
        bar = passage.score.bars[passage.order[-1].bar]
        # what is slowed down at the end of a round is in time again before the next
        qpm = counted = passage.qpm_at(passage.body_q)
        if passage.factor is not None:
            qpm, counted = passage.qpm, passage.counted_qpm(passage.order[-1])
        clicks = [
            Click(number * bar.meter.bar_q + each.offset_q, each.rank)
            for number in range(self.wish.gap)
            if not (self.wish.click.silent_bars and (self.bars + number) % 2)
            for each in self.wish.click.bar(bar.meter, counted)
        ]
        self._click([(each, float(each.offset_q * 60 / qpm)) for each in clicks])
        self.bars += self.wish.gap
        self._wait(self.wish.gap * bar.meter.bar_q, qpm)

    def _round(self, each: Round, *, goes_on: bool) -> None:
        passage = each.passage
        self.music_from = self.music_from or (self.at_q, self.at_s)
        self.track.round_s.append(self.at_s)
        self.track.round_alone.append(not each.solo or self.wish.mode == "guide")
        self._timing(each)
        for group, parts in self._groups(passage.performance).items():
            if (each.solo or group != SOLO) and self.track.level_db(group) != OFF:
                self._place(group, replace(passage.performance, parts=parts), passage.lead_q, passage.lead_s)
        if self.wish.drone == BASS and self.track.level_db(DRONE) != OFF:
            self._drone(passage)
        self._click(self._clicks_of(passage, goes_on=goes_on))
        self.bars += len(passage.order)
        self.at_q, self.at_s = self.at_q + passage.body_q, self.at_s + passage.body_s

    def _groups(self, performance: Performance) -> dict[str, tuple[PerformedPart, ...]]:
        """The parts by what they are in this track: the player's solo, the rest, and those with their own level."""
        mine, found = self.wish.without, dict[str, tuple[PerformedPart, ...]]()
        for part in performance.parts:
            group = SOLO if part.solo and (not mine or part.id in mine) else ACCOMPANIMENT
            if group == ACCOMPANIMENT and own(part.id) in self.wish.levels:
                group = own(part.id)
            found[group] = (*found.get(group, ()), part)
        return dict(sorted(found.items(), key=lambda each: each[0] == SOLO))

    def _drone(self, passage: Passage) -> None:
        """The bass of the others held under a round."""
        others = [part for part in passage.performance.parts if not part.solo]
        beats = [
            passage.lead_q + each.onset_q + beat.offset_q - bar.lead_q
            for each in passage.order
            for bar in [passage.score.bars[each.bar]]
            for beat in beats_of(bar.meter)
            if bar.lead_q <= beat.offset_q < bar.length_q + bar.lead_q
        ]
        part = bass_part(others, beats, passage.performance.seconds)
        if part.notes:
            self._place(DRONE, _bare(part, part.notes[-1], self.wish.tuning), passage.lead_q, passage.lead_s)

    def _clicks_of(self, passage: Passage, *, goes_on: bool) -> list[tuple[Click, float]]:
        """The clicks of a round with their seconds, found once for rounds that are alike."""
        odd = self.wish.click.silent_bars and self.bars % 2 == 1
        # passages live as long as the track is laid out
        known = id(passage), odd, goes_on
        if known not in self._clicks:
            clicks = passage.clicks(self.wish.click, bars_before=int(odd), goes_on=goes_on, cue=self.wish.cue)
            self._clicks[known] = [(click, passage.seconds(click.offset_q)) for click in clicks]
        return self._clicks[known]

    def _place(self, group: str, performance: Performance, lead_q: Fraction, lead_s: float) -> None:
        self.track.pieces.append(Piece(group, performance, self.at_q - lead_q, self.at_s - lead_s, self.at_s))

    def _timing(self, each: Round) -> None:
        passage = each.passage
        for step in passage.performance.tempos:
            onset_q = max(step.onset_q - passage.lead_q, Fraction(0))
            at = TempoStep(self.at_q + onset_q, self.at_s + passage.seconds(onset_q), step.qpm)
            if not self.track.tempos or self.track.tempos[-1].qpm != step.qpm:
                self.track.tempos.append(at)
        self.track.marks.append(Mark(self.at_q, "round", each.name))
        self.track.marks += (
            mark._replace(onset_q=max(self.at_q + mark.onset_q - passage.lead_q, Fraction(0)))
            for mark in passage.performance.marks
        )

    def _click(self, clicks: Iterable[tuple[Click, float]]) -> None:
        notes = tuple(_click_note(click, onset_s) for click, onset_s in sorted(clicks))
        if notes and self.track.level_db("click") != OFF:
            part = PerformedPart("click", "Click", 0, notes, percussion=True)
            self._place("click", _bare(part, notes[-1]), Fraction(0), 0.0)

    def finish(self) -> None:
        """Close the track, with its drone under all the music."""
        track = self.track
        track.length_q, track.length_s = self.at_q, self.at_s
        if self.wish.drone not in (None, BASS) and self.music_from is not None and track.level_db("drone") != OFF:
            from_q, from_s = self.music_from
            key = next((mark.text for mark in track.marks if mark.kind == "key"), "0 major")
            part = drone_part(self.wish.drone or "1", key, self.at_q - from_q, self.at_s - from_s)
            piece = _bare(part, part.notes[-1], self.wish.tuning)
            track.pieces.append(Piece("drone", piece, from_q, from_s, from_s))


def _click_note(click: Click, onset_s: float) -> PerformedNote:
    key, velocity = CLICK_KEYS[click.rank], CLICK_VELOCITIES[click.rank]
    return PerformedNote(click.offset_q, _CLICK_Q, onset_s, _CLICK_S, _UNPITCHED, key, velocity, "click")


def _bare(part: PerformedPart, last: PerformedNote, tuning: Tuning | None = None) -> Performance:
    steps = (TempoStep(Fraction(0), 0.0, Fraction(60)),)
    length_q, length_s = last.onset_q + last.duration_q, last.onset_s + last.duration_s
    return Performance(part.name, (part,), steps, (), length_q, length_s, tuning=tuning)


def whole_performance(track: Track) -> Performance:
    """The track as one performance, for a MIDI file or to be played live: every part once, its rounds in a row."""
    parts: dict[str, PerformedPart] = {}
    notes: dict[str, list[PerformedNote]] = {}
    controls: dict[str, list[Control]] = {}
    for piece in track.pieces:
        for part in later(piece.performance, piece.onset_q, piece.onset_s).parts:
            parts.setdefault(part.id, _set_up(part, track, piece.group))
            notes.setdefault(part.id, []).extend(part.notes)
            controls.setdefault(part.id, []).extend(part.controls)
    made = tuple(
        replace(
            part,
            notes=tuple(sorted(notes[name], key=lambda note: (note.onset_s, note.key))),
            controls=tuple(controls[name]),
        )
        for name, part in parts.items()
    )
    return Performance(
        track.title,
        made,
        tuple(track.tempos),
        tuple(sorted(track.marks, key=lambda mark: mark.onset_q)),
        track.length_q,
        track.length_s,
        tuning=track.wish.tuning,
    )


def _set_up(part: PerformedPart, track: Track, group: str) -> PerformedPart:
    volume = midi_volume(part.volume, track.level_db(group))
    return replace(part, notes=(), volume=volume, pan=midi_pan(group, track.wish.pan))
