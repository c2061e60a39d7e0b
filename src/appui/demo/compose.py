"""Makes the demos' scores, ``ferry.musicxml`` and its like, from the music in ``ferry.toml`` …: the same bytes always.

    python -m appui.demo.compose

Small notes carry no playback attributes: how each is played is what the page leaves open. Nothing of it is taken from
an existing piece.
"""

from __future__ import annotations

import re
import sys
from collections.abc import Iterator
from itertools import groupby
from pathlib import Path
from typing import Any

from appui.demo import bare_andante, demo_score, figured_sonata, lead_sheet
from appui.demo.music import ALTERS, VALUES, Music, Part, Small, Word, read_music, split_pitch
from appui.exact import Fraction
from appui.musicxml.write.accidentals import ACCIDENTAL_NAMES, InForce
from appui.musicxml.write.bar import new_barline, set_clefs, set_meter, set_signature
from appui.musicxml.write.beams import FLAGS, beams_of
from appui.musicxml.write.build import Element, add, new, put
from appui.musicxml.write.chords import chord_symbol, figured_bass
from appui.musicxml.write.direction import dynamics, hairpin, metronome, offset, tempo, words
from appui.musicxml.write.head import Player, file_bytes, list_group, list_part, new_score
from appui.musicxml.write.note import Look, Spelled, new_note, notations_of, small_note

__all__ = ["SCORE", "main", "score_bytes"]

SCORE = demo_score()
DIVISIONS = 4
_ARTICULATIONS = {">": "accent", "'": "staccato", "-": "tenuto"}
_ORNAMENTS = {"~": "trill-mark", "@": "delayed-turn"}
_KINDS = {"": "major", "m": "minor", "7": "dominant"}
_CHORD = re.compile(r"(?P<root>[A-G][#b]?)(?P<kind>m|7|)(?:/(?P<bass>[A-G][#b]?))?")
#  slur numbers: a phrase; within it a small note to its main note; a main note to its after-notes
_PHRASE, _GRACE, _AFTER = "1", "2", "3"


def score_bytes(music: Music) -> bytes:
    """The score as a MusicXML file."""
    root = new_score(f"{music.facts['title']}: {music.facts['subtitle']}", music.facts["composer"])
    for number, part in enumerate(music.parts, 1):
        facts = part.facts
        player = Player(part.name, facts["short"], facts["sound"], number, facts["program"])
        node = list_part(root, f"P{number}", player)
        for bar in range(len(part.bars)):
            _measure(add(node, "measure", number=str(bar + 1)), music, part, bar)
    if len(music.parts) > 2:
        list_group(root, 1, len(music.parts) - 1)
    return file_bytes(root)


def _measure(node: Element, music: Music, part: Part, bar: int) -> None:
    left, right = _barlines(music, bar + 1)
    if left is not None:
        node.append(left)
    if bar == 0:
        node.append(_attributes(music, part))
    holds = InForce.of_signature(music.facts["fifths"])
    bar_words = part.bars[bar]
    directions = sorted(_directions(music, part, bar + 1), key=lambda item: item[0])
    rows = part.facts["figures"][bar].split() if "figures" in part.facts else ["."] * len(bar_words)
    for word, beams, row in zip(bar_words, _beams(music, bar_words), rows, strict=True):
        while directions and directions[0][0] < word.onset_q + word.duration_q:
            at_q, direction = directions.pop(0)
            node.append(offset(direction, int((at_q - word.onset_q) * DIVISIONS)))
        node.extend(_figures(row, word.duration_q))
        node.extend(_word(word, beams, holds, tied=_tied(part, bar, word)))
    if right is not None:
        node.append(right)


def _barlines(music: Music, number: int) -> tuple[Element | None, Element | None]:
    first, last = music.facts.get("repeat", (0, 0))
    left = new_barline("left", "heavy-light", repeat={"direction": "forward"}) if number == first else None
    if number == last:
        return left, new_barline("right", "light-heavy", repeat={"direction": "backward"})
    if number == len(music.parts[0].bars):
        return left, new_barline("right", "light-heavy")
    return left, new_barline("right", "light-light") if number in music.facts.get("double_bars", ()) else None


def _attributes(music: Music, part: Part) -> Element:
    node = new("attributes")
    put(node, new("divisions", DIVISIONS))
    set_signature(node, music.facts["fifths"], music.facts.get("mode", "major"))
    set_meter(node, *music.meter)
    set_clefs(node, [tuple(part.facts["clef"])])
    return node


def _directions(music: Music, part: Part, number: int) -> Iterator[tuple[Fraction, Element]]:
    """What is printed over or under one bar of a part, each with its onset in the bar."""
    if number == 1 and part is music.parts[0]:
        yield Fraction(0), _tempo(music)
    for bar, beat, text in part.facts.get("words", ()):
        if bar == number:
            yield music.moment_q(beat), words(text, font_style="italic")
    for bar, beat, mark in part.facts.get("dynamics", ()):
        if bar == number:
            yield music.moment_q(beat), dynamics(mark)
    yield from _hairpins(music, part, number)
    if "chords" in part.facts:
        for beat_text, symbol in (entry.split(":") for entry in part.facts["chords"][number - 1].split()):
            yield music.moment_q(int(beat_text)), _chord(symbol)


