"""What is typed over and under the notes of ABC: chord symbols, words, decorations between ``!`` or of one letter.

Source: the ABC standard 2.1, sections 4.14 to 4.19 (memory).
"""

from __future__ import annotations

import re

from appui.abc.items import Mark
from appui.abc.place import Cursor
from appui.abc.signs import LETTERS, Decoration, decoration, nearest
from appui.abc.voice import Voice
from appui.exact import Fraction
from appui.harmony.kinds import parse_symbol
from appui.score.figured_bass import Text
from appui.score.raw import RawTempo
from appui.score.road_words import road_word
from appui.score.tempo_words import tempo_word

__all__ = ["letter", "named", "print_decoration", "quoted", "user_symbol"]

_NAMED = re.compile(r"([!+])([^!+\s|][^!+|]*?)\1")
_WORDS = "^_<>@"


def quoted(voice: Voice, cursor: Cursor) -> bool:
    """A text in quotes: a chord symbol where it is one, else words."""
    if cursor.sign != '"':
        return False
    end = cursor.text.find('"', cursor.at + 1)
    if end < 0:
        raise cursor.error("a text opened by a quote is not closed", 'write a quote after it too: "G7"')
    text = cursor.text[cursor.at + 1 : end]
    if text[:1] in _WORDS and text:
        _words(voice, text[1:].strip())
    else:
        for each in re.split(r"[;\n]", text):
            _chord_symbol(voice, each.strip())
    cursor.at = end + 1
    return True


def _chord_symbol(voice: Voice, text: str) -> None:
    symbol = parse_symbol(text.strip("() "))
    if symbol is None:
        _words(voice, text)
        return
    found = symbol._replace(text=text)
    voice.add(Mark(lambda bar, at_q: voice.part.chord_symbols.append((bar, at_q, found))))


def _words(voice: Voice, text: str) -> None:
    """Words over or under the staff: a dynamic, a tempo, a leap, or only text."""
    said = decoration(text)
    if said is not None and said.dynamic:
        _dynamic(voice, said.dynamic)
        return
    kind = road_word(text)
    if kind is not None:
        voice.jump(kind)

    def put(bar: int, at_q: Fraction) -> None:
        voice.part.texts.append(Text(bar, at_q, Fraction(0), text, lyric=False))
        if tempo_word(text):
            voice.part.tempos.append(RawTempo(bar, at_q, None, 2, text))

    if text:
        voice.add(Mark(put))


def _dynamic(voice: Voice, mark: str) -> None:
    voice.add(Mark(lambda bar, at_q: voice.part.dynamics.append((bar, at_q, mark, None, None))))


def named(voice: Voice, cursor: Cursor) -> bool:
    """A decoration by its name: ``!trill!``."""
    match = _NAMED.match(cursor.text, cursor.at)
    if match is None:
        if cursor.sign in "!+":
            sign = cursor.sign
            raise cursor.error(
                f"a decoration opened by {sign} is not closed", "write ! before and after its name: !trill!"
            )
        return False
    print_decoration(voice, cursor, match[2])
    cursor.at = match.end()
    return True


def user_symbol(voice: Voice, cursor: Cursor, text: str) -> None:
    """A letter that the file has given a meaning (`U:`)."""
    cursor.at += 1
    if text.startswith('"'):
        _words(voice, text.strip('"').lstrip(_WORDS))
    elif text.strip("!+").lower() not in ("nil", "none", ""):
        print_decoration(voice, cursor, text.strip("!+"))


def print_decoration(voice: Voice, cursor: Cursor, name: str) -> None:
    """Put a decoration on the note to come; raises `ScoreError` where it is another one misspelt."""
    said = decoration(name)
    if said is None:
        near = nearest(name)
        if near:
            raise cursor.error(f"there is no decoration !{name[:20]}!", f"write !{near}! if that is meant")
        voice.part.notice(cursor.place(), f"the decoration !{name[:20]}! is not known: left out")
        return
    _apply(voice, said)
    if name == "roll":
        voice.part.notice(cursor.place(), "~ (a roll) is read as a turn")


def _apply(voice: Voice, said: Decoration) -> None:
    pending = voice.pending
    if said.ornament is not None:
        pending.ornaments.append(said.ornament)
    elif said.articulation:
        pending.articulations.add(said.articulation)
    elif said.pause:
        pending.pauses.add(said.pause)
    elif said.fermata:
        pending.fermata = said.fermata
    elif said.dynamic:
        _dynamic(voice, said.dynamic)
    elif said.jump:
        voice.jump(said.jump)
    elif said.hairpin:
        voice.add(Mark(lambda bar, at_q: _hairpin(voice, said.hairpin, bar, at_q)))


def _hairpin(voice: Voice, kind: str, bar: int, at_q: Fraction) -> None:
    if kind != "stop":
        voice.hairpin = bar, at_q, kind
    elif voice.hairpin is not None:
        first, first_q, opened = voice.hairpin
        if (first, first_q) < (bar, at_q):
            voice.part.hairpins.append((first, first_q, bar, at_q, opened, None))
        voice.hairpin = None


def letter(voice: Voice, cursor: Cursor) -> bool:
    """A decoration of one letter inside a chord."""
    name = LETTERS.get(cursor.sign)
    if name is None:
        return False
    print_decoration(voice, cursor, name)
    cursor.at += 1
    return True
