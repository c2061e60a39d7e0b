"""What a part takes over from the others: what belongs to everybody, each once, and chord names in its own pitch."""

from __future__ import annotations

from collections.abc import Iterator

from appui.exact import Fraction, fraction_of
from appui.harmony.kinds import symbol_text
from appui.interpret.interpretation import Interpretation
from appui.musicxml.element import Element
from appui.musicxml.write.build import children, copied, remove
from appui.musicxml.write.chords import chord_symbol
from appui.musicxml.write.direction import offset
from appui.musicxml.write.time import placed, refine
from appui.musicxml.write.transpose import transpose_letter
from appui.score.model import ChordSymbol, Part
from appui.score.tempo_words import tempo_word

__all__ = ["gather_signs", "put_chord_names"]

_JUMPS = ("dacapo", "dalsegno", "tocoda", "fine", "segno", "coda", "tempo")


def gather_signs(root: Element, solo: Element, player: Interpretation) -> None:
    """Put the directions that are everybody's into the solo, each once, whichever part prints it."""
    score = player.score
    found: set[tuple[int, str]] = set()
    for part in (solo, *(part for part in root.iterfind("part") if part is not solo)):
        for bar, at_q, direction in list(_directions(part)):
            if bar >= len(score.bars):
                continue
            # twice in a bar is once for two staves, or moved on for looks
            key = (bar, _content(direction))
            if key in found and part is solo:
                remove(direction)
            elif key not in found and part is not solo:
                _place(solo, bar, at_q, copied(direction), score.file)
            found.add(key)


def _directions(part: Element) -> Iterator[tuple[int, Fraction, Element]]:
    """Bar, moment in it and element of every direction or sound that is everybody's."""
    divisions = Fraction(1)
    for bar, measure in enumerate(part.iterfind("measure")):
        at_q = Fraction(0)
        for child in children(measure):
            if child.tag == "attributes":
                divisions = fraction_of(child.findtext("divisions") or str(divisions))
            elif child.tag in ("direction", "sound") and _is_everybodys(child):
                later_q = fraction_of(child.findtext("offset") or "0") / divisions
                yield bar, max(at_q + later_q, Fraction(0)), child
            elif child.tag in ("note", "backup", "forward") and child.find("chord") is None:
                length_q = fraction_of(child.findtext("duration") or "0") / divisions
                at_q += -length_q if child.tag == "backup" else length_q


def _is_everybodys(node: Element) -> bool:
    if node.tag == "sound":
        return any(node.get(name) for name in _JUMPS)
    sound = node.find("sound")
    if sound is not None and any(sound.get(name) for name in _JUMPS):
        return True
    if any(node.find(f"direction-type/{tag}") is not None for tag in ("metronome", "rehearsal", "segno", "coda")):
        return True
    return tempo_word(" ".join(_words(node))) is not None


def _words(node: Element) -> Iterator[str]:
    return (each.text or "" for each in node.iterfind("direction-type/words"))


def _content(node: Element) -> str:
    """What a direction prints, to know it again in another part; a sound without print by what it says."""
    printed = " ".join(
        " ".join(str(text) for text in kind.itertext()).strip() for kind in node.iterfind("direction-type")
    )
    sound = node if node.tag == "sound" else node.find("sound")
    told = "" if printed.strip() or sound is None else " ".join(f"{name}={sound.get(name)}" for name in sorted(_JUMPS))
    tags = "".join(sorted({kind.tag for kind in node.iterfind("direction-type/*") if kind.tag != "words"}))
    return " ".join(printed.split()) + tags + told


def _place(solo: Element, bar: int, at_q: Fraction, node: Element, file: str) -> None:
    """Put a direction, sound or chord name into a bar at a moment: before the note there, or moved on from one."""
    measures = solo.findall("measure")
    if bar >= len(measures):
        return
    divisions = refine(solo, at_q.denominator, file)
    for old in node.findall("offset"):
        remove(old)
    measure = measures[bar]
    for one in placed(measure, divisions):
        if one.node.tag == "note" and one.node.find("chord") is None and one.start_q <= at_q <= one.end_q:
            later = int((at_q - one.start_q) * divisions)
            if later and node.tag != "sound":
                offset(node, later, sounds=node.tag == "direction")
            if at_q == one.end_q and later:
                continue
            one.node.addprevious(node)
            return
    line = next(
        (child for child in children(measure) if child.tag == "barline" and child.get("location") != "left"), None
    )
    if line is not None:
        line.addprevious(node)
    else:
        measure.append(node)


def put_chord_names(root: Element, solo: Element, player: Interpretation) -> None:
    """Chord names of another part, or of a chart, in the solo's own pitch; those in the solo stay as they are."""
    parts = player.score.parts
    source = next((part for part in parts if part.chord_symbols), None)
    if source is None or (source.index == player.solo.index and player.wishes.chart is None):
        return
    for old in list(solo.iter("harmony")):
        remove(old)
    before = ""
    for symbol in source.chord_symbols:
        told = symbol_text(symbol)
        if told != before and symbol.kind != "none":
            bar = player.score.bar_at(symbol.onset_q)
            _place(solo, bar.index, symbol.onset_q - bar.onset_q, _harmony(symbol, player.solo), player.score.file)
        before = told


def _harmony(symbol: ChordSymbol, solo: Part) -> Element:
    transposition = solo.transposition_at(symbol.onset_q)
    root = transpose_letter(symbol.root, transposition)
    bass = transpose_letter(symbol.bass, transposition) if symbol.bass else ""
    text = symbol.text or symbol_text(symbol._replace(bass="")).removeprefix(symbol.root)
    return chord_symbol(root, symbol.kind, text, bass, symbol.degrees)
