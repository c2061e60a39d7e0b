"""The part: the solo alone, as it goes on the stand.

It has what belongs to everybody once (tempo words and metronome, rehearsal marks, the road map), wherever the score
prints it, and chord names in the solo's own pitch. Bars of rest are gathered, cues lead out of long ones, the layout of
the score is gone. The player's own notes of a plan are written out; what else is decided is pencilled in.
"""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path
from typing import NamedTuple

from appui.interpret.interpretation import Interpretation
from appui.interpret.printed import printed_tree
from appui.musicxml.element import Element
from appui.musicxml.write.build import add, new, put, remove
from appui.musicxml.write.direction import words
from appui.musicxml.write.head import file_bytes
from appui.musicxml.write.partwise import listed_part, part_element
from appui.notate.cues import put_cues
from appui.notate.line import Line, line_of, written_line
from appui.notate.pencil import Pencil, pencilled
from appui.notate.rests import gather
from appui.notate.shared import gather_signs, put_chord_names
from appui.notate.tree import label, rewrite
from appui.score.signs import EMBELLISHMENT

__all__ = ["SoloPart", "part_file", "part_name", "solo_part"]

_LAYOUT = ("default-x", "default-y", "relative-x", "relative-y", "bezier-x", "bezier-y", "width")


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
    gather_signs(root, solo, player)
    put_chord_names(root, solo, player)
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
