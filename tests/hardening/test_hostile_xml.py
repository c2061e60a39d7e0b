"""XML and archives as no exporter writes them: read as XML is read, or refused whole; never half a score.

What holds for the parser must hold however the text reaches it: at once, piece by piece, out of an archive.
"""

from __future__ import annotations

import io
import os
import re
import tracemalloc
import warnings
import zipfile
from collections.abc import Callable
from importlib.resources import files
from itertools import pairwise
from pathlib import Path

import pytest

from appui.errors import ScoreError
from appui.musicxml.read.score import read_score
from appui.score.model import Score

FERRY = files("appui.demo").joinpath("ferry.musicxml").read_bytes()
BODY = FERRY[FERRY.index(b"<score-partwise") :]
_TITLE = b"<movement-title>"
_CONTAINER = (
    b"<container><rootfiles><rootfile full-path='%b' media-type='application/vnd.recordare.musicxml+xml'/>"
    b"</rootfiles></container>"
)


def _read(data: bytes, folder: Path, name: str = "solo.musicxml") -> Score:
    path = folder / name
    path.write_bytes(data)
    return read_score(path)


def _refusal(data: bytes, folder: Path, name: str = "solo.musicxml") -> str:
    with pytest.raises(ScoreError) as refused:
        _read(data, folder, name)
    assert str(refused.value).startswith(name)
    assert "Remedy: " in str(refused.value)
    return str(refused.value)


def _with(text: bytes) -> bytes:
    """The ferry with more in its title, after more than the first lines."""
    return FERRY.replace(_TITLE, _TITLE + text)


def _hidden(definitions: str, used: str = "", attribute: str = "") -> bytes:
    """Definitions where a look at the first lines does not find them: behind a comment, in another encoding."""
    head = f"<!--{'.' * 6_000}--><!DOCTYPE score-partwise [{definitions}]>"
    body = BODY.decode().replace("<movement-title>", f"<movement-title>{used}")
    return (head + body.replace("<score-partwise", f"<score-partwise {attribute}", 1)).encode("utf-16")


# never half a score


@pytest.mark.parametrize(
    "spoil",
    [
        lambda data: data.rstrip()[:-1],
        lambda data: data[: data.rindex(b"</part>")],
        lambda data: data[: data.rindex(b"</measure>")] + b"<" + data[data.rindex(b"</measure>") :],
        lambda data: data + b"<score-partwise/>",
        lambda data: data + b"more",
        lambda data: data + b"\x00",
        lambda data: data[: data.rindex(b"</part>")] + b"\xff\xfe" + data[data.rindex(b"</part>") :],
        lambda data: data[: data.rindex(b"</part>")] + b"\x1b" + data[data.rindex(b"</part>") :],
        lambda data: data[: data.rindex(b"</part>")] + b"&nothing;</wrong>" + data[data.rindex(b"</part>") :],
        lambda data: data[: data.rindex(b"</part>")] + b"<a b='1' b='2'/>" + data[data.rindex(b"</part>") :],
        lambda data: data[: data.rindex(b"</part>")] + b"<x:a/>]]>" + data[data.rindex(b"</part>") :],
    ],
    ids=["last letter", "last part open", "stray bracket", "two roots", "words after", "NUL after", "no UTF-8",
         "a control", "wrong end", "an attribute twice", "CDATA's end"],
)  # fmt: skip
def test_a_fault_at_the_end_refuses_the_whole(spoil: Callable[[bytes], bytes], tmp_path: Path) -> None:
    """All notes were there before it; they are not played as if nothing were wrong."""
    assert "is broken XML" in _refusal(spoil(FERRY), tmp_path)


def test_what_may_follow_a_score_may(tmp_path: Path) -> None:
    """Blanks, comments and instructions are no fault."""
    assert _read(FERRY, tmp_path).parts == _read(FERRY + b"\n<!-- end --><?end?>\n ", tmp_path).parts


# what costs time or memory


def _peak_bytes(data: bytes, folder: Path) -> int:
    tracemalloc.start()
    try:
        _refusal(data, folder)
        return tracemalloc.get_traced_memory()[1]
    finally:
        tracemalloc.stop()


@pytest.mark.parametrize(
    "text",
    [
        b"<!--" + b"x" * 20_000_000 + b"-->",
        b"<?x " + b"x" * 20_000_000 + b"?>",
        b"<![CDATA[" + b"x" * 20_000_000 + b"]]>",
        b"<" + b"x" * 20_000_000 + b"/>",
        b"<a " + b"x" * 20_000_000 + b"=''/>",
        b"<a>" * 100_000,
        b"<a>" * 100_000 + b"</a>" * 100_000,
        b"<a b='c'>" * 100_000,
    ],
    ids=["comment", "instruction", "CDATA", "name", "attribute", "open tags", "deep tags", "tags with attributes"],
)  # fmt: skip
def test_no_single_thing_may_be_endless(text: bytes, tmp_path: Path) -> None:
    """Twenty megabytes of one thing, a hundred thousand deep: the parser's own limits hold."""
    assert "is broken XML" in _refusal(_with(text), tmp_path)
    assert _peak_bytes(_with(text), tmp_path) < 200_000_000


