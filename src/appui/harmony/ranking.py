"""The chords of a place ranked anew: what sounds, the bass, the key and the line around it weighed for each chord.

The fits of `fits` weigh what sounds and how chords follow each other, and know nothing of a line: that a main note
steps down, that a small note repeats what went before. Here every chord of `templates.CHORDS` has the facts of
`table_of` beside the chances of those fits, each multiplied by its weight, and the sums are turned into chances. The
weights are a regression on the small notes and chord labels of two sets of scores with an expert's chord
(`tests.benchmarks.harmony_labels` fits them anew and says what they are worth on works and composers left out).
Which facts are weighed was chosen with these labels known.
"""

from __future__ import annotations

from functools import cache
from itertools import pairwise
from typing import TYPE_CHECKING, NamedTuple, TypeAlias

import numpy as np

from appui.exact import Fraction
from appui.harmony.analyse import Harmony
from appui.harmony.belonging import Membership
from appui.harmony.facts import Facts, following_pitch, with_main
from appui.harmony.ranking_weights import RANKING
from appui.harmony.segment import members_table
from appui.harmony.templates import CHORDS, TYPES
from appui.score.model import Event
from appui.score.pitch import Pitch
from appui.score.signs import Sign

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

__all__ = ["Place", "Table", "decided_by", "place_of", "ranked", "small_table", "table_of"]

#  facts by name, each (chords,)
Table: TypeAlias = "dict[str, Floats]"

_FLOOR = 1e-4
_TINY_Q = 0.02
_LONG, _SHORT = 2.0, 0.5
_PAIR = 2
#  a following note this much shorter than the main note is a quick release
_RELEASE = 1.9
#  semitones between two notes, without octaves
_CONSONANT = frozenset({0, 3, 4, 5, 7, 8, 9})
_SECONDS = frozenset({1, 2, 10, 11})
_ROOT, _THIRD, _FIFTH = 0, 1, 2
#  semitones above the tonic, type in major, type in minor
_DEGREES = {
    "degree tonic": (0, "major", "minor"),
    "degree dominant": (7, "major", "major"),
    "degree dominant seventh": (7, "dominant seventh", "dominant seventh"),
    "degree subdominant": (5, "major", "minor"),
}
_SAID = {
    "chance": "two chords fit nearly as well",
    "ahead": "what sounds until the next beat decides the chord",
    "beside": "the chords before and after decide it",
    "main": "how its main note goes on decides the chord",
    "next": "how its main note goes on decides the chord",
    "small": "how the small note moves decides the chord",
    "group": "the small notes together tell the chord",
    "bass": "the bass decides the chord",
    "sounding": "what else sounds in the beat and the bar decides the chord",
    "kind": "the commoner chord is taken",
    "degree": "what is common in the key decides the chord",
}


class Place(NamedTuple):
    """A main note and what is around it: pitch classes, steps of the staff, lengths in quarters.

    `following` is what the voice sounds next, `before` what it sounded last, `None` after or before a rest; `around`
    the pitch classes that sound with the main note; `bass` the pitch class of the bass and whether it sounded before.
    """

    main: Pitch
    event: Event
    moment_q: Fraction
    beat_q: float
    following: Pitch | None
    following_q: float
    before: tuple[Pitch, ...]
    around: frozenset[int]
    bass: int | None
    bass_held: bool

    @property
    def way(self) -> int:
        """Steps from the main note to what follows: -1 one down."""
        return 0 if self.following is None else self.following.diatonic - self.main.diatonic

    @property
    def beats(self) -> float:
        """How many beats the main note lasts."""
        return float(self.event.duration_q) / self.beat_q

    def nearest_before(self, pitch: Pitch) -> Pitch | None:
        """What went before, of a chord the note nearest to a pitch."""
        return min(self.before, key=lambda other: abs(float(other.midi - pitch.midi)), default=None)