def _hairpins(music: Music, part: Part, number: int) -> Iterator[tuple[Fraction, Element]]:
    """The ends of hairpins in one bar; one that reaches the next bar's mark ends at the barline before it."""
    for kind, bar, beat, end_bar, end_beat in part.facts.get("hairpins", ()):
        if end_bar == number and end_beat > 1:
            yield music.moment_q(end_beat), hairpin("stop")
        if bar == number:
            yield music.moment_q(beat), hairpin(kind)
        if end_bar == number + 1 and end_beat == 1:
            yield music.bar_q - Fraction(1, DIVISIONS), hairpin("stop")


def _chord(symbol: str) -> Element:
    """A chord symbol such as ``Gm/Bb``."""
    match = _CHORD.fullmatch(symbol)
    if match is None:
        raise ValueError(f"{symbol!r} is no chord symbol")
    return chord_symbol(match["root"], _KINDS[match["kind"]], match["kind"], match["bass"] or "")


def _figures(rows: str, duration_q: Fraction) -> Iterator[Element]:
    """Figures under a note: ``6/5``, ``7/#``, ``4>3`` one after the other, ``.`` none."""
    each = [] if rows == "." else rows.split(">")
    for row in each:
        figures = [
            (word.lstrip("#b"), ACCIDENTAL_NAMES[ALTERS[word[0]]] if word[0] in "#b" else "") for word in row.split("/")
        ]
        yield figured_bass(
            [(number, prefix, "", "") for number, prefix in figures], int(duration_q * DIVISIONS / len(each))
        )


def _tempo(music: Music) -> Element:
    """The tempo word, and the number of the meter's beats a minute."""
    _, beat_type = music.meter
    dotted = music.beat_q * beat_type / 4 == 3
    node = tempo(music.facts["beats_a_minute"] * music.beat_q, music.facts["tempo"], font_weight="bold")
    metronome(node, "quarter", int(dotted), music.facts["beats_a_minute"])
    return node


def _beams(music: Music, bar_words: tuple[Word, ...]) -> Iterator[tuple[str, ...]]:
    """The beams of a bar's notes: they join what lies in one beat, or a whole bar of eighths in three quarters."""
    flags = [0 if word.rest else FLAGS.get(VALUES[word.value][0], 0) for word in bar_words]
    whole = music.meter == (3, 4) and flags == [1] * 6
    beats = [word.onset_q // (music.bar_q if whole else music.beat_q) for word in bar_words]
    for (_, flagged), group in groupby(zip(beats, flags, strict=True), key=lambda one: (one[0], bool(one[1]))):
        own = [each for _, each in group]
        yield from beams_of(own) if flagged else [() for _ in own]


def _tied(part: Part, bar: int, word: Word) -> bool:
    """Whether a tie leads to the first note of a bar from the last of the bar before."""
    return word.onset_q == 0 and bar > 0 and "_" in part.bars[bar - 1][-1].marks


def _word(word: Word, beams: tuple[str, ...], holds: InForce, *, tied: bool) -> Iterator[Element]:
    """A note or rest, with the small notes before it and after it."""
    yield from _small(word.before, holds)
    pitch = None if word.rest else _spelled(word.pitch)
    accidental = "" if pitch is None or tied else holds.needed(pitch)
    note = new_note(
        pitch,
        int(word.duration_q * DIVISIONS),
        Look(VALUES[word.value][0], int(word.dotted), accidental=accidental, beams=beams),
        ties=["stop"] * tied + ["start"] * ("_" in word.marks),
        voice="1",
    )
    _notations(note, word)
    yield note
    yield from _small(word.after, holds, after=True)


def _spelled(pitch: str) -> Spelled:
    return split_pitch(pitch)


def _notations(note: Element, word: Word) -> None:
    found = notations_of(note)
    slurs = [
        ("stop", _GRACE, bool(word.before)),
        ("stop", _PHRASE, word.closes),
        ("start", _PHRASE, word.opens),
        ("start", _AFTER, bool(word.after)),
    ]
    for kind, number, there in slurs:
        if there:
            add(found, "slur", type=kind, number=number)
    for table, parent in ((_ORNAMENTS, "ornaments"), (_ARTICULATIONS, "articulations")):
        marks = [name for mark, name in table.items() if mark in word.marks]
        if marks:
            add(add(found, parent), marks[0], placement="above" if parent == "ornaments" else None)
    if "^" in word.marks:
        add(found, "fermata", type="upright")
    if not len(found):
        note.remove(found)


def _small(small: tuple[Small, ...], holds: InForce, *, after: bool = False) -> Iterator[Element]:
    """Small notes, slurred to the note they belong to."""
    beams = beams_of([FLAGS.get(VALUES[each.value][0], 0) for each in small])
    for index, (each, beam) in enumerate(zip(small, beams, strict=True)):
        pitch = _spelled(each.pitch)
        look = Look(VALUES[each.value][0], int(each.dotted), None, holds.needed(pitch), "up", beam)
        note = small_note(pitch, look, slash=each.slashed, voice="1")
        slur = ("stop" if index + 1 == len(small) else "") if after else ("start" if index == 0 else "")
        if slur:
            add(notations_of(note), "slur", type=slur, number=_AFTER if after else _GRACE)
        yield note


def main(arguments: list[str] | None = None) -> None:
    """Write the scores beside this file, or the demo's to the path given."""
    given: list[Any] = sys.argv[1:] if arguments is None else arguments
    if given:
        Path(given[0]).write_bytes(score_bytes(read_music()))
        return
    for score in (SCORE, figured_sonata(), lead_sheet(), bare_andante()):
        score.write_bytes(score_bytes(read_music(score.with_suffix(".toml"))))


if __name__ == "__main__":
    main()
