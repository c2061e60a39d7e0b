"""What the harmony says of one sign: in the chord or not, leaning or not, and why, in words.

It does not ask yet whether the main note is itself a leaning note printed at full size: that is `verdicts`.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from appui.exact import Fraction
from appui.harmony.analyse import CARRIED, Harmony, Heard
from appui.harmony.keys import LocalKey
from appui.harmony.model import DISSONANCE, MEMBER, UNKNOWN, Evidence, Verdict
from appui.harmony.printed import Printed, printed_at, printed_six_four
from appui.harmony.roman import roman_of
from appui.harmony.segment import members_table
from appui.harmony.small import judge_small
from appui.harmony.spelling import NamedChord, class_of, figure_of, interval_word, letter_of
from appui.harmony.templates import CHORDS
from appui.harmony.words import Around, clause, steps_on
from appui.score.model import Note
from appui.score.pitch import Pitch
from appui.score.signs import Sign
from appui.score.words import Membership as Member

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

__all__ = ["judged"]

_AFTER = "after-notes"
_EVEN = 0.5
_TO_SPEAK_OF = 0.02
_UNKNOWN_WORDS = "nothing else sounds here to judge by"


def judged(harmony: Harmony, sign: Sign) -> Verdict:
    """What the chord, and the line over a thin one, say of a sign."""
    note, moment_q = sign.main_note(harmony.score), harmony.moment_q(sign)
    printed = printed_at(harmony.score, moment_q)
    if printed is not None:
        return _of_printed(harmony, printed, sign, moment_q)
    heard = harmony.heard(sign, moment_q)
    if note is None or heard is None:
        return _unknown(sign)
    return _judge(harmony, sign, note, heard)


def _judge(harmony: Harmony, sign: Sign, note: Note, heard: Heard) -> Verdict:
    onset_q, carried = heard.moment_q, heard.why == CARRIED
    chances = harmony.chances(onset_q)
    bass = None if carried else harmony.fits.bass(onset_q, (sign.part, sign.voice))
    known, below = harmony.membership_at(sign, heard, chances), harmony.below(sign, bass)
    each = judge_small(harmony, sign, known, bass, onset_q, chances)
    chances = chances if each.chords is None else each.chords
    member_chances = tuple(min(struck) for struck in each.chances)
    main = round(note.sounding.midi) % 12
    best = _agreeing(sign, chances, member_chances, main if each.main_leans else None)
    named = harmony.name(best, onset_q, bass, sign.small[0].sounding if sign.small else ())
    confidence = max(member_chances[0], 1 - member_chances[0]) if sign.small else float(chances[best])
    key, sure = harmony.keys[sign.main(harmony.score).bar], harmony.sure_of_key(sign)
    six_four = not carried and _six_four(harmony, named, onset_q)
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
        evidence=() if carried else tuple(_evidence(harmony, sign, onset_q, bass)),
        runner_up=_runner_up(harmony, best, chances, onset_q, bass),
        words="",
        six_four=six_four,
        doubtful=confidence < harmony.parameters.doubtful_below,
    )
    around = Around(below, _target(harmony, sign, note), named.position, heard.why, each.why)
    return _finished(verdict, sign, around, {class_of(fifth) for fifth in named.fifths[:2]})


def _runner_up(harmony: Harmony, best: int, chances: Floats, onset_q: Fraction, bass: int | None) -> str:
    members = members_table()
    same = (members == members[best]).all(1)  # the chord itself, and others of the same notes
    return harmony.name(int(np.where(same, -1.0, chances).argmax()), onset_q, bass).label


def _target(harmony: Harmony, sign: Sign, note: Note) -> Pitch | None:
    """What follows the last small note: the main note, or after an after-note the next note of the voice."""
    if sign.kind != _AFTER:
        return note.sounding
    events = harmony.score.parts[sign.part].voices[sign.voice].events
    following = events[sign.event + 1] if sign.event + 1 < len(events) else None
    return following.top.sounding if following and following.notes else None


def _evidence(harmony: Harmony, sign: Sign, onset_q: Fraction, bass: int | None) -> Iterator[Evidence]:
    event, sounding, own = sign.main(harmony.score), harmony.fits.sounding, (sign.part, sign.voice)
    end_q = max(onset_q + min(event.duration_q, harmony.score.bars[event.bar].meter.beat_q), onset_q)
    found = [int(i) for i in sounding.others(float(onset_q), float(end_q), own)]
    if bass is not None and bass not in found and harmony.texture.where[bass][:2] != own:
        found.insert(0, bass)
    for index in found:
        part, other, note = sounding.note(index)
        yield Evidence(part, note.sounding, other.onset_q, other.end_q)


def _six_four(harmony: Harmony, named: NamedChord, onset_q: Fraction) -> bool:
    """Whether a six-four chord of the tonic stands over a bass that goes on as the root of the dominant.

    Both chords are asked of the local key: a six-four over a tonic pedal is no cadential one.
    """
    bar = harmony.score.bar_at(onset_q)
    tonic = class_of(harmony.keys[bar.index][0])
    if len(named.fifths) != 3 or named.inversion != 2 or class_of(named.fifths[0]) != tonic:
        return False
    fit = harmony.fits.parts_of_beats
    here, until = fit.slices.at(float(onset_q)), float(onset_q + 3 * bar.meter.beat_q)
    dominant = class_of(named.fifths[2])
    for index in range(here + 1, len(fit.slices.start)):
        if fit.slices.start[index] > until or fit.lowest[index] % 12 != dominant:
            return False
        following = CHORDS[int(fit.best[index])]
        if following.root == dominant and following.type.name in ("major", "dominant seventh"):
            return True
    return False


def _of_printed(harmony: Harmony, printed: Printed, sign: Sign, onset_q: Fraction) -> Verdict:
    classes = {class_of(fifth) for fifth in printed.fifths}
    inside = [[float(round(p.midi) % 12 in classes) for p in small.sounding] for small in sign.small]
    note = sign.main_note(harmony.score)
    key = harmony.keys[sign.main(harmony.score).bar]
    six_four = printed_six_four(harmony.score, printed, onset_q) and class_of(printed.bass) == class_of(key[0] + 1)
    verdict = Verdict(
        label=printed.label,
        root=printed.letters[0],
        quality=printed.source,
        bass=letter_of(printed.bass),
        figure=printed.figure,
        key=_key_words(key) if harmony.sure_of_key(sign) else "",
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
    around = Around(harmony.bass_under(sign), note and _target(harmony, sign, note), printed.source)
    return _finished(verdict, sign, around, classes - {class_of(printed.bass)})


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
