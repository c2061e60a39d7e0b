"""The line a player is expected to play: the solo's full-size notes in order, and the ornaments that stand on them.

Conventions: `*_q` are exact quarter notes on the performed time line, which begins with the first bar that is played.
Ties are joined. One note at a time: of a chord, and of several voices, the highest (said in `Line.notices`). Ornaments
take no time here, since whether they do is what is asked; a fermata stands as it is printed, and breaks the beat.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from typing import NamedTuple

from appui.exact import Fraction
from appui.interpret.interpretation import Interpretation
from appui.interpret.realizing import realize
from appui.perform.model import PerformedNote
from appui.perform.play import play
from appui.perform.touch import join_ties
from appui.realize.contract import Tone
from appui.score.endings import printed_ending
from appui.score.model import Score
from appui.score.pitch import Pitch
from appui.score.repeats import Occurrence
from appui.score.signs import Sign, bar_names
from appui.style.choose import WITH_NEIGHBOUR
from appui.style.reading import Reading

__all__ = ["Decided", "FIGURES", "JUDGED", "Line", "Place", "Step", "TRILLS", "line_of", "nominal_seconds"]

TRILLS = frozenset({"trill", "shake", "wavy line", "short trill"})
#  signs of a few quick notes around their own
FIGURES = (WITH_NEIGHBOUR - TRILLS) | {"short trill"}
#  the kinds of signs that are looked for in a take; of the others it is said that they are not
JUDGED = frozenset({"small notes"}) | TRILLS | FIGURES
#  semitones of the largest second and third
_SECOND, _THIRD = 2, 4
#  a neighbour is at most so many semitones away
_FURTHEST = 3
#  what breaks the beat, so that no curve is drawn through it
_BREAKS = frozenset({"fermata", "caesura"})
#  signs whose notes fall within their note, whatever they are
_WITHIN = WITH_NEIGHBOUR | {"tremolo", "after-notes", "embellishment", "other ornament"}


class Step(NamedTuple):
    """One full-size note. `nominal_s` is where the score's own tempo has it, seconds from the first bar.

    `plain` says whether nothing is printed on it or before it, so that its start tells where the beat is; `slurred`
    whether a slur leads to it; `stretch` counts the breaks of the beat before it; `also` are other keys that may sound
    within it: of a trill, a turn, notes that follow.
    """

    onset_q: Fraction
    length_q: Fraction
    nominal_s: float
    key: int
    bar: str
    plain: bool = True
    slurred: bool = False
    stretch: int = 0
    also: tuple[int, ...] = ()

    @property
    def keys(self) -> tuple[int, ...]:
        """Every key that may sound within it, its own first."""
        return (self.key, *self.also)

    @property
    def first_keys(self) -> tuple[int, ...]:
        """The keys with which it may begin: its own, or the upper neighbour's; a lower one comes later, if at all."""
        return (self.key, *(key for key in self.also if key > self.key))

    def may_begin_with(self, keys: Sequence[int]) -> bool:
        """Whether it may begin with any of these keys, so that before it none of them is heard by its pitch."""
        return set(keys) <= set(self.first_keys)


class Decided(NamedTuple):
    """What was decided for a place: the reading's words, where its notes fall, and as played in time.

    `lead_s` is how long before the beat it begins, `length_s` how long the small notes last together; `weight_db` how
    much louder the last of them is than the main note; `notes` the MIDI keys of what the sign becomes. Of a figure
    `starts_s` says when each of these begins, and last when they end, seconds after the beat, `length_of_note_s` how
    long its main note is.
    """

    words: str
    placement: str
    lead_s: float = 0.0
    length_s: float = 0.0
    weight_db: float | None = None
    notes: tuple[int, ...] = ()
    starts_s: tuple[float, ...] = ()
    length_of_note_s: float = 0.0

    def slower(self, times: float) -> Decided:
        """The same where everything takes so many times as long."""
        return self._replace(
            lead_s=self.lead_s * times,
            length_s=self.length_s * times,
            starts_s=tuple(each * times for each in self.starts_s),
            length_of_note_s=self.length_of_note_s * times,
        )


class Place(NamedTuple):
    """One ornament in one playing of its bar: which step is its main note, and the keys of its small notes.

    `turn` counts from 1 where repeats are played; `upper` is the key of a trill's upper note, 0 for other signs.
    `hidden` says that a trill or turn on the main note may begin with the pitch of the last small note. `after` are the
    keys of the small notes printed at the end of a trill: they are the page's, and no termination of the player's.
    `written` is the main note of a figure (a turn, a mordent, a short trill, a slide) as it is written, else `None`.
    `pace` says how many times as long everything takes here in a track as in the score's own tempo.
    """

    sign: Sign
    step: int
    turn: int
    small: tuple[int, ...]
    decided: Decided
    upper: int = 0
    hidden: bool = False
    after: tuple[int, ...] = ()
    written: Pitch | None = None
    pace: float = 1.0

    @property
    def name(self) -> str:
        """The place, and which time it comes: ``oboe.4.1``, ``oboe.4.1 (2nd time)``."""
        ordinal = {1: "", 2: " (2nd time)", 3: " (3rd time)"}.get(self.turn, f" ({self.turn}th time)")
        return self.sign.place + ordinal


