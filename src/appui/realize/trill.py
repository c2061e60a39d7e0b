"""The trill: the note and the one above it in quick, even alternation.

    from above                 upper main upper main …            (C.P.E. Bach 1753, 2.3 §5, read)
    from the main note         main upper main … main             (Hummel 1828, from memory)
    … with termination         … | lower main                     (C.P.E. Bach 2.3 §6, read)
    half                       upper main upper main, then the main note held

All notes are equal in length (Türk 1789, IV §27-30, read) unless the reading dwells, accelerates or stops; a trill
lasts the whole value of its note (C.P.E. Bach 2.3 §21, read), or what a leaning note before it and small notes after
it leave. The pattern begins and ends where it must, so the number of notes is even from above and odd from the main
note; the speed gives way. `beats`, `second` and `last` are MusicXML's trill-sound sizes (read): so many notes, the
second and the last landing on these percentages.
"""

from __future__ import annotations

from fractions import Fraction
from itertools import pairwise

from appui.realize.contract import Cut, Stand, Tone, q_of_ms, split
from appui.score.pitch import Pitch

__all__ = ["trill"]

RATE = Fraction(12)
HALF_MS = Fraction(85)
#  how much longer the first alternation is than the last, when accelerating
ACCELERATION = 2


def trill(stand: Stand) -> Cut:
    """Fill the room with the trill."""
    pitches, lengths = _pattern(stand)
    tones: list[Tone] = []
    at_q = stand.start_q
    ends = len(pitches) - (2 if _terminates(stand) else 0)
    for index, (pitch, length_q) in enumerate(zip(pitches, lengths, strict=True)):
        role = "trill" if index < ends else "termination"
        tones.append(stand.tone(at_q, length_q, pitch, role))
        at_q += length_q
    return Cut(stand.start_q, stand.end_q, body=tuple(tones), main_role="trill")


def _terminates(stand: Stand) -> bool:
    return stand.reading.get("termination") == "yes"


def _first_two(stand: Stand) -> tuple[Pitch, Pitch]:
    main, upper = stand.note.sounding, stand.auxiliary(1)
    start = stand.reading.get("start") or "upper"
    return {"upper": (upper, main), "main": (main, upper), "below": (stand.auxiliary(-1), main)}[str(start)]


def _pattern(stand: Stand) -> tuple[list[Pitch], list[Fraction]]:
    beats = stand.reading.get("beats")
    if isinstance(beats, Fraction):
        return _by_file(stand, int(beats))
    end = [stand.auxiliary(-1), stand.note.sounding] if _terminates(stand) else []
    if stand.reading.get("shape") == "half":
        return _half(stand, end)
    pitches = _alternation(stand, _count(stand) - len(end)) + end
    return pitches, _lengths(stand, len(pitches))


def _count(stand: Stand) -> int:
    """How many notes fit at the reading's speed, at least the fewest that make a trill."""
    rate = stand.reading.fraction("rate", RATE)
    fit = int(stand.room_q * 60 / stand.qpm * rate)
    return max(fit, 3 + (2 if _terminates(stand) else 0))


def _alternation(stand: Stand, count: int) -> list[Pitch]:
    """`count` notes or one more, ending on the main note."""
    first, second = _first_two(stand)
    main, upper = stand.note.sounding, stand.auxiliary(1)
    head = [first, second] if first not in (main, upper) else []
    start = upper if head or first == upper else main
    body = [start if i % 2 == 0 else (main if start == upper else upper) for i in range(max(count - len(head), 2))]
    return head + body + ([main] if body[-1] != main else [])


def _lengths(stand: Stand, count: int) -> list[Fraction]:
    weights = [Fraction(1)] * count
    if stand.reading.get("shape") == "accelerating":
        weights = [Fraction(ACCELERATION) - Fraction((ACCELERATION - 1) * i, max(count - 1, 1)) for i in range(count)]
    dwell = stand.reading.fraction("dwell", Fraction(0))
    held = Fraction(1, 4) if stand.reading.get("stop") == "yes" else Fraction(0)
    room_q = stand.room_q
    lengths = split(room_q * (1 - min(dwell + held, Fraction(3, 4))), weights)
    lengths[0] += room_q * min(dwell, Fraction(3, 4) - held if dwell + held > Fraction(3, 4) else dwell)
    lengths[-1] += room_q - sum(lengths)
    return lengths


def _half(stand: Stand, end: list[Pitch]) -> tuple[list[Pitch], list[Fraction]]:
    pitches = _alternation(stand, 4 if _first_two(stand)[0] != stand.note.sounding else 3)
    quick_q = min(q_of_ms(HALF_MS, stand.qpm), stand.room_q / (len(pitches) + len(end) + 1))
    count = len(pitches) + len(end)
    lengths = [quick_q] * count
    lengths[len(pitches) - 1] = stand.room_q - quick_q * (count - 1)
    return pitches + end, lengths


def _by_file(stand: Stand, beats: int) -> tuple[list[Pitch], list[Fraction]]:
    """MusicXML trill-sound: `beats` notes, the second landing at `second` %, the last at `last` %, evenly between."""
    first, second = _first_two(stand)
    main, upper = stand.note.sounding, stand.auxiliary(1)
    other = upper if second == main else main
    pitches = [first] + [second if i % 2 == 0 else other for i in range(beats - 1)]
    turn = stand.reading.get("turn") in ("whole", "half")
    trilled_q = stand.room_q * Fraction(beats, beats + 2) if turn else stand.room_q
    onsets = [trilled_q * share for share in _landings(stand, beats)] + [trilled_q]
    lengths = [later - earlier for earlier, later in pairwise(onsets)]
    if turn:
        pitches += [stand.auxiliary(-1), main]
        lengths += [(stand.room_q - trilled_q) / 2] * 2
    return pitches, lengths


def _landings(stand: Stand, beats: int) -> list[Fraction]:
    second = stand.reading.fraction("second", Fraction(25)) / 100
    last = stand.reading.fraction("last", Fraction(75)) / 100
    if beats == 2 or not second < last:
        return [Fraction(i, beats) for i in range(beats)] if beats > 2 else [Fraction(0), second]
    return [Fraction(0), *(second + (last - second) * Fraction(i, beats - 2) for i in range(beats - 1))]
