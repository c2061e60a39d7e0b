"""Reading MusicXML into a `Score`: MusicXML 4.0 (`.musicxml`, `.xml`, `.mxl`), partwise and timewise.

Nothing is guessed silently: what is odd is read on past and said once in `Score.notices`. Files in other notations are
read through `appui.notations.read`.

A partwise file is read bar by bar while it is parsed, each bar cleared when it is read, so that a long score's tree is
never whole in memory. Bars of a timewise file, or before the list of parts, are read from the whole tree.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Mapping
from pathlib import Path

from appui.musicxml.read.note import Element
from appui.musicxml.read.numbers import Where, decimal, integer
from appui.musicxml.read.source import Stream, check_root, name_of, read_bytes, unpacked
from appui.musicxml.read.walk import PartWalker, Positions
from appui.score.assemble import MAX_PARTS, assemble, too_many_parts
from appui.score.model import Score
from appui.score.raw import RawPart

__all__ = ["read_score", "score_in", "score_of"]

Measures = list[tuple[Mapping[str, str], Iterable[Element]]]


def read_score(path: Path | str) -> Score:
    """Read a MusicXML file; raises `ScoreError` naming file, place, cause and remedy."""
    path = Path(path)
    return score_in(read_bytes(path), name_of(path))


def score_in(data: bytes, name: str) -> Score:
    """The score in the bytes of a MusicXML file; raises `ScoreError` naming file, place, cause and remedy.

    `name` is what the file is called in messages.
    """
    return _streamed(Stream(unpacked(data, name), name))


def score_of(root: Element, file: str, sha256: str = "") -> Score:
    """The score under a `score-partwise` or `score-timewise` element."""
    found = list(_parts(root, file))
    if len(found) > MAX_PARTS:
        raise too_many_parts(file, len(found))
    positions: Positions = {}
    return _scored(root, [_read_part(info, measures, file, positions) for info, measures in found], file, sha256)


def _streamed(stream: Stream) -> Score:
    """The score of a text, read while it is parsed where its order allows."""
    bars: _BarByBar | None = None
    whole = False
    for element in stream:
        if bars is None and not whole:
            root = element.getroottree().getroot()
            whole = root.tag != "score-partwise" or root.find("part-list") is None
            bars = None if whole else _BarByBar(root, stream.file)
        if bars is not None:
            bars.take(element)
    if bars is not None:
        if bars.count > MAX_PARTS:
            raise too_many_parts(stream.file, bars.count)
        return _scored(stream.root, bars.raws, stream.file, stream.sha256)
    check_root(stream.root, stream.file)
    return score_of(stream.root, stream.file, stream.sha256)


class _BarByBar:
    """The parts of a partwise score, each bar read and cleared when it has been parsed."""

    def __init__(self, root: Element, file: str) -> None:
        self.root, self.file, self.infos = root, file, _infos(root, file)
        self.raws: list[RawPart] = []
        self.positions: Positions = {}
        self.count = 0
        self._seen: set[str] = set()
        self._part: Element | None = None
        self._walker: PartWalker | None = None

    def take(self, element: Element) -> None:
        """Take a `part` or `measure` that has ended; others of their names, deeper in the tree, are passed over."""
        part = element.getparent() if element.tag == "measure" else element
        if part is not self._part and part.getparent() is self.root and part.tag == "part":
            self._begin(part)
        if part is self._part:
            if element is part:
                self._end()
            elif self._walker is not None:
                self._walker.measure(element.attrib, element)
            element.clear()

    def _begin(self, part: Element) -> None:
        self._part, self.count = part, self.count + 1
        if self.count <= MAX_PARTS:
            info = _info_of(_own_id(part, self._seen), self.infos, self.count - 1)
            self._walker = PartWalker(info.part, self.file, info.unpitched_keys, self.positions)

    def _end(self) -> None:
        if self._walker is not None:
            self.raws.append(self._walker.finish())
        self._part = self._walker = None


def _scored(root: Element, raws: list[RawPart], file: str, sha256: str) -> Score:
    return assemble(raws, title=_title(root, file), file=file, sha256=sha256, creators=_creators(root))


def _read_part(info: _PartInfo, measures: Measures, file: str, positions: Positions) -> RawPart:
    walker = PartWalker(info.part, file, info.unpitched_keys, positions)
    return walker.walk(measures)


class _PartInfo:
    """What the part list says of one part."""

    def __init__(self, part: RawPart, unpitched_keys: dict[str, int]) -> None:
        self.part, self.unpitched_keys = part, unpitched_keys


def _parts(root: Element, file: str) -> Iterator[tuple[_PartInfo, Measures]]:
    infos = _infos(root, file)
    found = _partwise(root) if root.tag == "score-partwise" else _timewise(root)
    for place, (part_id, measures) in enumerate(found):
        yield _info_of(part_id, infos, place), measures


def _infos(root: Element, file: str) -> dict[str, _PartInfo]:
    return {node.get("id") or "": _info(node, file) for node in root.iterfind("part-list/score-part")}


def _info_of(part_id: str, infos: dict[str, _PartInfo], place: int) -> _PartInfo:
    """What is listed of a part, given once: a second part of no id is one of its own."""
    unlisted = RawPart(part_id or f"P{place + 1}", part_id or f"Part {place + 1}")
    return infos.pop(part_id, None) or _PartInfo(unlisted, {})


def _own_id(part: Element, seen: set[str]) -> str:
    """A part's id; none where an earlier part has it: the second is read under a name of its own."""
    part_id = part.get("id") or ""
    if part_id in seen:
        return ""
    seen.add(part_id)
    return part_id


