"""What a table of plain and varied bars shows, and what the proposals for its plain bars show, in the same figures.

The table has a row for each bar pair: ``piece``, ``kind``, ``speed``, ``mc_plain``, ``timesig``, ``qpm``, ``tempo``,
``key_plain``, ``labels_plain`` (``0:V65 3/2:I`` by quarter), ``plain`` and ``varied`` (``offset,length,midi`` in
quarters), ``changed`` and ``sim`` (0..1, how alike the two bars' harmony is). Neighbouring bars of one key become a
score of a solo over the chords of the labels, repeated, and each bar is proposed for.
"""

from __future__ import annotations

import csv
from collections import defaultdict
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import replace
from itertools import groupby, pairwise
from pathlib import Path
from statistics import quantiles
from typing import NamedTuple

from lxml import etree
from music21 import key as m21_key
from music21 import roman
from music21.exceptions21 import Music21Exception

from appui.embellish.choose import propose_all
from appui.embellish.model import Wish
from appui.embellish.places import find_places
from appui.exact import Fraction
from appui.interpret.analysis import Analysis
from appui.interpret.interpretation import Interpretation, interpret_analysis
from appui.interpret.wishes import Wishes
from appui.musicxml.read.score import score_of
from appui.score.pitch import Pitch, natural

__all__ = ["Bar", "bars_of", "figures", "ours", "report"]

_DIVISIONS = 480
_ALIKE = 0.7
#  bars in a row whose figures are one value of the middle half
_STRETCH = 4
Line = list[tuple[Fraction, Fraction, int]]


class Bar(NamedTuple):
    """One plain bar with its varied form; `chords` pitch classes by moment, `proposed` what is proposed for it."""

    row: dict[str, str]
    plain: Line
    varied: Line
    chords: list[tuple[Fraction, frozenset[int], tuple[int, ...]]]
    scale: frozenset[int]
    beat_q: Fraction
    length_q: Fraction

    @property
    def counts(self) -> bool:
        """Whether it is changed and its two forms have the same harmony; the others are there for their phrases."""
        return self.row["changed"] == "1" and float(self.row["sim"]) >= _ALIKE

    @property
    def group(self) -> str:
        """Speed and kind."""
        return f"{self.row['speed']} {self.row['kind'].split()[0]}"

    def chord(self, at_q: Fraction) -> frozenset[int]:
        """The pitch classes under a moment."""
        return [classes for onset_q, classes, _ in self.chords if onset_q <= at_q][-1]


def _line(text: str) -> Line:
    return [
        (Fraction(onset), Fraction(length), int(midi)) for onset, length, midi in (w.split(",") for w in text.split())
    ]


def bars_of(path: Path) -> list[Bar]:
    """The bars of a table, in order."""
    with path.open(encoding="utf-8", newline="") as file:
        found = [_bar(row) for row in csv.DictReader(file)]
    return [bar for bar in found if bar is not None]


def _bar(row: dict[str, str]) -> Bar | None:
    tonic = m21_key.Key(row["key_plain"].replace("b", "-") if len(row["key_plain"]) > 1 else row["key_plain"])
    chords = []
    for word in row["labels_plain"].split():
        onset, _, label = word.partition(":")
        found = _chord(label, tonic)
        if found is not None:
            chords.append((Fraction(onset), *found))
    if not chords or not row["plain"] or not row["varied"]:
        return None
    chords[0] = (Fraction(0), *chords[0][1:])
    scale = {pitch.pitchClass for pitch in tonic.pitches}
    if tonic.mode == "minor":
        scale |= {(tonic.tonic.pitchClass + step) % 12 for step in (9, 11)}
    plain, varied = _line(row["plain"]), _line(row["varied"])
    return Bar(row, plain, varied, chords, frozenset(scale), Fraction(row["beat_q"]), Fraction(row["bar_q"]))


def _chord(label: str, tonic: m21_key.Key) -> tuple[frozenset[int], tuple[int, ...]] | None:
    """The pitch classes of a label, and its notes from the bass up; non-chord notes in brackets are left out."""
    figure, _, of = label.partition("/")
    bare = figure.partition("(")[0].replace("%", "ø").replace("M7", "7")
    # a six-four in brackets is a six-four
    bare = "I64" if "(64)" in figure and figure[0] == "V" and tonic.mode == "major" else bare
    bare = "i64" if "(64)" in figure and figure[0] == "V" and tonic.mode == "minor" else bare
    bare = bare.replace("#vii", "vii") if tonic.mode == "minor" or of else bare
    try:
        found = roman.RomanNumeral(bare + (f"/{of.lstrip('#')}" if of else ""), tonic)
    except (Music21Exception, ValueError):
        return None
    return frozenset(p.pitchClass for p in found.pitches), tuple(int(p.midi) for p in found.pitches)


