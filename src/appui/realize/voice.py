"""Realizing a voice: its events in the order they are played, and at each the signs in their order.

The order of work keeps the laws:
1. what comes before a beat (passing graces, the printed end of a trill) is measured first, and given at most half of
   the note or rest before it; the note before loses exactly that, the main note nothing;
2. then each event divides what is left of its own time among its signs: small notes at the head, trill in the middle,
   after-notes at the tail. No realizer sees beyond that room.
So nothing is lost, nothing overlaps, the sums are exact, and no main note is moved by the one after it.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from operator import itemgetter
from types import MappingProxyType
from typing import NamedTuple

from appui.exact import Fraction
from appui.realize.after import after
from appui.realize.arpeggio import arpeggio
from appui.realize.before import before, termination
from appui.realize.chords import Together, is_small_chord, small_of_note, whole_chord
from appui.realize.contract import Before, BeforeRealizer, Cut, Realizer, Stand, Tone
from appui.realize.free import free
from appui.realize.leaning import lean
from appui.realize.mordent import mordent
from appui.realize.pause import pause
from appui.realize.quick import q_of_ms
from appui.realize.short import short
from appui.realize.slide import slide
from appui.realize.spelled import spelled
from appui.realize.tremolo import tremolo
from appui.realize.trill import trill
from appui.realize.turn import turn
from appui.realize.within import played_within
from appui.score.auxiliary import Auxiliaries
from appui.score.model import Event, Note, Score
from appui.score.pitch import Pitch
from appui.score.repeats import Occurrence
from appui.score.signs import Sign
from appui.score.words import Profile, ReadingName, Role
from appui.style.reading import Reading

__all__ = ["BEFORE", "MANNER", "REALIZERS", "Manner", "Realization", "Tempo", "realize_part"]

# one line a reading: what it is called in `appui.style.reading`, and who plays it
REALIZERS: dict[ReadingName, Realizer] = {
    "leaning": lean,
    "short": short,
    "after": after,
    "trill": trill,
    "turn": turn,
    "mordent": mordent,
    "slide": slide,
    "tremolo": tremolo,
    "arpeggio": arpeggio,
    "pause": pause,
    "embellished": free,
    "spelled out": spelled,
}
BEFORE: dict[ReadingName, BeforeRealizer] = {"before": before, "termination": termination}


#  the neighbours of a sign's main note by letter step, as sounding pitches: what the harmony says on top of the page
Neighbours = Callable[[Sign], Mapping[int, Pitch]]


class Tempo(NamedTuple):
    """The tempo sizes in milliseconds are counted at: `steps` of (printed onset, quarter notes a minute)."""

    steps: tuple[tuple[Fraction, Fraction], ...]

    def at(self, printed_q: Fraction) -> Fraction:
        """Quarter notes a minute at a printed position."""
        return self.steps[max(bisect_right(self.steps, printed_q, key=itemgetter(0)) - 1, 0)][1]


#  no note shorter than this unless a speed is asked for: a key of a flute opens in 10 to 16 ms (abstract read; the
#  30 ms are our inference)
FLOOR_MS = 30


class Manner(NamedTuple):
    """How leaning notes weigh where their reading does not say: `weight_db` over the release, and the `profile`."""

    weight_db: Fraction = Fraction(4)
    profile: Profile = "loud-soft"


MANNER = Manner()


@dataclass(slots=True)
class Realization:
    """The tones of one part, in time order, and what had to be said: (place, words)."""

    tones: list[Tone] = field(default_factory=list)
    notices: list[tuple[str, str]] = field(default_factory=list)


_NO_REACH: Mapping[int, _Slot] = MappingProxyType({})


@dataclass(slots=True)
class _Slot:
    """One event as played: where it starts and ends, and how much of its end is given away.

    `reach` names the event a trill over ties lasts to, by note; `swallowed` are notes such a trill has taken in.
    `voice` and `index` say which event of the score it is.
    """

    event: Event
    onset_q: Fraction
    signs: Sequence[Sign]
    lead_q: Fraction = Fraction(0)
    before: Before | None = None
    cut_q: Fraction = Fraction(0)
    # most events have neither: all share one empty of each, and a change makes a new one
    swallowed: frozenset[int] = frozenset()
    reach: Mapping[int, _Slot] = field(default_factory=lambda: _NO_REACH)
    voice: int = 0
    index: int = 0

    @property
    def end_q(self) -> Fraction:
        return self.onset_q + self.event.duration_q


class _Part:
    """Realizes one part."""

    def __init__(self, score: Score, part: int, readings: Mapping[str, Reading], tempo: Tempo, manner: Manner) -> None:
        self.score, self.part, self.readings = score, score.parts[part], readings
        self.tempo, self.manner = tempo, manner
        self.neighbours: Neighbours = _from_the_page
        self.auxiliaries = Auxiliaries(score)
        self.together = Together(self.part, ())
        self.out = Realization()
        #  tied notes that release a leaning note that took all of the first: place and level, by onset and pitch
        self.releases: dict[tuple[Fraction, Pitch], tuple[str, Fraction]] = {}

    def voice(self, slots: list[_Slot], lead_room_q: Fraction) -> None:
        """One voice from its slots; `lead_room_q` is how much time there is before the first."""
        previous: _Slot | None = None
        self._embellish(slots)
        for index, slot in enumerate(slots):
            if slot.signs:
                self._lead(slot, previous, lead_room_q)
                self._chain(slots, index)
            previous = slot
        for index, slot in enumerate(slots):
            following = slots[index + 1] if index + 1 < len(slots) else None
            self._event(slot, following)

    # embellishments

    def _embellish(self, slots: Sequence[_Slot]) -> None:
        """An embellishment takes in the notes it replaces, with their signs."""
        for index, slot in enumerate(slots):
            sign = next((s for s in slot.signs if self._reading(s).free is not None), None)
            found = self._reading(sign).free if sign is not None else None
            if sign is None or found is None:
                continue
            last = slot
            for later in slots[index + 1 : index + 1 + found.last - slot.index]:
                if later.onset_q != last.end_q or later.index != last.index + 1:
                    break
                later.signs = ()
                later.swallowed |= set(range(len(later.event.notes)))
                last = later
            slot.signs = (sign,)
            slot.swallowed |= {note for note in range(len(slot.event.notes)) if note != sign.note}
            if last is not slot:
                slot.reach = {**slot.reach, sign.note: last}

    # trills over ties

    def _chain(self, slots: list[_Slot], index: int) -> None:
        """A trill lasts the whole value of its note (C.P.E. Bach 1753, 2.3 §21, read), ties and all."""
        slot = slots[index]
        for sign in slot.signs:
            if sign.within is None and self._reading(sign).name == "trill" and sign.note not in slot.swallowed:
                last, note_index = slot, sign.note
                for later in slots[index + 1 :]:
                    found = _tied_to(last, note_index, later)
                    if found is None or not self._only_trilled(later, found):
                        break
                    later.swallowed |= {found}
                    self.out.notices += [
                        (other.place, "goes on with the trill its note is tied to")
                        for other in later.signs
                        if self._reading(other).name == "trill"
                    ]
                    last, note_index = later, found
                if last is not slot:
                    slot.reach = {**slot.reach, sign.note: last}

    def _only_trilled(self, slot: _Slot, note: int) -> bool:
        """Whether nothing but the trill's own signs, a fermata or after-notes stand on a note."""
        own = [sign for sign in slot.signs if sign.note == note or whole_chord(sign)]
        return all(
            self._reading(s).name in ("trill", "hold", "after", "plain") and s.kind != "small notes" for s in own
        )

    # what comes before the beat

    def _lead(self, slot: _Slot, previous: _Slot | None, lead_room_q: Fraction) -> None:
        sign = next((s for s in slot.signs if s.small and self._reading(s).name in BEFORE), None)
        if sign is None or slot.event.is_rest:
            return
        stand = self._stand(sign, slot, slot.onset_q, slot.end_q, previous=previous)
        before = BEFORE[stand.reading.name](stand)
        room_q = self._room_before(slot, previous, lead_room_q)
        slot.lead_q = min(before.wanted_q, room_q)
        if slot.lead_q <= 0:
            self.out.notices.append((sign.place, "no note before it could give it time: played short, on the beat"))
            return
        slot.before = before
        if previous is not None and previous.end_q == slot.onset_q:
            previous.cut_q = slot.lead_q

    def _room_before(self, slot: _Slot, previous: _Slot | None, lead_room_q: Fraction) -> Fraction:
        if previous is None:
            return (lead_room_q + slot.onset_q) / 2
        gap_q = slot.onset_q - previous.end_q
        if gap_q > 0:
            return gap_q / 2
        half_q = previous.event.duration_q / 2
        # after-notes of the note before stand in the same half, nearest to their own note
        return max(half_q - (previous.end_q - self._after_cut(previous).end_q), Fraction(0))

    def _after_cut(self, slot: _Slot) -> Cut:
        """What after-notes leave of an event."""
        end_q = slot.end_q - slot.cut_q
        sign = next((s for s in slot.signs if s.kind == "after-notes" and self._reading(s).name == "after"), None)
        if sign is None:
            return Cut(slot.onset_q, end_q)
        return after(self._stand(sign, slot, slot.onset_q, end_q))

    # the event itself

    def _event(self, slot: _Slot, following: _Slot | None) -> None:
        if slot.before is not None:
            self.out.tones += slot.before.fill(slot.onset_q - slot.lead_q, slot.lead_q)
        if slot.event.is_rest:
            return
        paired = (slot.voice, slot.index) in self.together.seconds
        if not slot.signs and not slot.cut_q and not slot.swallowed and not paired and not self.releases:
            self._plain(slot)
            return
        spill_q = self._spill(slot, following)
        for index, note in enumerate(slot.event.notes):
            if note.silent:
                continue
            if index in slot.swallowed:
                self.out.tones += self._after_cut(slot).tail
                continue
            last = slot.reach.get(index)
            end_q = self._after_cut(last).end_q if last is not None else slot.end_q - slot.cut_q
            self._note(slot, index, self._signs_of(slot, index), end_q, spill_q)

    def _signs_of(self, slot: _Slot, index: int) -> list[Sign]:
        """The signs of one chord note in the order they divide its time: the broken chord first."""
        own = [s for s in slot.signs if s.within is None and (s.note == index or whole_chord(s))]
        own = [part for s in own if (part := small_of_note(s, slot.event, index)) is not None]
        chords = (s for s in slot.signs if s.note != index and is_small_chord(s))
        own += [part for s in chords if (part := small_of_note(s, slot.event, index)) is not None]
        second = self.together.seconds.get((slot.voice, slot.index))
        if second is not None:
            own.append(second)
        return sorted(own, key=lambda sign: sign.kind != "arpeggio") if len(own) > 1 else own

    def _plain(self, slot: _Slot) -> None:
        event = slot.event
        self.out.tones += [
            Tone(
                slot.onset_q,
                event.duration_q,
                note.sounding,
                "plain",
                event.onset_q,
                event,
                note,
                None,
                _NOTHING,
                note.tied_on,
                note.tied_back,
            )
            for note in event.notes
            if not note.silent
        ]

    def _spill(self, slot: _Slot, following: _Slot | None) -> Fraction:
        if following is None or following.onset_q > slot.end_q or not following.event.is_rest:
            return (
                Fraction(0) if following is None or following.onset_q == slot.end_q else following.onset_q - slot.end_q
            )
        return following.event.duration_q - following.cut_q

    def _note(self, slot: _Slot, index: int, signs: Iterable[Sign], end_q: Fraction, spill_q: Fraction) -> None:
        note = slot.event.notes[index]
        room = _Room(slot.onset_q, end_q)
        if self.releases and (released := self.releases.pop((slot.onset_q, note.sounding), None)):
            room.role, (room.place, room.level_db) = "release", released
        for sign in signs:
            cut, stand = self._cut(sign, slot, room.start_q, room.end_q, spill_q, index)
            if room.role == "plain" and stand.reading.name not in ("plain", "hold"):
                room.role, room.place = "main", sign.place
            if cut is not None:
                room.take(cut, stand)
                if cut.notice:
                    self.out.notices.append((sign.place, cut.notice))
        if room.body is None and room.end_q <= room.start_q and room.role == "release" and note.tied_on and room.place:
            self.releases[slot.end_q, note.sounding] = room.place, room.level_db
        self.out.tones += _with_ties(room.filled(slot.event, note), note, slot, end_q)

    def _cut(
        self, sign: Sign, slot: _Slot, start_q: Fraction, end_q: Fraction, spill_q: Fraction, index: int
    ) -> tuple[Cut | None, Stand]:
        stand = self._stand(sign, slot, start_q, end_q, spill_q, index=index)
        name = stand.reading.name
        if name in BEFORE and sign.small and slot.before is None:
            name = "short"
            stand = replace(stand, reading=Reading("short"))
        realizer = REALIZERS.get(name)
        return (realizer(stand) if realizer and stand.room_q > 0 else None), stand

    def _stand(
        self,
        sign: Sign,
        slot: _Slot,
        start_q: Fraction,
        end_q: Fraction,
        spill_q: Fraction = Fraction(0),
        *,
        previous: _Slot | None = None,
        index: int | None = None,
    ) -> Stand:
        reading, qpm = self._reading(sign), self.tempo.at(slot.event.onset_q)
        chosen = sign.note if index is None else index
        note = slot.event.notes[chosen]
        stand = Stand(
            sign,
            reading,
            slot.event,
            note,
            start_q,
            end_q,
            previous.event.duration_q if previous is not None else slot.event.duration_q,
            qpm,
            reading.fraction("weight_db", self.manner.weight_db),
            self.auxiliaries.of(sign, reading.get("step"), note, reading.get("lower"), self._decided(sign, note)),
            spill_q,
            q_of_ms(FLOOR_MS, qpm),
            profile=self.manner.profile,
        )
        if sign.kind == "arpeggio":
            place = self.together.place(sign, chosen)
            return replace(stand, rank=place.rank, broken=place.of)
        if sign.kind == "tremolo":
            return self._paired(stand, slot, chosen)
        if reading.name == "spelled out":
            stand = replace(stand, spelled=tuple(self.part.voices[v].events[e] for v, e in sign.spelled))
        return replace(stand, within=self._within(sign, slot)) if sign.small else stand

    def _decided(self, sign: Sign, note: Note) -> Mapping[int, Pitch]:
        """The neighbours the harmony has decided, for the note it was asked about."""
        quick = sign.kind not in _WITHOUT_NEIGHBOURS and sign.within is None
        return self.neighbours(sign) if quick and note is sign.main_note(self.score) else _NO_PITCHES

    def _paired(self, stand: Stand, slot: _Slot, index: int) -> Stand:
        other = self.together.partner(slot.voice, slot.index)
        if other is None:
            return replace(stand, rank=index)
        partner = tuple(note.sounding for note in other.notes if not note.silent)
        return replace(stand, rank=index, partner=partner, second=(slot.voice, slot.index) in self.together.seconds)

    def _within(self, sign: Sign, slot: _Slot) -> dict[int, tuple[str, tuple[Pitch, ...]]]:
        """What is played in place of small notes that carry signs themselves."""
        after_them, found = sign.kind == "after-notes", {}
        for own in slot.signs:
            if own.within is not None and (own.within < 0) == after_them:
                place = own.within % len(sign.small) if after_them else own.within
                small = sign.small[place]
                main = Note(small.written[0], small.sounding[0], staff=small.staff)
                found[place] = own.place, played_within(self._reading(own), self.auxiliaries.of(own, None, main))
        return found

    def _reading(self, sign: Sign) -> Reading:
        return self.readings.get(sign.place, _PLAIN)


