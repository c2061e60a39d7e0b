"""MEI written in few words: `score(measure(note("c5", "4")))`; notes are letter and octave, lengths MEI's values."""

from __future__ import annotations

from appui.mei.score import mei_root, score_of_mei
from appui.score.model import Event, Score

__all__ = ["events", "measure", "mei", "note", "one_bar", "score"]

HEAD = "<meiHead><fileDesc><titleStmt><title>A piece</title></titleStmt><pubStmt/></fileDesc></meiHead>"
OBOE = '<staffDef n="1" lines="5"><label>Oboe</label></staffDef>'


def note(pitch: str, dur: str = "4", inside: str = "", **attributes: object) -> str:
    """A note: ``c5``; attributes as in MEI, ``_`` for a dot, `id` for xml:id."""
    said = "".join(
        f' {"xml:id" if name == "id" else name.rstrip("_").replace("_", ".")}="{value}"'
        for name, value in attributes.items()
    )
    dur_said = f' dur="{dur}"' if dur else ""
    return f'<note pname="{pitch[0]}" oct="{pitch[1:]}"{dur_said}{said}>{inside}</note>'


def measure(*layers: str, beside: str = "", attributes: str = "") -> str:
    """A bar: one layer of each staff, in order, and what stands beside the notes."""
    staves = "".join(f'<staff n="{n}"><layer n="1">{layer}</layer></staff>' for n, layer in enumerate(layers, 1))
    return f"<measure {attributes}>{staves}{beside}</measure>"


def mei(*bars: str, staves: str = OBOE, definition: str = 'meter.count="4" meter.unit="4"', head: str = HEAD) -> str:
    """The text of a file with these bars."""
    return (
        f'<mei xmlns="http://www.music-encoding.org/ns/mei" meiversion="5.0">{head}<music><body><mdiv><score>'
        f"<scoreDef {definition}><staffGrp>{staves}</staffGrp></scoreDef><section>\n"
        + "\n".join(bars)
        + "\n</section></score></mdiv></body></music></mei>"
    )


def score(*bars: str, **words: str) -> Score:
    """The bars as our reader gives them."""
    return read(mei(*bars, **words))


def read(text: str) -> Score:
    """A text as our reader gives it."""
    return score_of_mei(mei_root(text.encode(), "page.mei"), "page.mei")


def one_bar(layer: str, beside: str = "", **words: str) -> Score:
    """A score of one bar of one staff."""
    return score(measure(layer, beside=beside), **words)


def events(found: Score, part: int = 0, voice: int = 0) -> tuple[Event, ...]:
    """The events of a voice."""
    return found.parts[part].voices[voice].events
