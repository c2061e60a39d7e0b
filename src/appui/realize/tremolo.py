"""The tremolo: the note struck again and again, or two notes in turn.

    measured                   | main main main …             so many flags as strokes through the stem
    between two notes          | first second first second …  over the time of both
    unmeasured                 the same, at a speed

MusicXML 4.0 (read): `tremolo` has 0 to 8 marks; of two notes each has half the printed value for its duration. A mark
counts as a flag more than the note itself has: one through a quarter note is eighths (common practice, no source).
"""

from __future__ import annotations

from appui.exact import Fraction
from appui.realize.contract import Cut, Stand, Tone
from appui.realize.quick import MOST_NOTES

__all__ = ["tremolo"]

RATE = Fraction(14)
#  flags that a note of this printed value has itself
_FLAGS = {"eighth": 1, "16th": 2, "32nd": 3, "64th": 4, "128th": 5}


def tremolo(stand: Stand) -> Cut:
    """Fill the room with strokes of one length; the first of two notes takes the odd ones, the second the even."""
    count = min(max(round(stand.room_q / _stroke_q(stand)), 1), MOST_NOTES)
    if stand.partner and count % 2:
        count += 1
    each_q = stand.room_q / count
    tones: list[Tone] = []
    for index in range(count):
        onset_q = stand.start_q + each_q * index
        mine = not stand.partner or (index % 2 == 1) == stand.second
        pitches = (stand.note.sounding,) if mine else (stand.partner if stand.rank == 0 else ())
        tones += [stand.tone(onset_q, each_q, pitch, "tremolo") for pitch in pitches]
    return Cut(stand.start_q, stand.end_q, body=tuple(tones), main_role="tremolo")


def _stroke_q(stand: Stand) -> Fraction:
    ornament = stand.sign.ornament
    marks = (ornament.text if ornament is not None else "") or "3"
    free = ornament is not None and ornament.get("type") == "unmeasured"
    shape = stand.reading.get("shape")
    count = int(marks) if marks.isascii() and marks.isdigit() and int(marks) <= 8 else 3
    speed = stand.reading.number("rate")
    if shape == "unmeasured" or (free and shape is None) or count == 0 or speed is not None:
        return max(stand.qpm / 60 / (speed if speed is not None else RATE), stand.floor_q)
    return max(Fraction(1, 2 ** (count + _FLAGS.get(stand.event.type_name or "", 0))), stand.floor_q)
