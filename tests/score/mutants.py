"""Mutants of real scores: elements dropped, doubled, swapped, moved; numbers, attributes and texts spoiled.

A mutant stays well-formed XML, so it reaches the reader and does not stop at the parser. The same seed makes the same
mutant.
"""

from __future__ import annotations

import copy
import random
from collections.abc import Callable
from pathlib import Path
from typing import Any

import music21

from appui.score.source import load

__all__ = ["MUTATIONS", "SEEDLINGS", "mutant"]

_CORPUS = Path(music21.__file__).parent / "corpus"
# small files that hold much: chords, two staves, small notes, transposition, figures, endings, pickup bars
SEEDLINGS = tuple(
    _CORPUS / name
    for name in (
        "bach/bwv171.6.mxl",
        "corelli/opus3no1/1grave.xml",
        "handel/rinaldo/Lascia_chio_pianga.mxl",
        "haydn/opus1no1/movement4.mxl",
        "monteverdi/madrigal.4.16.mxl",
        "schumann_clara/polonaise_op1n1.mxl",
        "schumann_robert/opus48no2.mxl",
        "verdi/laDonnaEMobile.mxl",
    )
)
_BARS_KEPT = 12
# what a careless program, an editor's slip or ill will may write where a number or a word belongs
_SPOILT = (
    "", " ", "0", "-1", "1", "2", "3", "7", "1/2", "1.5", "1e3", "NaN", "inf", "--", "9" * 25, "100000000", "0.0000001",
    "+4", "٣", "yes", "no", "start", "stop", "both", "H", "♭", "x" * 5_000, "\t4\n",
)  # fmt: skip
_TAGS = ("note", "chord", "grace", "backup", "forward", "rest", "pitch", "duration", "measure", "part", "foreign")

Mutation = Callable[[random.Random, list[Any]], None]


def _pick(chance: random.Random, elements: list[Any]) -> Any:
    """An element below the root: any kind of element as likely as any other, so that notes are not all that changes."""
    tags = sorted({element.tag for element in elements[1:]})
    tag = chance.choice(tags)
    return chance.choice([element for element in elements[1:] if element.tag == tag])


def _drop(chance: random.Random, elements: list[Any]) -> None:
    element = _pick(chance, elements)
    element.getparent().remove(element)


def _double(chance: random.Random, elements: list[Any]) -> None:
    element = _pick(chance, elements)
    element.addnext(copy.deepcopy(element))


def _swap(chance: random.Random, elements: list[Any]) -> None:
    element = _pick(chance, elements)
    following = element.getnext()
    if following is not None:
        following.addnext(element)


def _move(chance: random.Random, elements: list[Any]) -> None:
    element, target = _pick(chance, elements), _pick(chance, elements)
    if element not in target.iterancestors() and element is not target:
        target.append(element)


def _retag(chance: random.Random, elements: list[Any]) -> None:
    _pick(chance, elements).tag = chance.choice(_TAGS)


def _text(chance: random.Random, elements: list[Any]) -> None:
    with_text = [element for element in elements if element.text and element.text.strip()]
    _pick(chance, [elements[0], *with_text]).text = chance.choice(_SPOILT)


def _attribute(chance: random.Random, elements: list[Any]) -> None:
    element = _pick(chance, [elements[0], *(element for element in elements[1:] if element.attrib)])
    element.set(chance.choice(sorted(element.attrib)), chance.choice(_SPOILT).strip())


def _attribute_lost(chance: random.Random, elements: list[Any]) -> None:
    element = _pick(chance, [elements[0], *(element for element in elements[1:] if element.attrib)])
    del element.attrib[chance.choice(sorted(element.attrib))]


MUTATIONS: dict[str, Mutation] = {
    "drop": _drop,
    "double": _double,
    "swap": _swap,
    "move": _move,
    "retag": _retag,
    "spoil a text": _text,
    "spoil an attribute": _attribute,
    "lose an attribute": _attribute_lost,
}


def _shortened(path: Path) -> Any:
    """The first bars of a score: what a mutation does is soon seen, and reading stays quick."""
    root = load(path).root
    for part in root.iterfind("part"):
        for measure in part.findall("measure")[_BARS_KEPT:]:
            part.remove(measure)
    return root


_ROOTS: dict[Path, Any] = {}


def mutant(seed: int) -> tuple[Any, list[str]]:
    """The root of one mutant, and what was done to it: one to four mutations."""
    chance = random.Random(seed)  # noqa: S311 - repeatable on purpose
    path = chance.choice(SEEDLINGS)
    if path not in _ROOTS:
        _ROOTS[path] = _shortened(path)
    root = copy.deepcopy(_ROOTS[path])
    names = chance.choices(sorted(MUTATIONS), k=chance.randint(1, 4))
    for name in names:
        MUTATIONS[name](chance, list(root.iter()))
    return root, [path.name, *names]
