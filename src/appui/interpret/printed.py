"""The tree of a score file as its player is to read it: what is written and engraved starts here."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

from appui.interpret.wishes import Wishes
from appui.musicxml.element import Element
from appui.musicxml.read.score import score_of
from appui.musicxml.write.partwise import part_element, partwise
from appui.musicxml.write.transpose import instrument_in, transpose_part
from appui.notations.read import load
from appui.score.model import Part, Score
from appui.score.signs import find_signs
from appui.score.solo import find_part, guess_solo

__all__ = ["printed_tree", "written_for"]


def printed_tree(path: Path, solo: Part, wishes: Wishes, *, keep: bool = False) -> Element:
    """The tree of a score file, partwise, the solo written for the instrument asked for.

    With `keep` it has the comments of the file. Raises `ScoreError` as reading the file does, `UsageError` for words
    that name no instrument.
    """
    root = partwise(load(path, keep=keep).root)
    if wishes.transpose is not None:
        transpose_part(part_element(root, solo), instrument_in(wishes.transpose))
    return root


def written_for(path: Path, score: Score, wishes: Wishes) -> Score:
    """A score that has been read, the solo written for the instrument asked for; it sounds as it did."""
    if wishes.transpose is None:
        return score
    solo = find_part(score, wishes.solo) if wishes.solo else guess_solo(score, find_signs(score))
    made = score_of(printed_tree(path, solo, wishes), score.file, score.sha256)
    return replace(made, notices=score.notices)
