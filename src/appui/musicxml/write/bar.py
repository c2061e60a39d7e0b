"""What stands at the edges of a bar: attributes before its notes, barlines with repeats and endings.

Source: MusicXML 4.0, `schema/musicxml.xsd`, complex types attributes and barline (read).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from appui.musicxml.element import Element
from appui.musicxml.write.build import add, decimal_text, new, put
from appui.score.model import Bar, Key
from appui.score.pitch import Transposition

__all__ = ["edges", "new_barline", "set_clefs", "set_key", "set_meter", "set_signature", "set_transposition"]


def set_signature(attributes: Element, fifths: int, mode: str = "") -> None:
    """A key signature of so many sharps, or flats below zero."""
    key = put(attributes, new("key"))
    add(key, "fifths", fifths)
    if mode:
        add(key, "mode", mode)


def set_key(attributes: Element, key: Key) -> None:
    """A traditional key signature; one of altered letters is left out, as nothing here reads it."""
    if not key.altered:
        set_signature(attributes, key.fifths, key.mode)


def set_meter(attributes: Element, beats: int, beat_type: int, symbol: str = "") -> None:
    """A time signature: so many of such values; `symbol` is ``common``, ``cut`` or empty."""
    time = put(attributes, new("time", symbol=symbol or None))
    add(time, "beats", beats)
    add(time, "beat-type", beat_type)


def set_clefs(attributes: Element, clefs: Sequence[tuple[str, int]]) -> None:
    """The clefs, letter and line, from the upper staff down; more than one say how many staves there are."""
    many = len(clefs) > 1
    if many:
        put(attributes, new("staves", len(clefs)))
    for number, (sign, line) in enumerate(clefs, 1):
        clef = put(attributes, new("clef", number=str(number) if many else None))
        add(clef, "sign", sign)
        add(clef, "line", line)


def set_transposition(attributes: Element, transposition: Transposition) -> None:
    """What is added to what is written to get what sounds, octaves apart; nothing for none."""
    if not transposition.diatonic and not transposition.chromatic:
        return
    octaves = int(transposition.diatonic / 7)
    node = put(attributes, new("transpose"))
    add(node, "diatonic", transposition.diatonic - 7 * octaves)
    add(node, "chromatic", decimal_text(transposition.chromatic - 12 * octaves))
    if octaves:
        add(node, "octave-change", octaves)


def new_barline(
    location: str, style: str = "", *, repeat: Mapping[str, str] | None = None, ending: Mapping[str, str] | None = None
) -> Element:
    """A barline on the ``left`` or ``right`` of its bar; `repeat` and `ending` are the attributes of theirs."""
    node = new("barline", location=location)
    if style:
        add(node, "bar-style", style)
    if ending:
        add(node, "ending", **ending)
    if repeat:
        add(node, "repeat", **repeat)
    return node


def edges(before: Bar | None, bar: Bar, after: Bar | None) -> tuple[Element | None, Element | None]:
    """The barlines left and right of a bar where they are more than a stroke; the last bar closes the piece."""
    return _left(before, bar), _right(bar, after)


def _left(before: Bar | None, bar: Bar) -> Element | None:
    opens = bar.endings and (before is None or before.endings != bar.endings)
    if not opens and not bar.repeat_forward:
        return None
    return new_barline(
        "left",
        "heavy-light" if bar.repeat_forward else "",
        repeat={"direction": "forward"} if bar.repeat_forward else None,
        ending={"number": _passes(bar), "type": "start"} if opens else None,
    )


def _right(bar: Bar, after: Bar | None) -> Element | None:
    closes = bar.endings and (after is None or after.endings != bar.endings)
    if not (closes or bar.repeat_backward or bar.final or after is None):
        return None
    times = {"times": str(bar.repeat_backward)} if bar.repeat_backward > 2 else {}
    return new_barline(
        "right",
        "light-heavy" if bar.repeat_backward or bar.final or after is None else "",
        repeat={"direction": "backward", **times} if bar.repeat_backward else None,
        ending={"number": _passes(bar), "type": "stop"} if closes else None,
    )


def _passes(bar: Bar) -> str:
    return ", ".join(str(number) for ending in bar.endings for number in ending.passes)
