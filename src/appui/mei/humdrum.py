"""Humdrum (`**kern` and the columns beside it) into a `Score`: through verovio to MEI, then by our own reader.

verovio keeps notes, small notes (``q`` with a stroke, ``qq`` without), trills, mordents, fermatas, arpeggios, slurs,
ties, dynamics, figures, endings and transpositions, and names each element after the line and column it comes from.
What it drops or changes is taken from the text: which way a turn goes, ornaments of no kind (``O``), the kind of a
chord symbol (`**mxhm`), title, composer and date.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from copy import deepcopy

from lxml import etree

from appui.errors import ScoreError
from appui.exact import Fraction
from appui.harmony.kinds import KINDS, NO_CHORD, symbol_text
from appui.mei.convert import humdrum_to_mei
from appui.mei.names import Element, ident
from appui.mei.score import assembled_from, mei_root
from appui.mei.spines import KERN, Spines, check_rhythm, read_spines
from appui.score.model import ChordSymbol, Notice, Score
from appui.score.pitch import Pitch, Transposition, alter_of

__all__ = ["is_humdrum", "score_of_humdrum"]

_FIRST = re.compile(rb"\s*(?:!!|\*\*\w)")
_FROM = re.compile(r"-L(\d+)F(\d+)")
_RECORD = re.compile(r"^!!!([A-Z]{3})\d?(?:@+\w+)?:\s*(\S.*?)\s*$", re.MULTILINE)
_YEAR = re.compile(r"\d{4}")
_SEGMENT = re.compile(r"^!!!!SEGMENT", re.MULTILINE)
_CHORD = re.compile(r"([A-G](?:#{1,2}|b{1,2}|-{1,2})?)\s+([\w-]+)(?:/([A-G](?:#{1,2}|b{1,2}|-{1,2})?))?")
_ZERO = Fraction(0)
_FIGURES = ("**fb", "**Bnum")


def is_humdrum(data: bytes) -> bool:
    """Whether a text begins as Humdrum does: with a comment ``!!`` or with the kind of its first column."""
    return bool(_FIRST.match(data.removeprefix(b"\xef\xbb\xbf")))


def score_of_humdrum(text: str, file: str, sha256: str = "") -> Score:
    """The score of a Humdrum text; raises `ScoreError` naming file, line, column, cause and remedy."""
    pieces = len(_SEGMENT.findall(text))
    if pieces > 1:
        raise ScoreError(file, f"holds {pieces} pieces", "save the one you want in a file of its own")
    spines = read_spines(text, file)
    check_rhythm(spines, file)
    root = mei_root(humdrum_to_mei(spines.text(), file), file)
    notices = tuple(_repaired(root, spines))
    records = dict(reversed(_RECORD.findall(text)))
    title = records.get("OTL") or records.get("OPR") or ""
    return assembled_from(root, file, sha256, title=title, creators=tuple(_creators(records)), notices=notices)


def _creators(records: dict[str, str]) -> Iterator[tuple[str, str]]:
    """Composer with dates, poet, and when the piece was written, from the reference records."""
    years = _YEAR.findall(records.get("CDT", ""))
    life = f" ({years[0]}-{years[-1]})" if len(years) > 1 else ""
    if "COM" in records:
        yield "composer", records["COM"] + life
    if "LYR" in records:
        yield "lyricist", records["LYR"]
    for name in ("ODT", "OPD", "PDT"):
        if name in records:
            yield "date", re.sub(r"/+(?=-|$)", "", records[name])


def _repaired(root: Element, spines: Spines) -> Iterator[Notice]:
    """Give the tree its lines in the Humdrum text, and what the text says that the tree does not."""
    parents = list(root.iter("harm", "turn", "note", "staffGrp"))
    for node in root.iter():
        found = _FROM.search(ident(node)) if isinstance(node.tag, str) else None
        node.sourceline = int(found[1]) if found else 0
    said: set[str] = set()
    for node in parents:
        for text in _REPAIRS[node.tag](node, spines):
            if text not in said:
                said.add(text)
                yield Notice(f"line {node.sourceline}", text)


def _place(node: Element) -> tuple[int, int]:
    found = _FROM.search(ident(node)) or _FROM.search(node.get("startid") or "")
    return (int(found[1]), int(found[2])) if found else (0, 0)


def _harmony(node: Element, spines: Spines) -> Iterable[str]:
    kind = spines.kind(*_place(node))
    if kind == "**mxhm":
        symbol = _symbol(spines.token(*_place(node)))
        if symbol is not None:
            for child in list(node):
                node.remove(child)
            node.text = symbol_text(_written(node, symbol))
    elif not kind.startswith(_FIGURES):
        node.getparent().remove(node)
        if kind:
            yield f"the column {kind} is not read: only {KERN}, dynamics, figures and chord symbols (**mxhm) are"


def _written(node: Element, symbol: ChordSymbol) -> ChordSymbol:
    """A sounding symbol as the player of its staff reads it: printed symbols are written as their part is."""
    staff = next(node.iterancestors("score")).find(f".//staffDef[@n='{(node.get('staff') or '').split(' ')[0]}']")
    if staff is None or staff.get("trans.semi") is None:
        return symbol
    moved = Transposition(int(staff.get("trans.diat") or 0), int(staff.get("trans.semi")))

    def letter(sounding: str) -> str:
        return moved.written(Pitch(sounding[0], alter_of(sounding), 4)).letter if sounding else ""

    return symbol._replace(root=letter(symbol.root), bass=letter(symbol.bass))


def _symbol(token: str) -> ChordSymbol | None:
    match = _CHORD.fullmatch(token)
    if token == NO_CHORD:
        return ChordSymbol(_ZERO, "C", NO_CHORD)
    if match is None or match[2] not in KINDS:
        return None
    return ChordSymbol(_ZERO, _letter(match[1]), match[2], _letter(match[3] or ""))


def _letter(text: str) -> str:
    return text.replace("-", "b")


def _turn(node: Element, spines: Spines) -> Iterable[str]:
    """A lone ``S`` or ``$`` says which way the turn goes, not when."""
    token = spines.token(*_place(node))
    signs = re.findall(r"[sS$]", token)
    if len(signs) == 1:
        node.attrib.pop("delayed", None)
        node.set("form", "lower" if signs == ["$"] else "upper")
        yield "a turn does not say whether it stands on its note or after it: read as on it"


def _note(node: Element, spines: Spines) -> Iterable[str]:
    line, field = _place(node)
    if line and "O" in spines.token(line, field) and spines.kind(line, field) == KERN:
        bar = next(node.iterancestors("measure"))
        etree.SubElement(bar, "ornam", startid=f"#{ident(node)}").text = "O"
        yield "an ornament of no named kind (O) is kept without a way to play it"


def _group(node: Element, spines: Spines) -> Iterable[str]:
    """A brace is put around whatever is found: it stays where its columns are one part or a keyboard's."""
    staves = list(node.iter("staffDef"))
    parts = {spines.part(_place(staff)[1]) for staff in staves}
    one = len(parts) == 1 if parts != {""} else all(map(_is_keyboard, staves))
    if not one:
        node.attrib.pop("symbol", None)
        label = node.find("label")
        for staff in staves:
            if label is not None and staff.find("label") is None:
                staff.insert(0, deepcopy(label))
    return ()


def _is_keyboard(staff: Element) -> bool:
    """By the General MIDI program (read): pianos, chromatic percussion and organs come first."""
    instrument = staff.find("instrDef")
    program = instrument.get("midi.instrnum") if instrument is not None else None
    return program is not None and program.isdigit() and int(program) < 24


_REPAIRS = {"harm": _harmony, "turn": _turn, "note": _note, "staffGrp": _group}
