"""The trill: the note and the one above it in quick, even alternation.

    from above                 upper main upper main …            (C.P.E. Bach 1753, 2.3 §5, read)
    from the main note         main upper main … main             (Hummel 1828, from memory)
    … with termination         … | lower main                     (C.P.E. Bach 2.3 §6, read)
    from below                 lower main | upper main upper main …          (J.S. Bach 1720, from memory)
    through a turn from above  upper main lower main | upper main …          (J.S. Bach 1720, from memory)
    half                       upper main upper main, or main upper main, then the main note held

All notes are equal in length (Türk 1789, IV §27-30, read) unless the reading dwells, accelerates or stops; a trill
lasts the whole value of its note (C.P.E. Bach 2.3 §21, read), or what a leaning note before it and small notes after
it leave. The pattern begins and ends where it must, so the number of notes is even from above and odd from the main
note; the speed gives way, as it does beyond `MOST_NOTES`. Where the room is too short for the instrument to speak the
notes, first the termination is left off, then a single upper note is played (a design choice after C.P.E. Bach 2.1
§19, read: the more notes, the longer the note must be). `beats`, `second` and `last` are MusicXML's trill-sound sizes
(read): so many notes, the second and the last landing on these percentages.
"""

from __future__ import annotations

from itertools import pairwise

from appui.exact import Fraction
from appui.realize.contract import Cut, Stand, Tone
from appui.realize.quick import MOST_NOTES, SLOWEST_QUICK_MS, head, landings, q_of_ms, split
from appui.score.pitch import Pitch
from appui.score.words import Role

__all__ = ["trill"]

RATE = Fraction(12)
HALF_MS = Fraction(85)
#  four notes from 160 ms on, as performances have it ((n)ASAP, computed)
LEAST_MS = Fraction(40)
#  how much longer the first alternation is than the last, when accelerating
ACCELERATION = 2


def trill(stand: Stand) -> Cut:
    """Fill the room with the trill."""
    if stand.floor_q and _most(stand) < _fewest(stand) and "rate" not in dict(stand.reading.sizes):
        return head(stand, (1,), "trill", stand.auxiliary)
    pitches, lengths, ending = _pattern(stand)
    tones: list[Tone] = []
    at_q = stand.start_q
    ends = len(pitches) - ending
    for index, (pitch, length_q) in enumerate(zip(pitches, lengths, strict=True)):
        role: Role = "trill" if index < ends else "termination"
        tones.append(stand.tone(at_q, length_q, pitch, role))
        at_q += length_q
    return Cut(stand.start_q, stand.end_q, body=tuple(tones), main_role="trill")


def _terminates(stand: Stand) -> bool:
    return stand.reading.get("termination") == "yes"


#        start      letter steps before the alternation, whose first note is the last column
STARTS: dict[str, tuple[tuple[int, ...], int]] = {
    "upper": ((), 1),
    "main":  ((), 0),
    "below": ((-1, 0), 1),
    "turn":  ((1, 0, -1, 0), 1),
}  # fmt: skip


def _start(stand: Stand) -> tuple[tuple[int, ...], int]:
    return STARTS[str(stand.reading.get("start") or "upper")]


def _pattern(stand: Stand) -> tuple[list[Pitch], list[Fraction], int]:
    """Pitches, lengths, and how many of the last notes are the termination."""
    beats = stand.reading.number("beats")
    if beats is not None:
        return _by_file(stand, int(beats))
    end = [-1, 0] if _terminates(stand) else []
    # a termination needs a trill before it: where the note is too short to speak them all it gives way
    if end and _most(stand) < _fewest(stand) + 2:
        end = []
    if stand.reading.get("shape") == "half":
        steps, lengths = _half(stand, end)
    else:
        steps = _alternation(stand, _count(stand, len(end)) - len(end)) + end
        lengths = _lengths(stand, len(steps))
    return [stand.auxiliary(step) for step in steps], lengths, len(end)


def _most(stand: Stand) -> int:
    """How many notes can speak in the room."""
    return int(stand.room_q / stand.floor_q) if stand.floor_q else MOST_NOTES


def _fewest(stand: Stand) -> int:
    """The fewest notes that make a trill: from above four where there is time for them, else two; or three."""
    before, first = _start(stand)
    if not first:
        return len(before) + 3
    return len(before) + (4 if stand.room_q >= 4 * q_of_ms(LEAST_MS, stand.qpm) else 2)


def _count(stand: Stand, ending: int) -> int:
    """How many notes fit at the reading's speed, its ending among them; at least the fewest that make a trill."""
    rate = stand.reading.fraction("rate", RATE)
    fit = min(int(stand.room_q * 60 / stand.qpm * rate), MOST_NOTES)
    fewest = _fewest(stand) + ending
    return max(fit if "rate" in dict(stand.reading.sizes) else min(fit, _most(stand)), fewest)


def _alternation(stand: Stand, count: int) -> list[int]:
    """Letter steps of `count` notes, one less where that ends on the main note."""
    before, first = _start(stand)
    free = max(count - len(before), 2 if first else 3)
    # from above an even number ends on the main note, from the main note an odd one
    free -= (free - first) % 2 == 0 if first else free % 2 == 0
    return list(before) + [first if i % 2 == 0 else 1 - first for i in range(free)]


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


def _half(stand: Stand, end: list[int]) -> tuple[list[int], list[Fraction]]:
    before, first = _start(stand)
    steps = [*before, *((1, 0, 1, 0) if first else (0, 1, 0))]
    quick_q = min(q_of_ms(HALF_MS, stand.qpm), stand.room_q / (len(steps) + len(end) + 1))
    if first and not before and quick_q < stand.floor_q:
        steps = [1, 0]
        quick_q = min(q_of_ms(HALF_MS, stand.qpm), stand.room_q / (2 + len(end)))
    count = len(steps) + len(end)
    share = stand.reading.number("share")
    if share is not None and 0 < share < 1:
        quick_q = min(stand.whole_q * share, stand.room_q * (count - 1) / count) / (count - 1)
        quick_q = min(quick_q, q_of_ms(SLOWEST_QUICK_MS, stand.qpm))
    lengths = [quick_q] * count
    lengths[len(steps) - 1] = stand.room_q - quick_q * (count - 1)
    return steps + end, lengths


def _by_file(stand: Stand, beats: int) -> tuple[list[Pitch], list[Fraction], int]:
    """MusicXML trill-sound: `beats` notes, the second landing at `second` %, the last at `last` %, evenly between.

    The two-note turn is not among the beats: it follows at their average length.
    """
    before, first = _start(stand)
    steps = [*before[:1], *(first if i % 2 == 0 else 1 - first for i in range(beats))][:beats]
    if before:
        steps = [before[0], *(i % 2 for i in range(beats - 1))]
    turn = stand.reading.get("turn") in ("whole", "half")
    trilled_q = stand.room_q * Fraction(beats, beats + 2) if turn else stand.room_q
    onsets = [trilled_q * share for share in landings(stand, beats, Fraction(25), Fraction(75))] + [trilled_q]
    lengths = [later - earlier for earlier, later in pairwise(onsets)]
    pitches = [stand.auxiliary(step) for step in steps]
    if turn:
        below = stand.auxiliary(-1)
        wide = {"whole": 2, "half": 1}[str(stand.reading.get("turn"))]
        pitches += [
            below._replace(alter=below.alter + stand.note.sounding.midi - wide - below.midi),
            stand.auxiliary(0),
        ]
        lengths += [(stand.room_q - trilled_q) / 2] * 2
    return pitches, lengths, 2 if turn else 0
