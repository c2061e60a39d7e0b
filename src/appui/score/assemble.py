"""From parts as read to a `Score`: bars get their lengths, voices their order, ties and slurs their ends.

How long a bar is: as far as the notes of its longest part reach. A bar without notes is as long as its meter. A bar
that runs over its meter by less than an eighth, and by no plain fraction, is a rounding slip of the exporting
program: it is as long as its meter, and what reaches beyond is cut.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import pairwise
from operator import itemgetter

from appui.errors import ScoreError
from appui.exact import Fraction
from appui.score.model import (
    Bar,
    Dynamic,
    Ending,
    Event,
    Hairpin,
    Key,
    Meter,
    Note,
    Notice,
    Part,
    Score,
    TempoMark,
    Voice,
    Words,
)
from appui.score.movements import with_headings
from appui.score.raw import RawBar, RawEvent, RawPart, RawTempo
from appui.score.tempo_words import TEMPO_WORDS, tempo_word

__all__ = ["MAX_PARTS", "Moments", "assemble", "assemble_bars", "assemble_part", "assemble_tempos", "too_many_parts"]

#  an orchestra with voices has some sixty
MAX_PARTS = 300
_COMMON = Meter(4, 4)
_ASSUMED_QPM = Fraction(80)


def assemble(
    raws: Sequence[RawPart],
    *,
    title: str,
    file: str,
    sha256: str = "",
    creators: tuple[tuple[str, str], ...] = (),
    notices: tuple[Notice, ...] = (),
) -> Score:
    """The score of the parts read from a file; raises `ScoreError` where there is no music in them.

    `notices` are those of the whole file, beside those of its parts.
    """
    with_bars = [raw for raw in raws if raw.bars]
    if not with_bars:
        raise ScoreError(file, "holds no part with bars", "choose a file with music in it")
    bars = assemble_bars(with_bars)
    moments: Moments = [{} for _ in bars]
    parts = tuple(assemble_part(raw, index, bars, moments) for index, raw in enumerate(raws))
    marks = assemble_tempos(raws, bars)
    texts = [(each.bar, each.text) for raw in raws for each in raw.texts if not each.at_q and not each.lyric]
    bars = with_headings(bars, parts, marks, texts)
    tempos, tempo_notices = _with_first(marks, bars)
    found = (*tempo_notices, *notices, *_unequal(raws), *(notice for raw in raws for notice in raw.notices))
    return Score(title, file, sha256, parts, bars, tempos, found, creators)


def too_many_parts(file: str, count: int) -> ScoreError:
    """The error for a file of more than `MAX_PARTS` parts."""
    return ScoreError(file, f"has {count:,} parts, more than {MAX_PARTS}", "save the parts you need alone")


def _unequal(raws: Sequence[RawPart]) -> Iterator[Notice]:
    longest = max(len(raw.bars) for raw in raws)
    for raw in raws:
        if len(raw.bars) < longest:
            yield Notice(
                f"part {raw.name}", f"has {len(raw.bars)} bars where another part has {longest}: silent after its end"
            )


def assemble_bars(parts: Sequence[RawPart]) -> tuple[Bar, ...]:
    """The bars all parts share, with onsets and lengths."""
    bars: list[Bar] = []
    onset_q, meter, open_ending = Fraction(0), _COMMON, None
    for index in range(max(len(part.bars) for part in parts)):
        here = [part.bars[index] for part in parts if index < len(part.bars)]
        meter = next((raw.meter for raw in here if raw.meter), meter)
        length_q = _length_q(here, meter)
        endings, open_ending = _endings(here, open_ending)
        bars.append(_bar(index, here, onset_q, length_q, meter, endings))
        onset_q += length_q
    return tuple(bars)


def _length_q(here: Sequence[RawBar], meter: Meter) -> Fraction:
    content_q = max(raw.content_q for raw in here)
    if content_q == 0 or not any(raw.has_notes for raw in here):
        return meter.bar_q
    over_q = content_q - meter.bar_q
    if 0 < over_q < Fraction(1, 2) and (over_q * 16).denominator != 1 and (over_q * 12).denominator != 1:
        return meter.bar_q
    return content_q


def _endings(here: Sequence[RawBar], opened: Ending | None) -> tuple[tuple[Ending, ...], Ending | None]:
    starts = next((raw.ending_starts for raw in here if raw.ending_starts), [])
    current = starts[-1] if starts else opened
    over = (current,) if current else ()
    return over, None if any(raw.ending_stops for raw in here) else current


def _bar(
    index: int,
    here: Sequence[RawBar],
    onset_q: Fraction,
    length_q: Fraction,
    meter: Meter,
    endings: tuple[Ending, ...],
) -> Bar:
    jumps = {jump.kind: jump for raw in reversed(here) for jump in raw.jumps}
    return Bar(
        index,
        here[0].number,
        onset_q,
        length_q,
        meter,
        here[0].implicit,
        any(raw.repeat_forward for raw in here),
        max(raw.repeat_backward for raw in here),
        endings,
        tuple(jumps[kind] for kind in sorted(jumps)),
        any(raw.fermata_at_end for raw in here),
        any(raw.final for raw in here),
    )


Moments = list[dict[int, Fraction]]
"""For each bar, onsets by the identity of the position in it: the object that all walkers of a score share.

