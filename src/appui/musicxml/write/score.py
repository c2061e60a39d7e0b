"""A whole score as a MusicXML tree, so that what is read from other notations can be printed, engraved and handed on.

Read again, the tree gives the same score: the same parts, bars, voices, notes, small notes, signs, dynamics and tempos.
The notes of a part stand in the order of their numbers (`Event.ordinal`). What the model does not keep is chosen: clefs
by how high a staff lies, beams by beats, accidentals where they are needed.
"""

from __future__ import annotations

import re
from bisect import bisect_left
from collections.abc import Callable, Iterator, Sequence
from math import lcm
from typing import NamedTuple

from appui.errors import ScoreError
from appui.exact import Fraction
from appui.musicxml.element import Element
from appui.musicxml.read.numbers import MAX_DIVISIONS
from appui.musicxml.write import direction
from appui.musicxml.write.accidentals import print_accidentals
from appui.musicxml.write.bar import edges, new_barline, set_clefs, set_key, set_meter, set_transposition
from appui.musicxml.write.beams import beam_bar
from appui.musicxml.write.build import add, decimal_text, needed, new, put
from appui.musicxml.write.chords import chord_symbol, figured_bass
from appui.musicxml.write.head import Player, list_part, new_score
from appui.musicxml.write.hung import CHORDAL, beam_small, hang_ornaments, hang_strokes, slur_ends, tuplet_ends
from appui.musicxml.write.note import Look, forward, new_note, notations_of, small_note
from appui.score.model import Bar, Event, Key, Note, Part, Score, SmallNote, TempoMark
from appui.score.road_words import road_word
from appui.score.tempo_words import tempo_word

__all__ = ["score_tree"]

_NAME = re.compile(r"[A-Za-z_][\w.-]*")
_MIDDLE = 60  # staves that lie below middle C have a bass clef
_OWN_SLUR = "16"  # of small notes to their note, apart from the slurs of the voices
_Put = Callable[[], Element]


def score_tree(score: Score) -> Element:
    """The score as the root of a partwise MusicXML 4.0 tree.

    Raises `ScoreError` where a part's lengths need more divisions than a reader would take.
    """
    composer = next((text for kind, text in score.creators if kind == "composer"), "")
    root = new_score(score.title, composer)
    ids = [part.id for part in score.parts]
    for part in score.parts:
        own = part.id if _NAME.fullmatch(part.id) and ids.count(part.id) == 1 else f"P{part.index + 1}"
        program = -1 if part.program is None else part.program
        player = Player(part.name, "", part.instrument, part.channel or 1, program + 1)
        node = list_part(root, own, player)
        _also_listed(root, part)
        _PartWriter(score, part, node).write()
    return root


def _also_listed(root: Element, part: Part) -> None:
    listed = needed(root, "part-list")[-1]
    if part.program is None and part.instrument:
        instrument = put(listed, new("score-instrument", id=f"{listed.get('id')}-I1"))
        add(instrument, "instrument-name", part.name)
        add(instrument, "instrument-sound", part.instrument)
    midi = listed.find("midi-instrument")
    if midi is not None and part.volume_percent is not None:
        put(midi, new("volume", decimal_text(part.volume_percent)))


class _Placed(NamedTuple):
    """Something between the notes: when, and what makes it."""

    onset_q: Fraction
    make: _Put


class _Wish(NamedTuple):
    """An event with the name of its voice, and which slurs and tuplets begin and end on it."""

    event: Event
    voice: str
    number: str
    slur_start: bool
    slur_stop: bool
    tuplet_start: bool
    tuplet_stop: bool


