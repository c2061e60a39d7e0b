"""The harmony of a whole score, decided once, and the verdict on each sign.

Printed chord symbols or figures, where there are any, are the harmony; else the three fits of `fits`, averaged. A solo
with no other voice in its own bar or the bars beside it is judged *unknown*. Where the others rest on the beat and
enter later in the bar, the chord they enter with counts; where they rest for the bar the chord is carried on from
around, and the verdict is doubtful. After-notes are judged where they sound: at the end of the note they follow.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from functools import cached_property
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from appui.exact import Fraction
from appui.harmony.belonging import Membership, belonging
from appui.harmony.facts import judge_small
from appui.harmony.fits import Fits, Sounding
from appui.harmony.keys import LocalKey, key_chances, local_keys
from appui.harmony.model import DISSONANCE, MEMBER, UNKNOWN, Evidence, Verdict
from appui.harmony.parameters import Parameters
from appui.harmony.places import place_of
from appui.harmony.printed import Printed, printed_at, printed_six_four
from appui.harmony.roman import roman_of
from appui.harmony.segment import members_table
from appui.harmony.spelling import NamedChord, class_of, figure_of, interval_word, letter_of, name_chord
from appui.harmony.templates import CHORDS
from appui.harmony.texture import Texture
from appui.harmony.words import Around, clause, steps_on
from appui.harmony.written_out import written_out_at
from appui.score.model import Note, Score
from appui.score.pitch import Pitch
from appui.score.signs import Sign
from appui.score.words import Membership as Member

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

__all__ = ["DOUBTFUL_BELOW", "Harmony", "analyse"]

DOUBTFUL_BELOW = Parameters().doubtful_below
_AFTER = "after-notes"
_MOMENT_Q = 0.01
_EVEN = 0.5
_TO_SPEAK_OF = 0.02
_CARRIED = "taken from what is around, since nothing else sounds here"
_ENTERING = "the chord with which the others enter after it"
_UNISON = "guessed from what is around, since all play in unison"
_BEFORE_WRITTEN_OUT = "before a note that leans itself"
_UNKNOWN_WORDS = "nothing else sounds here to judge by"


class _Heard(NamedTuple):
    """Where the harmony of a sign is heard: the moment, how much of the certainty is left, and in words why there."""

    moment_q: Fraction
    certainty: float = 1.0
    why: str = ""


def analyse(score: Score, parameters: Parameters | None = None, sounding: Sounding | None = None) -> Harmony:
    """The harmony of a score; nothing is computed before the first question.

    `sounding` saves listening again where the same score is asked with other parameters.
    """
    return Harmony(score, parameters or Parameters(), sounding)


class Harmony:
    """Answers for one score. Chords are looked up by printed onset."""

    def __init__(self, score: Score, parameters: Parameters, sounding: Sounding | None = None) -> None:
        self.score, self.parameters = score, parameters
        self.fits = Fits(score, parameters, sounding)

    @property
    def texture(self) -> Texture:
        """The plain notes as arrays."""
        return self.fits.sounding.texture

    @cached_property
    def keys(self) -> list[LocalKey]:
        """The local key of each bar: tonic on the line of fifths, minor or not."""
        return local_keys(self.fits.by_bar, self._signatures)

    @cached_property
    def key_chances(self) -> list[float]:
        """The chance of the local key of each bar, 0..1."""
        chances = key_chances(self.fits.by_bar, self._signatures)
        return [
            float(row[12 * minor + class_of(tonic)]) for row, (tonic, minor) in zip(chances, self.keys, strict=True)
        ]

    def _sure_of_key(self, sign: Sign) -> bool:
        """Whether the local key is sure enough to be named, and degrees with it."""
        return self.key_chances[sign.main(self.score).bar] >= self.parameters.sure_of_key

    @property
    def _signatures(self) -> NDArray[np.int64]:
        """The key signature of each bar, as it sounds."""
        keyed = next((p for p in self.score.parts if p.keys and not p.transpositions), self.score.parts[0])
        return np.array([keyed.key_at(bar.onset_q).fifths for bar in self.score.bars], np.int64)

    def chances(self, onset_q: Fraction) -> Floats:
        """The chance of each chord of `templates.CHORDS` at a moment: the average of three fits."""
        return self.fits.chances(onset_q)

    def chord_at(self, onset_q: Fraction) -> tuple[NamedChord, float]:
        """The likeliest chord at a moment, named, and its chance."""
        chances = self.chances(onset_q)
        best = int(chances.argmax())
        return self._name(best, onset_q, self.fits.bass(onset_q)), float(chances[best])

    def _name(self, chord: int, onset_q: Fraction, bass: int | None, small: tuple[Pitch, ...] = ()) -> NamedChord:
        bar, texture = self.score.bar_at(onset_q), self.texture
        beat = self.fits.sounding.between(float(onset_q), float(onset_q + bar.meter.beat_q))
        printed = {int(fifth) for fifth in texture.fifth[beat]} | set(map(place_of, small))
        lowest = None if bass is None else int(texture.fifth[bass])
        return name_chord(CHORDS[chord], printed, lowest, self.keys[bar.index])

    # verdicts

    def verdict(self, sign: Sign) -> Verdict:
        """What the harmony says of a sign."""
        note, moment_q = sign.main_note(self.score), self._moment_q(sign)
        printed = printed_at(self.score, moment_q)
        if printed is not None:
            return self._of_printed(printed, sign, moment_q)
        heard = self._heard(sign, moment_q)
        if note is None or heard is None:
            return _unknown(sign)
        return self._beside_written_out(sign, self._judge(sign, note, heard))

    def _beside_written_out(self, sign: Sign, verdict: Verdict) -> Verdict:
        """The verdict, changed where the main note is itself a leaning note: the stress is there, not before it."""
        if not any(verdict.leans) or written_out_at(self.score, self, sign) is None:
            return verdict
        words = f"{verdict.words}, {_BEFORE_WRITTEN_OUT}"
        return replace(verdict, leans=(False,) * len(verdict.leans), words=words, before_written_out=True)

    def _moment_q(self, sign: Sign) -> Fraction:
        """Where a sign is judged: at its main note; after-notes in the last part of a beat of theirs."""
        event = sign.main(self.score)
        if sign.kind != _AFTER:
            return event.onset_q
        return event.end_q - min(event.duration_q, self.score.bars[event.bar].meter.beat_q / 4)

    def _heard(self, sign: Sign, moment_q: Fraction) -> _Heard | None:
        """Where there is harmony to judge a sign by; `None` where there is none near."""
        event, own = sign.main(self.score), (sign.part, sign.voice)
        others, bars = self.fits.sounding.others, self.score.bars
        bar, p = bars[event.bar], self.parameters
        soon_q = max(event.end_q, event.onset_q + bar.meter.beat_q)
        if len(event.notes) > 1 or len(others(float(bar.onset_q), float(moment_q) + _MOMENT_Q, own)):
            unison = self._entry_q(bar.onset_q, float(soon_q), None) is None
            return _Heard(moment_q, p.unison, _UNISON) if unison else _Heard(moment_q)
        entry_q = self._entry_q(moment_q, float(bar.onset_q + bar.length_q), own)
        if entry_q is not None:
            return _Heard(entry_q, 1.0 if entry_q < soon_q else p.entering, _ENTERING)
        if len(others(float(moment_q), float(soon_q), own)):
            return _Heard(moment_q)
        before, after = bars[max(bar.index - 1, 0)], bars[min(bar.index + 1, len(bars) - 1)]
        near = others(float(before.onset_q), float(after.onset_q + after.length_q), own)
        return _Heard(moment_q, p.carried, _CARRIED) if len(near) else None

    def _entry_q(self, start_q: Fraction, end: float, own: tuple[int, int] | None) -> Fraction | None:
        """Where within a span the voices other than `own` first sound two different notes at once."""
        sounding = self.fits.sounding
        for onset in sorted({float(sounding.texture.onset[i]) for i in sounding.others(float(start_q), end, own)}):
            chord = sounding.others(onset, onset + _MOMENT_Q, own)
            if len({int(sounding.texture.midi[i]) % 12 for i in chord}) > 1:
                return max(sounding.note(int(i))[1].onset_q for i in chord)
        return None

    def _judge(self, sign: Sign, note: Note, heard: _Heard) -> Verdict:
        onset_q, carried = heard.moment_q, heard.why == _CARRIED
        chances = self.chances(onset_q)
        bass = None if carried else self.fits.bass(onset_q, (sign.part, sign.voice))
        known, below = self._membership(sign, heard, chances), self._below(sign, bass)
        each = judge_small(self.score, sign, known, below, self.parameters)
        member_chances = tuple(min(struck) for struck in each.chances)
        main = round(note.sounding.midi) % 12
        best = _agreeing(sign, chances, member_chances, main if each.main_leans else None)
        named = self._name(best, onset_q, bass, sign.small[0].sounding if sign.small else ())
        confidence = max(member_chances[0], 1 - member_chances[0]) if sign.small else float(chances[best])
        key, sure = self.keys[sign.main(self.score).bar], self._sure_of_key(sign)
        six_four = not carried and self._six_four(named, onset_q)
        verdict = Verdict(
            label=named.label,
            root=named.root,
            quality=named.type.name,
            bass=named.bass_letter,
            figure=figure_of(named),
            key=_key_words(key) if sure else "",
            roman=roman_of(named, key[0], minor=key[1]) if sure else "",
            confidence=round(confidence, 3),
            pitches=named.letters,
            members=tuple(map(_membership, member_chances)),
            member_chances=tuple(round(chance, 3) for chance in member_chances),
            struck=tuple(tuple(map(_membership, struck)) for struck in each.chances),
            leans=(),
            main_member=bool(members_table()[best, main] if each.main_leans else known.contained[main] >= _EVEN),
            evidence=() if carried else tuple(self._evidence(sign, onset_q, bass)),
            runner_up=self._runner_up(best, chances, onset_q, bass),
            words="",
            six_four=six_four,
            doubtful=confidence < self.parameters.doubtful_below,
        )
        around = Around(below, self._target(sign, note), named.position, heard.why, each.why)
        return _finished(verdict, sign, around, {class_of(fifth) for fifth in named.fifths[:2]})

    def class_chances(self, sign: Sign) -> Floats | None:
        """(12,) the chance of each pitch class to belong to the chord a sign is judged by; `None` where unknown."""
        known = self.membership(sign)
        return None if known is None else belonging(known, self.parameters)

    def membership(self, sign: Sign) -> Membership | None:
        """What is known of the pitch classes where a sign is judged; `None` where there is nothing to judge by."""
        heard = self._heard(sign, self._moment_q(sign))
        return None if heard is None else self._membership(sign, heard, self.chances(heard.moment_q))

    def _membership(self, sign: Sign, heard: _Heard, chances: Floats) -> Membership:
        moment, sounding = float(heard.moment_q), np.zeros(12, np.bool_)
        now = self.fits.sounding.others(moment, moment + _MOMENT_Q, (sign.part, sign.voice))
        sounding[self.texture.midi[now] % 12] = True
        return Membership(chances @ members_table(), sounding, heard.certainty)

    def _runner_up(self, best: int, chances: Floats, onset_q: Fraction, bass: int | None) -> str:
        members = members_table()
        same = (members == members[best]).all(1)  # the chord itself, and others of the same notes
        return self._name(int(np.where(same, -1.0, chances).argmax()), onset_q, bass).label

    def _target(self, sign: Sign, note: Note) -> Pitch | None:
        """What follows the last small note: the main note, or after an after-note the next note of the voice."""
        if sign.kind != _AFTER:
            return note.sounding
        events = self.score.parts[sign.part].voices[sign.voice].events
        following = events[sign.event + 1] if sign.event + 1 < len(events) else None
        return following.top.sounding if following and following.notes else None

    def _evidence(self, sign: Sign, onset_q: Fraction, bass: int | None) -> Iterator[Evidence]:
        event, sounding, own = sign.main(self.score), self.fits.sounding, (sign.part, sign.voice)
        end_q = max(onset_q + min(event.duration_q, self.score.bars[event.bar].meter.beat_q), onset_q)
        found = [int(i) for i in sounding.others(float(onset_q), float(end_q), own)]
        if bass is not None and bass not in found and self.texture.where[bass][:2] != own:
            found.insert(0, bass)
        for index in found:
            part, other, note = sounding.note(index)
            yield Evidence(part, note.sounding, other.onset_q, other.end_q)

    def _six_four(self, named: NamedChord, onset_q: Fraction) -> bool:
        """Whether a six-four chord of the tonic stands over a bass that goes on as the root of the dominant.

        Both chords are asked of the local key: a six-four over a tonic pedal is no cadential one.
        """
        bar = self.score.bar_at(onset_q)
        tonic = class_of(self.keys[bar.index][0])
        if len(named.fifths) != 3 or named.inversion != 2 or class_of(named.fifths[0]) != tonic:
            return False
        fit = self.fits.parts_of_beats
        here, until = fit.slices.at(float(onset_q)), float(onset_q + 3 * bar.meter.beat_q)
        dominant = class_of(named.fifths[2])
        for index in range(here + 1, len(fit.slices.start)):
            if fit.slices.start[index] > until or fit.lowest[index] % 12 != dominant:
                return False
            following = CHORDS[int(fit.best[index])]
            if following.root == dominant and following.type.name in ("major", "dominant seventh"):
                return True
        return False

    def _of_printed(self, printed: Printed, sign: Sign, onset_q: Fraction) -> Verdict:
        classes = {class_of(fifth) for fifth in printed.fifths}
        inside = [[float(round(p.midi) % 12 in classes) for p in small.sounding] for small in sign.small]
        note = sign.main_note(self.score)
        key = self.keys[sign.main(self.score).bar]
        six_four = printed_six_four(self.score, printed, onset_q) and class_of(printed.bass) == class_of(key[0] + 1)
        verdict = Verdict(
            label=printed.label,
            root=printed.letters[0],
            quality=printed.source,
            bass=letter_of(printed.bass),
            figure=printed.figure,
            key=_key_words(key) if self._sure_of_key(sign) else "",
            roman="",
            confidence=1.0,
            pitches=printed.letters,
            members=tuple(_membership(min(struck)) for struck in inside),
            member_chances=tuple(map(min, inside)),
            struck=tuple(tuple(map(_membership, struck)) for struck in inside),
            leans=(),
            main_member=None if note is None else round(note.sounding.midi) % 12 in classes,
            evidence=(),
            runner_up="",
            words="",
            six_four=six_four,
        )
        around = Around(self.bass_under(sign), note and self._target(sign, note), printed.source)
        return _finished(verdict, sign, around, classes - {class_of(printed.bass)})

    def bass_under(self, sign: Sign) -> Pitch | None:
        """The bass a sign is heard over; `None` where its own voice is the lowest, or nothing else sounds."""
        heard = self._heard(sign, self._moment_q(sign)) or _Heard(self._moment_q(sign))
        if heard.why == _CARRIED:
            return None
        return self._below(sign, self.fits.bass(heard.moment_q, (sign.part, sign.voice)))

    def _below(self, sign: Sign, bass: int | None) -> Pitch | None:
        if bass is None or self.texture.where[bass][:2] == (sign.part, sign.voice):
            return None
        return self.fits.sounding.note(bass)[2].sounding


def _agreeing(sign: Sign, chances: Floats, member_chances: tuple[float, ...], apart: int | None) -> int:
    """The likeliest chord of those that say of the first small note what was found of it.

    C may belong to the likeliest chord and not to the two next, which together are likelier. `apart` is the pitch
    class of a main note that was found to lean: it is in none, if there is such a chord to speak of.
    """
    if not sign.small:
        return int(chances.argmax())
    classes = [round(pitch.midi) % 12 for pitch in sign.small[0].sounding]
    fits = members_table()[:, classes].all(1) == (member_chances[0] >= _EVEN)
    if apart is not None:
        without = fits & (members_table()[:, apart] == 0)
        fits = without if chances[without].max(initial=0.0) >= _TO_SPEAK_OF else fits
    return int(np.where(fits, chances, -1.0).argmax())


def _membership(chance: float) -> Member:
    return MEMBER if chance >= _EVEN else DISSONANCE


def _key_words(key: LocalKey) -> str:
    return f"{letter_of(key[0])} {'minor' if key[1] else 'major'}"


def _finished(verdict: Verdict, sign: Sign, around: Around, upper: set[int]) -> Verdict:
    """The verdict with what leans, what is said of the bass, and its words.

    `upper` are the pitch classes that lean over a cadential six-four: its sixth and fourth.
    """
    if not sign.small:
        return replace(verdict, words=clause(verdict, sign, around))
    small, bass = sign.small[0].sounding[0], around.bass
    leaning = replace(
        verdict,
        leans=tuple(_leans(sign, i, verdict, around, upper) for i in range(len(sign.small))),
        bass_interval=interval_word(small, bass) if bass is not None else "",
        resolves_by_step=steps_on(sign, 0, around.target),
        octave_with_bass=bass is not None and small.letter == bass.letter and small.midi > bass.midi,
    )
    return replace(leaning, words=clause(leaning, sign, around))


def _leans(sign: Sign, index: int, verdict: Verdict, around: Around, upper: set[int]) -> bool | None:
    """Whether a small note leans: a dissonance that steps on, or what steps down over a cadential six-four.

    After-notes come off the beat and never lean; a dissonance that leaps on is left open.
    """
    if sign.kind == _AFTER:
        return False
    small = sign.small[index].sounding[0]
    steps = steps_on(sign, index, around.target)
    if verdict.members[index] != MEMBER:
        return True if steps else None
    following = sign.small[index + 1].sounding[0] if index + 1 < len(sign.small) else around.target
    down = following is not None and small.diatonic - following.diatonic == 1
    return bool(verdict.six_four and round(small.midi) % 12 in upper and down)


def _unknown(sign: Sign) -> Verdict:
    count = len(sign.small)
    return Verdict(
        label="",
        root="",
        quality="",
        bass="",
        figure="",
        key="",
        roman="",
        confidence=0.0,
        pitches=(),
        members=(UNKNOWN,) * count,
        struck=tuple((UNKNOWN,) * len(small.sounding) for small in sign.small),
        member_chances=(0.5,) * count,
        leans=(None,) * count,
        main_member=None,
        evidence=(),
        runner_up="",
        words=_UNKNOWN_WORDS,
        doubtful=bool(count),
    )
