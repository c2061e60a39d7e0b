"""The part: the solo alone, as it goes on the stand.

It has what belongs to everybody once (tempo words and metronome, rehearsal marks, the road map), wherever the score
prints it, and chord names in the solo's own pitch. Bars of rest are gathered, cues lead out of long ones, the layout of
the score is gone. The player's own notes of a plan are written out; what else is decided is pencilled in.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from pathlib import Path
from typing import NamedTuple

from appui.exact import Fraction, fraction_of
from appui.harmony.kinds import symbol_text
from appui.interpret.interpretation import Interpretation
from appui.interpret.printed import printed_tree
from appui.musicxml.element import Element
from appui.musicxml.write.build import add, children, copied, new, put, remove
from appui.musicxml.write.chords import chord_symbol
from appui.musicxml.write.direction import offset, words
from appui.musicxml.write.head import file_bytes
from appui.musicxml.write.partwise import listed_part, part_element
from appui.musicxml.write.time import placed, refine
from appui.musicxml.write.transpose import transpose_letter
from appui.notate.cues import put_cues
from appui.notate.line import Line, line_of, written_line
from appui.notate.pencil import Pencil, pencilled
from appui.notate.rests import gather
from appui.notate.tree import label, rewrite
from appui.score.model import ChordSymbol, Part
from appui.score.signs import EMBELLISHMENT
from appui.score.tempo_words import tempo_word

__all__ = ["SoloPart", "part_file", "part_name", "solo_part"]

_LAYOUT = ("default-x", "default-y", "relative-x", "relative-y", "bezier-x", "bezier-y", "width")
_JUMPS = ("dacapo", "dalsegno", "tocoda", "fine", "segno", "coda", "tempo")


class SoloPart(NamedTuple):
    """The part as a score of its own, what is pencilled in it, and what was written out; `places` says at which note.

    `places` are the notes of the tree by the ordinal they had in the score.
    """

    root: Element
    pencils: tuple[Pencil, ...]
    line: Line
    places: dict[int, Element]


def solo_part(path: Path, player: Interpretation, *, labels: bool = False, written_out: bool = False) -> SoloPart:
    """The part of an interpretation's solo, from the file its score was read from.

    With `labels` the chord of each sign stands under it; `written_out` writes all decisions in notes instead of
    pencilling them in. Raises `ScoreError` as reading the file does.
    """
    root = printed_tree(path, player.solo, player.wishes)
    solo = part_element(root, player.solo)
    notes = [note for measure in solo.iterfind("measure") for note in measure.iterfind("note")]
    if labels:
        label(root, player, written=True)
    _gather_signs(root, solo, player)
    _chord_names(root, solo, player)
    line = written_line(player, player.solo.index)
    if not written_out:
        own = {sign.place for sign in player.signs if sign.kind == EMBELLISHMENT or _is_own(player, sign.place)}
        line = line_of(line, player, own)
    rewrite(solo, player.score, line)
    pencils = () if written_out else tuple(each for each in pencilled(player) if each.place not in line.signs)
    put_cues(root, solo, player.score, player.solo)
    _alone(root, solo, player)
    gather(solo)
    there = set(solo.iter("note"))
    return SoloPart(root, pencils, line, {number: note for number, note in enumerate(notes) if note in there})


def _is_own(player: Interpretation, place: str) -> bool:
    """Whether a sign is played with the player's own notes."""
    return player.choices[place].reading.name == "embellished"


# what belongs to everybody


def _gather_signs(root: Element, solo: Element, player: Interpretation) -> None:
    """Put the directions that are everybody's into the solo, each once, whichever part prints it."""
    score = player.score
    found: set[tuple[int, str]] = set()
    for part in (solo, *(part for part in root.iterfind("part") if part is not solo)):
        for bar, at_q, direction in list(_directions(part)):
            if bar >= len(score.bars):
                continue
            # twice in a bar is once for two staves, or moved on for looks
            key = (bar, _content(direction))
            if key in found and part is solo:
                remove(direction)
            elif key not in found and part is not solo:
                _place(solo, bar, at_q, copied(direction), score.file)
            found.add(key)


def _directions(part: Element) -> Iterator[tuple[int, Fraction, Element]]:
    """Bar, moment in it and element of every direction or sound that is everybody's."""
    divisions = Fraction(1)
    for bar, measure in enumerate(part.iterfind("measure")):
        at_q = Fraction(0)
        for child in children(measure):
            if child.tag == "attributes":
                divisions = fraction_of(child.findtext("divisions") or str(divisions))
            elif child.tag in ("direction", "sound") and _is_everybodys(child):
                later_q = fraction_of(child.findtext("offset") or "0") / divisions
                yield bar, max(at_q + later_q, Fraction(0)), child
            elif child.tag in ("note", "backup", "forward") and child.find("chord") is None:
                length_q = fraction_of(child.findtext("duration") or "0") / divisions
                at_q += -length_q if child.tag == "backup" else length_q


def _is_everybodys(node: Element) -> bool:
    if node.tag == "sound":
        return any(node.get(name) for name in _JUMPS)
    sound = node.find("sound")
    if sound is not None and any(sound.get(name) for name in _JUMPS):
        return True
    if any(node.find(f"direction-type/{tag}") is not None for tag in ("metronome", "rehearsal", "segno", "coda")):
        return True
    return tempo_word(" ".join(_words(node))) is not None


