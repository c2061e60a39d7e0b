"""The information fields of ABC: key, meter, unit length, tempo, voice.

Source: the ABC standard 2.1, chapters 3, 4 and 7 (memory).
"""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from typing import NamedTuple

from appui.abc.place import Cursor
from appui.exact import Fraction, fraction_of
from appui.score.model import Meter
from appui.score.pitch import Transposition

__all__ = [
    "Clef",
    "Signature",
    "Tempo",
    "VoiceField",
    "parse_key",
    "parse_meter",
    "parse_tempo",
    "parse_unit",
    "parse_voice",
]

#  letters of the mode -> fifths from the major key of the same tonic, whether it is minor or major by name
_MODES = {
    "": (0, "major"), "maj": (0, "major"), "ion": (0, "major"), "m": (-3, "minor"), "min": (-3, "minor"),
    "aeo": (-3, "minor"), "mix": (-1, ""), "dor": (-2, ""), "phr": (-4, ""), "lyd": (1, ""), "loc": (-5, ""),
}  # fmt: skip
_SHARPS = "FCGDAEB"
_TONICS = {letter: fifths for fifths, letter in enumerate(_SHARPS, -1)}
_KEY = re.compile(r"([A-G])([#b♯♭]?)\s*([A-Za-z]*)")
_ACCIDENTAL = re.compile(r"(\^{1,2}|_{1,2}|=)([a-gA-G])")
_ALTERS = {"^": 1, "^^": 2, "_": -1, "__": -2, "=": 0}
_OPTIONS = "clef|middle|transpose|octave|score|sound|shift|name|nm|subname|sname|snm|stafflines|stem|style"
_OPTION = re.compile(rf"""\b({_OPTIONS})=(?:"([^"]*)"|(\S+))""")
_CLEFS = frozenset({"treble", "bass", "alto", "tenor", "perc", "none"})
_OCTAVE = re.compile(r"([+-])(8|15)$")
#  what a player may have meant by it
_GERMAN = {"dur": "", "moll": "m", "durr": ""}


class Signature(NamedTuple):
    """A key: sharps (+) or flats (-), its mode by name, and the letters it alters where they are not the usual ones."""

    fifths: int
    mode: str = ""
    altered: tuple[tuple[str, int], ...] = ()

    @property
    def alters(self) -> dict[str, int]:
        """What it does to each letter, in semitones; letters it leaves alone are missing."""
        order = _SHARPS if self.fifths > 0 else _SHARPS[::-1]
        found: dict[str, int] = {}
        for place in range(abs(self.fifths)):  # beyond seven they double
            found[order[place % 7]] = found.get(order[place % 7], 0) + (1 if self.fifths > 0 else -1)
        return dict(self.altered) if self.altered else found


class Clef(NamedTuple):
    """What a voice's clef and its options say of how it sounds: letters are written, `transposition` is what is heard.

    `octave` raises the letters themselves; `percussion` is a clef without pitches.
    """

    transposition: Transposition = Transposition()
    octave: int = 0
    percussion: bool = False


class Tempo(NamedTuple):
    """A tempo: quarter notes a minute, `None` where only words say it."""

    qpm: Fraction | None
    words: str


@dataclass(frozen=True, slots=True)
class VoiceField:
    """A `V:` field: the voice's id, its name where one is given, its clef where one is given."""

    id: str
    name: str = ""
    clef: Clef | None = None
    unknown: tuple[str, ...] = field(default=())


def parse_key(cursor: Cursor, text: str) -> tuple[Signature | None, Clef | None]:
    """The key and the clef of a `K:` field, `None` where it has none; raises `ScoreError` for what is no key."""
    words = text.strip()
    if words.lower() == "none":
        return Signature(0), None
    clef = _clef(cursor, words)
    plain = _OPTION.sub("", words)
    plain = " ".join(word for word in plain.split() if _clef_name(word) is None)
    if not plain:
        return None, clef
    if plain in ("HP", "Hp"):
        return Signature(2), clef
    match = _KEY.match(plain)
    if match is None:
        raise cursor.error(f"K:{text.strip()[:20]} is no key", "write a letter and major or minor, as K:G or K:Gm")
    rest = plain[match.end() :]
    if match[3] == "exp":
        return _with_accidentals(Signature(0), rest), clef
    mode = _mode(cursor, match, plain)
    fifths = _TONICS[match[1]] + {"#": 7, "♯": 7, "b": -7, "♭": -7, "": 0}[match[2]] + mode[0]
    signature = Signature(fifths, mode[1])
    if abs(fifths) > 14:
        raise cursor.error(f"K:{plain[:20]} has {abs(fifths)} signs", "write the key of the same sound with fewer")
    return _with_accidentals(signature, rest), clef


def _mode(cursor: Cursor, match: re.Match[str], plain: str) -> tuple[int, str]:
    said = match[3]
    key = said[:3].lower()  # capitals do not matter: M is minor too
    if key not in _MODES or (said.lower() in _GERMAN):
        meant = _GERMAN.get(said.lower())
        remedy = (
            f"write K:{match[1]}{match[2]}{meant}" if meant is not None else "write m for minor, or mix, dor, phr, lyd"
        )
        raise cursor.error(f"K:{plain[:20]}: {said[:10]!r} is no mode", remedy)
    return _MODES[key]


