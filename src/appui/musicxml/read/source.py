"""Opening a score file safely: what it is, whether it may be read, and its XML tree.

What a file is, is decided by its first bytes, not its name. Limits keep a hostile file from costing memory or time;
nothing is fetched, no entity is expanded, no archive member is written anywhere.

Limits: a score text of 300 MB with 20 million tags and attributes (each costs the parser up to 240 bytes), an archive
of 1,000 members, 600 MB in all, 200 times its packed size; XML as deep as libxml2 allows (256).
"""

from __future__ import annotations

import hashlib
import io
import re
import zipfile
import zlib
from collections.abc import Iterator
from pathlib import Path, PurePosixPath
from typing import Any, NamedTuple

from lxml import etree

from appui.errors import ScoreError, shown
from appui.given import give

__all__ = [
    "MAX_TEXT_BYTES",
    "Source",
    "Stream",
    "check_root",
    "load",
    "name_of",
    "parse_text",
    "read_bytes",
    "strip_namespace",
    "unpacked",
]

MAX_TEXT_BYTES = 300_000_000
MAX_TAGS = 20_000_000  # a million notes have some fifteen million tags and attributes
MAX_TOTAL_BYTES = 600_000_000
MAX_MEMBERS = 1_000
MAX_RATIO = 200
_SMALL = 1_000_000  # below this size a high packing ratio is harmless

_EXPORT = "export the score again as MusicXML (.musicxml or .mxl)"
_TYPE = (
    "or type the solo: `appui new SOLO.abc` writes an example to start from, and a chart beside it has the chords "
    "(--harmony)"
)
_WAY_ON = f"{_EXPORT} from the program it was made with, {_TYPE}"
_FROM_PAPER = f"{_EXPORT} if you have it in a program, {_TYPE}"
#  first bytes, what it is, the remedy
_OTHER_KINDS: tuple[tuple[bytes, str, str], ...] = (
    (b"%PDF", "a PDF: a picture of a score, without its notes", _FROM_PAPER),
    (b"%!PS", "PostScript: a picture of a score, without its notes", _FROM_PAPER),
    (b"AT&TFORM", "a scan (DjVu)", _FROM_PAPER),
    (b"MThd", "a MIDI file: it has sounds, but no ornaments left to decide on", _WAY_ON),
    (b"\x89PNG", "a picture (PNG)", _FROM_PAPER),
    (b"\xff\xd8\xff", "a picture (JPEG)", _FROM_PAPER),
    (b"GIF8", "a picture (GIF)", _FROM_PAPER),
    (b"II*\x00", "a picture (TIFF)", _FROM_PAPER),
    (b"MM\x00*", "a picture (TIFF)", _FROM_PAPER),
    (b"RIFF", "a sound or SoundFont file", "choose a score"),
    (b"fLaC", "a sound file", "choose a score"),
    (b"OggS", "a sound file", "choose a score"),
    (b"ID3", "a sound file", "choose a score"),
    (b"\x1f\x8b", "a gzip archive", "unpack it first"),
    (b"Rar!", "a RAR archive", "unpack it first"),
    (b"7z\xbc\xaf", "a 7z archive", "unpack it first"),
)
_BOMS = (b"\xef\xbb\xbf", b"\xff\xfe", b"\xfe\xff")


class Source(NamedTuple):
    """An opened score: the root element, a hash of its text, and the name to show."""

    root: Any
    sha256: str
    file: str


def load(path: Path, *, keep: bool = False) -> Source:
    """Open a score file; raises `ScoreError` naming file, place, cause and remedy.

    With `keep` the tree has the comments and processing instructions of the file, to be written again.
    """
    name = name_of(path)
    return parse_text(unpacked(read_bytes(path), name), name, keep=keep)


def name_of(path: Path) -> str:
    """What a file is called in messages and reports."""
    return shown(path.name or path)


def read_bytes(path: Path) -> bytes:
    """What is in a file; raises `ScoreError` where it is none, too large, empty or unreadable."""
    return _read(path, name_of(path))


def unpacked(data: bytes, name: str) -> bytes:
    """The MusicXML text in a file's bytes, out of its archive; raises `ScoreError` for what is another kind of file.

    `name` is what the file is called in messages.
    """
    if data[:4] == b"PK\x03\x04":
        return _from_archive(data, name)
    _refuse_other_kinds(data, name)
    return data


