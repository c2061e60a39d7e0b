"""A line of ABC music, sign by sign: notes, rests, chords, small notes, tuplets, slurs, barlines, decorations.

Source: the ABC standard 2.1, chapter 4 (memory). What the standard leaves to the program: a small note without a length
of its own has the unit length; a breath mark is after the note it is typed before.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping

from appui.abc.bars import barline, ending, ending_of_a_line, is_barline
from appui.abc.items import Pending, Small, Struck
from appui.abc.place import Cursor
from appui.abc.printed import letter, named, print_decoration, quoted, user_symbol
from appui.abc.signs import LETTERS
from appui.abc.slips import is_slip, meant
from appui.abc.voice import Voice
from appui.exact import Fraction
from appui.musicxml.read.numbers import MAX_DURATION_Q
from appui.score.pitch import Pitch

__all__ = ["read_music"]

ReadField = Callable[[Voice, str, str, Cursor], Voice]
"""Takes the voice, the letter and the text of a field and its place in the file."""

MAX_CHORD = 128  # as many as MIDI has keys
MAX_SLURS = 100
MAX_REST_BARS = 1_000
_NOTE = re.compile(r"(\^\^|\^/|\^|__|_/|_|=)?([A-Ga-g])([,']*)(\d*)(/*)(\d*)(\.?-)?")
_LENGTH = re.compile(r"(\d*)(/*)(\d*)")
_REST = re.compile(r"([zxZX])(\d*)(/*)(\d*)")
_FIELD = re.compile(r"\[([A-Za-z]):([^\]]*)\]")
_TUPLET = re.compile(r"\((\d{1,2})(?::(\d{0,2}))?(?::(\d{0,2}))?")
_BROKEN = re.compile(r"<{1,3}|>{1,3}")
_LOOKS = re.compile(r"[\s`\\$*;?@]+|y\d*(?:/\d*)?")
_ALTERS: dict[str, int | Fraction] = {
    "^": 1, "^^": 2, "_": -1, "__": -2, "=": 0, "^/": Fraction(1, 2), "_/": Fraction(-1, 2),
}  # fmt: skip
_IN_THE_TIME_OF = {2: 3, 3: 2, 4: 3, 6: 2, 8: 3}
#  letters that a file may give a meaning
_USERS = frozenset("hijklmnopqrstuvwHIJKLMNOPQRSTUVW")


def read_music(voice: Voice, cursor: Cursor, symbols: Mapping[str, str], read_field: ReadField) -> None:
    """Read one line of music into a voice, or into those it names; raises `ScoreError` with line and column.

    `symbols` are the letters that the file gives a meaning; `read_field` takes a field among the music, such as
    ``[K:G]``, and gives the voice that goes on.
    """
    while not cursor.done:
        voice = _step(voice, cursor, symbols, read_field)


def _step(voice: Voice, cursor: Cursor, symbols: Mapping[str, str], read_field: ReadField) -> Voice:
    sign = cursor.text[cursor.at]
    field = _FIELD.match(cursor.text, cursor.at) if sign == "[" else None
    if field is not None:
        inner = Cursor(cursor.file, cursor.line, cursor.text, field.start(2), cursor.before)
        cursor.at = field.end()
        return read_field(voice, field[1], field[2], inner)
    for handler in _HANDLERS.get(sign, ()):
        if handler(voice, cursor):
            return voice
    if sign in symbols:
        user_symbol(voice, cursor, symbols[sign])
    elif sign in LETTERS:
        print_decoration(voice, cursor, LETTERS[sign])
        cursor.at += 1
    elif sign in _USERS and not is_slip(sign):
        voice.part.notice(cursor.place(), f"the letter {sign} is given no meaning (U:): left out")
        cursor.at += 1
    else:
        raise cursor.error(f"{sign!r} means nothing here", meant(sign))
    return voice


# lengths and pitches


def _length(cursor: Cursor, number: str, slashes: str, below: str) -> Fraction:
    if len(number) > 4 or len(below) > 4 or len(slashes) > 8:
        raise cursor.error("a length of more digits than any note needs", "correct it")
    if (number and not int(number)) or (below and not int(below)):
        raise cursor.error("a length of 0", "write 1 or more, or nothing for one unit")
    if below and not slashes:
        raise cursor.error("a length without a stroke", "write it as 3/2")
    divided = int(below) if below else 2 ** len(slashes)
    return Fraction(int(number or "1"), divided)


def _pitch(voice: Voice, cursor: Cursor, match: re.Match[str]) -> Pitch:
    sign, letter, marks = match[1], match[2], match[3]
    octave = (5 if letter.islower() else 4) + marks.count("'") - marks.count(",") + voice.clef.octave
    if not -1 <= octave <= 10:
        raise cursor.error(f"{match[0]!r} is beyond any instrument", "take away marks of the octave")
    step = letter.upper()
    if sign:
        alter = voice.accidentals[_carried(voice, step, octave)] = _ALTERS[sign]
    elif (step, octave) in voice.tied:
        alter = voice.tied[step, octave]
    else:
        alter = voice.accidentals.get(_carried(voice, step, octave), voice.signature.alters.get(step, 0))
    return Pitch(step, alter, octave)


def _carried(voice: Voice, step: str, octave: int) -> tuple[str, int]:
    """How far an accidental reaches in its bar: to the letter in all octaves, unless the file says in its own."""
    return (step, octave if voice.by_octave else 0)


# notes


def _note(voice: Voice, cursor: Cursor) -> bool:
    match = _NOTE.match(cursor.text, cursor.at)
    if match is None:
        return False
    length_q = _length(cursor, match[4], match[5], match[6]) * voice.unit_q
    pitch = _pitch(voice, cursor, match)
    _strike(voice, cursor, [pitch], length_q, [bool(match[7])])
    cursor.at = match.end()
    return True


def _rest(voice: Voice, cursor: Cursor) -> bool:
    match = _REST.match(cursor.text, cursor.at)
    if match is None:
        return False
    if match[1] in "ZX":
        _bars_of_rest(voice, cursor, match)
    else:
        length_q = _length(cursor, *match.groups()[1:]) * voice.unit_q
        _strike(voice, cursor, [], length_q, [], gap=match[1] == "x")
    cursor.at = match.end()
    return True


def _bars_of_rest(voice: Voice, cursor: Cursor, match: re.Match[str]) -> None:
    count = int(match[2][:5] or "1")
    if not 0 < count <= MAX_REST_BARS or match[3]:
        raise cursor.error(
            f"{match[0]!r} is no number of bars", f"write Z4 for four bars of rest, at most {MAX_REST_BARS}"
        )
    bar_q = voice.meter.bar_q if voice.meter is not None else Fraction(4)
    for number in range(count):
        if number:
            voice.close_bar(cursor.line, plain=True)
        _strike(voice, cursor, [], bar_q, [], gap=match[1] == "X")


def _strike(
    voice: Voice, cursor: Cursor, pitches: list[Pitch], length_q: Fraction, tied: list[bool], *, gap: bool = False
) -> None:
    """A note, chord or rest, with what was typed before it."""
    if length_q > MAX_DURATION_Q:
        raise cursor.error("a note longer than any bar", "correct its length")
    back = [(pitch.step, pitch.octave) in voice.tied for pitch in pitches]
    pending, voice.pending = voice.pending, Pending()
    item = Struck(
        tuple(pitches),
        length_q * voice.broken,
        cursor.line,
        _in_tuplet(voice),
        list(zip(tied, back, strict=True)),
        tuple(pending.ornaments),
        frozenset(pending.articulations),
        frozenset(pending.pauses),
        pending.fermata,
        gap,
    )
    voice.broken = Fraction(1)
    voice.tied = {(p.step, p.octave): p.alter for p, on in zip(pitches, tied, strict=True) if on}
    voice.open_slurs += [item] * pending.slurs
    voice.add(item)
    voice.length_q += item.length_q * item.ratio
    if voice.length_q > MAX_DURATION_Q:
        raise cursor.error("a bar of more than 10,000 quarter notes", "write barlines: |")
    if pitches:
        voice.sing(item, cursor.line)


def _in_tuplet(voice: Voice) -> Fraction:
    if voice.tuplet is None:
        return Fraction(1)
    ratio, left = voice.tuplet
    voice.tuplet = (ratio, left - 1) if left > 1 else None
    return ratio


def _chord(voice: Voice, cursor: Cursor) -> bool:
    if is_barline(cursor):
        return False
    start = cursor.at
    cursor.at += 1
    pitches, tied, length = _inside_chord(voice, cursor, start)
    match = _LENGTH.match(cursor.text, cursor.at)
    assert match is not None
    length *= _length(cursor, *match.groups())
    cursor.at = match.end()
    if cursor.starts(("-", ".-")):
        cursor.at += 2 if cursor.starts(".") else 1
        tied = [True] * len(tied)
    _strike(voice, cursor, pitches, length * voice.unit_q, tied)
    return True


def _inside_chord(voice: Voice, cursor: Cursor, start: int) -> tuple[list[Pitch], list[bool], Fraction]:
    pitches: list[Pitch] = []
    tied: list[bool] = []
    length = Fraction(1)
    while not cursor.done and not cursor.starts("]"):
        match = _NOTE.match(cursor.text, cursor.at)
        if match is not None:
            if not pitches:
                length = _length(cursor, match[4], match[5], match[6])
            pitches.append(_pitch(voice, cursor, match))
            tied.append(bool(match[7]))
            cursor.at = match.end()
        elif cursor.sign == " ":
            cursor.at += 1
        elif (rest := _REST.match(cursor.text, cursor.at)) is not None:
            voice.part.notice(cursor.place(), "a rest inside a chord says nothing: left out")
            cursor.at = rest.end()
        elif not (named(voice, cursor) or quoted(voice, cursor) or letter(voice, cursor)):
            sign = cursor.sign
            raise cursor.error(f"{sign!r} means nothing in a chord", "a chord is [ and ] around letters: [CEG]2")
    if cursor.done:
        raise cursor.error("a chord opened by [ is not closed", "write ] after its last note: [CEG]", start)
    if not pitches or len(pitches) > MAX_CHORD:
        raise cursor.error("a chord of no notes, or of more than there are keys", "write letters in it: [CEG]", start)
    cursor.at += 1
    return pitches, tied, length


# small notes


def _small_notes(voice: Voice, cursor: Cursor) -> bool:
    start = cursor.at
    cursor.at += 1
    slash = cursor.starts("/")
    cursor.at += slash
    outer, voice.pending = voice.pending, Pending(slurs=voice.pending.slurs)
    outer.slurs = 0
    found: list[Small] = []
    while not cursor.done and not cursor.starts("}"):
        _inside_small(voice, cursor, found, slash=slash)
    if cursor.done:
        raise cursor.error("small notes opened by { are not closed", "write } after the last of them: {cd}", start)
    if not found:
        raise cursor.error("{} holds no small note", "write its letter: {c}", start)
    cursor.at += 1
    outer.slurs += voice.pending.slurs
    voice.pending = outer
    return True


def _inside_small(voice: Voice, cursor: Cursor, found: list[Small], *, slash: bool) -> None:
    sign = cursor.sign
    match = _NOTE.match(cursor.text, cursor.at)
    if match is not None:
        length_q = _length(cursor, match[4], match[5], match[6]) * voice.unit_q
        _put_small(voice, cursor, (_pitch(voice, cursor, match),), length_q, found, slash=slash, tied=bool(match[7]))
        cursor.at = match.end()
    elif sign == "[":
        start = cursor.at
        cursor.at += 1
        pitches, tied, length = _inside_chord(voice, cursor, start)
        _put_small(voice, cursor, tuple(pitches), length * voice.unit_q, found, slash=slash, tied=any(tied))
    elif sign in " `":
        cursor.at += 1
    elif sign == "(":
        voice.pending.slurs += 1
        cursor.at += 1
    elif sign == ")":
        _close_slur(voice, cursor, found[-1] if found else None)
        cursor.at += 1
    elif sign in "<>" and found:
        cursor.at += 1  # how the time of small notes is shared is for the style to say
    elif not (named(voice, cursor) or letter(voice, cursor)):
        raise cursor.error(f"{sign!r} means nothing among small notes", "write letters between { and }: {cd}")


def _put_small(
    voice: Voice,
    cursor: Cursor,
    pitches: tuple[Pitch, ...],
    length_q: Fraction,
    found: list[Small],
    *,
    slash: bool,
    tied: bool,
) -> None:
    pending, voice.pending = voice.pending, Pending()
    small = Small(
        pitches,
        length_q,
        slash,
        cursor.line,
        tuple(pending.ornaments),
        frozenset(pending.articulations),
        tied,
    )
    voice.open_slurs += [small] * pending.slurs
    voice.add(small)
    found.append(small)


# between the notes


def _tuplet_or_slur(voice: Voice, cursor: Cursor) -> bool:
    match = _TUPLET.match(cursor.text, cursor.at)
    if match is None:
        voice.pending.slurs += 1
        if voice.pending.slurs + len(voice.open_slurs) > MAX_SLURS:
            raise cursor.error(f"more than {MAX_SLURS} slurs open at once", "close them with )")
        cursor.at += 1
        return True
    count = int(match[1])
    usual = _IN_THE_TIME_OF.get(count, 3 if voice.meter is not None and voice.meter.compound else 2)
    time, notes = int(match[2] or usual), int(match[3] or count)
    if not (count and time and notes):
        raise cursor.error(f"{match[0]!r} is no tuplet", "three notes in the time of two are (3abc")
    voice.tuplet = Fraction(time, count), notes
    cursor.at = match.end()
    return True


def _slur_end(voice: Voice, cursor: Cursor) -> bool:
    _close_slur(voice, cursor, voice.last_note)
    cursor.at += 1
    return True


def _close_slur(voice: Voice, cursor: Cursor, end: Small | Struck | None) -> None:
    if not voice.open_slurs or end is None:
        voice.part.notice(cursor.place(), f"a slur ends that never began ({meant(')')}): left out")
    else:
        voice.slurs.append((voice.open_slurs.pop(), end))


def _broken(voice: Voice, cursor: Cursor) -> bool:
    match = _BROKEN.match(cursor.text, cursor.at)
    before = voice.last
    if match is None or before is None:
        return False
    longer, shorter = 2 - Fraction(1, 2 ** len(match[0])), Fraction(1, 2 ** len(match[0]))
    first, second = (longer, shorter) if match[0][0] == ">" else (shorter, longer)
    before.length_q *= first
    voice.broken = second
    cursor.at = match.end()
    return True


def _tie(voice: Voice, cursor: Cursor) -> bool:
    """A tie apart from its note: after a blank, or after a slur's end."""
    before, small = voice.last, voice.last_note
    if isinstance(small, Small):
        small.tied = True
        cursor.at += 1
        return True
    if before is None or not before.pitches:
        return False
    before.ties = [(True, back) for _, back in before.ties]
    voice.tied = {(pitch.step, pitch.octave): pitch.alter for pitch in before.pitches}
    cursor.at += 1
    return True