class _PartWriter:
    """Writes one part."""

    def __init__(self, score: Score, part: Part, node: Element) -> None:
        self.score, self.part, self.node = score, part, node
        self.divisions = _divisions(score, part)
        self.wishes = _by_bar(part)
        self.marks = sorted(self._marks(), key=lambda placed: placed.onset_q)
        self.onsets = [mark.onset_q for mark in self.marks]

    def write(self) -> None:
        """All bars."""
        for index, number in enumerate(self.part.bar_numbers):
            bar = self.score.bars[index]
            measure = add(self.node, "measure", number=number, implicit="yes" if bar.implicit else None)
            self._measure(measure, bar)

    def _units(self, length_q: Fraction) -> int:
        return int(length_q * self.divisions)

    def _measure(self, measure: Element, bar: Bar) -> None:
        bars = self.score.bars
        before, after = bars[bar.index - 1] if bar.index else None, next(iter(bars[bar.index + 1 :]), None)
        left, right = edges(before, bar, after)
        if left is not None:
            measure.append(left)
        self._attributes(measure, before, bar)
        measure.extend([direction.jump(each) for each in bar.jumps if not direction.at_end(each)])
        at_q = self._notes(measure, bar)
        if self.part.index == 0 and at_q < bar.length_q:
            forward(measure, self._units(bar.length_q - at_q))
        measure.extend([direction.jump(each) for each in bar.jumps if direction.at_end(each)])
        self._close(measure, bar, right)
        key = self.part.key_at(bar.onset_q)
        print_accidentals(measure, self.divisions, key, set(measure.iterfind("note")))
        voices = {wish.voice for wish in self.wishes.get(bar.index, ())}
        beam_bar(measure, bar, self.divisions, voices)

    def _close(self, measure: Element, bar: Bar, right: Element | None) -> None:
        if bar.fermata_at_end:
            right = right if right is not None else new_barline("right")
            put(right, new("fermata"))
        if right is not None:
            measure.append(right)

    def _attributes(self, measure: Element, before: Bar | None, bar: Bar) -> None:
        node = new("attributes")
        if before is None:
            put(node, new("divisions", self.divisions))
            set_clefs(node, [self._clef(staff) for staff in range(1, self.part.staves + 1)])
        keys = [key for key in self.part.keys if key.onset_q == bar.onset_q]
        if keys:
            _key(node, keys[-1])
        if before is None or before.meter != bar.meter:
            set_meter(node, bar.meter.beats, bar.meter.beat_type, bar.meter.symbol)
        for onset_q, transposition in self.part.transpositions:
            if onset_q == bar.onset_q:
                set_transposition(node, transposition)
        if len(node):
            measure.append(node)

    def _clef(self, staff: int) -> tuple[str, int]:
        heights = sorted(
            note.written.midi
            for voice in self.part.voices
            for event in voice.events
            for note in event.notes
            if note.staff == staff
        )
        if "viola" in self.part.name.lower() or "bratsche" in self.part.name.lower():
            return "C", 3
        low = heights[len(heights) // 2] < _MIDDLE if heights else staff > 1
        return ("F", 4) if low else ("G", 2)

    # notes

    def _notes(self, measure: Element, bar: Bar) -> Fraction:
        """The notes of a bar in the order of their numbers; returns how far they reach."""
        at_q = reached_q = Fraction(0)
        marks = self._marks_of(bar)
        for wish in self.wishes.get(bar.index, ()):
            event = wish.event
            start_q = event.onset_q - bar.onset_q
            self._move(measure, at_q, start_q)
            while marks and marks[0].onset_q <= event.onset_q:
                self._move(measure, start_q, marks[0].onset_q - bar.onset_q)
                self._move(measure, marks[0].onset_q - bar.onset_q, start_q, marks.pop(0).make())
            measure.extend(self._event(wish))
            at_q = start_q + event.duration_q
            reached_q = max(reached_q, at_q)
        for mark in marks:
            self._move(measure, at_q, mark.onset_q - bar.onset_q)
            measure.append(mark.make())
            at_q = mark.onset_q - bar.onset_q
        self._move(measure, at_q, reached_q)
        return reached_q

    def _marks_of(self, bar: Bar) -> list[_Placed]:
        last = bar.index + 1 == len(self.part.bar_numbers)
        end = len(self.marks) if last else bisect_left(self.onsets, bar.onset_q + bar.length_q)
        return self.marks[bisect_left(self.onsets, bar.onset_q) : end]

    def _move(self, measure: Element, here_q: Fraction, there_q: Fraction, found: Element | None = None) -> None:
        """Put something where the cursor is, and move on or back."""
        if found is not None:
            measure.append(found)
        forward(measure, self._units(abs(there_q - here_q)), "backup" if there_q < here_q else "forward")

    def _event(self, wish: _Wish) -> Iterator[Element]:
        event = wish.event
        yield from self._small(event.small_before, wish, before=True)
        notes: Sequence[Note | None] = event.notes or (None,)
        for place, note in enumerate(notes):
            yield self._note(wish, note, place)
        yield from self._small(event.small_after, wish, before=False)

    def _note(self, wish: _Wish, note: Note | None, place: int) -> Element:
        event = wish.event
        node = new_note(
            note.written if note else None,
            self._units(event.duration_q),
            _look(event),
            chord=place > 0,
            ties=["stop"] * note.tied_back + ["start"] * note.tied_on if note else (),
            voice=wish.voice,
            staff=(note.staff if note else 1) if self.part.staves > 1 else None,
        )
        if note is not None:
            self._sides(node, note)
            hang_ornaments(node, note.ornaments)
            chordal = [each for each in event.notes[0].ornaments if each.kind in CHORDAL and each not in note.ornaments]
            hang_ornaments(node, chordal)
        if place == 0:
            _slurs_and_tuplets(node, wish)
            hang_strokes(node, event.articulations, event.pauses, event.fermata)
        return node

    def _sides(self, node: Element, note: Note) -> None:
        """What a note has that few have."""
        if note.hidden:
            node.set("print-object", "no")
        if note.cue:
            put(node, new("cue"))
        if note.dynamics_percent is not None:
            node.set("dynamics", decimal_text(note.dynamics_percent))
        for name, value_q in (("attack", note.attack_q), ("release", note.release_q)):
            if value_q:
                node.set(name, decimal_text(value_q * self.divisions))
        if note.unpitched:
            node.remove(needed(node, "pitch"))
            unpitched = put(node, new("unpitched"))
            add(unpitched, "display-step", note.written.step)
            add(unpitched, "display-octave", note.written.octave)

    def _small(self, group: Sequence[SmallNote], wish: _Wish, *, before: bool) -> Iterator[Element]:
        made: list[list[Element]] = [[] for _ in group]
        for small, notes in zip(group, made, strict=True):
            look = Look(small.type_name or "", _small_dots(small))
            for place, pitch in enumerate(small.written):
                node = small_note(pitch, look, slash=bool(small.slash), voice=wish.voice)
                self._small_sides(node, small, place)
                notes.append(node)
        beam_small([notes[0] for notes in made], group)
        _own_slurs([notes[0] for notes in made], group, wish, before=before)
        for notes in made:
            yield from notes

    def _small_sides(self, node: Element, small: SmallNote, place: int) -> None:
        _set_grace(needed(node, "grace"), small, self.divisions)
        if small.hidden:
            node.set("print-object", "no")
        if small.cue:
            put(node, new("cue"))
        if self.part.staves > 1:
            put(node, new("staff", small.staff))
        if place:
            put(node, new("chord"))
            return
        if small.tied_on:
            put(node, new("tie", type="start"))
        hang_ornaments(node, small.ornaments)
        hang_strokes(node, small.articulations)

    # what stands between the notes

    def _marks(self) -> Iterator[_Placed]:
        part = self.part
        first = {bar.onset_q for bar in self.score.bars}
        for key in part.keys:
            if key.onset_q not in first:
                yield _Placed(key.onset_q, lambda key=key: _key(new("attributes"), key))  # type: ignore[misc]
        for symbol in part.chord_symbols:
            yield _Placed(
                symbol.onset_q,
                lambda each=symbol: chord_symbol(each.root, each.kind, each.text, each.bass, each.degrees),  # type: ignore[misc]
            )
        for figures in part.figures:
            yield _Placed(
                figures.onset_q,
                lambda each=figures: figured_bass(each.figures, self._units(each.duration_q)),  # type: ignore[misc]
            )
        for mark in part.dynamics:
            yield _Placed(mark.onset_q, lambda each=mark: _dynamic(each.mark, each.percent, each.staff))  # type: ignore[misc]
        yield from self._words()
        yield from self._hairpins()
        if part.index == 0:
            for tempo in self.score.tempos:
                if tempo.origin != "assumed" or tempo.words:
                    yield _Placed(tempo.onset_q, lambda each=tempo: _tempo(each))  # type: ignore[misc]

    def _words(self) -> Iterator[_Placed]:
        """Words that neither a tempo nor a leap is written with."""
        tempos = {(tempo.onset_q, tempo.words) for tempo in self.score.tempos if self.part.index == 0}
        for said in self.part.words:
            own = not tempo_word(said.text) and road_word(said.text) is None
            if said.text and own and (said.onset_q, said.text) not in tempos:
                yield _Placed(said.onset_q, lambda each=said: direction.words(each.text, "above"))  # type: ignore[misc]

    def _hairpins(self) -> Iterator[_Placed]:
        open_until: dict[int, Fraction] = {}
        for hairpin in self.part.hairpins:
            number = next(n for n in range(1, 1000) if open_until.get(n, hairpin.onset_q) <= hairpin.onset_q)
            open_until[number] = hairpin.end_q
            staff = hairpin.staff
            # the end stands first, so that one that begins there may have the same number
            yield _Placed(hairpin.end_q, lambda n=number, s=staff: _wedge("stop", n, s))  # type: ignore[misc]
            yield _Placed(hairpin.onset_q, lambda n=number, s=staff, k=hairpin.kind: _wedge(k, n, s))  # type: ignore[misc]


def _divisions(score: Score, part: Part) -> int:
    """How many parts a quarter note has, so that all lengths and places of the part are whole."""
    bars = [bar.onset_q for bar in score.bars] + [bar.length_q for bar in score.bars]
    moments = {value for voice in part.voices for event in voice.events for value in (event.onset_q, event.duration_q)}
    moments.update(bars)
    for group in (part.keys, part.chord_symbols, part.figures, part.dynamics, part.hairpins, score.tempos):
        moments.update(each.onset_q for each in group)
    moments.update(hairpin.end_q for hairpin in part.hairpins)
    moments.update(figures.duration_q for figures in part.figures)
    found = lcm(*(moment.denominator for moment in moments))
    if found > MAX_DIVISIONS:
        raise ScoreError(
            score.file, f"needs {found:,} divisions of a quarter note as MusicXML", "correct its note values"
        )
    return found


def _by_bar(part: Part) -> dict[int, list[_Wish]]:
    """The events of each bar in the order of their numbers."""
    found: dict[int, list[_Wish]] = {}
    for index, voice in enumerate(part.voices):
        slurs, tuplets = slur_ends(voice.events), tuplet_ends(voice.events)
        number = str(index % 15 + 1)
        for place, event in enumerate(voice.events):
            found.setdefault(event.bar, []).append(
                _Wish(
                    event,
                    voice.name,
                    number,
                    place in slurs[0],
                    place in slurs[1],
                    place in tuplets[0],
                    place in tuplets[1],
                )
            )
    for wishes in found.values():
        wishes.sort(key=lambda wish: wish.event.ordinal)
    return found


def _look(event: Event) -> Look:
    tuplet = (event.tuplet.denominator, event.tuplet.numerator) if event.tuplet != 1 else None
    return Look(event.type_name or "", event.dots, tuplet)


def _small_dots(small: SmallNote) -> int:
    from appui.musicxml.read.note import NOTE_VALUES

    base = NOTE_VALUES.get(small.type_name or "")
    if base is None or small.value_q is None:
        return 0
    return next((dots for dots in range(4) if base * (2 - Fraction(1, 2**dots)) == small.value_q), 0)


def _set_grace(grace: Element, small: SmallNote, divisions: int) -> None:
    """The stroke of a small note as printed, and the time it takes where the file says so."""
    grace.attrib.clear()
    times = (
        ("slash", None if small.slash is None else "yes" if small.slash else "no"),
        ("steal-time-previous", small.steal_previous),
        ("steal-time-following", small.steal_following),
        ("make-time", None if small.make_time_q is None else small.make_time_q * divisions),
    )
    for name, value in times:
        if value is not None:
            grace.set(name, value if isinstance(value, str) else decimal_text(value))


def _slurs_and_tuplets(node: Element, wish: _Wish) -> None:
    event = wish.event
    ends = (
        (wish.slur_stop and not _ends_on_small(wish), "slur", "stop", wish.number),
        (wish.slur_start and not _begins_on_small(wish), "slur", "start", wish.number),
        (_reaches_the_note(event.small_before), "slur", "stop", _OWN_SLUR),
        (_comes_from_the_note(event.small_after), "slur", "start", _OWN_SLUR),
        (wish.tuplet_start, "tuplet", "start", None),
        (wish.tuplet_stop, "tuplet", "stop", None),
    )
    for there, tag, kind, number in ends:
        if there:
            add(notations_of(node), tag, type=kind, number=number)


def _ends_on_small(wish: _Wish) -> bool:
    """Whether the slur from an earlier note ends on a small note before the event, not on the event itself."""
    return wish.slur_stop and _comes_from_the_note(wish.event.small_before)


def _begins_on_small(wish: _Wish) -> bool:
    """Whether the slur to a later note begins on a small note after the event."""
    return wish.slur_start and _reaches_the_note(wish.event.small_after)


def _reaches_the_note(group: Sequence[SmallNote]) -> bool:
    """Whether a slur of a group of small notes ends on the note after them."""
    is_open = False
    for small in group:
        is_open = (is_open and not small.slur_stop) or small.slur_start
    return is_open


def _comes_from_the_note(group: Sequence[SmallNote]) -> bool:
    """Whether a slur that ends in a group of small notes begins on the note before them."""
    is_open = False
    for small in group:
        if small.slur_stop and not is_open:
            return True
        is_open = small.slur_start or (is_open and not small.slur_stop)
    return False


def _own_slurs(notes: Sequence[Element], group: Sequence[SmallNote], wish: _Wish, *, before: bool) -> None:
    """The slurs of small notes: to their own note, and those from or to other notes that end or begin on them."""
    from_outside = _ends_on_small(wish) if before else _comes_from_the_note(group)
    open_number = (wish.number if before else _OWN_SLUR) if from_outside else ""
    last = max((place for place, small in enumerate(group) if small.slur_start), default=-1)
    for place, (note, small) in enumerate(zip(notes, group, strict=True)):
        if small.slur_stop and open_number:
            add(notations_of(note), "slur", type="stop", number=open_number)
            open_number = ""
        if small.slur_start and not open_number:
            leaves = not before and place == last and _reaches_the_note(group)
            if leaves and not wish.slur_start:
                continue  # it leads to nothing in this voice
            open_number = wish.number if leaves else _OWN_SLUR
            add(notations_of(note), "slur", type="start", number=open_number)


def _key(attributes: Element, key: Key) -> Element:
    if not key.altered:
        set_key(attributes, key)
        return attributes
    node = put(attributes, new("key"))
    for letter, alter in key.altered:
        add(node, "key-step", letter)
        add(node, "key-alter", alter)
    return attributes


_MARKS = frozenset(
    "p pp ppp pppp ppppp pppppp f ff fff ffff fffff ffffff mp mf sf sfp sfpp fp rf rfz sfz sffz fz n pf sfzp".split()
)


def _dynamic(mark: str, percent: Fraction | None, staff: int | None) -> Element:
    node = direction.dynamics(mark) if mark in _MARKS else direction.new_direction("below")
    if mark not in _MARKS:
        add(direction.kind(node, "dynamics"), "other-dynamics", mark)
    if percent is not None:
        put(node, new("sound", dynamics=decimal_text(percent)))
    return _on_staff(node, staff)


def _wedge(kind: str, number: int, staff: int | None) -> Element:
    node = direction.hairpin(kind)
    needed(node, "direction-type/wedge").set("number", str(number))
    return _on_staff(node, staff)


def _on_staff(node: Element, staff: int | None) -> Element:
    if staff is not None:
        put(node, new("staff", staff))
    return node


def _tempo(mark: TempoMark) -> Element:
    if mark.origin == "sound":
        return direction.tempo(mark.qpm, mark.words)
    node = direction.words(mark.words, "above") if mark.words else direction.new_direction("above")
    if mark.origin == "metronome":
        direction.metronome(node, "quarter", 0, mark.qpm)
    return node
