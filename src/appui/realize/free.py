"""Free embellishment: the player's own notes in the place of the printed ones.

    embellished    | notes of the plan | next printed note

In time the notes fill exactly what they replace. Over a fermata they fill the held note, which then lasts as long as
they do, all parts waiting (`appui.interpret.holds`); what follows the bar line of the plan is in time again. A trilled
note begins above and ends with its lower note and itself (C.P.E. Bach 1753, 2.3 §5-6, read), at the speed of trills
elsewhere; too short for four notes it is played plain. A long note alone is swelled and let fall (messa di voce;
common practice, no source).
"""

from __future__ import annotations

from collections.abc import Iterator

from appui.exact import Fraction
from appui.realize.contract import Cut, Stand, Tone
from appui.realize.quick import MOST_NOTES, RATE
from appui.score.pitch import Pitch
from appui.style.free import SWELL_S, Free, Played

__all__ = ["free"]

_LEAST = 4
#  how far a long note alone swells: audibly, a step of loudness (p to f is about 5 dB; common practice)
_SWELL_DB = Fraction(5)


def free(stand: Stand) -> Cut:
    """The notes of the plan, over the whole of what they replace; cut where the room has been cut."""
    found = stand.reading.free
    if found is None:
        return Cut(stand.start_q, stand.end_q)
    body = tuple(tone for tone in _tones(stand, found) if tone.onset_q < stand.end_q)
    clipped = (
        tone if tone.end_q <= stand.end_q else tone._replace(duration_q=stand.end_q - tone.onset_q) for tone in body
    )
    return Cut(stand.start_q, stand.end_q, body=tuple(clipped))


def _tones(stand: Stand, found: Free) -> Iterator[Tone]:
    at_q = Fraction(0)
    for index, note in enumerate(found.notes):
        last = index == len(found.notes) - 1
        for pitch, length_q, quick in _played(stand, found, note):
            onset_q, end_q = (stand.start_q + found.moment_q(moment) for moment in (at_q, at_q + length_q))
            if pitch is not None:
                tone = stand.tone(onset_q, end_q - onset_q, pitch, "trill" if quick else note.role, _level(stand, note))
                yield tone._replace(leads_on=not last and length_q < 1, swell_db=_swell(stand, found, length_q))
            at_q += length_q


def _swell(stand: Stand, found: Free, length_q: Fraction) -> Fraction:
    """How far a note swells: one alone that is long enough and no trill."""
    note = found.notes[0]
    alone = len(found.notes) == 1 and note.trill is None and not found.held_q
    return _SWELL_DB if alone and length_q * 60 / stand.qpm >= SWELL_S else Fraction(0)


def _level(stand: Stand, note: Played) -> Fraction:
    return {"lean": stand.weight_db / 2, "release": -stand.weight_db / 2}.get(note.role, Fraction(0))


def _played(stand: Stand, found: Free, note: Played) -> Iterator[tuple[Pitch | None, Fraction, bool]]:
    """The note itself, or the quick ones of its trill: pitch, value, whether it is one of those."""
    # under a fermata the tempo already stands still at the first note unless something moves there
    qpm = stand.qpm * (found.times if found.held_q and not found.lead_q else 1)
    count = min(int(note.value_q * 60 / qpm * RATE), MOST_NOTES) // 2 * 2
    if note.trill is None or note.pitch is None or count < _LEAST:
        yield note.pitch, note.value_q, False
        return
    upper, lower = note.trill
    each_q = note.value_q / count
    for pair in range(count // 2):
        yield (lower if pair == count // 2 - 1 else upper), each_q, True
        yield note.pitch, each_q, True