def test_many_attributes_of_one_tag_are_read_or_refused_soon(tmp_path: Path) -> None:
    """Each is held against all others: a parser must not take the square of their number."""
    many = b"<a " + b" ".join(b"a%d='1'" % number for number in range(200_000)) + b"/>"
    assert _read(FERRY, tmp_path).parts == _read(FERRY.replace(_TITLE, many + _TITLE), tmp_path).parts


def test_many_namespaces_are_refused_soon(tmp_path: Path) -> None:
    """A prefix is looked for among all that are open."""
    many = b" ".join(b"xmlns:a%d='urn:%d'" % (number, number) for number in range(20_000))
    score = FERRY.replace(b"<score-partwise", b"<score-partwise " + many, 1)
    assert _read(FERRY, tmp_path).parts == _read(score, tmp_path).parts


def test_tags_as_deep_as_the_limit_are_read(tmp_path: Path) -> None:
    """Two hundred levels of something strange hurt nobody."""
    deep = b"<a>" * 200 + b"</a>" * 200
    assert _read(FERRY, tmp_path).parts == _read(FERRY.replace(_TITLE, deep + _TITLE), tmp_path).parts


# entities and types


@pytest.mark.parametrize(
    "definitions",
    [
        "<!ENTITY % far SYSTEM 'file://{pipe}'>%far;",
        "<!ENTITY % far PUBLIC '-//none' 'file://{pipe}'>%far;",
        "<!ENTITY far SYSTEM 'file://{pipe}'>",
        "<!NOTATION n SYSTEM 'file://{pipe}'><!ENTITY far SYSTEM 'file://{pipe}' NDATA n>",
    ],
)
def test_no_hidden_definition_is_fetched(definitions: str, tmp_path: Path) -> None:
    """A pipe nobody writes to, where opening it would wait for ever: the score is read without it, or refused."""
    os.mkfifo(tmp_path / "pipe")
    data = _hidden(definitions.format(pipe=tmp_path / "pipe"), "&far;" if "NDATA" not in definitions else "")
    try:
        assert _read(data, tmp_path).parts
    except ScoreError as error:
        assert "solo.musicxml" in str(error)  # noqa: PT017


def test_a_hidden_bomb_in_an_attribute_is_refused(tmp_path: Path) -> None:
    """Entities in attributes are filled in by the parser itself, which stops where they grow."""
    names = "abcdefgh"
    bomb = "<!ENTITY a 'aaaaaaaaaa'>" + "".join(
        f"<!ENTITY {after} '{f'&{before};' * 10}'>" for before, after in pairwise(names)
    )
    assert "is broken XML" in _refusal(_hidden(bomb, attribute="id='&h;'"), tmp_path)


def test_a_hidden_bomb_of_one_large_entity_is_refused(tmp_path: Path) -> None:
    """A hundred thousand letters, ten thousand times: nothing is nested."""
    one = f"<!ENTITY a '{'a' * 100_000}'>"
    assert "is broken XML" in _refusal(_hidden(one, attribute=f"id='{'&a;' * 10_000}'"), tmp_path)


def test_a_definition_that_holds_itself_is_refused(tmp_path: Path) -> None:
    """Round and round."""
    round_ = "<!ENTITY a '&b;'><!ENTITY b '&a;'>"
    assert "is broken XML" in _refusal(_hidden(round_, attribute="id='&a;'"), tmp_path)


def test_defaults_of_a_hidden_type_change_nothing(tmp_path: Path) -> None:
    """A document type that gives attributes of its own to every note."""
    attributes = "<!ATTLIST note print-object CDATA 'no' dynamics CDATA '1'>"
    events = [voice.events for part in _read(FERRY, tmp_path).parts for voice in part.voices]
    found = [voice.events for part in _read(_hidden(attributes), tmp_path).parts for voice in part.voices]
    assert [len(each) for each in events] == [len(each) for each in found]


# encodings


@pytest.mark.parametrize(
    "data",
    [
        b"<?xml version='1.0' encoding='UTF-8'?>" + BODY.replace(_TITLE, _TITLE + "ö".encode("latin-1")),
        b"<?xml version='1.0' encoding='UTF-16'?>" + BODY,
        b"<?xml version='1.0' encoding='US-ASCII'?>" + BODY.replace(_TITLE, _TITLE + "ö".encode()),
        BODY.decode().encode("utf-16")[:-1],
        b"\xff\xfe" + BODY,
        b"\xfe\xff" + BODY.decode().encode("utf-16-le"),
        b"\xef\xbb\xbf" + BODY.decode().encode("utf-16-le"),
        BODY.decode().encode("utf-32"),
        b"<?xml version='1.0' encoding='" + b"x" * 100_000 + b"'?>" + BODY,
        BODY.decode().encode("cp037"),
        b"\x00" + BODY,
        BODY[:5_000] + b"\x00" + BODY[5_000:],
    ],
    ids=["Latin-1 called UTF-8", "UTF-8 called UTF-16", "UTF-8 called ASCII", "half a letter", "a wrong BOM",
         "a BOM turned round", "a BOM of UTF-8 before UTF-16", "UTF-32", "a long name", "EBCDIC", "NUL first",
         "NUL within"],
)  # fmt: skip
def test_a_wrong_encoding_is_refused_or_read_whole(data: bytes, tmp_path: Path) -> None:
    """Never read as other notes than are there."""
    path = tmp_path / "solo.musicxml"
    path.write_bytes(data)
    try:
        found = read_score(path)
    except ScoreError as error:
        assert str(error).startswith("solo.musicxml")  # noqa: PT017
    else:
        assert _read(BODY, tmp_path).parts == found.parts


