"""The mordent: the note, the one below it, and the note again.

    single                     | main lower, main
    double                     | main lower main lower, main
    long                       | main lower main lower main lower, main
    from the lower note        | lower, main    (double: | lower main lower, main)
    approached from above      | upper, then the mordent         (from below: | lower, then the mordent)
    left downwards             … , lower main | next note        (upwards: … , upper main | next note)

J.S. Bach 1720 (memory): main lower main. C.P.E. Bach 1753, 2.5 §9-12 (read): the lower note is often raised for
sharpness. Clementi 1801 (read) prints the beat as single, double, from the lower note, and as a triplet from below.
How MusicXML's `approach` and `departure` sound is not defined there: this is our decision, after the compound signs of
J.S. Bach's table. `beats`, `second`, `last`: MusicXML 4.0, trill-sound (read), mordents by default 3, 12, 24.
"""

from __future__ import annotations

from appui.exact import Fraction
from appui.realize.contract import Cut, Stand
from appui.realize.quick import by_landings, head, landings, quick_q, sequence

__all__ = ["MORDENTS", "mordent"]

#           number    letter steps before the main note comes to rest
MORDENTS = {
    "1":    (0, -1),
    "2":    (0, -1, 0, -1),
    "long": (0, -1, 0, -1, 0, -1),
}  # fmt: skip
#            approach   letter steps before the mordent
APPROACH = {"above": (1,), "below": (-1,)}
#             departure  letter steps at the end of the note
DEPARTURE = {"above": (1, 0), "below": (-1, 0)}


def mordent(stand: Stand) -> Cut:
    """The mordent at the head of its note, or over the whole of it where the file counts its notes."""
    reading = stand.reading

    beats = reading.number("beats")
    if beats is not None:
        return _by_file(stand, int(beats))
    steps = MORDENTS[str(reading.get("number") or "1")]
    if reading.get("start") == "lower":
        steps = steps[1:]
    cut = head(stand, APPROACH.get(str(reading.get("approach")), ()) + steps, "mordent", stand.auxiliary)
    leaving = DEPARTURE.get(str(reading.get("departure")), ())
    return _leaving(stand, cut, leaving) if leaving else cut


def _leaving(stand: Stand, cut: Cut, steps: tuple[int, ...]) -> Cut:
    each_q = min(quick_q(stand, len(steps)), (cut.end_q - cut.start_q) / (2 * len(steps)))
    if each_q < stand.floor_q:
        return cut
    start_q = cut.end_q - each_q * len(steps)
    tail = sequence(stand, start_q, [(stand.auxiliary(step), each_q) for step in steps], "mordent")
    return cut._replace(end_q=start_q, tail=tail)


def _by_file(stand: Stand, beats: int) -> Cut:
    """So many notes by turns, the note itself at rest in the end."""
    first = -1 if stand.reading.get("start") == "lower" else 0
    steps = [first if i % 2 == 0 else -1 - first for i in range(beats)]
    onsets = landings(stand, beats, Fraction(12), Fraction(24))
    tones = by_landings(stand, [stand.auxiliary(step) for step in steps], onsets, "mordent")
    if steps[-1] == 0:
        return Cut(tones[-1].onset_q, stand.end_q, tones[:-1], main_role="main")
    last = tones[-1]
    half_q = last.duration_q / 2
    return Cut(last.onset_q + half_q, stand.end_q, (*tones[:-1], last._replace(duration_q=half_q)), main_role="main")