def place_of(harmony: Harmony, sign: Sign, known: Membership, bass: int | None, moment_q: Fraction) -> Place:
    """What is around the main note of a sign; `bass` is a number in the texture."""
    score, event = harmony.score, sign.main(harmony.score)
    events = score.parts[sign.part].voices[sign.voice].events
    last = events[sign.event - 1] if sign.event else None
    adjoining = last is not None and last.end_q == event.onset_q
    main = event.notes[sign.note].sounding
    texture = harmony.texture
    low = bass if bass is not None and texture.where[bass][:2] != (sign.part, sign.voice) else None
    return Place(
        main=main,
        event=event,
        moment_q=moment_q,
        beat_q=float(score.bars[event.bar].meter.beat_q),
        following=following_pitch(score, sign, main),
        following_q=float(events[sign.event + 1].duration_q) if sign.event + 1 < len(events) else 0.0,
        before=tuple(note.sounding for note in last.notes) if last is not None and adjoining else (),
        around=frozenset(with_main(score, sign, known)),
        bass=None if low is None else int(texture.midi[low]) % 12,
        bass_held=low is not None and bool(texture.onset[low] < float(moment_q)),
    )


# the facts of the place


def table_of(harmony: Harmony, sign: Sign, place: Place) -> Table:
    """(chords,) of every fact of a place without its small notes, by name."""
    return {
        **_chances(harmony, place),
        **_main(place),
        **_bass(place),
        **_sounding(harmony, sign, place),
        **_kinds(),
        **_degrees(harmony.key_shares[place.event.bar]),
    }


def _chances(harmony: Harmony, place: Place) -> Table:
    """The logarithms of what the fits say here and beside."""
    three = harmony.fits.beside(place.moment_q)
    return {name: np.log(np.maximum(chance, _FLOOR)) for name, chance in three.items()}


def _main(place: Place) -> Table:
    """Chords with the main note in them, or with what follows it, by what the line does."""
    down, way = place.way == -1, place.way
    main = _has(place.main)
    after = _has(place.following) * (1 - main) * down if place.following is not None else 0 * main
    slower = place.following_q >= float(place.event.duration_q)
    quick = place.following_q < float(place.event.duration_q) / _RELEASE
    return {
        "main": main,
        "main prepared": main * any(pitch.midi == place.main.midi for pitch in place.before),
        "main leaps on": main * (abs(way) > 1),
        "main dissonant": main * _count(place, place.main, _CONSONANT, inside=False),
        "main long": main * min(place.beats, _LONG),
        "main steps down, thin": main * (down and len(place.around) <= 1),
        "next longer": after * slower,
        "next shorter": after * quick,
    }


def _bass(place: Place) -> Table:
    """The bass by its place in the chord."""
    table = _bass_tables()[:, 0 if place.bass is None else place.bass] * (place.bass is not None)
    inside = members_table()[:, place.bass] * place.bass_held if place.bass is not None else 0 * table[0]
    return {"bass root": table[_ROOT], "bass third": table[_THIRD], "bass fifth": table[_FIFTH], "bass held": inside}