Notes that begin together share one onset: a long score has millions.
"""


#  what stands in a bar, after it in the file or before, by bar and time
_moment = itemgetter(0, 1)


def assemble_part(raw: RawPart, index: int, bars: Sequence[Bar], moments: Moments) -> Part:
    """One part with absolute times; its raw events are used up, what was odd is noted in `raw.notices`.

    `moments` is a dictionary a bar, for the parts of one score one after the other.
    """
    starts = [bar.onset_q for bar in bars]
    _place(raw, bars, moments)
    _resolve_slurs(raw)
    ties = _resolve_ties(raw)
    return Part(
        index,
        raw.id,
        raw.name,
        tuple(_voices(raw, ties)),
        tuple(
            Key(starts[bar] + at_q, fifths, mode, altered)
            for bar, at_q, fifths, mode, altered in sorted(raw.keys, key=_moment)
        ),
        tuple(
            (starts[bar] + at_q, transposition) for bar, at_q, transposition in sorted(raw.transpositions, key=_moment)
        ),
        tuple(
            Dynamic(starts[bar] + at_q, mark, percent, staff)
            for bar, at_q, mark, percent, staff in sorted(raw.dynamics, key=_moment)
        ),
        tuple(
            Hairpin(starts[b] + at_q, starts[end] + end_at_q, kind, staff)
            for b, at_q, end, end_at_q, kind, staff in sorted(raw.hairpins, key=_moment)
        ),
        tuple(symbol._replace(onset_q=starts[bar] + at_q) for bar, at_q, symbol in raw.chord_symbols),
        tuple(figures._replace(onset_q=starts[bar] + at_q) for bar, at_q, figures in raw.figures),
        raw.staves,
        raw.instrument,
        raw.program,
        raw.channel,
        raw.percussion,
        raw.volume_percent,
        tuple(bar.number for bar in raw.bars),
        tuple(sorted(Words(starts[text.bar] + text.at_q, text.text) for text in raw.texts if not text.lyric)),
    )


def _place(raw: RawPart, bars: Sequence[Bar], moments: Moments) -> None:
    """Give the events their onsets and ends, and cut those that reach beyond their bar."""
    clipped = {i for i, bar in enumerate(raw.bars) if bar.content_q > bars[i].length_q}
    for event in raw.events:
        known = moments[event.bar]
        for position_q in (event.at_q, event.stop_q):
            if id(position_q) not in known:
                start_q = bars[event.bar].onset_q
                known[id(position_q)] = start_q + position_q if position_q else start_q
        event.onset_q, event.end_q = known[id(event.at_q)], known[id(event.stop_q)]
        if event.bar in clipped:
            _cut(event, bars[event.bar], raw)


def _cut(event: RawEvent, bar: Bar, raw: RawPart) -> None:
    limit_q = bar.length_q - event.at_q
    if event.duration_q > limit_q:
        raw.notice(
            f"part {raw.name}, bar {bar.number}, line {event.line}",
            "notes reach beyond the bar by a rounding slip: cut at the barline",
        )
        event.duration_q = max(limit_q, Fraction(0))
        event.end_q = event.onset_q + event.duration_q


def _resolve_slurs(raw: RawPart) -> None:
    """Mark the events a slur leads on from and back to; a slur with one end only is left out and said once."""
    slurred = [event for event in raw.events if event.slur_starts or event.slur_stops]
    by_voice: dict[str, list[RawEvent]] = {}
    for event in raw.events if slurred else ():
        by_voice.setdefault(event.voice, []).append(event)
    opened: dict[str, list[RawEvent]] = {}
    for event in slurred:
        for number in event.slur_stops:
            starts = opened.get(number)
            if starts:
                _span(by_voice, starts.pop(), event)
            elif number not in event.slur_starts:  # a slur inside a group of small notes opens and closes on one event
                raw.notice(f"part {raw.name}, line {event.line}", "a slur ends that never began: left out")
        for number in event.slur_starts:
            opened.setdefault(number, []).append(event)
    if any(opened.values()):
        raw.notice(f"part {raw.name}", "a slur begins and never ends: left out")


def _span(by_voice: dict[str, list[RawEvent]], start: RawEvent, stop: RawEvent) -> None:
    if start is stop or stop.onset_q - start.onset_q > 400:
        return
    events = by_voice[start.voice]
    low = _index(events, start)
    for event in events[low:]:
        if event.onset_q >= stop.onset_q:
            event.slur_back |= event.onset_q == stop.onset_q
            break
        event.slur_on = True
        event.slur_back |= event is not start


def _index(events: list[RawEvent], event: RawEvent) -> int:
    low, high = 0, len(events)
    while low < high:
        middle = (low + high) // 2
        other = events[middle]
        if other.bar < event.bar or (other.bar == event.bar and other.at_q < event.at_q):
            low = middle + 1
        else:
            high = middle
    return low


def _resolve_ties(raw: RawPart) -> dict[int, tuple[list[bool], list[bool]]]:
    """For each event with ties (by `id`): which notes are tied on and back, to notes that are really there."""
    stops: dict[tuple[Fraction, object], list[tuple[RawEvent, int]]] = {}
    found: dict[int, tuple[list[bool], list[bool]]] = {}
    tied = [event for event in raw.events if event.tied]
    for event in tied:
        for place, (start, stop) in enumerate(event.ties):
            if start or stop:
                found.setdefault(id(event), ([False] * len(event.ties), [False] * len(event.ties)))
            if stop:
                stops.setdefault((event.onset_q, event.notes[place].sounding.midi), []).append((event, place))
    for event in tied:
        for place, (start, _) in enumerate(event.ties):
            if start:
                _tie(raw, event, place, stops, found)
    return found


def _tie(
    raw: RawPart,
    event: RawEvent,
    place: int,
    stops: dict[tuple[Fraction, object], list[tuple[RawEvent, int]]],
    found: dict[int, tuple[list[bool], list[bool]]],
) -> None:
    targets = stops.get((event.end_q, event.notes[place].sounding.midi))
    if not targets:
        raw.notice(f"part {raw.name}, line {event.line}", "a tie leads to no note of its pitch: left out")
        return
    target = next((t for t in targets if t[0].voice == event.voice), targets[0])
    targets.remove(target)
    found[id(event)][0][place] = True
    found[id(target[0])][1][target[1]] = True


def _voices(raw: RawPart, ties: dict[int, tuple[list[bool], list[bool]]]) -> Iterator[Voice]:
    by_voice: dict[str, list[RawEvent]] = {}
    for event in raw.events:
        if event.duration_q:
            by_voice.setdefault(event.voice, []).append(event)
        elif event.notes:
            raw.notice(f"part {raw.name}, line {event.line}", "a note of no length: left out")
    raw.events = []  # they go as they are made into events
    while by_voice:
        name = next(iter(by_voice))
        events = by_voice.pop(name)
        lanes = _lanes(events)
        if len(lanes) > 1:
            raw.notice(f"part {raw.name}", f"voice {name} overlaps itself: read as {len(lanes)} voices")
        for number, lane in enumerate(lanes):
            yield Voice(name if number == 0 else f"{name}+{number}", tuple(_event(e, ties) for e in lane))


def _lanes(events: list[RawEvent]) -> list[list[RawEvent]]:
    """Split a voice into lanes that never overlap; a lane that has been on the same staff is preferred."""
    if all(one.end_q is next_.onset_q or one.end_q <= next_.onset_q for one, next_ in pairwise(events)):
        return [events]  # they come in order, as nearly always
    ordered = sorted(events, key=lambda e: e.onset_q)
    if all(one.end_q <= next_.onset_q for one, next_ in pairwise(ordered)):
        return [ordered]
    lanes: list[list[RawEvent]] = []
    for event in ordered:
        free = [lane for lane in lanes if lane[-1].end_q <= event.onset_q]
        lane = next((lane for lane in free if lane[-1].staff == event.staff), free[0] if free else None)
        if lane is None:
            lanes.append([event])
        else:
            lane.append(event)
    return lanes


def _event(raw: RawEvent, ties: dict[int, tuple[list[bool], list[bool]]]) -> Event:
    notes = raw.notes
    if id(raw) in ties:
        on, back = ties[id(raw)]
        notes = tuple(_tied(note, on[i], back[i]) for i, note in enumerate(notes))
    return Event(
        raw.onset_q,
        raw.duration_q,
        raw.bar,
        notes,
        raw.type_name,
        raw.dots,
        raw.tuplet,
        raw.before,
        raw.after,
        raw.articulations,
        raw.slur_on,
        raw.slur_back,
        raw.fermata,
        raw.pauses,
        raw.line,
        raw.ordinal,
    )


def _tied(note: Note, on: bool, back: bool) -> Note:
    return note._replace(tied_on=on, tied_back=back) if on or back else note


def assemble_tempos(parts: Sequence[RawPart], bars: Sequence[Bar]) -> list[TempoMark]:
    """The tempos printed in the score: `sound`, else metronome, else words."""
    by_place: dict[Fraction, list[RawTempo]] = {}
    for part in parts:
        for raw in part.tempos:
            by_place.setdefault(bars[raw.bar].onset_q + raw.at_q, []).append(raw)
    return [_tempo_mark(onset_q, by_place[onset_q], bars) for onset_q in sorted(by_place)]


def _with_first(marks: list[TempoMark], bars: Sequence[Bar]) -> tuple[tuple[TempoMark, ...], list[Notice]]:
    """The tempos, the first bar's too, assumed if need be: that of the next one printed in the first movement."""
    notices: list[Notice] = []
    end_q = next((bar.onset_q for bar in bars[1:] if bar.heading is not None), None)
    if not marks or marks[0].onset_q > 0:
        known = marks and (end_q is None or marks[0].onset_q < end_q)
        marks = [TempoMark(Fraction(0), marks[0].qpm if known else _ASSUMED_QPM, "assumed"), *marks]
    first = marks[0]
    if first.origin == "assumed":
        said = f" for {first.words!r}" if first.words else ""
        notices.append(
            Notice(
                "bar " + bars[0].number,
                f"no tempo is printed in numbers: {float(first.qpm):g} quarter notes a "
                f"minute assumed{said}; --tempo sets another",
            )
        )
    return tuple(marks), notices


def _tempo_mark(onset_q: Fraction, found: Sequence[RawTempo], bars: Sequence[Bar]) -> TempoMark:
    best = min(found, key=lambda raw: raw.rank)
    words = next((raw.words for raw in found if raw.words), "")
    if best.qpm is not None:
        return TempoMark(onset_q, best.qpm, ("sound", "metronome")[best.rank], words)
    beat_q = next(bar for bar in reversed(bars) if bar.onset_q <= onset_q).meter.beat_q
    return TempoMark(onset_q, TEMPO_WORDS[tempo_word(words) or "andante"][0] * beat_q, "assumed", words)
