"""The harmony of a whole score, decided once, and the verdict on each sign.

Three fits are averaged, which is what makes the confidence honest: three fifths of the segmentation in parts of a
beat, a fifth of the same in whole beats, a fifth of a fit to what sounds from the main note to the next beat. Printed
chord symbols or figures, where there are any, are the harmony.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from fractions import Fraction
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np

from appui.harmony.keys import LocalKey, local_keys
from appui.harmony.model import DISSONANCE, MEMBER, UNKNOWN, Evidence, Verdict
from appui.harmony.printed import Printed, printed_at
from appui.harmony.segment import Parameters, evidence, members_table, nearby_of, posterior, weights
from appui.harmony.spelling import NamedChord, class_of, figure_of, interval_word, letter_of, name_chord, roman_of
from appui.harmony.templates import CHORDS
from appui.harmony.texture import Slices, Texture, slices_of, texture_of
from appui.score.model import Note, Score
from appui.score.pitch import Pitch
from appui.score.signs import Sign

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

__all__ = ["DOUBTFUL_BELOW", "Harmony", "analyse"]

DOUBTFUL_BELOW = 0.75
_FITS = (0.6, 0.2, 0.2)


def analyse(score: Score, parameters: Parameters | None = None) -> Harmony:
    """The harmony of a score; nothing is computed before the first question."""
    return Harmony(score, parameters or Parameters())


@dataclass(frozen=True, slots=True)
class _Fit:
    """One segmentation: its slices, what sounds in them, what is lowest, and the chance of each chord."""

    slices: Slices
    table: Floats
    lowest: NDArray[np.int64]
    nearby: Floats
    chances: Floats


class Harmony:
    """Answers for one score. Chords are looked up by printed onset."""

    def __init__(self, score: Score, parameters: Parameters) -> None:
        self.score, self.parameters = score, parameters

    @cached_property
    def texture(self) -> Texture:
        """The plain notes as arrays."""
        return texture_of(self.score)

    @cached_property
    def _parts_of_beats(self) -> _Fit:
        return self._fit(slices_of(self.score), self.parameters)

    @cached_property
    def _beats(self) -> _Fit:
        wider = replace(self.parameters, nearby_slices=max(self.parameters.nearby_slices / 2, 1.0))
        return self._fit(slices_of(self.score, whole_beats=True), wider)

    def _fit(self, slices: Slices, p: Parameters) -> _Fit:
        table, lowest = weights(self.texture, slices, p)
        nearby = nearby_of(table, p)
        return _Fit(slices, table, lowest, nearby, posterior(evidence(table, lowest, nearby, p), p))

    @cached_property
    def keys(self) -> list[LocalKey]:
        """The local key of each bar: tonic on the line of fifths, minor or not."""
        fit = self._parts_of_beats
        by_bar = np.zeros((len(self.score.bars), 12))
        np.add.at(by_bar, fit.slices.bar, fit.table)
        keyed = next((p for p in self.score.parts if p.keys and not p.transpositions), self.score.parts[0])
        return local_keys(by_bar, np.array([keyed.key_at(bar.onset_q).fifths for bar in self.score.bars], np.int64))

    def chances(self, onset_q: Fraction) -> Floats:
        """The chance of each chord of `templates.CHORDS` at a moment: the average of three fits."""
        onset = float(onset_q)
        half, whole = self._parts_of_beats, self._beats
        here = half.slices.at(onset)
        mixed = _FITS[0] * half.chances[here] + _FITS[1] * whole.chances[whole.slices.at(onset)]
        return np.asarray(mixed + _FITS[2] * self._window(onset_q, half.nearby[here : here + 1]))

    def _window(self, onset_q: Fraction, nearby: Floats) -> Floats:
        bar = self.score.bar_at(onset_q)
        place_q = onset_q - bar.onset_q + bar.lead_q
        onset, end = float(onset_q), float(onset_q + bar.meter.beat_q - place_q % bar.meter.beat_q)
        inside = self._between(onset, end)
        whole = self.texture
        part = Texture(
            whole.onset[inside],
            whole.end[inside],
            whole.midi[inside],
            whole.fifth[inside],
            whole.part[inside],
            whole.passing[inside],
            (),
        )
        one = Slices(np.array([onset]), np.array([end]), np.array([True]), np.array([bar.index]))
        table, lowest = weights(part, one, self.parameters)
        score = evidence(table, lowest, nearby, self.parameters)[0]
        chance = np.exp(score - score.max())
        return np.asarray(chance / chance.sum())

    def _between(self, start: float, end: float) -> NDArray[np.int64]:
        """Notes that sound within a span; they are few, so the search is bounded by the longest note."""
        order, onsets, longest = self._sorted
        low = np.searchsorted(onsets, start - longest - 1e-6)
        high = np.searchsorted(onsets, end - 1e-6)
        near = order[low:high]
        return np.asarray(near[self.texture.end[near] > start + 1e-6])

    @cached_property
    def _sorted(self) -> tuple[NDArray[np.int64], Floats, float]:
        order = np.argsort(self.texture.onset, kind="stable")
        lengths = self.texture.end - self.texture.onset
        return order, self.texture.onset[order], float(lengths.max()) if len(lengths) else 0.0

    def chord_at(self, onset_q: Fraction) -> tuple[NamedChord, float]:
        """The likeliest chord at a moment, named, and its chance."""
        return self._named(self.chances(onset_q), onset_q)

    def _named(
        self, chances: Floats, onset_q: Fraction, skip: frozenset[int] = frozenset()
    ) -> tuple[NamedChord, float]:
        order = np.argsort(-chances, kind="stable")
        best = next(int(i) for i in order if int(i) not in skip)
        return self._name(best, onset_q), float(chances[best])

    def _name(self, chord: int, onset_q: Fraction) -> NamedChord:
        bar = self.score.bar_at(onset_q)
        tonic, minor = self.keys[bar.index]
        sounding = self._between(float(onset_q), float(onset_q) + float(bar.meter.beat_q))
        now = self._between(float(onset_q), float(onset_q) + 0.01)
        lowest = now[np.argmin(self.texture.midi[now])] if len(now) else None
        bass = int(self.texture.fifth[lowest]) if lowest is not None else None
        return name_chord(
            CHORDS[chord], [int(f) for f in self.texture.fifth[sounding]], bass, tonic - (3 if minor else 0)
        )

    # verdicts

    def verdict(self, sign: Sign) -> Verdict:
        """What the harmony says of a sign."""
        note, onset_q = sign.main_note(self.score), sign.onset_q(self.score)
        printed = printed_at(self.score, onset_q)
        if printed is not None:
            return _of_printed(printed, sign, note)
        if note is None or not self._accompanied(sign):
            return _unknown(sign)
        return self._judge(sign, note, onset_q)

    def _accompanied(self, sign: Sign) -> bool:
        """Whether another voice sounds in the bar up to the end of the main note.

        Or other notes of the same chord do.
        """
        event = sign.main(self.score)
        if len(event.notes) > 1:
            return True
        bar = self.score.bars[event.bar]
        heard = self._between(float(bar.onset_q), float(max(event.end_q, event.onset_q + bar.meter.beat_q)))
        return any(self.texture.where[i][:2] != (sign.part, sign.voice) for i in heard)

    def _judge(self, sign: Sign, note: Note, onset_q: Fraction) -> Verdict:
        chances = self.chances(onset_q)
        belongs = chances @ members_table()
        named, chance = self._named(chances, onset_q)
        best = int(chances.argmax())
        runner, _ = self._named(
            chances, onset_q, frozenset(i for i, c in enumerate(CHORDS) if c.classes == CHORDS[best].classes)
        )
        member_chances = tuple(float(belongs[round(small.sounding[0].midi) % 12]) for small in sign.small)
        confidence = max(member_chances[0], 1 - member_chances[0]) if member_chances else chance
        tonic, minor = self.keys[sign.main(self.score).bar]
        evidence_found = tuple(self._evidence(sign))
        six_four = self._six_four(named, onset_q, sign)
        members = tuple(MEMBER if p >= 0.5 else DISSONANCE for p in member_chances)
        return _finished(
            Verdict(
                named.label,
                named.root,
                named.type.name,
                named.bass_letter,
                figure_of(named),
                _key_words(tonic, minor=minor),
                roman_of(named, tonic, minor=minor),
                round(confidence, 3),
                named.letters,
                members,
                tuple(round(p, 3) for p in member_chances),
                tuple(_leans(sign, i, note, member, named, six_four=six_four) for i, member in enumerate(members)),
                bool(belongs[round(note.sounding.midi) % 12] >= 0.5),
                evidence_found,
                runner.label,
                "",
                six_four=six_four,
                doubtful=confidence < DOUBTFUL_BELOW,
            ),
            sign,
            note,
            named.position,
        )

    def _evidence(self, sign: Sign) -> Iterator[Evidence]:
        event = sign.main(self.score)
        beat_q = self.score.bars[event.bar].meter.beat_q
        for index in self._between(float(event.onset_q), float(event.onset_q + min(event.duration_q, beat_q))):
            part, voice, place, note = self.texture.where[index]
            if (part, voice) != (sign.part, sign.voice):
                found = self.score.parts[part].voices[voice].events[place]
                yield Evidence(self.score.parts[part].name, found.notes[note].sounding, found.onset_q, found.end_q)

    def _six_four(self, named: NamedChord, onset_q: Fraction, sign: Sign) -> bool:
        """Whether a six-four chord of the tonic stands over a bass that goes on as the root of the dominant.

        Both chords are asked of the local key: a six-four over a tonic pedal is no cadential one.
        """
        bar = sign.main(self.score).bar
        tonic = class_of(self.keys[bar][0])
        if len(named.fifths) != 3 or named.inversion != 2 or class_of(named.fifths[0]) != tonic:
            return False
        fit = self._parts_of_beats
        here = fit.slices.at(float(onset_q))
        until = float(onset_q + 3 * self.score.bars[bar].meter.beat_q)
        dominant = class_of(named.fifths[2])
        for index in range(here + 1, len(fit.slices.start)):
            if fit.slices.start[index] > until or fit.lowest[index] % 12 != dominant:
                return False
            following = CHORDS[int(fit.chances[index].argmax())]
            if following.root == dominant and following.type.name in ("major", "dominant seventh"):
                return True
        return False


def _key_words(tonic: int, *, minor: bool) -> str:
    return f"{letter_of(tonic)} {'minor' if minor else 'major'}"


def _steps_into(sign: Sign, index: int, note: Note) -> bool:
    following = sign.small[index + 1].sounding[0] if index + 1 < len(sign.small) else note.sounding
    small = sign.small[index].sounding[0]
    return abs(small.diatonic - following.diatonic) <= 1 and 0 < abs(float(small.midi - following.midi)) <= 3


def _leans(sign: Sign, index: int, note: Note, member: str, named: NamedChord, *, six_four: bool) -> bool | None:
    """Whether a small note leans.

    A dissonance that steps on, or the sixth or fourth of a cadential six-four that steps down.
    """
    small = sign.small[index].sounding[0]
    following = sign.small[index + 1].sounding[0] if index + 1 < len(sign.small) else note.sounding
    if member == MEMBER:
        over = six_four and round(small.midi) % 12 in (class_of(named.fifths[0]), class_of(named.fifths[1]))
        return bool(over and small.diatonic - following.diatonic == 1)
    return True if _steps_into(sign, index, note) else None


def _unknown(sign: Sign) -> Verdict:
    nothing = "nothing else sounds here to judge by"
    return Verdict(
        "",
        "",
        "",
        "",
        "",
        "",
        "",
        0.0,
        (),
        (UNKNOWN,) * len(sign.small),
        (0.5,) * len(sign.small),
        (None,) * len(sign.small),
        None,
        (),
        "",
        nothing,
        doubtful=bool(sign.small),
    )


def _of_printed(printed: Printed, sign: Sign, note: Note | None) -> Verdict:
    classes = {class_of(fifth) for fifth in printed.fifths}
    members = tuple(MEMBER if round(s.sounding[0].midi) % 12 in classes else DISSONANCE for s in sign.small)
    leans = tuple(
        False if m == MEMBER else (True if note and _steps_into(sign, i, note) else None) for i, m in enumerate(members)
    )
    verdict = Verdict(
        printed.label,
        printed.letters[0],
        printed.source,
        printed.letters[printed.fifths.index(printed.bass)] if printed.bass in printed.fifths else "",
        printed.figure,
        "",
        "",
        1.0,
        printed.letters,
        members,
        tuple(float(m == MEMBER) for m in members),
        leans,
        None if note is None else round(note.sounding.midi) % 12 in classes,
        (),
        "",
        "",
    )
    return verdict if note is None else _finished(verdict, sign, note, printed.source)


def _finished(verdict: Verdict, sign: Sign, note: Note, position: str) -> Verdict:
    """The verdict with its words, and what is said of the bass."""
    if not sign.small:
        return replace(verdict, words=f"{verdict.label} ({verdict.roman})" if verdict.roman else verdict.label)
    small = sign.small[0]
    bass = min((e.pitch for e in verdict.evidence), key=lambda pitch: pitch.midi, default=None)
    steps = _steps_into(sign, 0, note)
    octave = bass is not None and small.sounding[0].letter == bass.letter and small.sounding[0].midi > bass.midi
    interval = interval_word(small.sounding[0], bass) if bass is not None else ""
    return replace(
        verdict,
        words=_words(verdict, sign, note, bass, position, steps=steps),
        bass_interval=interval,
        resolves_by_step=steps,
        octave_with_bass=octave,
    )


def _words(verdict: Verdict, sign: Sign, note: Note, bass: Pitch | None, position: str, *, steps: bool) -> str:
    small = sign.small[0]
    heard = small.sounding[0].pretty
    named = heard + (f" (written {small.written[0].pretty})" if small.written != small.sounding else "")
    chord = " ".join(letter.replace("b", "♭").replace("#", "♯") for letter in verdict.pitches)
    above = (
        f"{interval_word(small.sounding[0], bass)} above the bass"
        if bass is not None and bass.midi < small.sounding[0].midi
        else ""
    )
    going = _going(sign, note, steps=steps)
    if verdict.members[0] == MEMBER:
        what = "the sixth or fourth of a cadential six-four" if verdict.leans[0] else "a chord member"
        return f"{named} belongs to {chord}, {position}: " + ", ".join(filter(None, (above, what)))
    return f"{named} against {chord}, {position}: " + ", ".join(filter(None, (above, going))) + ": dissonance"


def _going(sign: Sign, note: Note, *, steps: bool) -> str:
    small = sign.small[0]
    following = sign.small[1].sounding[0] if len(sign.small) > 1 else note.sounding
    down = small.sounding[0].midi > following.midi
    target = following.letter.replace("b", "♭").replace("#", "♯")
    return f"steps {'down' if down else 'up'} to {target}" if steps else f"leaps {'down' if down else 'up'} to {target}"
