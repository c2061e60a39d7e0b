"""An ABC tune: its lines, its fields, its voices."""

from __future__ import annotations

import re

from appui.abc.fields import Clef, Signature, parse_key, parse_meter, parse_tempo, parse_unit, parse_voice
from appui.abc.items import Mark
from appui.abc.lyrics import put_lyrics
from appui.abc.music import read_music
from appui.abc.place import Cursor
from appui.abc.voice import Voice
from appui.errors import ScoreError
from appui.exact import Fraction
from appui.score.assemble import MAX_PARTS, too_many_parts
from appui.score.model import Meter
from appui.score.raw import RawTempo
from appui.score.tempo_words import tempo_word

__all__ = ["Tune"]

SOLO = "Solo"
_FIELD = re.compile(r"([A-Za-z]):(.*)", re.DOTALL)
#  fields that may stand between lines of music; a line of other letters and a colon is music
_IN_MUSIC = frozenset("IKLMmNPQRrsTUVWw")
_USER = re.compile(r"\s*([h-wH-W~])\s*=\s*(\S.*?)\s*")
_SHORT = Fraction(3, 4)


class Tune:
    """What is in force before a voice begins, and the voices so far."""

    def __init__(self, file: str) -> None:
        self.file = file
        self.titles: list[str] = []
        self.composers: list[str] = []
        self.voices: dict[str, Voice] = {}
        self.symbols: dict[str, str] = {}
        self.began = False
        self._unit_q: Fraction | None = None
        self._meter: Meter | None = Meter(4, 4)
        self._signature = Signature(0)
        self._clef: Clef | None = None
        self._tempo: tuple[str, Cursor] | None = None
        self._by_octave = False
        self._voice: Voice | None = None

    @property
    def unit_q(self) -> Fraction:
        """The unit length: as said, else a sixteenth in meters shorter than three quarters, else an eighth."""
        if self._unit_q is not None:
            return self._unit_q
        short = self._meter is not None and self._meter.bar_q / 4 < _SHORT
        return Fraction(1, 4) if short else Fraction(1, 2)

    def line(self, cursor: Cursor) -> None:
        """One line of the file, without its comment."""
        match = _FIELD.match(cursor.text)
        if match is not None and (not self.began or match[1] in _IN_MUSIC):
            cursor.at = 2
            self._line_field(match[1], match[2].strip(), cursor)
        elif not self.began:
            self._before_the_key(cursor)
        else:
            read_music(self._current(), cursor, self.symbols, self.field)

    def _before_the_key(self, cursor: Cursor) -> None:
        raise cursor.error("music stands before the line K:, which ends the head", "write the key above it, as K:G")

    def _line_field(self, letter: str, text: str, cursor: Cursor) -> None:
        if not self.began:
            self._head(letter, text, cursor)
        elif letter == "w":
            voice = self._current()
            voice.sung += put_lyrics(text, voice.line_notes)
        else:
            self._voice = self.field(self._current(), letter, text, cursor)

    # fields

    def _head(self, letter: str, text: str, cursor: Cursor) -> None:
        if letter == "T":
            self.titles.append(text)
        elif letter == "C":
            self.composers.append(text)
        elif letter == "M":
            self._meter = parse_meter(cursor, text)
        elif letter == "L":
            self._unit_q = parse_unit(cursor, text)
        elif letter == "Q":
            self._tempo = text, cursor
        elif letter == "V":
            self._open(parse_voice(cursor, text).id, text, cursor)
        elif letter == "U":
            self._user(text, cursor)
        elif letter == "K":
            signature, self._clef = parse_key(cursor, text)
            self._signature = signature or Signature(0)
            self._begin()

    def _begin(self) -> None:
        self.began = True
        for voice in self.voices.values():
            self._ready(voice)
        self._voice = None

    def _ready(self, voice: Voice) -> None:
        voice.unit_q, voice.meter, voice.signature = self.unit_q, self._meter, self._signature
        voice.by_octave = self._by_octave
        if self._clef is not None and voice.clef == Clef():
            voice.retune(self._clef)

    def field(self, voice: Voice, letter: str, text: str, cursor: Cursor) -> Voice:
        """A field among the music; returns the voice that goes on."""
        text = text.strip()
        if letter == "V":
            return self._open(parse_voice(cursor, text).id, text, cursor)
        if letter == "K":
            self._key(voice, text, cursor)
        elif letter == "M":
            voice.meter = parse_meter(cursor, text)
        elif letter == "L":
            voice.unit_q = parse_unit(cursor, text)
        elif letter == "Q":
            self._put_tempo(voice, text, cursor)
        elif letter == "U":
            self._user(text, cursor)
        elif letter in "sm":
            voice.part.notice(cursor.place(0), f"a line {letter}: is not read")
        elif letter == "P" and self.began:
            voice.part.notice(cursor.place(0), "the names of parts (P:) are not read: bars are played as printed")
        return voice

    def _key(self, voice: Voice, text: str, cursor: Cursor) -> None:
        signature, clef = parse_key(cursor, text)
        if clef is not None:
            voice.retune(clef)
        if signature is not None:
            voice.signature = signature
            voice.add(
                Mark(
                    lambda bar, at_q: voice.part.keys.append(
                        (bar, at_q, signature.fifths, signature.mode, signature.altered)
                    )
                )
            )

    def _put_tempo(self, voice: Voice, text: str, cursor: Cursor) -> None:
        tempo = parse_tempo(cursor, text, voice.unit_q)

        def put(bar: int, at_q: Fraction) -> None:
            if tempo.qpm is not None:
                voice.part.tempos.append(RawTempo(bar, at_q, tempo.qpm, 1, tempo.words))
            elif tempo_word(tempo.words):
                voice.part.tempos.append(RawTempo(bar, at_q, None, 2, tempo.words))

        voice.add(Mark(put))

    def _user(self, text: str, cursor: Cursor) -> None:
        match = _USER.fullmatch(text)
        if match is None:
            raise cursor.error(f"U:{text[:20]} gives no letter a meaning", "write it as U: n = !mordent!")
        self.symbols[match[1]] = match[2]

    def directive(self, text: str) -> None:
        """A line that begins with ``%%`` or ``I:``: how far an accidental reaches is all that matters here."""
        words = text.split()
        if words[:1] == ["propagate-accidentals"] and len(words) > 1:
            self._by_octave = words[1] == "octave"

    # voices

    def _open(self, name: str, text: str, cursor: Cursor) -> Voice:
        said = parse_voice(cursor, text)
        voice = self.voices.get(name)
        if voice is None:
            if len(self.voices) >= MAX_PARTS:
                raise too_many_parts(self.file, len(self.voices) + 1)
            voice = self.voices[name] = Voice(_name(name), self.unit_q, self._meter, self._signature)
            self._ready(voice)
        if said.name:
            voice.part.name = said.name
        if said.clef is not None:
            voice.retune(said.clef)
        self._voice = voice
        return voice

    def _current(self) -> Voice:
        """The voice that is being read: the one named last, the first one, or the only one there is."""
        if self._voice is None:
            self._voice = next(iter(self.voices.values()), None)
        if self._voice is None:
            self._voice = self.voices[""] = Voice(SOLO, self.unit_q, self._meter, self._signature)
            self._ready(self._voice)
        return self._voice

    def finish(self) -> list[Voice]:
        """Close the last bars; returns the voices that have any. Raises `ScoreError` where there is no music."""
        if not self.began:
            raise ScoreError(
                self.file, "has no line K:, which ends the head of a piece in ABC", "write the key, as K:G"
            )
        voices = [voice for voice in self.voices.values() if voice.has_notes or voice.part.bars]
        for voice in voices:
            if voice.has_notes:
                voice.close_bar(0, plain=False)
            voice.end_ending()
        if voices and self._tempo is not None:
            self._first_tempo(voices[0])
        return voices

    def _first_tempo(self, voice: Voice) -> None:
        assert self._tempo is not None
        tempo = parse_tempo(self._tempo[1], self._tempo[0], self.unit_q)
        if tempo.qpm is not None or tempo_word(tempo.words):
            voice.part.tempos.insert(0, RawTempo(0, Fraction(0), tempo.qpm, 1 if tempo.qpm else 2, tempo.words))

    @property
    def signature(self) -> Signature:
        """The key of the head."""
        return self._signature


def _name(voice_id: str) -> str:
    """A voice without a name goes by its id, where that is a word."""
    return f"Part {voice_id}" if voice_id.isdigit() else voice_id