_PLAIN = Reading("plain")
_NOTHING = Fraction(0)
_NO_PITCHES: Mapping[int, Pitch] = MappingProxyType({})
_WITHOUT_NEIGHBOURS = frozenset({"fermata", "breath mark", "caesura", "arpeggio", "no arpeggio", "tremolo"})


def _from_the_page(sign: Sign) -> Mapping[int, Pitch]:
    return _NO_PITCHES


@dataclass(slots=True)
class _Room:
    """The time of one note while its signs divide it: what is left, what the note has become, the tones so far."""

    start_q: Fraction
    end_q: Fraction
    role: Role = "plain"
    place: str | None = None
    level_db: Fraction = _NOTHING
    body: _Body | None = None
    tones: list[Tone] = field(default_factory=list)

    def take(self, cut: Cut, stand: Stand) -> None:
        """Give a sign what it has cut out."""
        self.tones += cut.head + cut.tail
        self.start_q, self.end_q = cut.start_q, cut.end_q
        if cut.body is not None:
            self.body = _Body(cut.body, cut.start_q, cut.end_q)
        if cut.main_role != "plain" and self.role in ("plain", "main"):
            self.role, self.place = cut.main_role, stand.sign.place
        if cut.main_role == "release":
            self.level_db = -stand.weight_db / 2

    def filled(self, event: Event, note: Note) -> list[Tone]:
        """All tones of the note, what is left of it among them."""
        start_q, end_q = self.start_q, self.end_q
        if self.body is not None:
            return [*self.tones, *self.body.fitted(start_q, end_q)]
        if end_q <= start_q:
            return self.tones
        leads_on = any(tone.onset_q == end_q for tone in self.tones)
        left = Tone(start_q, end_q - start_q, note.sounding, self.role, event.onset_q, event, note, self.place)
        return [*self.tones, left._replace(level_db=self.level_db, leads_on=leads_on)]


