"""Decisions as a player pencils them over the staff of a part: short, above the note they are about.

    ``←``       a small note before the beat
    ``↓``       a small note on the beat, and gone at once
    ``♩ ♪``     a leaning note: its value, then what is left for its release, as the manuals write them out
    words       what else the print leaves open: how a trill begins and ends, an altered note of a turn, a longer hold
    ``?``       the harmony is doubtful, and the player has not decided

What the print says itself, such as after-notes, the printed end of a trill, a turn where it stands, needs no pencil.
Note values are letters of a music font (SMuFL 1.4, metronome marks, read); `Pencil.words` says the same in words for
files that other programs read.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import NamedTuple

from appui.exact import Fraction
from appui.interpret.interpretation import Interpretation
from appui.interpret.realizing import realize
from appui.notate.values import Piece, divide
from appui.realize.contract import Tone
from appui.score.model import Event
from appui.score.repeats import once
from appui.score.signs import EMBELLISHMENT, Sign
from appui.style.choose import Choice
from appui.style.reading import Reading

__all__ = ["LEGEND", "Pencil", "pencilled"]

#  what the marks mean, for the foot of a part
LEGEND = (
    ("←", "before the beat"),
    ("↓", "on the beat, short"),
    ("\ueca5\u2009\ueca7", "leaning: its length, then its release"),
)
#  value -> a note of a metronome mark
_VALUES = {
    "breve": "\ueca0", "whole": "\ueca2", "half": "\ueca3", "quarter": "\ueca5", "eighth": "\ueca7", "16th": "\ueca9",
    "32nd": "\uecab", "64th": "\uecad", "128th": "\uecaf", "256th": "\uecb1",
}  # fmt: skip
_DOT, _THREE = "\uecb7", "\ue883"
_TRILLS = {"upper": "from above", "main": "from the note", "below": "from below", "lower": "from below"}
_ARROWS = {"before": ("←", "before the beat"), "short": ("↓", "short, on the beat")}


class Pencil(NamedTuple):
    """What is pencilled at one place: over the note of an ordinal, in signs of the music font or `words`."""

    place: str
    ordinal: int
    signs: str
    words: str


def pencilled(interpretation: Interpretation) -> list[Pencil]:
    """The decisions of the solo, in order."""
    part = interpretation.solo.index
    tones = realize(interpretation, once(interpretation.score.bars), parts=[part]).tones[part]
    of_sign: dict[str, list[Tone]] = {}
    for tone in tones:
        if tone.sign is not None:
            of_sign.setdefault(tone.sign, []).append(tone)
    found = []
    for sign in (sign for sign in interpretation.signs if sign.part == part and sign.kind != EMBELLISHMENT):
        event, choice = sign.main(interpretation.score), interpretation.choices[sign.place]
        mark = _mark(sign, choice, event, of_sign.get(sign.place, []))
        if mark is not None and event.ordinal >= 0:
            doubt = "?" if _doubtful(interpretation, sign, choice) else ""
            found.append(Pencil(sign.place, event.ordinal, mark[0] + doubt, mark[1] + doubt))
    return found


def _doubtful(interpretation: Interpretation, sign: Sign, choice: Choice) -> bool:
    """Whether the harmony is doubtful and the player has not decided."""
    verdict = interpretation.analysis.verdict(sign)
    undecided = choice.by.startswith("style")
    return undecided and bool(sign.small) and verdict is not None and verdict.known and verdict.doubtful


def _mark(sign: Sign, choice: Choice, event: Event, tones: list[Tone]) -> tuple[str, str] | None:
    """Signs and words for one decision; `None` where the print says it."""
    reading, decided = choice.reading, choice.by.startswith(("plan", "--take"))
    if reading.name in _ARROWS:
        return _ARROWS[reading.name]
    if reading.name == "leaning":
        return _leaning(event, tones)
    if reading.name == "trill":
        words = ", ".join(_trill(reading, event))
        return words, words
    if reading.name == "plain" and choice.realized:
        return "plain", "plain"
    if reading.name in ("turn", "mordent", "slide", "hold", "pause", "arpeggio", "tremolo") and decided:
        words = reading.text.removeprefix(f"{reading.name} ")
        return words, words
    return None


def _leaning(event: Event, tones: list[Tone]) -> tuple[str, str] | None:
    """The values of a leaning note and of what is left of its main note."""
    lean_q = sum((tone.duration_q for tone in tones if tone.role == "lean" and tone.event is event), Fraction(0))
    if not 0 < lean_q <= event.duration_q:
        return None
    words = f"leans, {lean_q / event.duration_q} of the note"
    lengths = [length / event.tuplet for length in (lean_q, event.duration_q - lean_q) if length]
    try:
        pieces = divide(lengths, exact=True)
    except ValueError:
        return words, words
    three = _THREE if any(piece.tuplet is not None for piece in pieces) else ""
    return "\u2009".join(_value(piece) for piece in pieces) + three, words


def _value(piece: Piece) -> str:
    return "".join(_VALUES.get(value.type, "") + _DOT * value.dots for value in piece.values)


def _trill(reading: Reading, event: Event) -> Iterator[str]:
    yield _TRILLS.get(str(reading.get("start")), "from above")
    if reading.get("termination") == "yes" and not event.small_after:
        yield "with its end"