# archives


def _packed(*members: tuple[str, bytes], method: int = zipfile.ZIP_DEFLATED) -> bytes:
    stream = io.BytesIO()
    with zipfile.ZipFile(stream, "w", method) as archive, warnings.catch_warnings():
        warnings.simplefilter("ignore")
        for name, data in members:
            archive.writestr(name, data)
    return stream.getvalue()


def _contained(container: bytes, *more: tuple[str, bytes]) -> bytes:
    return _packed(("META-INF/container.xml", container), ("score.xml", FERRY), *more)


def _method(number: int) -> bytes:
    """The archive with another packing method written in both its heads."""
    data = bytearray(_packed(("score.xml", FERRY)))
    for at in (8, data.index(b"PK\x01\x02") + 10):
        data[at : at + 2] = number.to_bytes(2, "little")
    return bytes(data)


@pytest.mark.parametrize(
    ("data", "words"),
    [
        (_contained(b"<!DOCTYPE c [<!ENTITY a 'score.xml'>]>" + _CONTAINER % b"&a;"), "defines XML entities"),
        (_contained(b"<container>" * 300), "is broken XML"),
        (_contained(_CONTAINER % b"META-INF/container.xml"), "its root is <container>"),
        (_contained(_CONTAINER % b"META-INF"), "not in the archive"),
        (_contained(_CONTAINER % b"folder/", ("folder/", b"")), "is broken XML|holds no|is empty"),
        (_contained(_CONTAINER % b"..\\score.xml"), "outside its archive"),
        (_contained(_CONTAINER % b"a/../score.xml"), "outside its archive"),
        (_contained(_CONTAINER % b""), "not in the archive"),
        (_contained(_CONTAINER.replace(b"application/vnd.recordare.musicxml+xml", b"application/pdf") % b"score.xml"),
         "container names no score"),
        (_contained(_CONTAINER % (b"x" * 100_000)), "not in the archive"),
        (_contained(FERRY), "container names no score"),
        (_packed(("META-INF/container.xml", b"\x00" * 10_000_000), ("score.xml", FERRY)), "packed beyond 200 to 1"),
        (_packed(("META-INF/container.xml", _CONTAINER % b"a.xml"), ("META-INF/container.xml", _CONTAINER % b"b.xml"),
                 ("a.xml", FERRY), ("b.xml", FERRY)), "two members called"),
        (_method(9), "cannot be unpacked|damaged"),
        (_method(99), "cannot be unpacked|damaged"),
        (_packed(("score.xml", b"<a>" * 3_000_000), method=zipfile.ZIP_BZIP2), "packed beyond 200 to 1"),
        (_packed(("score.xml", b"<a>" * 3_000_000), method=zipfile.ZIP_LZMA), "packed beyond 200 to 1"),
        (b"PK\x05\x06" + bytes(18), "does not begin with XML"),
        (b"PK\x03\x04", "is a damaged archive"),
        (_packed(("score.xml", FERRY))[:-30] + bytes(30), "archive"),
        (_packed(), "does not begin with XML"),
    ],
    ids=["entities", "deep", "itself", "a folder", "a folder's entry", "a backslash", "two points", "no path", "a PDF",
         "a long path", "a score", "a bomb", "two of them", "Deflate64", "an unknown method", "a bomb of bzip2",
         "a bomb of LZMA", "an empty list", "a head alone", "no list", "empty"],
)  # fmt: skip
def test_an_archive_that_leads_astray_is_refused(data: bytes, words: str, tmp_path: Path) -> None:
    """Its container, its paths, its methods, its lists."""
    assert re.search(words, _refusal(data, tmp_path, "solo.mxl"))


def test_members_that_share_their_bytes_are_refused_or_read_alone(tmp_path: Path) -> None:
    """Lists that name the same bytes a thousand times, so that a few megabytes unpack to gigabytes."""
    data = bytearray(_packed(("a.xml", FERRY)))
    at, end = data.index(b"PK\x01\x02"), data.index(b"PK\x05\x06")
    entry = bytes(data[at:end])
    entries = [entry[:46] + b"%05d" % number + entry[51:] for number in range(900)]
    tail = bytearray(data[end:])
    tail[8:10] = tail[10:12] = (901).to_bytes(2, "little")
    listed = b"".join(entries) + entry
    tail[12:16] = len(listed).to_bytes(4, "little")
    path = tmp_path / "solo.mxl"
    path.write_bytes(bytes(data[:at]) + listed + bytes(tail))
    try:
        assert read_score(path).parts
    except ScoreError as error:
        assert "archive" in str(error)  # noqa: PT017
