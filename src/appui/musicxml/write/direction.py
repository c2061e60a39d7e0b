"""Directions: tempos, words, dynamics, hairpins, the signs of the road map.

Conventions
    Offsets are whole divisions from where the direction stands; only where it says that it `sounds` there does an
    offset move what is played (MusicXML 4.0, complex types direction and offset, read).
"""

from __future__ import annotations

from appui.exact import Fraction
from appui.musicxml.element import Element
from appui.musicxml.write.build import add, decimal_text, new, put
from appui.score.model import Jump

__all__ = ["at_end", "dynamics", "hairpin", "jump", "kind", "metronome", "new_direction", "offset", "tempo", "words"]

#  kind of leap or target -> the element or words of its direction, whether at the end of the bar
_JUMPS = {
    "segno": ("segno", "", False),
    "coda": ("coda", "", False),
    "dacapo": ("words", "D.C.", True),
    "dalsegno": ("words", "D.S.", True),
    "tocoda": ("words", "To Coda", True),
    "fine": ("words", "Fine", True),
}


def new_direction(placement: str | None = None) -> Element:
    """A direction with nothing in it yet, ``above`` or ``below`` the staff."""
    return new("direction", placement=placement)


def kind(direction: Element, tag: str, content: object = None, /, **attributes: str | None) -> Element:
    """One more thing printed in a direction."""
    return add(put(direction, new("direction-type")), tag, content, **attributes)


def offset(node: Element, divisions: int, *, sounds: bool = False) -> Element:
    """The direction or chord symbol, moved on by so many divisions."""
    if divisions:
        put(node, new("offset", divisions, sound="yes" if sounds else None))
    return node


def words(text: str, placement: str = "below", **attributes: str) -> Element:
    """Words by a staff; attributes are those of their letters, such as ``font_style``."""
    node = new_direction(placement)
    kind(node, "words", text, **attributes)
    return node


def dynamics(mark: str) -> Element:
    """A dynamic mark under the staff, such as ``mf``."""
    node = new_direction("below")
    add(kind(node, "dynamics"), mark)
    return node


def hairpin(what: str) -> Element:
    """One end of a hairpin under the staff: ``crescendo``, ``diminuendo`` or ``stop``."""
    node = new_direction("below")
    kind(node, "wedge", type=what)
    return node


def tempo(qpm: Fraction | int, text: str = "", **attributes: str) -> Element:
    """A tempo over the staff, in quarter notes a minute, with its words."""
    node = words(text or " ", "above", **attributes)
    put(node, new("sound", tempo=decimal_text(qpm)))
    return node


def metronome(direction: Element, unit: str, dots: int, per_minute: Fraction | int) -> None:
    """A metronome mark after what a direction has: so many of a value, with its dots, a minute."""
    node = kind(direction, "metronome")
    add(node, "beat-unit", unit)
    for _ in range(dots):
        add(node, "beat-unit-dot")
    add(node, "per-minute", decimal_text(per_minute))


def at_end(found: Jump) -> bool:
    """Whether a sign of the road map stands at the end of its bar."""
    return _JUMPS[found.kind][2]


def jump(found: Jump) -> Element:
    """A sign of the road map."""
    tag, text, _ = _JUMPS[found.kind]
    node = new_direction("above")
    kind(node, tag, text or None)
    passes = {"time-only": ", ".join(map(str, found.passes))} if found.passes else {}
    sound = {found.kind: "yes" if found.kind in ("dacapo", "fine") else found.name or "1", **passes}
    put(node, new("sound", **sound))
    return node
