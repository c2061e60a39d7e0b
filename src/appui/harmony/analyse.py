"""The harmony of a whole score, found once: chords, keys, and where the harmony of a sign is heard.

Printed chord symbols or figures, where there are any, are the harmony; else the three fits of `fits`, averaged. A solo
with no other voice in its own bar or the bars beside it is judged *unknown*. Where the others rest on the beat and
enter later in the bar, the chord they enter with counts; where they rest for the bar the chord is carried on from
around, and the verdict is doubtful. After-notes are judged where they sound: at the end of the note they follow. The
verdict on a sign is `judge`'s.
"""

from __future__ import annotations

from functools import cached_property
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from appui.exact import Fraction
from appui.harmony.belonging import Membership, belonging
from appui.harmony.fits import Fits, Sounding
from appui.harmony.keys import LocalKey, key_chances, local_keys, signatures_of
from appui.harmony.parameters import Parameters
from appui.harmony.places import place_of
from appui.harmony.segment import kin_table, members_table
from appui.harmony.spelling import NamedChord, class_of, name_chord
from appui.harmony.templates import CHORDS
from appui.harmony.texture import Texture
from appui.score.model import Score
from appui.score.pitch import Pitch
from appui.score.signs import Sign

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

__all__ = ["DOUBTFUL_BELOW", "Harmony", "analyse"]

DOUBTFUL_BELOW = Parameters().doubtful_below
_AFTER = "after-notes"
_MOMENT_Q = 0.01
_EVEN = 0.5
_TO_SPEAK_OF = 0.02
CARRIED = "taken from what is around, since nothing else sounds here"
_ENTERING = "the chord with which the others enter after it"
_UNISON = "guessed from what is around, since all play in unison"
_BEFORE_WRITTEN_OUT = "before a note that leans itself"
_UNKNOWN_WORDS = "nothing else sounds here to judge by"