class _Body(NamedTuple):
    """What takes the main note's place, and the room it was made for."""

    tones: tuple[Tone, ...]
    start_q: Fraction
    end_q: Fraction

    def fitted(self, start_q: Fraction, end_q: Fraction) -> Iterable[Tone]:
        """The same in a room that a later sign has narrowed, in proportion."""
        if (self.start_q, self.end_q) == (start_q, end_q):
            return self.tones
        scale = (end_q - start_q) / (self.end_q - self.start_q)
        return [
            tone._replace(onset_q=start_q + (tone.onset_q - self.start_q) * scale, duration_q=tone.duration_q * scale)
            for tone in self.tones
        ]


def _tied_to(slot: _Slot, note: int, later: _Slot) -> int | None:
    """Index of the note that a note is tied on to, where it follows at once."""
    own = slot.event.notes[note]
    if not own.tied_on or later.onset_q != slot.end_q:
        return None
    return next(
        (i for i, other in enumerate(later.event.notes) if other.tied_back and other.sounding == own.sounding), None
    )


def _with_ties(tones: list[Tone], note: Note, slot: _Slot, end_q: Fraction) -> list[Tone]:
    """The tones of one note, with its ties on those that begin and end where it does."""
    if not (note.tied_on or note.tied_back):
        return tones
    return [
        tone._replace(
            tied_on=note.tied_on and end_q == slot.end_q and tone.end_q == end_q,
            tied_back=note.tied_back and tone.onset_q == slot.onset_q,
        )
        if tone.pitch == note.sounding
        else tone
        for tone in tones
    ]