def _partwise(root: Element) -> Iterator[tuple[str, Measures]]:
    seen: set[str] = set()
    for part in root.iterfind("part"):
        yield _own_id(part, seen), [(measure.attrib, measure) for measure in part.iterfind("measure")]


def _timewise(root: Element) -> Iterator[tuple[str, Measures]]:
    measures = list(root.iterfind("measure"))
    ids = dict.fromkeys(part.get("id") or "" for measure in measures for part in measure.iterfind("part"))
    for part_id in ids:
        yield (
            part_id,
            [
                (
                    measure.attrib,
                    [child for part in measure.iterfind("part") if (part.get("id") or "") == part_id for child in part],
                )
                for measure in measures
            ],
        )


def _info(node: Element, file: str) -> _PartInfo:
    part_id = node.get("id") or ""
    name = " ".join((node.findtext("part-name") or "").split())
    instrument = " ".join((node.findtext("score-instrument/instrument-name") or "").split())
    sound = (node.findtext("score-instrument/instrument-sound") or "").strip()
    part = RawPart(part_id, name or instrument or part_id, sound or instrument)
    where = Where(file, part.name)
    keys: dict[str, int] = {}
    for midi in node.iterfind("midi-instrument"):
        _midi(midi, part, where, keys)
    part.percussion = part.channel == 10
    return _PartInfo(part, keys)


def _midi(midi: Element, part: RawPart, where: Where, keys: dict[str, int]) -> None:
    line = midi.sourceline
    if part.program is None and midi.findtext("midi-program"):
        part.program = integer(midi.findtext("midi-program"), "midi-program", where, line, 1, 128) - 1
    if part.channel is None and midi.findtext("midi-channel"):
        part.channel = integer(midi.findtext("midi-channel"), "midi-channel", where, line, 1, 16)
    if part.volume_percent is None and midi.findtext("volume"):
        part.volume_percent = decimal(midi.findtext("volume"), "volume", where, line, 0, 1000)
    if midi.findtext("midi-unpitched"):
        keys[midi.get("id") or ""] = integer(midi.findtext("midi-unpitched"), "midi-unpitched", where, line, 1, 128) - 1


def _title(root: Element, file: str) -> str:
    work, movement = root.findtext("work/work-title"), root.findtext("movement-title")
    named = [" ".join(text.split()) for text in (work, movement) if text and text.strip()]
    return ", ".join(dict.fromkeys(named)) or Path(file).stem


def _creators(root: Element) -> tuple[tuple[str, str], ...]:
    """Who made the piece and when, as kind and text, from all the places where files keep it.

    Kinds are MusicXML's creator types; ``credit`` is a composer as printed on the page, ``date`` when the piece was
    written, ``title`` a title with a year in it.
    """
    found = [(node.get("type") or "", node.text or "") for node in root.iterfind("identification/creator")]
    fields = root.iterfind("identification/miscellaneous/miscellaneous-field")
    found += [("date", field.text or "") for field in fields if _WRITTEN.search(field.get("name") or "")]
    found += _credits(root)
    titles = (root.findtext(path) or "" for path in ("work/work-title", "movement-title", "work/work-number"))
    found += [("title", title) for title in titles if _YEAR_IN_BRACKETS.search(title)]
    plain = ((kind, " ".join(text.split())) for kind, text in found)
    return tuple(dict.fromkeys((kind, text) for kind, text in plain if text))


def _credits(root: Element) -> Iterator[tuple[str, str]]:
    """Composers among the words printed on the first page: those said to be, and those with the years of a life."""
    for credit in root.iterfind("credit"):
        kind = (credit.findtext("credit-type") or "").strip().lower()
        text = " ".join(words.text or "" for words in credit.iterfind("credit-words"))
        if kind == "composer" or (not kind and len(text) < _LONGEST_CREDIT and _LIFE.search(text)):
            yield "credit", text


#  names under which files keep when a piece was written; not when it was encoded or printed
_WRITTEN = re.compile(
    r"^(?:year|date|composed|written|completed|(?:composition|creation)[ -]?(?:year|date)|.*composed.*)$", re.IGNORECASE
)
_YEAR_IN_BRACKETS = re.compile(r"[(\[]\D{0,8}1[5-9]\d\d\D{0,8}[)\]]")
_LIFE = re.compile(r"1[5-9]\d\d\s*[-\u2013\u2014]\s*1[5-9]\d\d")
_LONGEST_CREDIT = 80