class Heard(NamedTuple):
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
        return local_keys(self.fits.by_bar, signatures_of(self.score))

    @cached_property
    def key_chances(self) -> list[float]:
        """The chance of the local key of each bar, 0..1."""
        chances = key_chances(self.fits.by_bar, signatures_of(self.score))
        return [
            float(row[12 * minor + class_of(tonic)]) for row, (tonic, minor) in zip(chances, self.keys, strict=True)
        ]

    @cached_property
    def key_shares(self) -> Floats:
        """(bars, 24) the chance of each key in each bar by the chords alone, without the signature."""
        return key_chances(self.fits.by_bar, None)

    def sure_of_key(self, sign: Sign) -> bool:
        """Whether the local key is sure enough to be named, and degrees with it."""
        return self.key_chances[sign.main(self.score).bar] >= self.parameters.sure_of_key

    def chances(self, onset_q: Fraction) -> Floats:
        """The chance of each chord of `templates.CHORDS` at a moment: the average of three fits."""
        return self.fits.chances(onset_q)

    def chord_at(self, onset_q: Fraction) -> tuple[NamedChord, float]:
        """The likeliest chord at a moment, named, and its chance."""
        chances = self.chances(onset_q)
        best = int(chances.argmax())
        return self.name(best, onset_q, self.fits.bass(onset_q)), float(chances[best])

    def shared_at(self, onset_q: Fraction) -> float:
        """The chance, 0..1, that the likeliest chord's notes are chord notes: see `segment.kin_table`."""
        chances = self.chances(onset_q)
        return float(chances @ kin_table()[int(chances.argmax())])

    def name(self, chord: int, onset_q: Fraction, bass: int | None, small: tuple[Pitch, ...] = ()) -> NamedChord:
        """A chord of `templates.CHORDS` with its letters as they are printed there; `small` are small notes beside."""
        bar, texture = self.score.bar_at(onset_q), self.texture
        beat = self.fits.sounding.between(float(onset_q), float(onset_q + bar.meter.beat_q))
        printed = {int(fifth) for fifth in texture.fifth[beat]} | set(map(place_of, small))
        lowest = None if bass is None else int(texture.fifth[bass])
        return name_chord(CHORDS[chord], printed, lowest, self.keys[bar.index])

    # where a sign is judged

    def moment_q(self, sign: Sign) -> Fraction:
        """Where a sign is judged: at its main note; after-notes in the last part of a beat of theirs."""
        event = sign.main(self.score)
        if sign.kind != _AFTER:
            return event.onset_q
        return event.end_q - min(event.duration_q, self.score.bars[event.bar].meter.beat_q / 4)

    def heard(self, sign: Sign, moment_q: Fraction) -> Heard | None:
        """Where there is harmony to judge a sign by; `None` where there is none near."""
        event, own = sign.main(self.score), (sign.part, sign.voice)
        others, bars = self.fits.sounding.others, self.score.bars
        bar, p = bars[event.bar], self.parameters
        soon_q = max(event.end_q, event.onset_q + bar.meter.beat_q)
        if len(event.notes) > 1 or len(others(float(bar.onset_q), float(moment_q) + _MOMENT_Q, own)):
            unison = self._entry_q(bar.onset_q, float(soon_q), None) is None
            return Heard(moment_q, p.unison, _UNISON) if unison else Heard(moment_q)
        entry_q = self._entry_q(moment_q, float(bar.onset_q + bar.length_q), own)
        if entry_q is not None:
            return Heard(entry_q, 1.0 if entry_q < soon_q else p.entering, _ENTERING)
        if len(others(float(moment_q), float(soon_q), own)):
            return Heard(moment_q)
        before, after = bars[max(bar.index - 1, 0)], bars[min(bar.index + 1, len(bars) - 1)]
        near = others(float(before.onset_q), float(after.onset_q + after.length_q), own)
        return Heard(moment_q, p.carried, CARRIED) if len(near) else None

    def _entry_q(self, start_q: Fraction, end: float, own: tuple[int, int] | None) -> Fraction | None:
        """Where within a span the voices other than `own` first sound two different notes at once."""
        sounding = self.fits.sounding
        for onset in sorted({float(sounding.texture.onset[i]) for i in sounding.others(float(start_q), end, own)}):
            chord = sounding.others(onset, onset + _MOMENT_Q, own)
            if len({int(sounding.texture.midi[i]) % 12 for i in chord}) > 1:
                return max(sounding.note(int(i))[1].onset_q for i in chord)
        return None

    def class_chances(self, sign: Sign) -> Floats | None:
        """(12,) the chance of each pitch class to belong to the chord a sign is judged by; `None` where unknown."""
        known = self.membership(sign)
        return None if known is None else belonging(known, self.parameters)

    def membership(self, sign: Sign) -> Membership | None:
        """What is known of the pitch classes where a sign is judged; `None` where there is nothing to judge by."""
        heard = self.heard(sign, self.moment_q(sign))
        return None if heard is None else self.membership_at(sign, heard, self.chances(heard.moment_q))

    def membership_at(self, sign: Sign, heard: Heard, chances: Floats) -> Membership:
        """The same where it is known where the sign is heard, and how likely each chord is there."""
        moment, sounding = float(heard.moment_q), np.zeros(12, np.bool_)
        now = self.fits.sounding.others(moment, moment + _MOMENT_Q, (sign.part, sign.voice))
        sounding[self.texture.midi[now] % 12] = True
        return Membership(chances @ members_table(), sounding, heard.certainty)

    def bass_under(self, sign: Sign) -> Pitch | None:
        """The bass a sign is heard over; `None` where its own voice is the lowest, or nothing else sounds."""
        heard = self.heard(sign, self.moment_q(sign)) or Heard(self.moment_q(sign))
        if heard.why == CARRIED:
            return None
        return self.below(sign, self.fits.bass(heard.moment_q, (sign.part, sign.voice)))

    def below(self, sign: Sign, bass: int | None) -> Pitch | None:
        """The pitch of a bass, by its number in the texture, where it is not the sign's own voice."""
        if bass is None or self.texture.where[bass][:2] == (sign.part, sign.voice):
            return None
        return self.fits.sounding.note(bass)[2].sounding