def realize_part(
    score: Score,
    part: int,
    signs: Iterable[Sign],
    readings: Mapping[str, Reading],
    order: Sequence[Occurrence],
    tempo: Tempo,
    *,
    manner: Manner = MANNER,
    lead_q: Fraction = Fraction(0),
    neighbours: Neighbours = _from_the_page,
) -> Realization:
    """The tones of one part as it is played.

    `readings` go by place; a sign without one is played plain. `order` says which bars are played when
    (`appui.score.repeats`); `lead_q` is the time before the first bar (count-in, or the missing part of a pickup bar)
    that small notes before it may use. `manner` is for leaning notes whose reading does not say. `neighbours`
    gives the notes above and below a sign's main note; left out, they are the page's.

    Hidden notes in which the edition spells an ornament out are not played beside it.
    """
    worker = _Part(score, part, readings, tempo, manner)
    worker.neighbours = neighbours
    own = [sign for sign in signs if sign.part == part]
    hidden = {spot for sign in own for spot in sign.spelled}
    worker.together = Together(score.parts[part], own)
    # embellishments for the second time
    later = [s for s in own if (found := readings.get(s.place)) is not None and found.free and found.free.second_time]
    by_event: dict[tuple[int, int], list[Sign]] = {}
    for sign in own:
        by_event.setdefault((sign.voice, sign.event), []).append(sign)
    for voice_index, voice in enumerate(score.parts[part].voices):
        by_bar: dict[int, list[int]] = {}
        for event_index, event in enumerate(voice.events):
            if not hidden or (voice_index, event_index) not in hidden:
                by_bar.setdefault(event.bar, []).append(event_index)
        slots: list[_Slot] = []
        for occurrence in order:
            shift_q = occurrence.onset_q - score.bars[occurrence.bar].onset_q
            waiting = later if occurrence.turn == 1 else ()
            for i in by_bar.get(occurrence.bar, ()):
                event, here = voice.events[i], by_event.get((voice_index, i), ())
                slots.append(
                    _Slot(
                        event,
                        event.onset_q + shift_q if shift_q else event.onset_q,
                        [s for s in here if s not in waiting] if waiting else here,
                        voice=voice_index,
                        index=i,
                    )
                )
        worker.voice(slots, lead_q)
    worker.out.tones.sort(key=lambda tone: (tone.onset_q, tone.pitch.midi))
    worker.out.notices = list(dict.fromkeys(worker.out.notices))
    return worker.out
