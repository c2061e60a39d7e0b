"""Mutants of real scores: elements dropped, doubled, swapped, moved; numbers, attributes, texts and bytes spoiled.

Most mutants stay well-formed XML, so that they reach the reader and do not stop at the parser. The same seed makes the
same mutant of the same list of files.
"""

from __future__ import annotations

import copy
import random
from collections.abc import Callable, Sequence
from functools import lru_cache
from pathlib import Path
from typing import Any, NamedTuple

import music21
from lxml import etree

from appui.musicxml.read.source import load

__all__ = ["FOLDERS", "MUTATIONS", "SEEDLINGS", "Mutant", "corpus", "mutant", "seedling_of"]

_CORPUS = Path(music21.__file__).parent / "corpus"
FOLDERS = (
    "bach", "beethoven", "corelli", "cpebach", "handel", "haydn", "monteverdi", "schumann_clara", "schumann_robert",
    "verdi", "weber",
)  # fmt: skip
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
        "weber/concertino_clarinet.mxl",
    )
)
_BARS_KEPT = 12
# what a careless program, an editor's slip or ill will may write where a number or a word belongs
_SPOILT = (
    "", " ", "0", "-1", "1", "2", "3", "7", "1/2", "1.5", "1e3", "NaN", "inf", "--", "9" * 25, "100000000", "0.0000001",
    "+4", "٣", "yes", "no", "start", "stop", "both", "H", "♭", "x" * 5_000, "\t4\n", "10000", "128", "255", "-7",
    "1e999999999",
)  # fmt: skip
_TAGS = ("note", "chord", "grace", "backup", "forward", "rest", "pitch", "duration", "measure", "part", "foreign")

# what a score may hold at a note, in a bar or before a note, to be put where it was not
_AT_NOTE = (
    "<ornaments><trill-mark/><wavy-line type='start'/></ornaments>",
    "<ornaments><trill-mark two-note-turn='whole' beats='9' last-beat='99' second-beat='1'/></ornaments>",
    "<ornaments><turn slash='yes'/><delayed-turn/></ornaments>",
    "<ornaments><mordent long='yes' approach='above' departure='below'/><inverted-mordent/></ornaments>",
    "<ornaments><schleifer/><tremolo type='single'>8</tremolo><tremolo type='start'>3</tremolo></ornaments>",
    "<fermata type='inverted'>double-square</fermata>",
    "<arpeggiate number='1' direction='down'/>",
    "<articulations><staccato/><breath-mark/><caesura/></articulations>",
    "<slur type='start' number='1'/>",
    "<slur type='stop' number='1'/>",
    "<tied type='let-ring'/>",
)
_IN_BAR = (
    "<barline location='right'><repeat direction='backward' times='99'/></barline>",
    "<barline location='left'><repeat direction='forward'/><ending number='1,2-3' type='start'/></barline>",
    "<barline location='right'><ending number='1' type='stop'/><repeat direction='backward'/></barline>",
    "<sound dacapo='yes' fine='yes' tocoda='1' coda='1' segno='1' dalsegno='1' tempo='1' dynamics='900'/>",
    (
        "<direction><direction-type><metronome><beat-unit>256th</beat-unit><per-minute>999</per-minute></metronome>"
        "</direction-type></direction>"
    ),
    "<attributes><divisions>7</divisions><time><beats>3+2</beats><beat-type>8</beat-type></time></attributes>",
    "<attributes><divisions>9999991</divisions></attributes>",
    (
        "<attributes><transpose><diatonic>-60</diatonic><chromatic>-90</chromatic><octave-change>9</octave-change>"
        "</transpose><key><fifths>-7</fifths></key></attributes>"
    ),
    "<harmony><root><root-step>B</root-step><root-alter>-2</root-alter></root><kind>diminished-seventh</kind></harmony>",
    "<figured-bass><figure><prefix>sharp</prefix><figure-number>7</figure-number></figure></figured-bass>",
    "<backup><duration>1</duration></backup>",
    "<forward><duration>100000</duration></forward>",
    "<note><grace slash='yes' steal-time-previous='99'/><pitch><step>B</step><octave>9</octave></pitch></note>",
    (
        "<note><grace make-time='9' steal-time-following='100'/><pitch><step>C</step><octave>0</octave></pitch>"
        "<type>1024th</type></note>"
    ),
    "<note><grace/><chord/><pitch><step>F</step><alter>2</alter><octave>5</octave></pitch><type>maxima</type></note>",
    "<note><cue/><rest measure='yes'/><duration>1</duration></note>",
)

Mutation = Callable[[random.Random, list[Any]], None]