def _with_accidentals(signature: Signature, text: str) -> Signature:
    found = {letter.upper(): _ALTERS[sign] for sign, letter in _ACCIDENTAL.findall(text)}
    if not found:
        return signature
    altered = signature.alters | found
    kept = tuple((letter, altered[letter]) for letter in _SHARPS if altered.get(letter))
    return signature._replace(altered=kept) if kept else Signature(0, signature.mode)


def _clef_name(word: str) -> str | None:
    bare = _OCTAVE.sub("", word)
    return bare if bare in _CLEFS else None


def _clef(cursor: Cursor, text: str) -> Clef | None:
    options = {name: quoted or plain for name, quoted, plain in _OPTION.findall(text)}
    word = options.get("clef") or next((each for each in text.split() if _clef_name(each)), "")
    if not word and not {"transpose", "octave"} & options.keys():
        return None
    octave = _OCTAVE.search(word)
    lines = (1 if octave[1] == "+" else -1) * (2 if octave[2] == "15" else 1) if octave else 0
    semitones = _whole(cursor, "transpose", options.get("transpose", "0"), 60)
    steps = round(semitones * 7 / 12)
    return Clef(
        Transposition(steps + 7 * lines, semitones + 12 * lines),
        _whole(cursor, "octave", options.get("octave", "0"), 5),
        word.startswith("perc"),
    )


def _whole(cursor: Cursor, name: str, text: str, most: int) -> int:
    if not re.fullmatch(r"[+-]?\d{1,3}", text) or abs(int(text)) > most:
        raise cursor.error(f"{name}={text[:20]} is no whole number up to {most}", f"write {name}=-2 or the like")
    return int(text)


def parse_meter(cursor: Cursor, text: str) -> Meter | None:
    """The meter of an `M:` field; `None` for free time. Raises `ScoreError` for what is none."""
    plain = text.strip()
    if plain in ("C", "C|"):
        return Meter(4, 4, "common") if plain == "C" else Meter(2, 2, "cut")
    if plain.lower() == "none":
        return None
    match = re.fullmatch(r"\(?(\d{1,3}(?:\s*\+\s*\d{1,3})*)\)?\s*/\s*(\d{1,3})", plain)
    if match is None:
        remedy = "write it as M:3/4, M:6/8, M:C or M:C|"
        raise cursor.error(f"M:{plain[:20]} is no meter", remedy)
    beats, unit = sum(map(int, match[1].split("+"))), int(match[2])
    if not (0 < beats <= 256 and 0 < unit <= 256):
        raise cursor.error(f"M:{plain[:20]} is no meter", "write it as M:3/4")
    return Meter(beats, unit)


def parse_unit(cursor: Cursor, text: str) -> Fraction:
    """The unit length of an `L:` field in quarter notes; raises `ScoreError` for what is none."""
    match = re.fullmatch(r"(\d{1,4})\s*/\s*(\d{1,4})|1", text.strip())
    if match is None or (match[1] and (int(match[1]) == 0 or int(match[2]) == 0)):
        raise cursor.error(f"L:{text.strip()[:20]} is no note length", "write it as L:1/8")
    return Fraction(4 * int(match[1]), int(match[2])) if match[1] else Fraction(4)


def parse_tempo(cursor: Cursor, text: str, unit_q: Fraction) -> Tempo:
    """The tempo of a `Q:` field; raises `ScoreError` for what is none."""
    words = " ".join(found.strip() for found in re.findall(r'"([^"]*)"', text))
    plain = re.sub(r'"[^"]*"', "", text).strip()
    if not plain:
        return Tempo(None, words)
    match = re.fullmatch(
        r"(?:((?:C|\d{1,4}\s*/\s*\d{1,4})(?:\s+\d{1,4}\s*/\s*\d{1,4})*)\s*=\s*)?(\d{1,4}(?:\.\d{1,4})?)", plain
    )
    if match is None:
        raise cursor.error(f"Q:{plain[:30]} is no tempo", 'write it as Q:1/4=60, or in words as Q:"Adagio"')
    beat_q = unit_q
    if match[1]:
        parts = [unit_q / 4 if part == "C" else fraction_of(part) for part in re.sub(r"\s*/\s*", "/", match[1]).split()]
        beat_q = 4 * sum(parts, Fraction(0))
    qpm = beat_q * fraction_of(match[2])
    if not 1 <= qpm <= 1000:
        raise cursor.error(f"a tempo of {float(qpm):g} quarter notes a minute", "give one of 1 to 1000")
    return Tempo(qpm, words)


def parse_voice(cursor: Cursor, text: str) -> VoiceField:
    """The voice of a `V:` field; raises `ScoreError` where it has no id."""
    words = text.strip().split(None, 1)
    if not words:
        raise cursor.error("V: names no voice", "write a number or a short name after it, as V:1")
    options = words[1] if len(words) > 1 else ""
    named = {name: quoted or plain for name, quoted, plain in _OPTION.findall(options)}
    name = named.get("name") or named.get("nm") or ""
    return VoiceField(words[0], " ".join(name.replace("\\n", " ").split()), _clef(cursor, options))