@dataclass(frozen=True, slots=True)
class Line:
    """The steps in order of time, the places in order of their steps, and what had to be said."""

    steps: tuple[Step, ...]
    places: tuple[Place, ...]
    notices: tuple[str, ...] = ()

    @property
    def keys(self) -> tuple[int, ...]:
        """Every MIDI key that may sound, in order."""
        found = {step.key for step in self.steps}
        found |= {key for place in self.places for key in (*place.small, *([place.upper] if place.upper else []))}
        return tuple(sorted(found))

    def length_s(self, number: int) -> float:
        """How long a step is at the score's own tempo, seconds: until the next one, where that follows at once."""
        step, following = self.steps[number], self.steps[number + 1 : number + 2]
        if following and following[0].onset_q == step.onset_q + step.length_q:
            return following[0].nominal_s - step.nominal_s
        first, last = self.steps[0], self.steps[-1]
        pace = (last.nominal_s - first.nominal_s) / max(float(last.onset_q - first.onset_q), 1e-6)
        return float(step.length_q) * (pace or 1.0)


def line_of(interpretation: Interpretation, order: Sequence[Occurrence]) -> Line:
    """The solo's line over these bars."""
    solo = interpretation.solo.index
    tones = join_ties(realize(interpretation, order, _bare(interpretation), [solo]).tones[solo])
    top = _top_line(tones)
    notices = ("more than one note at a time: the highest is followed, the others are not judged",)
    places = tuple(_places(interpretation, order, top))
    steps = tuple(_with_decided(_steps(interpretation, order, top, _signs(interpretation)), places))
    places = tuple(place._replace(hidden=_is_hidden(place, steps[place.step])) for place in places)
    return Line(steps, places, notices if len(top) < len(tones) else ())


def _is_hidden(place: Place, step: Step) -> bool:
    """Whether what is played on the main note may begin with the pitch of the last small note."""
    return bool(place.small and step.also) and place.small[-1] in step.first_keys


def nominal_seconds(interpretation: Interpretation, order: Sequence[Occurrence]) -> Callable[[Fraction], float]:
    """The score's own time, from the quarter notes of these bars to seconds, nothing held where the solo has signs.

    Whatever is set beside the line must be timed by this: with a fermata held, all that follows would come later.
    """
    return play(interpretation, order, _bare(interpretation), []).seconds


def _signs(interpretation: Interpretation) -> list[Sign]:
    """The solo's."""
    return [sign for sign in interpretation.signs if sign.part == interpretation.solo.index]


def _bare(interpretation: Interpretation) -> dict[str, Reading]:
    """The solo without its ornaments."""
    return {sign.place: Reading("plain") for sign in _signs(interpretation)}


def _top_line(tones: Sequence[Tone]) -> list[Tone]:
    """The highest note at every onset, each at most until the next."""
    highest: dict[Fraction, Tone] = {}
    for tone in tones:
        known = highest.get(tone.onset_q)
        if known is None or tone.pitch.midi > known.pitch.midi:
            highest[tone.onset_q] = tone
    out: list[Tone] = []
    for onset_q in sorted(highest):
        tone = highest[onset_q]
        # an inner voice that moves under a held note is none of the line
        if out and out[-1].end_q > onset_q and out[-1].pitch.midi > tone.pitch.midi:
            continue
        if out and out[-1].end_q > onset_q:
            out[-1] = out[-1]._replace(duration_q=onset_q - out[-1].onset_q)
        out.append(tone)
    return out


def _steps(
    interpretation: Interpretation, order: Sequence[Occurrence], top: Sequence[Tone], signs: Sequence[Sign]
) -> Iterator[Step]:
    score, names = interpretation.score, bar_names(interpretation.score)
    printed = {sign.onset_q(score) for sign in signs}
    breaks = {sign.onset_q(score) for sign in signs if sign.kind in _BREAKS}
    seconds = nominal_seconds(interpretation, order)
    around: dict[Fraction, list[Sign]] = {}
    for sign in signs:
        if sign.kind in _WITHIN:
            around.setdefault(sign.onset_q(score), []).append(sign)
    stretch = 0
    for tone, following in zip(top, [*top[1:], None], strict=True):
        plain = not printed & {tone.printed_q}
        nominal_s = seconds(max(tone.onset_q, Fraction(0)))
        bar = names[score.bar_at(tone.printed_q).index]
        key = round(tone.pitch.midi)
        yield Step(
            tone.onset_q,
            tone.duration_q,
            nominal_s,
            key,
            bar,
            plain,
            tone.event.slur_back,
            stretch,
            _also(around.get(tone.printed_q, []), key, round(following.pitch.midi) if following else 0),
        )
        stretch += tone.printed_q in breaks


