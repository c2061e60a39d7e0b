"""The head of a score file and its part list; and the bytes of the whole.

Same tree, same bytes. The version said is 4.0; nothing of a new file is newer than 3.1.
"""

from __future__ import annotations

from typing import NamedTuple

from lxml import etree

from appui.musicxml.element import Element
from appui.musicxml.write.build import add, needed, new, put

__all__ = ["Player", "file_bytes", "list_group", "list_part", "new_score", "part_list", "tree_bytes"]

_VERSION = "4.0"
_DOCTYPE = (
    '<!DOCTYPE score-partwise PUBLIC "-//Recordare//DTD MusicXML {} Partwise//EN" '
    '"http://www.musicxml.org/dtds/partwise.dtd">'
)


class Player(NamedTuple):
    """Who plays a part: its names, MusicXML's name of the sound, channel (1..16) and MIDI program (1..128)."""

    name: str
    short: str = ""
    sound: str = ""
    channel: int = 1
    program: int = 0


def new_score(title: str = "", composer: str = "", *, software: str = "appui") -> Element:
    """A score with its head and an empty part list; what is left empty is left out."""
    root = new("score-partwise", version=_VERSION)
    if title:
        add(root, "movement-title", title)
    if composer or software:
        identification = add(root, "identification")
        if composer:
            add(identification, "creator", composer, type="composer")
        if software:
            add(add(identification, "encoding"), "software", software)
    add(root, "part-list")
    return root


def part_list(root: Element) -> Element:
    """The part list of a score, made where it has none, as only readers as ours let pass."""
    found = root.find("part-list")
    return found if found is not None else put(root, new("part-list"))


def list_part(root: Element, name: str, player: Player) -> Element:
    """Put a part into the list, and the empty part of that id into the score; returns it."""
    listed = add(part_list(root), "score-part", id=name)
    add(listed, "part-name", player.name)
    if player.short:
        add(listed, "part-abbreviation", player.short)
    if player.program:
        instrument = add(listed, "score-instrument", id=f"{name}-I1")
        add(instrument, "instrument-name", player.name)
        if player.sound:
            add(instrument, "instrument-sound", player.sound)
        midi = add(listed, "midi-instrument", id=f"{name}-I1")
        add(midi, "midi-channel", player.channel)
        add(midi, "midi-program", player.program)
    return add(root, "part", id=name)


def list_group(root: Element, first: int, last: int) -> None:
    """A bracket from one listed part to another, by index, with barlines drawn through."""
    listed = needed(root, "part-list").findall("score-part")
    start = new("part-group", type="start", number="1")
    add(start, "group-symbol", "bracket")
    add(start, "group-barline", "yes")
    listed[first].addprevious(start)
    listed[last].addnext(new("part-group", type="stop", number="1"))


def file_bytes(root: Element) -> bytes:
    """A new score as a file, a line an element."""
    etree.indent(root, "  ")
    return etree.tostring(
        root, xml_declaration=True, encoding="UTF-8", pretty_print=True, doctype=_DOCTYPE.format(_VERSION)
    )


def tree_bytes(root: Element) -> bytes:
    """A tree that came from a file as one again, of the version it says it is, laid out as it was."""
    tree = root.getroottree()
    own: str = tree.docinfo.doctype  # type: ignore[attr-defined]  # the stubs do not know it
    doctype = own if "score-partwise" in own else _DOCTYPE.format(root.get("version", "1.0"))
    return etree.tostring(tree, xml_declaration=True, encoding="UTF-8", doctype=doctype)
