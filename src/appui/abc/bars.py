"""Barlines, repeats and endings of ABC: a barline hands the bar that was typed to its part.

Source: the ABC standard 2.1, sections 4.8 and 4.9 (memory).
"""

from __future__ import annotations

import re

from appui.abc.items import Pending
from appui.abc.place import Cursor
from appui.abc.slips import meant
from appui.abc.voice import Voice
from appui.exact import Fraction

__all__ = ["barline", "ending", "ending_of_a_line", "is_barline"]

_BAR = re.compile(r"\.?(:*\[?\|[|\]]*:*|::+)")
_ENDING = re.compile(r"\[?\s*(\d{1,2}(?:\s*[,\-]\s*\d{1,2})*)")
_BRACKET = re.compile(r'\[\s*(?:(\d{1,2}(?:\s*[,\-]\s*\d{1,2})*)|"([^"]*)")')


def is_barline(cursor: Cursor) -> bool:
    """Whether a barline or the bracket of an ending comes next."""
    return bool(_BRACKET.match(cursor.text, cursor.at) or _BAR.match(cursor.text, cursor.at))


def barline(voice: Voice, cursor: Cursor) -> bool:
    """A barline, with what it repeats and the number of an ending right after it."""
    match = _BAR.match(cursor.text, cursor.at)
    if match is None and cursor.starts(":") and not voice.has_notes:
        voice.part.notice(cursor.place(), "a colon without its line: read as |:")
        voice.forward = True
        cursor.at += 1
        return True
    if match is None:
        return False
    sign = match[1]
    before, after = _colons(sign)
    thick = sign.strip(":") not in ("|", "")
    if voice.has_notes:
        _close(voice, cursor, plain=sign == "|")
    if before and voice.part.bars:
        voice.part.bars[-1].repeat_backward = before + 1
    if voice.part.bars and sign == "|]":
        voice.part.bars[-1].final = True
    if before or thick:
        voice.end_ending()
    voice.forward |= after > 0
    cursor.at = match.end()
    number = _ENDING.match(cursor.text, cursor.at)
    if number is not None and not cursor.text[cursor.at].isspace():
        _begin_ending(voice, cursor, number[1])
        cursor.at = number.end()
    return True


def _colons(sign: str) -> tuple[int, int]:
    """How many colons stand before the lines and after them; ``::`` is one of each."""
    if "|" not in sign:
        return len(sign) // 2, len(sign) // 2
    return len(sign) - len(sign.lstrip(":")), len(sign) - len(sign.rstrip(":"))


def _close(voice: Voice, cursor: Cursor, *, plain: bool) -> None:
    pending, voice.pending = voice.pending, Pending()
    voice.sing(None, cursor.line)
    voice.broken, voice.tuplet = Fraction(1), None
    voice.close_bar(cursor.line, plain=plain)
    if pending.fermata:
        voice.part.bars[-1].fermata_at_end = True
    if pending.ornaments or pending.articulations:
        raise cursor.error("an ornament stands before a barline", "write it before its note, as TA2")
    voice.pending.slurs = pending.slurs


def ending(voice: Voice, cursor: Cursor) -> bool:
    """The bracket of an ending: ``[1``."""
    match = _BRACKET.match(cursor.text, cursor.at)
    if match is None:
        return False
    if voice.has_notes:  # the repeat goes back from the middle of a bar
        _close(voice, cursor, plain=False)
    _begin_ending(voice, cursor, match[1] or match[2] or "1")
    cursor.at = match.end()
    return True


def _begin_ending(voice: Voice, cursor: Cursor, text: str) -> None:
    voice.end_ending()
    found: list[int] = []
    for first, last in re.findall(r"(\d{1,2})(?:\s*-\s*(\d{1,2}))?", text):
        found += range(int(first), max(int(last or first), int(first)) + 1)
    voice.passes = tuple(number for number in dict.fromkeys(found) if number > 0) or (1,)
    if 1 not in voice.passes and not any(bar.ending_starts for bar in voice.part.bars):
        raise cursor.error(f"{text!r} is no ending: there is no first one before it", meant(text[0]))


def ending_of_a_line(voice: Voice, cursor: Cursor) -> bool:
    """An ending's number at the start of a line, after the barline that ends the line before."""
    match = _ENDING.match(cursor.text, cursor.at)
    bars = voice.part.bars
    if match is None or voice.has_notes or not any(bar.ending_starts for bar in bars):
        return False
    _begin_ending(voice, cursor, match[1])
    cursor.at = match.end()
    return True
