"""The printed score with a name on every note, and the names of the notes each sign consists of.

The file is read a second time from a text of our own in which every note has a line to itself: so the line our reader
keeps for each note is a name for it, and MusicXML's `id` attribute carries the name through the engraver (MusicXML
4.0, attribute group optional-unique-id, read).
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from pathlib import Path

from lxml import etree

from appui.interpret.interpretation import Interpretation
from appui.interpret.printed import printed_tree
from appui.musicxml.read.note import Element
from appui.musicxml.read.score import score_of
from appui.musicxml.read.source import name_of, parse_text
from appui.notations.read import load
from appui.score.model import Score
from appui.score.signs import Sign, find_signs

__all__ = ["Marked", "SignNotes", "mark_score"]


@dataclass(frozen=True, slots=True)
class SignNotes:
    """Note names of one sign: its small notes in printed order, and its main note (or the rest it stands over)."""

    small: tuple[str, ...]
    main: str


@dataclass(frozen=True, slots=True)
class Marked:
    """MusicXML text with named notes, the notes of the signs by place, and the score so read.

    `names` are the notes by the line their event has in that score.
    """

    text: str
    notes: Mapping[str, SignNotes]
    score: Score
    names: Mapping[int, tuple[str, ...]]


def mark_score(path: Path, also: Iterable[Sign] = (), player: Interpretation | None = None) -> Marked:
    """Name every note of a score file; raises `ScoreError` as reading it does.

    `also` are signs that the file does not have: the player's own notes in a plan. A `player` may read the solo
    written for another instrument.
    """
    file, root = name_of(path), load(path).root if player is None else printed_tree(path, player.solo, player.wishes)
    for number, note in enumerate(root.iter("note"), 1):
        note.set("id", f"n{number}")
        note.tail = "\n"
    text = etree.tostring(root, encoding="unicode")
    root = parse_text(text.encode(), file).root
    score = score_of(root, file)
    names = _names(root.iter("note"))
    notes = {sign.place: _notes_of(score, sign, names) for sign in (*find_signs(score), *also)}
    return Marked(text, notes, score, names)


def _names(notes: Iterable[Element]) -> dict[int, tuple[str, ...]]:
    """Names by line: a note's own, and those of the chord notes printed over it."""
    names: dict[int, tuple[str, ...]] = {}
    first = 0
    for note in notes:
        line = int(note.sourceline)
        if note.find("chord") is None:
            first = line
        names[line] = (note.get("id"),)
        if line != first:
            names[first] = (*names.get(first, ()), note.get("id"))
    return names


def _notes_of(score: Score, sign: Sign, names: Mapping[int, tuple[str, ...]]) -> SignNotes:
    small = [name for note in sign.small for name in names.get(note.line, ())]
    main = sign.main_note(score)
    line = main.line if main is not None else sign.main(score).line
    return SignNotes(tuple(small), next(iter(names.get(line, ())), ""))
