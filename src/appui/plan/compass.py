"""What an instrument can be asked for: its compass, the part that is comfortable, and how quickly it speaks.

Written pitch, as its player reads and fingers it: keyed wind instruments of about 1800, ordinary voices. Common
practice, no source; a player's own range (``--range``) goes over it. An instrument that is not in the table is given
what its part already asks of it.
"""

from __future__ import annotations

from typing import NamedTuple

from appui.score.model import Part
from appui.score.pitch import Pitch, natural, parse_pitch

__all__ = ["Compass", "compass_of"]

# fmt: off
#  words in the name or sound                   low   comfortable   high
_TABLE: tuple[tuple[tuple[str, ...], tuple[str, str, str, str]], ...] = (
    (("english horn", "cor anglais"),           ("C4", "D4", "C6", "E6")),
    (("oboe", "hautb"),                         ("C4", "D4", "D6", "F6")),
    (("piccolo",),                              ("D4", "D4", "E6", "A6")),
    (("flute", "flauto", "flöte", "traverso"),  ("D4", "D4", "E6", "A6")),
    (("recorder", "blockfl"),                   ("F4", "F4", "D6", "G6")),
    (("clarin", "klarin", "basset", "chalumeau"), ("E3", "E3", "D6", "G6")),
    (("bassoon", "fagot"),                      ("Bb1", "C2", "F4", "Bb4")),
    (("violin", "geige"),                       ("G3", "G3", "D6", "A6")),
    (("viola", "bratsche"),                     ("C3", "C3", "A5", "E6")),
    (("cello",),                                ("C2", "C2", "G4", "D5")),
    (("soprano", "sopran", "canto"),            ("B3", "C4", "A5", "C6")),
    (("mezzo", "alto"),                         ("F3", "G3", "D5", "F5")),
    (("tenor",),                                ("B2", "C3", "G4", "A4")),
    (("bariton",),                              ("G2", "A2", "E4", "G4")),
)
# fmt: on
_VOICES = ("soprano", "sopran", "canto", "mezzo", "alto", "tenor", "bariton", "voice", "vocal", "gesang", "singstimme")


class Compass(NamedTuple):
    """Lowest note, comfortable lowest and highest, highest note, as written; whether a `voice` sings it."""

    low: Pitch
    easy_low: Pitch
    easy_high: Pitch
    high: Pitch
    voice: bool = False


def compass_of(part: Part) -> Compass:
    """What a part's player can be asked for; what the part itself asks for is always in it."""
    words = f"{part.name} {part.instrument}".lower()
    written = [n.written for v in part.voices for e in v.events for n in e.notes if not n.unpitched]
    own = sorted(written, key=lambda pitch: float(pitch.midi)) or [Pitch("C", 0, 4)]
    row = next((row for names, row in _TABLE if any(name in words for name in names)), None)
    voice = any(name in words for name in _VOICES)
    if row is None:
        return Compass(natural(own[0].diatonic - 1), own[0], own[-1], natural(own[-1].diatonic + 2), voice)
    low, easy_low, easy_high, high = (parse_pitch(name) for name in row)
    return Compass(
        _lower(low, own[0]), _lower(easy_low, own[0]), _higher(easy_high, own[-1]), _higher(high, own[-1]), voice
    )


def _lower(one: Pitch, other: Pitch) -> Pitch:
    return one if one.midi <= other.midi else other


def _higher(one: Pitch, other: Pitch) -> Pitch:
    return one if one.midi >= other.midi else other
