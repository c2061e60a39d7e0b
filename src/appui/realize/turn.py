"""The turn: around the note, by the one above it and the one below it.

    on the note                | upper main lower main
    … inverted                 | lower main upper main
    … from the main note       | main upper main lower main
    after the note             | main, upper main lower main | next note
    taking s beginning at a    | main for a, upper main lower within s, main for the rest

C.P.E. Bach 1753, 2.4 §1-9 (read): mostly quick, over the note or after it; Clementi 1801 (read) prints three quick
notes on a quarter of the note, and after a dotted note the turn between the note and its dot. `beats`, `second` and
`last` are MusicXML's trill-sound sizes (read), a cycle of these notes; of a delayed turn they divide its second half.
"""

from __future__ import annotations

from dataclasses import replace

from appui.exact import Fraction
from appui.realize.contract import Cut, Stand
from appui.realize.quick import by_landings, head, landings, quick_q, sequence

__all__ = ["TURNS", "turn"]

#        shape       letter steps before the main note comes to rest
TURNS = {
    "upright": (1, 0, -1),
    "inverted": (-1, 0, 1),
}


def turn(stand: Stand) -> Cut:
    """The turn at the head of its note, at its end, or over the whole of it."""
    steps = TURNS[str(stand.reading.get("shape") or "upright")]
    after = stand.reading.get("where") == "after"
    beats = stand.reading.number("beats")
    if beats is not None:
        return _by_file(stand, steps, int(beats), after=after)
    if after:
        return _after(stand, steps)
    start = (0,) if stand.reading.get("start") == "main" else ()
    return head(stand, start + steps, "turn", stand.auxiliary)


def _after(stand: Stand, steps: tuple[int, ...]) -> Cut:
    at = stand.reading.number("at")
    if at is not None and 0 < at < 1:
        start_q = stand.start_q + stand.room_q * at
        each_q = min(quick_q(stand, len(steps)), (stand.end_q - start_q) / (len(steps) + 1))
        notes = [(stand.auxiliary(step), each_q) for step in steps]
        notes.append((stand.note.sounding, stand.end_q - start_q - each_q * len(steps)))
        return Cut(stand.start_q, start_q, tail=sequence(stand, start_q, notes, "turn"), main_role="main")
    count = len(steps) + 1
    # something of the note is heard before its turn, whatever share the turn asks for
    each_q = min(quick_q(stand, count), stand.room_q / (count + 1))
    if each_q < stand.floor_q:
        return head(stand, steps, "turn", stand.auxiliary)
    start_q = stand.end_q - each_q * count
    notes = [(stand.auxiliary(step), each_q) for step in (*steps, 0)]
    return Cut(stand.start_q, start_q, tail=sequence(stand, start_q, notes, "turn"), main_role="main")


def _by_file(stand: Stand, steps: tuple[int, ...], beats: int, *, after: bool) -> Cut:
    cycle = (*steps, 0)
    if stand.reading.get("start") == "main":
        cycle = (0, *steps)
    pitches = [stand.auxiliary(cycle[i % len(cycle)]) for i in range(beats)]
    middle_q = stand.start_q + stand.room_q / 2
    within = replace(stand, start_q=middle_q) if after else stand
    onsets = landings(within, beats, Fraction(25), Fraction(75))
    tones = by_landings(within, pitches, onsets, "turn")
    if after:
        return Cut(stand.start_q, middle_q, tail=tones, main_role="main")
    if pitches[-1] == stand.note.sounding:
        return Cut(tones[-1].onset_q, stand.end_q, tones[:-1], main_role="main")
    # whatever the count, the note itself is heard in the end: the last note shares its time with it
    last = tones[-1]
    half_q = last.duration_q / 2
    return Cut(last.onset_q + half_q, stand.end_q, (*tones[:-1], last._replace(duration_q=half_q)), main_role="main")