def _overlay(voice: Voice, cursor: Cursor) -> bool:
    voice.overlay()
    voice.tied, voice.tuplet, voice.broken = {}, None, Fraction(1)
    cursor.at += 1
    return True


def _nothing(voice: Voice, cursor: Cursor) -> bool:
    """Blanks, and what only says how the line is to look."""
    del voice
    match = _LOOKS.match(cursor.text, cursor.at)
    assert match is not None
    cursor.at = match.end()
    return True


_Handler = Callable[[Voice, Cursor], bool]
_HANDLERS: dict[str, tuple[_Handler, ...]] = {
    **dict.fromkeys("ABCDEFGabcdefg^_=", (_note,)),
    **dict.fromkeys("zxZX", (_rest,)),
    **dict.fromkeys(" \t`\\$*;?@y", (_nothing,)),
    **dict.fromkeys("<>", (_broken,)),
    "[": (ending, barline, _chord),
    "|": (barline,),
    ":": (barline,),
    ".": (barline,),
    "{": (_small_notes,),
    **dict.fromkeys("123456789", (ending_of_a_line,)),
    "(": (_tuplet_or_slur,),
    ")": (_slur_end,),
    "-": (_tie,),
    "&": (_overlay,),
    '"': (quoted,),
    "!": (named,),
    "+": (named,),
}
