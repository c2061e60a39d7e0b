"""What is no score is refused with words that help; what is one is read, however it is encoded."""

from __future__ import annotations

import io
import stat
import warnings
import zipfile
from collections.abc import Callable
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from appui.errors import ScoreError
from appui.musicxml.read.source import Source, load
from tests.written import CONTAINER, bar, note, part, text

PLAIN = text(part(bar(note("C5", 4), note("D5", 4)), name="Flöte"))
TEXT = PLAIN.encode()


def _zip(*members: tuple[str | zipfile.ZipInfo, bytes]) -> bytes:
    stream = io.BytesIO()
    with zipfile.ZipFile(stream, "w", zipfile.ZIP_DEFLATED) as archive, warnings.catch_warnings():
        warnings.simplefilter("ignore")  # a name given twice is wanted here
        for member, content in members:
            archive.writestr(member, content)
    return stream.getvalue()


def _named(full_path: str, *members: tuple[str | zipfile.ZipInfo, bytes]) -> bytes:
    return _zip(("META-INF/container.xml", CONTAINER.format(full_path).encode()), *members)


def _encrypted() -> bytes:
    data = bytearray(_zip(("score.xml", TEXT)))
    # bit 0 of the general flags, in the member's own header and in the list at the end
    data[6] |= 1
    data[data.index(b"PK\x01\x02") + 8] |= 1
    return bytes(data)


def _link() -> zipfile.ZipInfo:
    info = zipfile.ZipInfo("score.xml")
    info.external_attr = (stat.S_IFLNK | 0o777) << 16
    return info


def _broken_inside() -> bytes:
    data = bytearray(_zip(("score.xml", TEXT)))
    for at in range(60, 90):
        data[at] ^= 0xFF
    return bytes(data)


def _entity(definition: str, used: str = "&x;") -> bytes:
    return f"<!DOCTYPE score-partwise [{definition}]><score-partwise>{used}</score-partwise>".encode()


_BOMB = '<!ENTITY a "aaaaaaaaaa">' + "".join(
    f'<!ENTITY {name} "{f"&{before};" * 10}">' for before, name in zip("abcdefgh", "bcdefghx", strict=True)
)