def _with_decided(steps: Iterable[Step], places: Sequence[Place]) -> Iterator[Step]:
    """The steps, within those with a figure its decided keys too: a neighbour may be an augmented second away."""
    decided: dict[int, tuple[int, ...]] = {}
    for place in places:
        if place.written is not None:
            decided[place.step] = (*decided.get(place.step, ()), *place.decided.notes)
    for number, step in enumerate(steps):
        near = {key for key in decided.get(number, ()) if 0 < abs(key - step.key) <= _FURTHEST}
        yield step._replace(also=tuple(sorted({*step.also, *near})))


def _also(signs: Sequence[Sign], key: int, following: int) -> tuple[int, ...]:
    """The keys that may sound within a note that has signs: its neighbours, and the small notes after it.

    A lower neighbour that is the `following` note is rather that: else the note would seem to last as long as both.
    """
    found: set[int] = set()
    for sign in signs:
        found |= {round(max(pitch.midi for pitch in each.sounding)) for each in sign.small}
        if not sign.small:
            reach = _THIRD if sign.kind == "slide" else _SECOND
            near = {key + away for away in range(-reach, reach + 1)}
            found |= near - {following} if following < key and sign.kind in TRILLS else near
    return tuple(sorted(found - {key}))


def _places(interpretation: Interpretation, order: Sequence[Occurrence], top: Sequence[Tone]) -> Iterator[Place]:
    score = interpretation.score
    by_onset: dict[Fraction, list[Sign]] = {}
    for sign in _signs(interpretation):
        if sign.kind in JUDGED and sign.within is None:
            by_onset.setdefault(sign.onset_q(score), []).append(sign)
    decided = _Decisions(interpretation, order)
    turns: dict[str, int] = {}
    for number, tone in enumerate(top):
        for sign in by_onset.get(tone.printed_q, []):
            note = sign.main_note(score)
            if note is None or round(note.sounding.midi) != round(tone.pitch.midi):
                continue
            turns[sign.place] = turns.get(sign.place, 0) + 1
            small = tuple(round(max(pitch.midi for pitch in each.sounding)) for each in sign.small)
            upper = decided.upper(sign, round(tone.pitch.midi)) if sign.kind in TRILLS else 0
            after = _after(score, sign) if sign.kind in TRILLS else ()
            written = note.written if sign.kind in FIGURES else None
            what = decided.of(sign, tone.onset_q, tone.duration_q)
            yield Place(sign, number, turns[sign.place], small, what, upper, after=after, written=written)


def _after(score: Score, sign: Sign) -> tuple[int, ...]:
    """The keys of the small notes printed at the end of a trill."""
    if printed_ending(score, sign) != "small":
        return ()
    event, *later = score.parts[sign.part].voices[sign.voice].events[sign.event : sign.event + 2]
    small = event.small_after or tuple(note for each in later for note in each.small_before)
    return tuple(round(max(pitch.midi for pitch in each.sounding)) for each in small)


class _Decisions:
    """The interpretation as it is decided, performed, looked up by place."""

    def __init__(self, interpretation: Interpretation, order: Sequence[Occurrence]) -> None:
        self.interpretation = interpretation
        performance = play(interpretation, order, None, [interpretation.solo.index])
        self.lead_q, self.seconds = performance.lead_q, performance.seconds
        self.by_sign: dict[str, list[PerformedNote]] = {}
        for note in performance.parts[0].notes:
            if note.sign is not None:
                self.by_sign.setdefault(note.sign, []).append(note)

    def of(self, sign: Sign, onset_q: Fraction, length_q: Fraction) -> Decided:
        """What was decided for a sign whose main note is at a moment of the performed line."""
        reading = self.interpretation.choices[sign.place].reading
        beat_q = onset_q + self.lead_q
        near = [note for note in self.by_sign.get(sign.place, []) if abs(note.onset_q - beat_q) < 8]
        small = [note for note in near if note.role in ("before", "short", "lean")]
        main = next((note for note in near if note.role in ("main", "release")), None)
        if not small:
            near = [note for note in near if beat_q <= note.onset_q < beat_q + length_q]
            keys, beat_s = tuple(note.key for note in near), self.seconds(beat_q)
            ends = [note.onset_s + note.duration_s for note in near[-1:]]
            starts = tuple(at - beat_s for at in (*(note.onset_s for note in near), *ends))
            note_s = self.seconds(beat_q + length_q) - beat_s
            return Decided(reading.text, reading.placement, notes=keys, starts_s=starts, length_of_note_s=note_s)
        first, last, keys = small[0], small[-1], tuple(note.key for note in near)
        end_s = main.onset_s if main else last.onset_s + last.duration_s
        weight = _level_db(last) - _level_db(main) if main else None
        lead_s = max(self.seconds(beat_q) - first.onset_s, 0.0)
        return Decided(
            reading.text, reading.placement, lead_s, end_s - first.onset_s, weight, tuple(note.key for note in near)
        )

    def upper(self, sign: Sign, key: int) -> int:
        """The key of a trill's upper note: as it is decided, else a whole tone above."""
        above = [note.key for note in self.by_sign.get(sign.place, []) if note.role == "trill" and note.key > key]
        return min(above, default=key + 2)


def _level_db(note: PerformedNote) -> float:
    from math import log10

    # SoundFont 2.04, section 8.4.1 (read)
    return 40 * log10(note.velocity / 127)
