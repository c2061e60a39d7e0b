"""Realizing a voice: its events in the order they are played, and at each the signs in their order.

The order of work keeps the laws:
1. what comes before a beat (passing graces, the printed end of a trill) is measured first, and given at most half of
   the note or rest before it; the note before loses exactly that, the main note nothing;
2. then each event divides what is left of its own time among its signs: small notes at the head, trill in the middle,
   after-notes at the tail. No realizer sees beyond that room.
So nothing is lost, nothing overlaps, the sums are exact, and no main note is moved by the one after it.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from fractions import Fraction

from appui.realize.after import after
from appui.realize.auxiliary import Auxiliaries
from appui.realize.contract import Before, BeforeRealizer, Cut, Realizer, Stand, Tone
from appui.realize.leaning import lean
from appui.realize.passing import passing, termination
from appui.realize.short import short
from appui.realize.trill import trill
from appui.score.model import Event, Note, Score
from appui.score.repeats import Occurrence
from appui.score.signs import Sign
from appui.style.reading import Reading

__all__ = ["BEFORE", "REALIZERS", "Realization", "Tempo", "realize_part"]

# one line a reading: what it is called in `appui.style.reading`, and who plays it
REALIZERS: dict[str, Realizer] = {"leaning": lean, "short": short, "after": after, "trill": trill}
BEFORE: dict[str, BeforeRealizer] = {"passing": passing, "termination": termination}


@dataclass(frozen=True, slots=True)
class Tempo:
    """The tempo sizes in milliseconds are counted at: `steps` of (printed onset, quarter notes a minute)."""

    steps: tuple[tuple[Fraction, Fraction], ...]

    def at(self, printed_q: Fraction) -> Fraction:
        """Quarter notes a minute at a printed position."""
        found = self.steps[0][1]
        for onset_q, qpm in self.steps:
            if onset_q > printed_q:
                break
            found = qpm
        return found


@dataclass(slots=True)
class Realization:
    """The tones of one part, in time order, and what had to be said: (place, words)."""

    tones: list[Tone] = field(default_factory=list)
    notices: list[tuple[str, str]] = field(default_factory=list)


@dataclass(slots=True)
class _Slot:
    """One event as played: where it starts and ends, and how much of its end is given away."""

    event: Event
    onset_q: Fraction
    signs: Sequence[Sign]
    lead_q: Fraction = Fraction(0)
    before: Before | None = None
    cut_q: Fraction = Fraction(0)

    @property
    def end_q(self) -> Fraction:
        return self.onset_q + self.event.duration_q


class _Part:
    """Realizes one part."""

    def __init__(
        self, score: Score, part: int, readings: Mapping[str, Reading], tempo: Tempo, weight_db: Fraction
    ) -> None:
        self.score, self.part, self.readings, self.tempo, self.weight_db = (
            score,
            score.parts[part],
            readings,
            tempo,
            weight_db,
        )
        self.auxiliaries = Auxiliaries(score)
        self.out = Realization()

    def voice(self, slots: list[_Slot], lead_room_q: Fraction) -> None:
        """One voice from its slots; `lead_room_q` is how much time there is before the first."""
        previous: _Slot | None = None
        for slot in slots:
            if slot.signs:
                self._lead(slot, previous, lead_room_q)
            previous = slot
        for index, slot in enumerate(slots):
            following = slots[index + 1] if index + 1 < len(slots) else None
            self._event(slot, following)

    # what comes before the beat

    def _lead(self, slot: _Slot, previous: _Slot | None, lead_room_q: Fraction) -> None:
        sign = next((s for s in slot.signs if self._reading(s).name in BEFORE and s.small), None)
        if sign is None or slot.event.is_rest:
            return
        stand = self._stand(sign, slot, slot.onset_q, slot.end_q, previous=previous)
        before = BEFORE[stand.reading.name](stand)
        room_q = self._room_before(slot, previous, lead_room_q)
        slot.lead_q = min(before.wanted_q, room_q)
        if slot.lead_q <= 0:
            self.out.notices.append((sign.place, "nothing precedes that could give time: played short, on the beat"))
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
        taken_q = self._after_q(previous)
        return max(half_q - taken_q, Fraction(0))

    def _after_q(self, slot: _Slot) -> Fraction:
        sign = next((s for s in slot.signs if s.kind == "after-notes" and self._reading(s).name == "after"), None)
        if sign is None:
            return Fraction(0)
        cut = after(self._stand(sign, slot, slot.onset_q, slot.end_q))
        return slot.end_q - cut.end_q

    # the event itself

    def _event(self, slot: _Slot, following: _Slot | None) -> None:
        if slot.before is not None:
            self.out.tones += slot.before.fill(slot.onset_q - slot.lead_q, slot.lead_q)
        if slot.event.is_rest:
            return
        if not slot.signs and not slot.cut_q:
            self._plain(slot)
            return
        end_q = slot.end_q - slot.cut_q
        by_note: dict[int, list[Sign]] = {}
        for sign in slot.signs:
            by_note.setdefault(sign.note, []).append(sign)
        spill_q = self._spill(slot, following)
        for index, note in enumerate(slot.event.notes):
            if note.silent:
                continue
            self._note(slot, note, by_note.get(index, ()), end_q, spill_q)

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

    def _note(self, slot: _Slot, note: Note, signs: Iterable[Sign], end_q: Fraction, spill_q: Fraction) -> None:
        start_q, role, body, level_db = slot.onset_q, "plain", None, Fraction(0)
        sign_name: str | None = None
        for sign in signs:
            cut, stand = self._cut(sign, slot, start_q, end_q, spill_q)
            if role == "plain" and stand.reading.name != "plain":
                role, sign_name = "main", sign.place
            if cut is None:
                continue
            self.out.tones += cut.head + cut.tail
            start_q, end_q = cut.start_q, cut.end_q
            if cut.notice:
                self.out.notices.append((sign.place, cut.notice))
            if cut.body is not None:
                body = cut.body
            if cut.main_role != "plain" and role in ("plain", "main"):
                role, sign_name = cut.main_role, sign.place
            if cut.main_role == "release":
                level_db = -stand.weight_db / 2
        if body is not None:
            self.out.tones += self._fitted(body, start_q, end_q)
        elif end_q > start_q:
            self.out.tones.append(
                Tone(
                    start_q,
                    end_q - start_q,
                    note.sounding,
                    role,
                    slot.event.onset_q,
                    slot.event,
                    note,
                    sign_name,
                    level_db,
                    note.tied_on and end_q == slot.end_q,
                    note.tied_back and start_q == slot.onset_q,
                )
            )

    def _fitted(self, body: tuple[Tone, ...], start_q: Fraction, end_q: Fraction) -> Iterable[Tone]:
        """A trill whose room a later sign has narrowed, in proportion."""
        first_q, last_q = body[0].onset_q, body[-1].end_q
        if (first_q, last_q) == (start_q, end_q):
            return body
        scale = (end_q - start_q) / (last_q - first_q)
        return [
            t._replace(onset_q=start_q + (t.onset_q - first_q) * scale, duration_q=t.duration_q * scale) for t in body
        ]

    def _cut(
        self, sign: Sign, slot: _Slot, start_q: Fraction, end_q: Fraction, spill_q: Fraction
    ) -> tuple[Cut | None, Stand]:
        stand = self._stand(sign, slot, start_q, end_q, spill_q)
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
    ) -> Stand:
        reading = self._reading(sign)
        note = slot.event.notes[sign.note]
        step = reading.get("step")
        whole_q = previous.event.duration_q if previous is not None else slot.event.duration_q
        return Stand(
            sign,
            reading,
            slot.event,
            note,
            start_q,
            end_q,
            whole_q,
            self.tempo.at(slot.event.onset_q),
            reading.fraction("weight_db", self.weight_db),
            self.auxiliaries.of(sign, step if isinstance(step, str) else None),
            spill_q,
        )

    def _reading(self, sign: Sign) -> Reading:
        return self.readings.get(sign.place, _PLAIN)


_PLAIN = Reading("plain")
_NOTHING = Fraction(0)


def realize_part(
    score: Score,
    part: int,
    signs: Iterable[Sign],
    readings: Mapping[str, Reading],
    order: Sequence[Occurrence],
    tempo: Tempo,
    *,
    weight_db: Fraction = Fraction(4),
    lead_q: Fraction = Fraction(0),
) -> Realization:
    """The tones of one part as it is played.

    `readings` go by place; a sign without one is played plain. `order` says which bars are played when
    (`appui.score.repeats`); `lead_q` is the time before the first bar (count-in, or the missing part of a pickup bar)
    that small notes before it may use. `weight_db` is the weight of leaning notes whose reading names none.
    """
    worker = _Part(score, part, readings, tempo, weight_db)
    by_event: dict[tuple[int, int], list[Sign]] = {}
    for sign in signs:
        if sign.part == part:
            by_event.setdefault((sign.voice, sign.event), []).append(sign)
    for voice_index, voice in enumerate(score.parts[part].voices):
        by_bar: dict[int, list[int]] = {}
        for event_index, event in enumerate(voice.events):
            by_bar.setdefault(event.bar, []).append(event_index)
        slots: list[_Slot] = []
        for occurrence in order:
            shift_q = occurrence.onset_q - score.bars[occurrence.bar].onset_q
            for i in by_bar.get(occurrence.bar, ()):
                event = voice.events[i]
                slots.append(
                    _Slot(
                        event, event.onset_q + shift_q if shift_q else event.onset_q, by_event.get((voice_index, i), ())
                    )
                )
        worker.voice(slots, lead_q)
    # floats order as the fractions do, and faster; equal ones keep their order
    worker.out.tones.sort(key=lambda tone: (tone.onset_q.numerator / tone.onset_q.denominator, tone.pitch.midi))
    worker.out.notices = list(dict.fromkeys(worker.out.notices))
    return worker.out
