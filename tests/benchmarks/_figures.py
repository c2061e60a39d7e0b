"""Turns, mordents and short trills of invented players: signs written over a score, ways drawn, what was played.

Few scores that may be used have such signs, so they can be written over plain notes of the solo by chance. All chances
are drawn apart from those of small notes and trills, so that these stay as they are.
"""

from __future__ import annotations

import zipfile
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from lxml import etree

import appui
from appui.errors import AppuiError
from appui.listen.line import FIGURES
from appui.perform.model import PerformedNote

#  one note in so many that may bear a sign has one
_ONE_IN = 4
#  so many notes at the beginning stay plain
_PLAIN = 3
#  seconds from which a note may bear any sign, and a mordent or short trill
_LONG_S, _SHORT_S = 0.6, 0.3
_LONG_SIGNS = ("turn", "turn", "inverted-turn", "delayed-turn", "delayed-turn", "mordent", "inverted-mordent")
_SLIDES = ("schleifer",)
_SHORT_SIGNS = ("mordent", "inverted-mordent")
#  what stands after `notations` in a note of MusicXML 4.0 (read)
_LATER = ("lyric", "play", "listen")

#            kind       ways of playing it and their chances
_TURNS = (
    ("turn on the note{shape}{end}", 0.40),
    ("turn on the note{shape} from the main note{end}", 0.12),
    ("turn after the note{shape}{end}", 0.26),
    ("turn after the note{shape} beginning at 1/2{end}", 0.12),
    ("plain", 0.10),
)
_LATE_TURNS = (
    ("turn on the note{shape}{end}", 0.20),
    ("turn after the note{shape}{end}", 0.45),
    ("turn after the note{shape} beginning at 1/2{end}", 0.25),
    ("plain", 0.10),
)
_MORDENTS = (
    ("mordent single{end}", 0.55),
    ("mordent double{end}", 0.20),
    ("mordent single from the lower note{end}", 0.15),
    ("plain", 0.10),
)
_SHORT_TRILLS = (
    ("trill from the main note half without termination", 0.5),
    ("trill from above half without termination", 0.3),
    ("turn on the note", 0.1),
    ("plain", 0.1),
)
_SLIDE_WAYS = (
    ("slide of two notes{rate}", 0.6),
    ("slide of three notes{rate}", 0.2),
    ("slide of two notes downwards{rate}", 0.1),
    ("plain", 0.1),
)
#  of the figures on the beat so many are played before it; how unevenly a player plays their notes (spread of the log)
_EARLY, _UNEVEN = 0.2, 0.12
#  nobody plays quick notes shorter than this: a figure for which there is no time is left out
_SHORTEST_S = 0.055
#  so many mordents and short trills are played with the other neighbour than printed
_OTHER_SIDE = 0.12
#  a figure before the beat takes at most this share of the note before
_MOST_OF_BEFORE = 0.5


@dataclass(frozen=True)
class FigureTruth:
    """What was played of a figure: when each of its notes begins (s), and their keys; the main note is the last."""

    how: str
    starts_s: list[float]
    keys: list[int]
    end_s: float


def with_signs(score: Path, seed: int, folder: Path, *, slides: bool = False) -> Path:
    """A copy of a MusicXML score with signs over some plain notes of its first part; with slides and no others."""
    rng = np.random.default_rng([seed, 9])
    tree = etree.fromstring(_text_of(score))
    part = tree.find("part")
    assert part is not None, "the score is no score-partwise"
    quarter_s, divisions, count, rested = _quarter_s(score), 1.0, 0, True
    for note in part.iter("note", "divisions"):
        if note.tag == "divisions":
            divisions = float(note.text or 1)
            continue
        length_s = float(note.findtext("duration") or 0) / divisions * quarter_s
        count += 1
        if count <= _PLAIN or not rested or not _bears(note) or length_s < _SHORT_S:
            rested = True
        elif rng.integers(_ONE_IN) == 0:
            signs = _SLIDES if slides else _LONG_SIGNS if length_s >= _LONG_S else _SHORT_SIGNS
            _put(note, str(rng.choice(signs)))
            rested = False
    out = folder / f"{score.stem}.musicxml"
    out.write_bytes(etree.tostring(tree, xml_declaration=True, encoding="UTF-8"))
    return out


def _quarter_s(score: Path) -> float:
    """How long a quarter note is at the beginning."""
    performance = appui.open(score).play(solo_only=True, repeats=False).performance
    return performance.seconds(performance.lead_q + 1) - performance.seconds(performance.lead_q)


def _text_of(score: Path) -> bytes:
    if score.suffix != ".mxl":
        return score.read_bytes()
    with zipfile.ZipFile(score) as packed:
        name = next(each for each in packed.namelist() if "META-INF" not in each and each.endswith("xml"))
        return packed.read(name)


def _bears(note: etree._Element) -> bool:
    """Whether a note may bear a sign: a full-size note of the first voice alone, not tied, without a sign."""
    unfit = ("rest", "grace", "chord", "cue", "tie", "time-modification", ".//ornaments", ".//fermata", ".//arpeggiate")
    following = note.getnext()
    chord = following is not None and following.find("chord") is not None
    small = (before := note.getprevious()) is not None and before.find("grace") is not None
    return (
        not chord
        and not small
        and note.findtext("voice", "1") == "1"
        and all(note.find(each) is None for each in unfit)
    )