def _sounding(harmony: Harmony, sign: Sign, place: Place) -> Table:
    """How much of what sounds now, in the beat, in the bar and nearby belongs to a chord, and what of it is missing."""
    members, own = members_table(), (sign.part, sign.voice)
    bar, fit = harmony.score.bars[place.event.bar], harmony.fits.parts_of_beats
    moment, start = float(place.moment_q), float(bar.onset_q - bar.lead_q)
    end = start + ((moment - start) // place.beat_q + 1) * place.beat_q
    beat = harmony.fits.share(moment, max(end, moment + _TINY_Q), own)
    whole = harmony.fits.share(float(bar.onset_q), float(bar.onset_q + bar.length_q), own)
    now = np.zeros(12)
    now[list(place.around)] = 1.0
    missing = members @ (beat <= 0) * bool(beat.sum() > 0)
    return {
        "sounding now": members @ now,
        "sounding in the beat": members @ beat,
        "sounding missing": missing,
        "sounding in the bar": members @ whole,
        "sounding nearby": members @ fit.nearby[fit.slices.at(moment)] / members.sum(1),
    }


@cache
def _kinds() -> Table:
    index = np.repeat(np.arange(len(TYPES)), 12)
    return {f"kind {kind.name}": (index == number) * 1.0 for number, kind in enumerate(TYPES) if number}


def _degrees(keys: Floats) -> Table:
    """How likely each chord is one everyone knows of the key, by the chances of the 24 keys."""
    return dict(zip(_DEGREES, _degree_tables() @ keys, strict=True))


@cache
def _degree_tables() -> Floats:
    """(degrees, chords, 24 keys): 1 where a chord is that degree of a key."""
    table = np.zeros((len(_DEGREES), len(CHORDS), 24))
    for row, (gap, *kinds) in enumerate(_DEGREES.values()):
        for index, chord in enumerate(CHORDS):
            for mode, kind in enumerate(kinds):
                table[row, index, 12 * mode + (chord.root - gap) % 12] = chord.type.name == kind
    return table


@cache
def _bass_tables() -> Floats:
    """(place in the chord, pitch class, chords): 1 where a bass is the chord's root, third, fifth."""
    table = np.zeros((3, 12, len(CHORDS)))
    for index, chord in enumerate(CHORDS):
        for place in (_ROOT, _THIRD, _FIFTH):
            table[place, chord.classes[place], index] = 1.0
    return table


# the facts of a small note


def small_table(place: Place, sign: Sign, index: int, pitch: Pitch, facts: Facts) -> Table:
    """(chords,) of every fact of one small note (`index` in its group), by name; a chord without it has none."""
    small, main, count = _has(pitch), _has(place.main), len(sign.small)
    last = sign.small[index - 1].sounding[0] if index else place.nearest_before(pitch)
    apart = round(pitch.midi - place.main.midi) % 12 != 0
    group = np.mean([_has(each) for struck in sign.small for each in struck.sounding], axis=0)
    return {
        "small with main": small * main * apart,
        "small without main, which steps down": small * (1 - main) * (apart and place.way == -1),
        "small repeated": small * any(each.midi == pitch.midi for each in place.before),
        "small leapt to": small * (last is not None and abs(last.diatonic - pitch.diatonic) > 1),
        "small before a short note": small * (place.beats <= _SHORT),
        "small a second apart": small * _count(place, pitch, _SECONDS, inside=True),
        "small and what follows": small * facts.next_belongs,
        "small before a leaning note": small * facts.main_leans,
        "small plays round": small * facts.plays_round,
        "group": group * (count > _PAIR),
        "group leaps": group * (count > 1 and _leaps(sign, place.main)),
    }


def _has(pitch: Pitch) -> Floats:
    """(chords,): 1 where a pitch belongs to the chord."""
    return members_table()[:, round(pitch.midi) % 12]


def _count(place: Place, pitch: Pitch, gaps: frozenset[int], *, inside: bool) -> int:
    """How many of the notes around a pitch are one of some intervals apart, or are none of them."""
    return sum(((round(pitch.midi) - other) % 12 in gaps) == inside for other in place.around)


def _leaps(sign: Sign, main: Pitch) -> bool:
    """Whether all small notes of a group leap on."""
    path = [*(each.sounding[0].diatonic for each in sign.small), main.diatonic]
    return all(abs(one - other) > 1 for one, other in pairwise(path))


# weighed


def ranked(*tables: Table) -> Floats:
    """(chords,) the chance of each chord, all facts together."""
    total = sum(values * RANKING[name] for table in tables for name, values in table.items())
    chance = np.exp(total - np.max(total))
    return np.asarray(chance / chance.sum())


def decided_by(chosen: int, other: int, *tables: Table) -> str:
    """In words, which facts speak most for one chord and against another."""
    speaks: dict[str, float] = {}
    for table in tables:
        for name, values in table.items():
            said = _SAID[name.split()[0]]
            speaks[said] = speaks.get(said, 0.0) + float(values[chosen] - values[other]) * RANKING[name]
    return max(speaks, key=lambda said: speaks[said])
