"""The tree of a score file as its player is to read it: what is written and engraved starts here.

A wish may leave one movement of it, and write the solo for another instrument. What is read from that tree is a score
like any other: places and bars are those of the movement, and no tilde tells them apart.
"""

from __future__ import annotations

import re
from dataclasses import replace
from pathlib import Path

from appui.interpret.wishes import Wishes
from appui.musicxml.element import Element
from appui.musicxml.read.score import score_of
from appui.musicxml.write.build import new, put, remove
from appui.musicxml.write.cut import cut_bars
from appui.musicxml.write.partwise import part_element, partwise
from appui.musicxml.write.transpose import instrument_in, transpose_part
from appui.notations.read import load, read_score
from appui.score.model import Part, Score
from appui.score.movements import find_movement, movements
from appui.score.signs import find_signs
from appui.score.solo import find_part, guess_solo

__all__ = ["printed_tree", "written_for"]


def printed_tree(path: Path, solo: Part, wishes: Wishes, *, keep: bool = False) -> Element:
    """The tree of a score file, partwise, of one movement if asked for, the solo written for the instrument asked for.

    With `keep` it has the comments of the file. Raises `ScoreError` as reading the file does, `PlaceError` for a
    movement it does not have, `UsageError` for words that name no instrument.
    """
    root = partwise(load(path, keep=keep).root)
    if wishes.movement is not None:
        _leave_movement(root, read_score(path), wishes.movement)
    if wishes.transpose is not None:
        transpose_part(part_element(root, solo), instrument_in(wishes.transpose))
    _unbeam_hidden(root)
    return root


def _unbeam_hidden(root: Element) -> None:
    """Take away the beams of voices that are not to be seen: they would be drawn without their notes."""
    for measure in root.iter("measure"):
        sounding = [note for note in measure.iterfind("note") if note.find("rest") is None]
        hidden = [note for note in sounding if note.get("print-object") == "no"]
        if not hidden:
            continue
        seen = {note.findtext("voice") for note in sounding if note.get("print-object") != "no"}
        for note in hidden:
            for beam in note.findall("beam") if note.findtext("voice") not in seen else ():
                remove(beam)


def _leave_movement(root: Element, score: Score, wanted: str) -> None:
    """Leave of a tree one movement, its name added to the title."""
    movement = find_movement(score, wanted)
    if len(movements(score)) == 1:
        return
    onset_q = score.bars[movement.first].onset_q
    tempo = score.tempo_at(onset_q)
    qpm = tempo.qpm if 0 < tempo.onset_q < onset_q else None
    cut_bars(root, movement.first, movement.last, qpm, whole_start=True)
    title = root.find("movement-title")
    if title is None:
        title = put(root, new("movement-title"))
    # a file without any title goes by its name
    own = (title.text or "").strip() or ("" if root.find("work/work-title") is not None else score.title)
    title.text = ", ".join(filter(None, (own, movement.name)))


def written_for(path: Path, whole: Score, wishes: Wishes) -> Score:
    """What has been read in a file, or the movement of it asked for, the solo written for the instrument asked for.

    It sounds as it did. Raises as `printed_tree`.
    """
    if wishes.movement is None and wishes.transpose is None:
        return whole
    root, score = partwise(load(path, score=whole).root), whole
    if wishes.movement is not None:
        _leave_movement(root, whole, wishes.movement)
        made = score_of(root, whole.file, whole.sha256)
        of_file = tuple(notice for notice in whole.notices if not re.search("bar|line", notice.place))
        score = replace(made, notices=tuple(dict.fromkeys((*made.notices, *of_file))))
    if wishes.transpose is not None:
        solo = find_part(score, wishes.solo) if wishes.solo else guess_solo(score, find_signs(score))
        transpose_part(part_element(root, solo), instrument_in(wishes.transpose))
        score = replace(score_of(root, whole.file, whole.sha256), notices=score.notices)
    return score
