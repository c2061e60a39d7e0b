"""Reading MEI into a `Score`.

MEI 3 to 5 in common notation is read here, within the limits of `appui.musicxml.read.source`. All movements (`mdiv`) of
a file follow one another. Nothing is guessed silently: what is odd is read on past and said once in `Score.notices`.
"""

from __future__ import annotations

from pathlib import Path

from appui.errors import ScoreError
from appui.mei.head import creators_of, title_of
from appui.mei.names import Element
from appui.mei.walk import walk_music
from appui.musicxml.read.source import parse_text, strip_namespace
from appui.score.assemble import assemble
from appui.score.model import Notice, Score

__all__ = ["assembled_from", "is_mei", "mei_root", "score_of_mei"]

_EXPORT = "export the score as MusicXML, or as MEI with its notes"
_OTHERS = ("mensural", "neume", "tab")


def is_mei(data: bytes) -> bool:
    """Whether a text is MEI, by its root element: the first tag that is no declaration or comment."""
    head = data[:20_000].replace(b"\x00", b"")
    at = 0
    while (at := head.find(b"<", at)) >= 0:
        if head.startswith(b"<!--", at):
            at = head.find(b"-->", at)
            if at < 0:
                return False
        elif not head.startswith((b"<?", b"<!"), at):
            name = head[at + 1 : at + 60].split(None, 1)[0].split(b">")[0].split(b"/")[0]
            return name.rpartition(b":")[2] in (b"mei", b"meiCorpus", b"music")
        at += 1
    return False


def mei_root(data: bytes, file: str) -> Element:
    """The tree of an MEI text, without namespaces; raises `ScoreError` where it is none."""
    root = parse_text(data, file, any_root=True).root
    strip_namespace(root)
    if root.tag == "meiCorpus":
        raise ScoreError(file, "is a collection of scores (meiCorpus)", "save the one you want in a file of its own")
    if root.tag not in ("mei", "music"):
        raise ScoreError(file, f"is XML but no MEI: its root is <{str(root.tag)[:40]}>", _EXPORT)
    return root


def score_of_mei(root: Element, file: str, sha256: str = "") -> Score:
    """The score under an `mei` element; raises `ScoreError` naming file, place, cause and remedy."""
    return assembled_from(root, file, sha256, title=title_of(root), creators=creators_of(root))


def assembled_from(
    root: Element,
    file: str,
    sha256: str,
    *,
    title: str = "",
    creators: tuple[tuple[str, str], ...] = (),
    notices: tuple[Notice, ...] = (),
) -> Score:
    """The same with a title, creators and notices that have been found elsewhere; no title: the file's name."""
    scores = [score for score in root.iter("score") if next(score.iterancestors("score"), None) is None]
    if not scores:
        kept = "parts without a score" if next(root.iter("parts"), None) is not None else "no score"
        raise ScoreError(file, f"holds {kept}", _EXPORT)
    _refuse_other_notations(root, file)
    raws = walk_music(scores, file)
    return assemble(raws, title=title or Path(file).stem, file=file, sha256=sha256, creators=creators, notices=notices)


def _refuse_other_notations(root: Element, file: str) -> None:
    for node in root.iter("staffDef", "scoreDef"):
        kind = node.get("notationtype") or ""
        if kind.startswith(_OTHERS):
            raise ScoreError(
                file,
                f"is in {kind.partition('.')[0]} notation",
                "use an edition in common notation",
                place=f"line {node.sourceline}",
            )
