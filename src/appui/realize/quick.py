"""Notes of ornaments one after another: how long they are together, and how a length is divided among them."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from appui.exact import Fraction
from appui.realize.contract import Cut, Stand, Tone
from appui.score.pitch import Pitch
from appui.score.words import Role

__all__ = [
    "MOST_NOTES",
    "RATE",
    "SLOWEST_QUICK_MS",
    "SOFTER_DB",
    "by_landings",
    "fill",
    "head",
    "landings",
    "off_beat_ms",
    "q_of_ms",
    "quick_q",
    "sequence",
    "split",
]

#  the most notes of one sign that goes on by itself, a minute and more: a longer one is slower (a design choice)
MOST_NOTES = 1_000


def q_of_ms(ms: Fraction | int, qpm: Fraction) -> Fraction:
    """Milliseconds as quarter notes at a tempo, exactly.

    >>> q_of_ms(500, Fraction(60))
    Fraction(1, 2)
    """
    return Fraction(ms) * qpm / 60_000


#  small notes off the beat: medians of performances, ms by how many there are ((n)ASAP, computed); each further one 60
_OFF_BEAT_MS = {1: 95, 2: 180, 3: 200}
#  and softer than the level around: a design choice, since measured velocities before the beat are lower
SOFTER_DB = Fraction(-2)


def off_beat_ms(count: int) -> Fraction:
    """How long `count` small notes off the beat last together, ms, where the reading leaves it open."""
    return Fraction(_OFF_BEAT_MS.get(count, 200 + 60 * (count - 3)))


def split(length_q: Fraction, weights: list[Fraction]) -> list[Fraction]:
    """Parts of a length in proportion to weights; they add up to it exactly."""
    total = sum(weights, Fraction(0))
    return [length_q * weight / total for weight in weights]


def fill(
    stand: Stand, start_q: Fraction, length_q: Fraction, role: Role, levels_db: tuple[Fraction, ...] = ()
) -> tuple[Tone, ...]:
    """The sign's small notes one after another over a length, by their printed values; chords sound together.

    A small note with a sign of its own is played as that sign has it, where there is time for it.
    """
    small = stand.sign.small
    values = [note.value_q or Fraction(1, 4) for note in small]
    tones: list[Tone] = []
    at_q = start_q
    for index, (note, part_q) in enumerate(zip(small, split(length_q, values), strict=True)):
        level = levels_db[min(index, len(levels_db) - 1)] if levels_db else Fraction(0)
        place, inside = stand.within.get(index, ("", ()))
        if len(inside) > 1 and len(note.sounding) == 1 and part_q / len(inside) >= stand.floor_q:
            quick = sequence(stand, at_q, [(pitch, part_q / len(inside)) for pitch in inside], role, level)
            tones += [tone._replace(sign=place) for tone in quick]
        else:
            tones += [stand.tone(at_q, part_q, pitch, role, level) for pitch in note.sounding]
        at_q += part_q
    return tuple(tones)


def sequence(
    stand: Stand,
    start_q: Fraction,
    notes: Sequence[tuple[Pitch, Fraction]],
    role: Role,
    level_db: Fraction = Fraction(0),
) -> tuple[Tone, ...]:
    """Notes, each a pitch and a length, one after another from a moment on."""
    tones: list[Tone] = []
    for pitch, length_q in notes:
        tones.append(stand.tone(start_q, length_q, pitch, role, level_db))
        start_q += length_q
    return tuple(tones)


#  notes a second of quick figures where the reading leaves it open (medians of performances, computed)
RATE = Fraction(13)
#  however long its note, a quick figure stays one: shares out of tables drawn for quarter notes are held to so many ms
#  a note (García, read in an excerpt: a turn lasts a sixteenth at 100, whatever its note; 125 ms are a design choice)
SLOWEST_QUICK_MS = 125


def quick_q(stand: Stand, count: int, most: Fraction = Fraction(1, 2)) -> Fraction:
    """Length of each of `count` quick notes: by the reading's share or speed, together at most `most` of the room."""
    share = stand.reading.number("share")
    if share is not None:
        return min(min(stand.whole_q * share, stand.room_q) / count, q_of_ms(SLOWEST_QUICK_MS, stand.qpm))
    each_q = stand.qpm / 60 / stand.reading.fraction("rate", RATE)
    return min(each_q, stand.room_q * most / count)


def head(stand: Stand, steps: Sequence[int], role: Role, pitch: Callable[[int], Pitch]) -> Cut:
    """Quick notes on letter steps, then the main note for what is left.

    Where each would be shorter than the instrument speaks, the figure is spread over the whole note; where that is too
    short as well, notes are left off the front until the rest can be heard.
    """
    asked = "share" in dict(stand.reading.sizes) or "rate" in dict(stand.reading.sizes)
    floor_q = Fraction(0) if asked else stand.floor_q
    kept = list(steps)
    while kept and max(quick_q(stand, len(kept)), _pressed_q(stand, len(kept))) < floor_q:
        kept.pop(0)
    notice = "" if len(kept) == len(steps) else _TOO_SHORT.format(len(kept), len(steps))
    if not kept:
        return Cut(stand.start_q, stand.end_q, main_role="main", notice=notice)
    each_q = max(quick_q(stand, len(kept)), min(floor_q, _pressed_q(stand, len(kept))))
    if each_q * len(kept) >= stand.room_q:
        each_q = _pressed_q(stand, len(kept))
    tones = sequence(stand, stand.start_q, [(pitch(step), each_q) for step in kept], role)
    return Cut(stand.start_q + each_q * len(kept), stand.end_q, tones, main_role="main", notice=notice)


def _pressed_q(stand: Stand, count: int) -> Fraction:
    """Length of each of `count` notes where they and the main note share the room evenly."""
    return stand.room_q / (count + 1)


_TOO_SHORT = "the note is too short to speak so quickly: {} of {} quick notes are played"


def landings(stand: Stand, beats: int, second: Fraction, last: Fraction) -> list[Fraction]:
    """Where each of so many notes lands, as shares of the note.

    MusicXML 4.0, trill-sound (read): the second and the last land on their percentages; evenly between.
    """
    second = stand.reading.fraction("second", second) / 100
    last = stand.reading.fraction("last", last) / 100
    if beats == 2 or not second < last:
        return [Fraction(i, beats) for i in range(beats)] if beats > 2 or not 0 < second < 1 else [Fraction(0), second]
    if second <= 0 or last >= 1:
        return [Fraction(i, beats) for i in range(beats)]
    return [Fraction(0), *(second + (last - second) * Fraction(i, beats - 2) for i in range(beats - 1))]


def by_landings(stand: Stand, pitches: Sequence[Pitch], onsets: Sequence[Fraction], role: Role) -> tuple[Tone, ...]:
    """A body of notes that land on these shares of the room."""
    ends = [*onsets[1:], Fraction(1)]
    return tuple(
        stand.tone(stand.start_q + stand.room_q * onset, stand.room_q * (end - onset), pitch, role)
        for pitch, onset, end in zip(pitches, onsets, ends, strict=True)
    )