def _read(path: Path, name: str) -> bytes:
    give(path)
    try:
        if path.is_dir():
            raise ScoreError(name, "is a folder, not a score", "name a file in it")
        if path.exists() and not path.is_file():
            raise ScoreError(name, "is a device or a pipe, not a file", "save the score in a file")
        size = path.stat().st_size
        if size > MAX_TEXT_BYTES:
            raise ScoreError(name, f"is larger than {MAX_TEXT_BYTES // 1_000_000} MB", "split it into movements")
        # the system's own files (/proc) have no size, and reading some of them never ends
        data = path.read_bytes() if size else b""
    except FileNotFoundError:
        raise ScoreError(name, "there is no such file", "check the path") from None
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or str(error)
        raise ScoreError(name, f"cannot be read ({reason})", "check the path and its permissions") from None
    if not data.strip(b"\x00 \t\r\n"):
        raise ScoreError(name, "is empty", _EXPORT)
    return data


def _refuse_other_kinds(data: bytes, name: str) -> None:
    for magic, what, remedy in _OTHER_KINDS:
        if data.startswith(magic):
            raise ScoreError(name, f"is {what}", remedy)
    start = data.lstrip()[:1] if not data.startswith(_BOMS) else b"<"
    if start != b"<" and data[:4] not in (b"<\x00?\x00", b"\x00<\x00?"):
        raise ScoreError(
            name, "is no score that can be read here: it does not begin with XML, nor as ABC or Humdrum does", _WAY_ON
        )


def _from_archive(data: bytes, name: str) -> bytes:
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as archive:
            _check_archive(archive, name)
            return _member(archive, _score_member(archive, name), name)
    except zipfile.BadZipFile as error:
        raise ScoreError(name, f"is a damaged archive ({error})", _EXPORT) from None
    except (
        NotImplementedError,
        RuntimeError,
        zlib.error,
        EOFError,
        OSError,
        UnicodeError,
        ValueError,
        IndexError,
    ) as error:
        raise ScoreError(name, f"is an archive that cannot be unpacked ({error})", _EXPORT) from None


def _check_archive(archive: zipfile.ZipFile, name: str) -> None:
    members = archive.infolist()
    if len(members) > MAX_MEMBERS or sum(member.file_size for member in members) > MAX_TOTAL_BYTES:
        raise ScoreError(name, "is an archive far larger than any score", _EXPORT)
    seen: set[str] = set()
    for member in members:
        if member.filename in seen:
            raise ScoreError(name, f"is an archive with two members called {member.filename[:80]!r}", _EXPORT)
        seen.add(member.filename)
        if member.file_size > _SMALL and member.file_size > MAX_RATIO * max(member.compress_size, 1):
            raise ScoreError(name, f"holds {member.filename[:80]!r}, packed beyond {MAX_RATIO} to 1", _EXPORT)


def _score_member(archive: zipfile.ZipFile, name: str) -> str:
    names = archive.namelist()
    if "META-INF/container.xml" in names:
        container = parse_text(
            _member(archive, "META-INF/container.xml", name), f"{name} (META-INF/container.xml)", any_root=True
        )
        for rootfile in container.root.iter("{*}rootfile"):
            kind = rootfile.get("media-type") or "application/vnd.recordare.musicxml+xml"
            if "musicxml" in kind or kind in ("text/xml", "application/xml"):
                return _checked_name(rootfile.get("full-path") or "", names, name)
        raise ScoreError(name, "is an archive whose container names no score", _EXPORT)
    plain = [
        n for n in names if n.lower().endswith((".musicxml", ".xml")) and not n.startswith(("META-INF/", "__MACOSX/"))
    ]
    if not plain:
        raise ScoreError(name, "is an archive without a score in it", f"unpack it and name the score, or {_WAY_ON}")
    return _checked_name(min(plain, key=lambda n: n.count("/")), names, name)


def _checked_name(member: str, names: list[str], name: str) -> str:
    path = PurePosixPath(member)
    if path.is_absolute() or ".." in path.parts or "\\" in member or ":" in member:
        raise ScoreError(name, f"names a score outside its archive ({member[:80]!r})", _EXPORT)
    if member not in names:
        raise ScoreError(name, f"names a score that is not in the archive ({member[:80]!r})", _EXPORT)
    return member


def _member(archive: zipfile.ZipFile, member: str, name: str) -> bytes:
    info = archive.getinfo(member)
    if info.flag_bits & 1:
        raise ScoreError(name, "is an encrypted archive", "save it without a password")
    if (info.external_attr >> 16) & 0o170000 == 0o120000:
        raise ScoreError(name, f"holds a link where the score should be ({member[:80]!r})", _EXPORT)
    with archive.open(info) as stream:
        data = stream.read(MAX_TEXT_BYTES + 1)
    if len(data) > MAX_TEXT_BYTES:
        raise ScoreError(
            name, f"holds a score of more than {MAX_TEXT_BYTES // 1_000_000} MB", "split it into movements"
        )
    if data[:4] == b"PK\x03\x04":
        raise ScoreError(name, "holds an archive inside the archive", "unpack the outer one first")
    return data