# the proposals


def _runs(bars: Sequence[Bar]) -> Iterator[list[Bar]]:
    def place(pair: tuple[int, Bar]) -> tuple[str, ...]:
        number, bar = pair
        row = bar.row
        return row["piece"], row["kind"], row["key_plain"], row["timesig"], str(int(row["mc_plain"]) - number)

    for _, group in groupby(enumerate(bars), key=place):
        yield [bar for _, bar in group]


def _spelled(midi: int, key: m21_key.Key) -> Pitch:
    """A MIDI key as the key of the bar spells it: from two places flatter on the line of fifths to nine sharper."""
    place = next(each for each in range(key.sharps - 2, key.sharps + 10) if (each * 7 - midi) % 12 == 0)
    letter, alter = "FCGDAEB"[(place + 1) % 7], (place + 1) // 7
    plain = natural("CDEFGAB".index(letter) + 7 * ((midi - alter) // 12 - 1))
    return plain._replace(alter=alter)


def _xml_note(midi: int | None, length_q: Fraction, key: m21_key.Key, *, chord: bool = False) -> str:
    if midi is None:
        inside = "<rest/>"
    else:
        pitch = _spelled(midi, key)
        alter = f"<alter>{pitch.alter}</alter>" if pitch.alter else ""
        inside = f"<pitch><step>{pitch.step}</step>{alter}<octave>{pitch.octave}</octave></pitch>"
    head = "<chord/>" if chord else ""
    return f"<note>{head}{inside}<duration>{int(length_q * _DIVISIONS)}</duration><voice>1</voice></note>"


def _xml_solo(bar: Bar, key: m21_key.Key) -> str:
    at_q, found = Fraction(0), []
    for onset_q, length_q, midi in bar.plain:
        if onset_q > at_q:
            found.append(_xml_note(None, onset_q - at_q, key))
        found.append(_xml_note(midi, min(length_q, bar.length_q - onset_q), key))
        at_q = onset_q + length_q
    if at_q < bar.length_q:
        found.append(_xml_note(None, bar.length_q - at_q, key))
    return "".join(found)


def _xml_chords(bar: Bar, key: m21_key.Key) -> str:
    found = []
    ends = [*(onset_q for onset_q, _, _ in bar.chords[1:]), bar.length_q]
    for (onset_q, _, notes), end_q in zip(bar.chords, ends, strict=True):
        low = 36 + notes[0] % 12
        row = [low, *(48 + note % 12 for note in notes[1:])]
        found += [_xml_note(midi, end_q - onset_q, key, chord=number > 0) for number, midi in enumerate(row)]
    return "".join(found)


def _score(run: Sequence[Bar]) -> Interpretation:
    """The bars of a run as a solo over chords, repeated."""
    row = run[0].row
    key = m21_key.Key(row["key_plain"])
    beats, beat_type = row["timesig"].split("/")
    head = (
        f"<attributes><divisions>{_DIVISIONS}</divisions><key><fifths>{key.sharps}</fifths><mode>{key.mode}</mode>"
        f"</key><time><beats>{beats}</beats><beat-type>{beat_type}</beat-type></time></attributes><direction>"
        f"<direction-type><words>{row['tempo']}</words></direction-type><sound tempo='{row['qpm']}'/></direction>"
    )
    begin = "<barline location='left'><repeat direction='forward'/></barline>"
    end = "<barline location='right'><repeat direction='backward'/></barline>"
    parts = []
    for name, inside in (("Violin", _xml_solo), ("Violoncello", _xml_chords)):
        measures = "".join(
            f"<measure number='{number}'>{begin + head if number == 1 else ''}{inside(bar, key)}"
            f"{end if number == len(run) else ''}</measure>"
            for number, bar in enumerate(run, 1)
        )
        parts.append((name, measures))
    listed = "".join(f"<score-part id='P{i}'><part-name>{n}</part-name></score-part>" for i, (n, _) in enumerate(parts))
    body = "".join(f"<part id='P{i}'>{measures}</part>" for i, (_, measures) in enumerate(parts))
    text = f"<score-partwise><part-list>{listed}</part-list>{body}</score-partwise>"
    return interpret_analysis(Analysis(score_of(etree.fromstring(text), "pairs", "0" * 64)), Wishes(solo="1"))


def ours(bars: Sequence[Bar], wish: Wish) -> Iterator[tuple[Bar, Line]]:
    """Each bar with the first proposal in it, the printed notes where nothing is proposed; unchanged bars left out."""
    for run in _runs(bars):
        interpretation = _score(run)
        # every bar has been varied, so every bar is proposed for
        places = find_places(interpretation, replace(wish, how_much="rich"))[0]
        lines: dict[int, Line] = defaultdict(list)
        replaced: dict[int, list[tuple[Fraction, Fraction]]] = defaultdict(list)
        for found in propose_all(interpretation, places, wish):
            if found.proposals:
                span = found.place.span
                events = span.events(interpretation.score)
                start_q = events[0].onset_q
                bar = events[0].bar
                base_q = interpretation.score.bars[bar].onset_q
                replaced[bar].append((start_q - base_q, events[-1].end_q - base_q))
                at_q = start_q - base_q
                for note in found.proposals[0].line.all:
                    if note.pitch is not None:
                        lines[bar].append((at_q, note.value_q, int(note.pitch.midi)))
                    at_q += note.value_q
        for number, each in enumerate(run):
            kept = [
                note
                for note in each.plain
                if not any(start_q <= note[0] < end_q for start_q, end_q in replaced[number])
            ]
            if replaced[number] and each.counts:
                yield each, sorted(kept + lines[number])


# the figures


def figures(pairs: Iterable[tuple[Bar, Line]]) -> dict[str, float]:
    """The proportions of some bars: shares 0..1, onsets by quarter, values by bar."""
    total: dict[str, list[float]] = defaultdict(list)
    for bar, line in pairs:
        for name, value in _of_bar(bar, line):
            total[name].append(value)
    return {name: sum(values) / len(values) for name, values in total.items()}


def _of_bar(bar: Bar, line: Line) -> Iterator[tuple[str, float]]:
    yield "onsets a quarter", len(line) / float(bar.length_q)
    yield "fewer notes", float(len(line) < len(bar.plain))
    yield "as many notes", float(len(line) == len(bar.plain))
    for onset_q, length_q, midi in bar.plain:
        if onset_q % bar.beat_q == 0:
            span = [m for at_q, _, m in line if onset_q <= at_q < onset_q + max(length_q, bar.beat_q)]
            yield "kept on its beat", float(any(at_q == onset_q and m == midi for at_q, _, m in line))
            yield "kept in its span", float(midi in span)
        if length_q >= bar.beat_q:
            inside = sum(onset_q <= at_q < onset_q + length_q for at_q, _, _ in line)
            yield "long notes left", float(inside <= length_q / bar.beat_q)
    for at_q, _, midi in line:
        foreign = midi % 12 not in bar.chord(at_q)
        if at_q % bar.beat_q == 0:
            yield "chord notes on beats", float(not foreign)
        yield "foreign notes", float(foreign)
        yield "chromatic notes", float(midi % 12 not in bar.scale)
    for (_, _, one), (_, _, other) in pairwise(line):
        gap = abs(one - other)
        yield "steps", float(gap in (1, 2))
        yield "thirds", float(gap in (3, 4))
        yield "leaps", float(gap > 4)
        yield "repeated", float(gap == 0)
    yield "values a bar", float(len({length_q for _, length_q, _ in line}))


def report(bars: Sequence[Bar], wish: Wish) -> Iterator[str]:
    """The two beside each other by speed and kind, with how far ours lie from the middle half of theirs."""
    made = list(ours(bars, wish))
    counted = [bar for bar in bars if bar.counts]
    for group in sorted({bar.group for bar in counted}):
        own = [bar for bar in counted if bar.group == group]
        theirs = figures((bar, bar.varied) for bar in own)
        plain = figures((bar, bar.plain) for bar in own)
        ending = [own[start : start + _STRETCH] for start in range(0, len(own) - _STRETCH + 1, _STRETCH)]
        stretches = [figures((bar, bar.varied) for bar in each) for each in ending]
        proposed = [(bar, line) for bar, line in made if bar.group == group]
        mine = figures(proposed)
        yield f"{group}: {len(own)} bars, {len(proposed)} with a proposal; middle half of {len(stretches)} stretches"
        yield f"  {'':22}{'plain':>7}{'varied':>8}{'middle half':>14}{'ours':>7}{'off by':>8}"
        for name in theirs:
            values = [each[name] for each in stretches if name in each] or [theirs[name]]
            low, _, high = quantiles(values, n=4, method="inclusive") if len(values) > 1 else 3 * values
            value = mine.get(name, 0.0)
            off = max(low - value, value - high, 0.0)
            mark = f"{off:8.2f}" if off > 0.005 else f"{'inside':>8}"
            yield f"  {name:22}{plain[name]:7.2f}{theirs[name]:8.2f}{low:8.2f} -{high:5.2f}{value:7.2f}{mark}"