# what it is -> its bytes, words of the error
BAD: dict[str, tuple[Callable[[], bytes], str]] = {
    "empty": (lambda: b"", "is empty"),
    "blank": (lambda: b" \r\n\t ", "is empty"),
    "NULs alone": (lambda: b"\x00" * 100, "is empty"),
    "truncated": (lambda: TEXT[: len(TEXT) // 2], r"line \d+, column \d+: is broken XML"),
    "NULs within": (lambda: TEXT[:200] + b"\x00\x00" + TEXT[200:], "is broken XML"),
    "PDF": (lambda: b"%PDF-1.7\n...", "is a PDF.*Remedy: export the score again as MusicXML"),
    "MIDI": (lambda: b"MThd\x00\x00\x00\x06", "is a MIDI file: it has sounds, but no ornaments.*MusicXML"),
    "PNG": (lambda: b"\x89PNG\r\n\x1a\n", r"is a picture \(PNG\)"),
    "JPEG": (lambda: b"\xff\xd8\xff\xe0", r"is a picture \(JPEG\)"),
    "GIF": (lambda: b"GIF89a", r"is a picture \(GIF\)"),
    "TIFF": (lambda: b"II*\x00", r"is a picture \(TIFF\)"),
    "sound": (lambda: b"RIFF\x00\x00\x00\x00WAVE", "is a sound or SoundFont file"),
    "gzip": (lambda: b"\x1f\x8b\x08\x00", "is a gzip archive.*unpack it"),
    "prose": (lambda: b"Dear oboist,", "does not begin with XML"),
    "HTML": (lambda: b"<html><body>Not found</body></html>", "no score: its root is <html>"),
    "opus": (lambda: b"<opus><title>Six</title></opus>", "is a MusicXML opus.*name one of the scores"),
    "unknown encoding": (lambda: b'<?xml version="1.0" encoding="piccolo-8"?>' + TEXT, "XML"),
    "external entity": (lambda: _entity('<!ENTITY x SYSTEM "file:///secret">'), "defines XML entities"),
    "entity bomb": (lambda: _entity(_BOMB), "defines XML entities"),
    "deep nesting": (lambda: b"<score-partwise>" + b"<a>" * 100_000, "is broken XML: Excessive depth"),
    "deep and closed": (
        lambda: b"<score-partwise>" + b"<a>" * 100_000 + b"</a>" * 100_000 + b"</score-partwise>",
        "is broken XML: Excessive depth",
    ),
    "archive without a score": (lambda: _zip(("read.me", b"hello")), "is an archive without a score"),
    "archive cut short": (lambda: _zip(("score.xml", TEXT))[:150], "is a damaged archive"),
    "archive broken inside": (_broken_inside, "archive"),
    "archive encrypted": (_encrypted, "is an encrypted archive.*without a password"),
    "path escape": (lambda: _named("../score.xml", ("../score.xml", TEXT)), "names a score outside its archive"),
    "absolute path": (lambda: _named("/score.xml", ("/score.xml", TEXT)), "names a score outside its archive"),
    "drive path": (lambda: _named("C:score.xml", ("C:score.xml", TEXT)), "names a score outside its archive"),
    "score missing": (lambda: _named("other.xml", ("score.xml", TEXT)), "names a score that is not in the archive"),
    "container without a score": (
        lambda: _zip(("META-INF/container.xml", b"<container/>"), ("score.xml", TEXT)),
        "container names no score",
    ),
    "container broken": (
        lambda: _zip(("META-INF/container.xml", b"<container>"), ("score.xml", TEXT)),
        r"META-INF/container\.xml.*is broken XML",
    ),
    "names twice": (lambda: _zip(("score.xml", TEXT), ("score.xml", TEXT)), "two members called 'score.xml'"),
    "link": (lambda: _zip((_link(), b"/secret")), "holds a link where the score should be"),
    "archive bomb": (lambda: _zip(("score.xml", b"<a>" + b" " * 3_000_000)), "packed beyond 200 to 1"),
    "many members": (lambda: _zip(*((f"{i}.xml", b"") for i in range(1_001))), "far larger than any score"),
    "archive in archive": (lambda: _zip(("score.xml", _zip(("score.xml", TEXT)))), "holds an archive inside"),
}


@pytest.mark.parametrize("kind", BAD)
def test_refused_with_words(kind: str, tmp_path: Path) -> None:
    """What cannot be a score is refused with the file's name, the cause and a remedy."""
    data, words = BAD[kind]
    path = tmp_path / "solo.mxl"
    path.write_bytes(data())
    with pytest.raises(ScoreError, match=f"(?s)^solo[.]mxl(?=.*Remedy: ).*{words}"):
        load(path)


def test_missing_file(tmp_path: Path) -> None:
    """A file that is not there is called so."""
    with pytest.raises(ScoreError, match=r"^solo\.mxl: there is no such file\. Remedy: check the path"):
        load(tmp_path / "solo.mxl")


def test_folder(tmp_path: Path) -> None:
    """A folder is called a folder."""
    with pytest.raises(ScoreError, match="is a folder, not a score"):
        load(tmp_path)


def test_no_file_name_can_be() -> None:
    """A name no file system takes is refused, not passed on as another error."""
    with pytest.raises(ScoreError, match="cannot be read"):
        load(Path("so\x00lo.xml"))


def test_entity_beyond_the_first_lines_is_not_expanded(tmp_path: Path) -> None:
    """Definitions hidden behind a long comment and another encoding bring no foreign text into the tree."""
    (tmp_path / "secret").write_text("tell nobody", encoding="ascii")
    hidden = f'<!--{"." * 6_000}--><!DOCTYPE s [<!ENTITY x SYSTEM "{(tmp_path / "secret").as_uri()}">]>'
    path = tmp_path / "solo.xml"
    path.write_bytes((hidden + "<score-partwise>&x;</score-partwise>").encode("utf-16"))
    assert "&x;" == "".join(load(path).root.itertext())


def test_entity_bomb_beyond_the_first_lines_is_refused(tmp_path: Path) -> None:
    """An entity bomb behind a long comment and another encoding is stopped by the parser's own limit."""
    path = tmp_path / "solo.xml"
    path.write_bytes((f"<!--{'.' * 6_000}-->" + _entity(_BOMB).decode()).encode("utf-16"))
    with pytest.raises(ScoreError, match="is broken XML"):
        load(path)


@pytest.mark.parametrize(
    "data",
    [
        TEXT,
        b"\xef\xbb\xbf" + TEXT,
        b"\n \n" + TEXT,
        PLAIN.encode("utf-16"),
        b"\xfe\xff" + PLAIN.encode("utf-16-be"),
        ('<?xml version="1.0" encoding="UTF-16"?>' + PLAIN).encode("utf-16-le"),
        ('<?xml version="1.0" encoding="ISO-8859-1"?>' + PLAIN).encode("latin-1"),
        PLAIN.replace("<score-partwise", '<score-partwise xmlns="urn:x"').encode(),
        b"<!-- a copy -->" + TEXT,
    ],
    ids=["UTF-8", "BOM", "blank first", "UTF-16", "UTF-16 BE", "UTF-16 LE declared", "Latin-1", "namespace", "comment"],
)
def test_every_encoding_is_read(data: bytes, tmp_path: Path) -> None:
    """The part's name comes out the same however the text is encoded."""
    path = tmp_path / "solo.xml"
    path.write_bytes(data)
    assert "Flöte" == load(path).root.findtext("part-list/score-part/part-name")


@pytest.mark.parametrize(
    "data",
    [
        _zip(("score.xml", TEXT)),
        _named("music/score.xml", ("music/score.xml", TEXT)),
        _named("score.xml", ("other.xml", b"<score-partwise/>"), ("score.xml", TEXT)),
        _zip(("__MACOSX/._score.xml", b"\x00"), ("deep/copy.xml", b"<a/>"), ("score.xml", TEXT)),
    ],
    ids=["no container", "folder", "named one of two", "nearest the top"],
)
def test_archives_are_read(data: bytes, tmp_path: Path) -> None:
    """The score the container names is read, or the one nearest the top."""
    path = tmp_path / "solo.mxl"
    path.write_bytes(data)
    assert "Flöte" == load(path).root.findtext("part-list/score-part/part-name")


def test_kind_is_told_by_content(tmp_path: Path) -> None:
    """An archive under the name of a text is an archive all the same, and the other way round."""
    (tmp_path / "a.xml").write_bytes(_zip(("score.xml", TEXT)))
    (tmp_path / "b.mxl").write_bytes(TEXT)
    assert load(tmp_path / "a.xml").sha256 == load(tmp_path / "b.mxl").sha256


@pytest.fixture(scope="module")
def scratch(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """One file, written again by every example."""
    return tmp_path_factory.mktemp("scratch") / "solo.mxl"


_FILES = {"text": TEXT, "archive": _named("score.xml", ("score.xml", TEXT))}


def _source_or_error(path: Path, data: bytes) -> bool:
    path.write_bytes(data)
    try:
        return isinstance(load(path), Source)
    except ScoreError as error:
        return str(error).startswith("solo.mxl")


@given(kind=st.sampled_from(sorted(_FILES)), part_kept=st.floats(0, 1))
def test_truncated_anywhere(scratch: Path, kind: str, part_kept: float) -> None:
    """A file cut off anywhere is read or refused, never another error."""
    data = _FILES[kind]
    assert _source_or_error(scratch, data[: int(part_kept * len(data))])


@given(
    kind=st.sampled_from(sorted(_FILES)),
    flips=st.lists(st.tuples(st.integers(0, 10_000), st.integers(1, 255)), min_size=1, max_size=6),
)
def test_bytes_flipped_anywhere(scratch: Path, kind: str, flips: list[tuple[int, int]]) -> None:
    """A file with flipped bytes is read or refused, never another error."""
    data = bytearray(_FILES[kind])
    for at, mask in flips:
        data[at % len(data)] ^= mask
    assert _source_or_error(scratch, bytes(data))