#  the parser would unpack it after the tags are counted
_PACKED_ENCODING = re.compile(rb"encoding\s*=\s*[\"']\s*(?:unicode-1-1-)?utf-?7", re.IGNORECASE)
_ENTITY = b"<!ENTITY"


def parse_text(data: bytes, name: str, *, any_root: bool = False, keep: bool = False) -> Source:
    """The tree of a MusicXML text; raises `ScoreError` with line and column where the XML breaks.

    `any_root` takes other XML too; `keep` as in `load`.
    """
    _check_text(data, name)
    try:
        root = etree.fromstring(data, etree.XMLParser(**_OPTIONS, remove_comments=not keep, remove_pis=not keep))
    except (etree.XMLSyntaxError, ValueError, LookupError) as error:
        raise _unreadable(name, error) from None
    if root is None:
        raise ScoreError(name, "holds no XML element", _EXPORT)
    if not any_root:
        check_root(root, name)
    return Source(root, hashlib.sha256(data).hexdigest(), name)


class Stream:
    """A MusicXML text as it is parsed: iterate for each `part` and `measure` element when it has ended.

    What is taken out of the tree on the way is never in memory with the rest. `root` is the root element after the last
    event; raises `ScoreError` as `parse_text` does, on the way for what breaks on the way.
    """

    def __init__(self, data: bytes, file: str) -> None:
        _check_text(data, file)
        self.file, self.sha256 = file, hashlib.sha256(data).hexdigest()
        self._root: Any = None
        self._parser: Any = etree.iterparse(
            io.BytesIO(data),
            events=("end",),
            tag=("part", "measure"),
            remove_comments=True,
            remove_pis=True,
            **_OPTIONS,
        )

    def __iter__(self) -> Iterator[Any]:
        while True:
            try:
                _, found = next(self._parser, _END)
            except (etree.XMLSyntaxError, ValueError, LookupError) as error:
                raise _unreadable(self.file, error) from None
            if found is None:
                break
            yield found
        self._root, self._parser = self._parser.root, None
        if self._root is None:
            raise ScoreError(self.file, "holds no XML element", _EXPORT)

    @property
    def root(self) -> Any:
        """The root element; `None` before the last event."""
        return self._root


def _check_text(data: bytes, name: str) -> None:
    if data.count(b"<") + data.count(b"=") > MAX_TAGS:
        raise ScoreError(name, f"has more than {MAX_TAGS // 1_000_000} million tags", "split it into movements")
    if _PACKED_ENCODING.search(data[:200]):
        raise ScoreError(name, "is in UTF-7, which can hide what it holds", _EXPORT)
    head = data[:4096].replace(b"\x00", b"")
    # plain search in capitals: a tenth of the time of a pattern that takes either
    if _ENTITY in head.upper() or (b"<!DOCTYPE" in head and _ENTITY in data[:1_000_000].upper()):
        raise ScoreError(
            name, "defines XML entities, which no score needs", _EXPORT, place="the lines before the score"
        )


_END = ("", None)


def _unreadable(name: str, error: Exception) -> ScoreError:
    if not isinstance(error, etree.XMLSyntaxError):
        return ScoreError(name, f"is XML that cannot be read ({error})", _EXPORT)
    line, column = error.position
    return ScoreError(name, f"is broken XML: {_reason(error)}", _EXPORT, place=f"line {line}, column {column}")


#  libxml2's own limits (depth 256, text 10 MB) hold; the huge tree is off, and so are network, DTDs and entities
_OPTIONS: dict[str, Any] = {
    "resolve_entities": False,
    "no_network": True,
    "load_dtd": False,
    "huge_tree": False,
}


def _reason(error: etree.XMLSyntaxError) -> str:
    return (error.msg or "unknown cause").split(", line ")[0].split("\n")[0][:200]


def check_root(root: Any, name: str) -> None:
    """Raises `ScoreError` where the root is none of a score; takes namespaces off."""
    for element in (root, *root.iterfind("part-list")):
        if isinstance(element.tag, str) and "}" in element.tag:
            strip_namespace(root)
            break
    if root.tag == "opus":
        raise ScoreError(name, "is a MusicXML opus, a list of scores", "name one of the scores it lists")
    if root.tag not in ("score-partwise", "score-timewise"):
        raise ScoreError(
            name, f"is XML but no score: its root is <{str(root.tag)[:40]}>, not <score-partwise>", _WAY_ON
        )


def strip_namespace(root: Any) -> None:
    """Take the namespaces off a tree's elements."""
    for element in root.iter():
        if isinstance(element.tag, str):
            element.tag = element.tag.rpartition("}")[2]