def _words(node: Element) -> Iterator[str]:
    return (each.text or "" for each in node.iterfind("direction-type/words"))


def _content(node: Element) -> str:
    """What a direction prints, to know it again in another part; a sound without print by what it says."""
    printed = " ".join(
        " ".join(str(text) for text in kind.itertext()).strip() for kind in node.iterfind("direction-type")
    )
    sound = node if node.tag == "sound" else node.find("sound")
    told = "" if printed.strip() or sound is None else " ".join(f"{name}={sound.get(name)}" for name in sorted(_JUMPS))
    tags = "".join(sorted({kind.tag for kind in node.iterfind("direction-type/*") if kind.tag != "words"}))
    return " ".join(printed.split()) + tags + told


def _place(solo: Element, bar: int, at_q: Fraction, node: Element, file: str) -> None:
    """Put a direction, sound or chord name into a bar at a moment: before the note there, or moved on from one."""
    measures = solo.findall("measure")
    if bar >= len(measures):
        return
    divisions = refine(solo, at_q.denominator, file)
    for old in node.findall("offset"):
        remove(old)
    measure = measures[bar]
    for one in placed(measure, divisions):
        if one.node.tag == "note" and one.node.find("chord") is None and one.start_q <= at_q <= one.end_q:
            later = int((at_q - one.start_q) * divisions)
            if later and node.tag != "sound":
                offset(node, later, sounds=node.tag == "direction")
            if at_q == one.end_q and later:
                continue
            one.node.addprevious(node)
            return
    line = next(
        (child for child in children(measure) if child.tag == "barline" and child.get("location") != "left"), None
    )
    if line is not None:
        line.addprevious(node)
    else:
        measure.append(node)


# chord names


def _chord_names(root: Element, solo: Element, player: Interpretation) -> None:
    """Chord names of another part, or of a chart, in the solo's own pitch; those in the solo stay as they are."""
    parts = player.score.parts
    source = next((part for part in parts if part.chord_symbols), None)
    if source is None or (source.index == player.solo.index and player.wishes.chart is None):
        return
    for old in list(solo.iter("harmony")):
        remove(old)
    before = ""
    for symbol in source.chord_symbols:
        told = symbol_text(symbol)
        if told != before and symbol.kind != "none":
            bar = player.score.bar_at(symbol.onset_q)
            _place(solo, bar.index, symbol.onset_q - bar.onset_q, _harmony(symbol, player.solo), player.score.file)
        before = told


def _harmony(symbol: ChordSymbol, solo: Part) -> Element:
    transposition = solo.transposition_at(symbol.onset_q)
    root = transpose_letter(symbol.root, transposition)
    bass = transpose_letter(symbol.bass, transposition) if symbol.bass else ""
    text = symbol.text or symbol_text(symbol._replace(bass="")).removeprefix(symbol.root)
    return chord_symbol(root, symbol.kind, text, bass, symbol.degrees)


# the solo alone


def _alone(root: Element, solo: Element, player: Interpretation) -> None:
    """Take away the other parts and the layout of the score; say whose part it is."""
    listed = listed_part(root, solo)
    others = [node for node in (*root.iterfind("part"), *root.iterfind("part-list/*")) if node not in (solo, listed)]
    for node in [*others, *root.iterfind("defaults"), *root.iterfind("credit"), *solo.iter("print")]:
        remove(node)
    for node in root.iter("*"):
        for name in _LAYOUT:
            node.attrib.pop(name, "")
    if listed is not None:
        _unlabelled(listed)
    _credits(root, player)


def _unlabelled(listed: Element) -> None:
    """No name before the staves: it stands at the head."""
    for node in [*listed.findall("part-name-display"), *listed.findall("part-abbreviation-display")]:
        remove(node)
    for node in [*listed.findall("part-name"), *listed.findall("part-abbreviation")]:
        node.set("print-object", "no")


def part_name(player: Interpretation) -> str:
    """What stands at the head of the part: the solo's name, and the instrument it is written for."""
    key = player.wishes.transpose
    return player.solo.name if key is None else f"{player.solo.name} in {key.strip().removeprefix('in ').strip()}"


def _credits(root: Element, player: Interpretation) -> None:
    """Title, player and composer over the first bar."""
    composer = next((name for kind, name in player.score.creators if kind in ("composer", "")), "")
    rows = (
        (player.score.title, "title", "center", "20"),
        (part_name(player), "part name", "left", "12"),
        (composer, "composer", "right", "10"),
    )
    for text, kind, justify, size in rows:
        if text:
            node = put(root, new("credit", page="1"))
            add(node, "credit-type", kind)
            add(node, "credit-words", text, justify=justify, valign="top", font_size=size)


def part_file(made: SoloPart, pages: Iterable[int]) -> bytes:
    """The part as MusicXML: decisions as words over their notes, new pages at some bars, by index."""
    for each in made.pencils:
        note = made.places.get(each.ordinal)
        if note is not None:
            note.addprevious(words(each.words, "above", font_style="italic", font_size="7"))
    measures = made.root.findall("part/measure")
    for bar in pages:
        if bar:
            measures[bar].insert(0, new("print", new_page="yes"))
    return file_bytes(made.root)
