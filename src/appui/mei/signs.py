"""What hangs on notes: ornaments, fermatas, arpeggios, breath marks, slurs and ties.

Signs go by MusicXML's names, as everywhere in this tool. Sources: MEI 5.0, module cmnOrnaments (memory); the numbers of
glyphs SMuFL 1.4 (read in verovio's table of glyphs).
"""

from __future__ import annotations

from collections.abc import Callable

from appui.mei.definitions import plain_text
from appui.mei.names import ACCIDENTALS, Element, refs
from appui.mei.places import Beside, Places
from appui.score.gather import Spot
from appui.score.model import Ornament

__all__ = ["SIGNS", "place_sign"]

#  glyphs by number that say more than the element they are in
_GLYPHS = {
    "U+E566": "trill-mark",
    "U+E567": "turn",
    "U+E568": "inverted-turn",
    "U+E569": "turn",
    "U+E56A": "vertical-turn",
    "U+E56C": "inverted-mordent",
    "U+E56D": "mordent",
    "U+E56E": "shake",
    "U+E56F": "haydn",
    "U+E587": "schleifer",
}
_SHAPES = {"curved": "normal", "square": "square", "angular": "angled"}


def _accidental(node: Element, name: str) -> int | None:
    alter = ACCIDENTALS.get(node.get(name) or "")
    return int(alter) if alter is not None and alter == int(alter) else None


def _ornament(node: Element, kind: str, attributes: tuple[tuple[str, str], ...] = (), text: str = "") -> Ornament:
    place = node.get("place")
    placed = (*attributes, ("placement", place)) if place in ("above", "below") else attributes
    glyph = _GLYPHS.get(node.get("glyph.num") or "")
    return Ornament(
        glyph or kind, tuple(sorted(placed)), text, _accidental(node, "accidupper"), _accidental(node, "accidlower")
    )


def _trill(places: Places, beside: Beside) -> None:
    _hang(places, beside, _ornament(beside.node, "trill-mark"))
    if beside.node.get("extender") == "true":
        _hang(places, beside, Ornament("wavy-line", (("type", "start"),)))


def _turn(places: Places, beside: Beside) -> None:
    node = beside.node
    kind = "inverted-turn" if node.get("form") == "lower" else "turn"
    slash = (("slash", "yes"),) if node.get("type") == "slashed" else ()
    _hang(places, beside, _ornament(node, ("delayed-" if node.get("delayed") == "true" else "") + kind, slash))


def _mordent(places: Places, beside: Beside) -> None:
    node = beside.node
    if not node.get("form") and not node.get("glyph.num"):
        _say(places, beside, "a mordent does not say whether it goes up or down: read as with the lower note")
    long = (("long", "yes"),) if node.get("long") == "true" else ()
    _hang(places, beside, _ornament(node, "inverted-mordent" if node.get("form") == "upper" else "mordent", long))


def _other(places: Places, beside: Beside) -> None:
    _hang(places, beside, _ornament(beside.node, "other-ornament", text=plain_text(beside.node)))


def _hang(places: Places, beside: Beside, ornament: Ornament) -> None:
    spot = places.note(beside)
    if spot is None or spot.event is None:
        _say(places, beside, f"an ornament ({ornament.kind}) belongs to no note that can be found: left out")
    else:
        spot.hang(ornament)


def _say(places: Places, beside: Beside, text: str) -> None:
    if beside.staves:
        places.page.notice(beside.staves[0], beside.node, text)


def _fermata(places: Places, beside: Beside) -> None:
    moment = places.start(beside)
    spot = places.note(beside)
    shape = _SHAPES.get(beside.node.get("shape") or "", "normal")
    by_beat = not refs(beside.node, "startid")
    if moment is not None and by_beat and moment.at_q >= moment.part.raw.bars[moment.bar].content_q > 0:
        moment.part.raw.bars[moment.bar].fermata_at_end = True
    elif spot is not None and spot.event is not None:
        spot.event.fermata = spot.event.fermata or shape
    else:
        _say(places, beside, "a fermata belongs to no note that can be found: left out")


def _arpeggio(places: Places, beside: Beside) -> None:
    order = beside.node.get("order")
    if order == "nonarp":
        ornament = Ornament("non-arpeggiate")
    else:
        ornament = Ornament("arpeggiate", (("direction", order),) if order in ("up", "down") else ())
    found = list(places.chosen(beside.node)) or [spot for spot in (places.note(beside),) if spot is not None]
    for event in {id(spot.event): spot.event for spot in found if spot.event is not None}.values():
        Spot(event).hang(ornament)


def _pause(kind: str) -> Callable[[Places, Beside], None]:
    def place(places: Places, beside: Beside) -> None:
        moment = places.start(beside)
        spot = places.note(beside) if refs(beside.node, "startid") else None
        event = spot.event if spot is not None else places.before(moment) if moment is not None else None
        if event is None:
            _say(places, beside, f"a {kind} stands after nothing that can be found: left out")
        else:
            event.pauses |= {kind}

    return place


def _slur(places: Places, beside: Beside) -> None:
    start, stop = places.note(beside), places.last_note(beside)
    if start is None or stop is None or start.event is None or stop.event is None:
        _say(places, beside, "a slur has an end that cannot be found: left out")
        return
    start.slur_to(stop, f"slur {id(beside.node)}")


def _tie(places: Places, beside: Beside) -> None:
    start = places.note(beside) if refs(beside.node, "startid") else None
    stop = places.last_note(beside) if refs(beside.node, "endid") else None
    if start is not None:
        start.tie(start=True)
    if stop is not None:
        stop.tie(stop=True)


#  element -> what becomes of it
SIGNS: dict[str, Callable[[Places, Beside], None]] = {
    "trill": _trill,
    "turn": _turn,
    "mordent": _mordent,
    "ornam": _other,
    "fermata": _fermata,
    "arpeg": _arpeggio,
    "breath": _pause("breath-mark"),
    "caesura": _pause("caesura"),
    "slur": _slur,
    "phrase": _slur,
    "tie": _tie,
}


def place_sign(places: Places, beside: Beside) -> None:
    """Hang one of the `SIGNS` where it belongs."""
    SIGNS[beside.node.tag](places, beside)