def _put(note: etree._Element, sign: str) -> None:
    notations = note.find("notations")
    if notations is None:
        notations = etree.Element("notations")
        later = [number for number, child in enumerate(note) if child.tag in _LATER]
        note.insert(later[0] if later else len(note), notations)
    etree.SubElement(etree.SubElement(notations, "ornaments"), sign)


def drawn_figures(piece: appui.Piece, inside: set[str], rng: np.random.Generator) -> dict[str, str]:
    """A way of playing for every turn, mordent and short trill; one its place does not allow is played plainly."""
    found = {}
    for one in piece.signs:
        if one.kind not in FIGURES or one.place not in inside or one.sign.within is not None:
            continue
        ways = _MORDENTS if one.kind == "mordent" else _SHORT_TRILLS if one.kind == "short trill" else _TURNS
        if one.kind.endswith("after"):
            ways = _LATE_TURNS
        elif one.kind == "slide":
            ways = _SLIDE_WAYS
        words, chances = zip(*ways, strict=True)
        shape = " inverted" if "inverted" in one.kind else ""
        end = " with the lower note raised" if rng.random() < 0.25 else ""
        rate = f" {rng.uniform(8, 15):.1f} notes a second"
        end += rate
        drawn = str(rng.choice(words, p=chances)).format(shape=shape, end=end, rate=rate)
        try:
            piece.interpretation.reading(one.place, drawn)
        except AppuiError:
            drawn = "plain"
        found[one.place] = drawn
    return found


def played_figures(
    notes: Sequence[PerformedNote], figures: Mapping[str, str], rng: np.random.Generator
) -> tuple[list[PerformedNote], set[str]]:
    """The notes, those of figures a little uneven; and the figures that were moved before the beat."""
    out, early = list(notes), set[str]()
    for place in figures:
        own = [number for number, note in enumerate(out) if note.sign == place]
        if len(own) < 2 or own != list(range(own[0], own[-1] + 1)):
            continue
        _unevenly(out, own, rng)
        if rng.random() < _OTHER_SIDE and {out[number].role for number in own} <= {"mordent", "trill", "main"}:
            _turned_over(out, own)
        if out[own[-1]].role in ("main", "trill") and rng.random() < _EARLY and _moved(out, own):
            early.add(place)
    return out, early


def _unevenly(notes: list[PerformedNote], own: Sequence[int], rng: np.random.Generator) -> None:
    """Each note of a figure a little longer or shorter, the whole as long as it was."""
    starts = [notes[number].onset_s for number in own]
    lengths = np.diff(starts) * np.exp(rng.normal(0, _UNEVEN, len(own) - 1))
    lengths *= (starts[-1] - starts[0]) / lengths.sum()
    for number, start in zip(own, np.concatenate([[starts[0]], starts[0] + np.cumsum(lengths)]), strict=True):
        end = notes[number].onset_s + notes[number].duration_s
        notes[number] = notes[number]._replace(onset_s=float(start), duration_s=max(end - float(start), 0.01))


def _turned_over(notes: list[PerformedNote], own: Sequence[int]) -> None:
    """The neighbour above for the one below, as far away, and the other way round."""
    main = notes[own[-1]].key
    for number in own:
        notes[number] = notes[number]._replace(key=2 * main - notes[number].key)


def too_quick(notes: Sequence[PerformedNote], figures: Mapping[str, str]) -> set[str]:
    """The figures whose notes would be too short for a player."""
    found = set()
    for place in figures:
        starts = [note.onset_s for note in notes if note.sign == place]
        if len(starts) > 1 and min(np.diff(starts)) < _SHORTEST_S:
            found.add(place)
    return found


def _moved(notes: list[PerformedNote], own: Sequence[int]) -> bool:
    """Moves a figure before the beat, its main note on it, where the note before is long enough; whether it is."""
    first, last, before = notes[own[0]], notes[own[-1]], notes[own[0] - 1] if own[0] else None
    moved_s = last.onset_s - first.onset_s
    if before is None or before.sign or moved_s > _MOST_OF_BEFORE * (first.onset_s - before.onset_s):
        return False
    for number in own:
        note = notes[number]
        longer_s = moved_s if number == own[-1] else 0.0
        notes[number] = note._replace(onset_s=note.onset_s - moved_s, duration_s=note.duration_s + longer_s)
    return True


def truths_of(notes: Sequence[PerformedNote], figures: Mapping[str, str], early: set[str]) -> dict[str, FigureTruth]:
    """What was played of each figure, from the notes as they were played."""
    found = {}
    for place in figures:
        own = [note for note in notes if note.sign == place]
        how = "none" if len(own) < 2 else "after" if own[0].role == "main" else "before" if place in early else "on"
        if own or figures[place] == "plain":
            found[place] = FigureTruth(
                how,
                [note.onset_s for note in own],
                [note.key for note in own],
                own[-1].onset_s + own[-1].duration_s if own else 0.0,
            )
    return found
