"""Chord symbols and figures.

Source: MusicXML 4.0, `schema/musicxml.xsd`, complex types harmony and figured-bass (read).
"""

from __future__ import annotations

from collections.abc import Iterable

from appui.musicxml.element import Element
from appui.musicxml.write.build import add, new, put
from appui.score.pitch import alter_of

__all__ = ["chord_symbol", "figured_bass", "set_letter"]


def chord_symbol(
    root: str, kind: str, text: str, bass: str = "", degrees: Iterable[tuple[int, int, str]] = ()
) -> Element:
    """A chord symbol: root and bass as letters (``Bb``), `kind` MusicXML's, `text` what is printed after the root.

    `degrees` are those added, altered or taken away: which, by how many semitones, and which of these three.
    """
    harmony = new("harmony")
    set_letter(put(harmony, new("root")), "root", root)
    put(harmony, new("kind", kind, text=text))
    if bass:
        set_letter(put(harmony, new("bass")), "bass", bass)
    for value, alter, what in degrees:
        degree = put(harmony, new("degree"))
        add(degree, "degree-value", value)
        add(degree, "degree-alter", alter)
        add(degree, "degree-type", what)
    return harmony


def set_letter(node: Element, name: str, letter: str) -> None:
    """Give a ``root`` or ``bass`` its letter in place of the one it has."""
    for old in (*node.findall(f"{name}-step"), *node.findall(f"{name}-alter")):
        node.remove(old)
    node.insert(0, new(f"{name}-step", letter[0]))
    if alter := alter_of(letter):
        node.insert(1, new(f"{name}-alter", alter))


def figured_bass(figures: Iterable[tuple[str, str, str, str]], duration: int) -> Element:
    """Figures under a bass note, the upper first, for so many divisions; 0 says nothing of how long.

    A figure is its number, its prefix and suffix, and its line, as `appui.score.model.Figure` has them.
    """
    node = new("figured-bass")
    for number, prefix, suffix, extend in figures:
        inner = add(node, "figure")
        for tag, text in (("prefix", prefix), ("figure-number", number), ("suffix", suffix)):
            if text:
                add(inner, tag, text)
        if extend:
            add(inner, "extend", type=extend if extend != "yes" else None)
    if duration:
        add(node, "duration", duration)
    return node