class Mutant(NamedTuple):
    """The bytes of a spoilt file, and what was done: the file's name, then the mutations."""

    data: bytes
    done: tuple[str, ...]


def _pick(chance: random.Random, elements: list[Any]) -> Any:
    """An element below the root: any kind of element as likely as any other, so that notes are not all that changes."""
    tags = sorted({element.tag for element in elements[1:]})
    tag = chance.choice(tags)
    return chance.choice([element for element in elements[1:] if element.tag == tag])


def _tagged(chance: random.Random, elements: list[Any], tag: str) -> Any:
    found = [element for element in elements if element.tag == tag]
    return chance.choice(found) if found else None


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


def _trade(chance: random.Random, elements: list[Any]) -> None:
    """Two texts of one kind change places: both are lawful where they stood."""
    with_text = [element for element in elements if element.text and element.text.strip()]
    one = _pick(chance, [elements[0], *with_text])
    other = _tagged(chance, with_text, one.tag)
    one.text, other.text = other.text, one.text


def _attribute(chance: random.Random, elements: list[Any]) -> None:
    element = _pick(chance, [elements[0], *(element for element in elements[1:] if element.attrib)])
    element.set(chance.choice(sorted(element.attrib)), chance.choice(_SPOILT).strip())


def _attribute_lost(chance: random.Random, elements: list[Any]) -> None:
    element = _pick(chance, [elements[0], *(element for element in elements[1:] if element.attrib)])
    del element.attrib[chance.choice(sorted(element.attrib))]


def _sign(chance: random.Random, elements: list[Any]) -> None:
    note = _tagged(chance, elements, "note")
    if note is not None:
        note.append(etree.fromstring(f"<notations>{chance.choice(_AT_NOTE)}</notations>"))


def _insert(chance: random.Random, elements: list[Any]) -> None:
    measure = _tagged(chance, elements, "measure")
    if measure is not None:
        measure.insert(chance.randint(0, len(measure)), etree.fromstring(chance.choice(_IN_BAR)))


MUTATIONS: dict[str, Mutation] = {
    "drop": _drop,
    "double": _double,
    "swap": _swap,
    "move": _move,
    "retag": _retag,
    "spoil a text": _text,
    "trade texts": _trade,
    "spoil an attribute": _attribute,
    "lose an attribute": _attribute_lost,
    "add a sign": _sign,
    "add to a bar": _insert,
}
#  one mutant in so many is spoiled in its bytes, too
_BYTES_ONE_IN = 12


def _spoil_bytes(chance: random.Random, data: bytes) -> bytes:
    at = chance.randrange(len(data))
    cut = data[at : at + chance.randint(1, 200)]
    return chance.choice(
        (
            data[:at],
            data[:at] + bytes([chance.randrange(256)]) + data[at + 1 :],
            data[:at] + cut + data[at:],
            data[:at] + data[at + len(cut) :],
            data[:at] + b"\x00" + data[at:],
            data.decode("utf-8").encode("utf-16"),
        )
    )


@lru_cache(maxsize=64)
def _shortened(path: Path) -> Any:
    """The first bars of a score: what a mutation does is soon seen, and reading stays quick."""
    root = load(path).root
    for part in root.iterfind("part"):
        for measure in part.findall("measure")[_BARS_KEPT:]:
            part.remove(measure)
    return root


@lru_cache
def corpus() -> tuple[Path, ...]:
    """Every MusicXML file of the corpus that is used."""
    files = (file for folder in FOLDERS for file in sorted((_CORPUS / folder).rglob("*")))
    return tuple(file for file in files if file.suffix in (".mxl", ".xml", ".musicxml"))


def seedling_of(seed: int, files: Sequence[Path] = SEEDLINGS) -> Path:
    """The file a mutant is made of."""
    return random.Random(seed).choice(files)  # noqa: S311 - repeatable on purpose


def mutant(seed: int, files: Sequence[Path] = SEEDLINGS) -> Mutant:
    """One mutant of one of these files: one to five mutations."""
    path = seedling_of(seed, files)
    chance = random.Random(f"mutant {seed}")  # noqa: S311 - repeatable on purpose
    root = copy.deepcopy(_shortened(path))
    names = chance.choices(sorted(MUTATIONS), k=chance.randint(1, 5))
    elements = list(root.iter())
    for name in names:
        MUTATIONS[name](chance, elements)
        # the old list is kept until the new one is there, or lxml would make every element's object again
        elements = list(root.iter())
    data = etree.tostring(root, encoding="utf-8")
    if chance.randrange(_BYTES_ONE_IN) == 0:
        data, names = _spoil_bytes(chance, data), [*names, "bytes"]
    return Mutant(data, (path.name, *names))
