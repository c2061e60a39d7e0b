"""Signs: what is printed beside the plain notes, each with a place name people can say and type.

A place is part, bar, beat, as in ``oboe.12.3``; a beat between two counts is a fraction (``oboe.12.2+1/2``), a second
sign at the same place adds its number (``oboe.12.3.2``). Names depend on the printed score only, so they are the same
at every reading. Where a bar number is printed twice (several movements in one file) the later bars carry their count:
``oboe.12~2.3``.

Hidden small notes (``print-object="no"``) and silent ones (``cue``) are not printed to be played, so they are no signs;
an ornament on a hidden or silent note is the visible note's (`appui.score.hidden`).
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import Final

from appui.exact import Fraction
from appui.score.hidden import Spot, hidden_events, spelled_under, visible_under
from appui.score.model import Bar, Event, Note, Ornament, Part, Score, SmallNote
from appui.score.words import SignKind

__all__ = ["EMBELLISHMENT", "SIGN_NAMES", "Sign", "bar_names", "beat_name", "find_signs", "part_slugs", "slug"]

#  the kind of a sign that is not printed: an embellishment of a plan's own
EMBELLISHMENT: Final = "embellishment"
# MusicXML 4.0 element (read) -> the trade's word for the sign
SIGN_NAMES: dict[str, SignKind] = {
    "trill-mark": "trill",
    "turn": "turn",
    "delayed-turn": "turn after",
    "inverted-turn": "inverted turn",
    "delayed-inverted-turn": "inverted turn after",
    "vertical-turn": "vertical turn",
    "inverted-vertical-turn": "inverted vertical turn",
    "shake": "shake",
    "wavy-line": "wavy line",
    "mordent": "mordent",
    "inverted-mordent": "short trill",
    "schleifer": "slide",
    "haydn": "haydn ornament",
    "tremolo": "tremolo",
    "other-ornament": "other ornament",
    "arpeggiate": "arpeggio",
    "non-arpeggiate": "no arpeggio",
}


@dataclass(frozen=True, slots=True)
class Sign:
    """One sign. `part`, `voice`, `event` are indices into the score; `note` the index of its note in the event.

    `kind`: ``small notes`` (before the event), ``after-notes`` (after it), else the sign's plain name
    (``trill``, ``turn``, ``mordent`` …). `small` is empty for printed signs, `ornament` is `None` for small notes.
    For after-notes the event is the note they follow. `within` is set for a sign over a small note: which of the
    event's sounding small notes before it (from 0), or after it (from -1 back). `spelled` are the hidden events in
    which the edition spells the ornament out, as voice and event.
    """

    place: str
    kind: SignKind
    part: int
    voice: int
    event: int
    note: int
    small: tuple[SmallNote, ...] = ()
    ornament: Ornament | None = None
    within: int | None = None
    spelled: tuple[Spot, ...] = ()

    @property
    def slashed(self) -> bool | None:
        """Whether the small notes have a stroke through the stem; `None` for ornaments that are no small notes."""
        return bool(self.small[0].slash) if self.small else None

    def main(self, score: Score) -> Event:
        """The event the sign belongs to."""
        return score.parts[self.part].voices[self.voice].events[self.event]

    def main_note(self, score: Score) -> Note | None:
        """The full-size note the sign belongs to; `None` for a fermata or pause over a rest."""
        notes = self.main(score).notes
        return notes[self.note] if notes else None

    def onset_q(self, score: Score) -> Fraction:
        """Where the main note starts on the printed time line."""
        return self.main(score).onset_q


def slug(name: str) -> str:
    """A part's name as it is typed in a place: lower case letters and digits, hyphens between.

    >>> slug("Violin I"), slug("Clarinet in B♭")
    ('violin-i', 'clarinet-in-bb')
    """
    # signs that no keyboard has
    typed = name.strip().lower().replace("♭", "b").replace("♯", "-sharp")
    return re.sub(r"\W+", "-", typed, flags=re.UNICODE).strip("-_").replace("_", "-")


def part_slugs(score: Score) -> tuple[str, ...]:
    """One name a part, as places use it.

    Parts of the same name are numbered from the second on (``horn``, ``horn-2``).
    """
    names: list[str] = []
    for part in score.parts:
        base = slug(part.name) or slug(part.id) or f"part-{part.index + 1}"
        name, number = base, 2
        while name in names:
            name, number = f"{base}-{number}", number + 1
        names.append(name)
    return tuple(names)


def bar_names(score: Score) -> tuple[str, ...]:
    """One name a bar: its printed number, ``~2`` added where the number comes a second time."""
    seen: Counter[str] = Counter()
    names: list[str] = []
    for bar in score.bars:
        number = re.sub(r"\s+", "", bar.number)
        seen[number] += 1
        names.append(number if seen[number] == 1 else f"{number}~{seen[number]}")
    return tuple(names)


def beat_name(bar: Bar, at_q: Fraction) -> str:
    """The beat a position in a bar falls on, counted from 1 on the meter's own beat.

    Metrical: the upbeat quarter of a pickup bar in 3/4 is beat 3.
    """
    beats, rest_q = divmod(at_q + bar.lead_q, bar.meter.beat_q)
    # files round triplets; nobody types 1365/2048, so the nearest fraction a musician would say is used
    part = (rest_q / bar.meter.beat_q).limit_denominator(24)
    if part == 1:
        beats, part = beats + 1, Fraction(0)
    return f"{beats + 1}" + (f"+{part}" if part else "")


def find_signs(score: Score) -> tuple[Sign, ...]:
    """All signs of the score, in order of part, time, voice; each place name is unique."""
    found: list[Sign] = []
    slugs, bars = part_slugs(score), bar_names(score)
    for part in score.parts:
        raw = sorted(_raw_signs(part), key=lambda sign: (sign.onset_q(score), sign.voice))
        found += _named(score, raw, slugs[part.index], bars)
    return tuple(found)


def _named(score: Score, signs: list[Sign], part: str, bars: tuple[str, ...]) -> Iterator[Sign]:
    count: Counter[str] = Counter()
    for sign in signs:
        event = sign.main(score)
        bar = score.bars[event.bar]
        place = f"{part}.{bars[bar.index]}.{beat_name(bar, event.onset_q - bar.onset_q)}"
        count[place] += 1
        yield replace(sign, place=place if count[place] == 1 else f"{place}.{count[place]}")


def _raw_signs(part: Part) -> Iterator[Sign]:
    hidden = hidden_events(part)
    for voice_index, voice in enumerate(part.voices):
        for event_index, event in enumerate(voice.events):
            if _is_bare(event):
                continue
            for kind, note, small, ornament, within in _signs_of(event):
                found = Sign("", kind, part.index, voice_index, event_index, note, small, ornament, within)
                yield _with_spelling(part, found, hidden) if hidden else found
            yield from _of_visible(part, voice_index, event, hidden)


def _with_spelling(part: Part, sign: Sign, hidden: list[Spot]) -> Sign:
    """The sign with the hidden notes that spell it out."""
    event = part.voices[sign.voice].events[sign.event]
    if event.is_rest or sign.kind in _NEVER_SPELLED:
        return sign
    return replace(sign, spelled=spelled_under(part, hidden, (sign.voice, sign.event), event.notes[sign.note]))


def _of_visible(part: Part, voice: int, event: Event, hidden: list[Spot]) -> Iterator[Sign]:
    """The ornaments on hidden and silent notes of an event, given to the visible notes they stand over."""
    for note in event.notes:
        for ornament in note.ornaments if note.hidden or note.cue else ():
            if ornament.kind in SIGN_NAMES and not _continues(ornament, note):
                for other, index, place in visible_under(part, voice, event, note):
                    own = part.voices[other].events[index].notes[place].ornaments
                    if not any(each.kind == ornament.kind for each in own):
                        found = Sign("", SIGN_NAMES[ornament.kind], part.index, other, index, place, (), ornament)
                        yield _with_spelling(part, found, hidden)


def _is_bare(event: Event) -> bool:
    """Whether nothing at all is printed on an event: most are, and need no closer look."""
    if event.small_before or event.small_after or event.pauses or event.fermata is not None:
        return False
    return not any([note.ornaments for note in event.notes])  # noqa: C419 - a list of one or two is made faster


_Found = tuple[SignKind, int, tuple[SmallNote, ...], Ornament | None, int | None]


def _signs_of(event: Event) -> Iterator[_Found]:
    if event.small_before:
        yield from _small("small notes", event, event.small_before)
    yield from _on_notes(event)
    if event.small_after:
        yield from _small("after-notes", event, event.small_after)
    if event.fermata is not None:
        yield "fermata", 0, (), Ornament("fermata", (), event.fermata), None
    for pause in sorted(event.pauses):
        yield _PAUSES[pause], 0, (), Ornament(pause), None


_PAUSES: dict[str, SignKind] = {"breath-mark": "breath mark", "caesura": "caesura"}
#  signs that no edition spells out in notes
_NEVER_SPELLED = frozenset({"fermata", "breath mark", "caesura", "arpeggio", "no arpeggio", "tremolo"})
# signs of the whole chord, which files print on each of its notes or on one
_OF_CHORDS = frozenset({"arpeggiate", "non-arpeggiate", "tremolo"})


def _on_notes(event: Event) -> Iterator[_Found]:
    printed = [
        (index, ornament)
        for index, note in enumerate(event.notes)
        if note.ornaments and not note.hidden and not note.cue
        for ornament in note.ornaments
        if ornament.kind in SIGN_NAMES and not _continues(ornament, note)
    ]
    alone = len({index for index, ornament in printed if ornament.kind not in _OF_CHORDS}) == 1
    seen: set[str] = set()
    for index, ornament in printed:
        if ornament.kind in _OF_CHORDS:
            if ornament.kind not in seen:
                seen.add(ornament.kind)
                yield SIGN_NAMES[ornament.kind], index, (), ornament, None
        else:
            yield SIGN_NAMES[ornament.kind], _meant(event, index, ornament) if alone else index, (), ornament, None


def _meant(event: Event, index: int, ornament: Ornament) -> int:
    """Files hang the one sign of a chord on its first note: it is read for the highest, below the staff the lowest."""
    if len(event.notes) < 2:
        return index
    pick = min if ornament.get("placement") == "below" else max
    return pick(range(len(event.notes)), key=lambda i: event.notes[i].sounding.midi)


def _continues(ornament: Ornament, note: Note) -> bool:
    """Whether the sign belongs to one already found.

    A wavy line under its trill, or the end of something begun before.
    """
    if ornament.kind == "wavy-line":
        return ornament.get("type") != "start" or any(other.kind in ("trill-mark", "shake") for other in note.ornaments)
    return ornament.kind == "tremolo" and ornament.get("type") == "stop"


def _small(kind: SignKind, event: Event, small: tuple[SmallNote, ...]) -> Iterator[_Found]:
    printed = tuple(note for note in small if not note.hidden and not note.cue)
    if printed:
        yield kind, _nearest(event, printed[-1]), printed, None, None
    for index, note in enumerate(printed):
        for ornament in note.ornaments:
            if ornament.kind in SIGN_NAMES and not _under_trill(ornament, note):
                within = index if kind == "small notes" else index - len(printed)
                yield SIGN_NAMES[ornament.kind], _nearest(event, note), (), ornament, within


def _under_trill(ornament: Ornament, note: SmallNote) -> bool:
    if ornament.kind != "wavy-line":
        return False
    return ornament.get("type") != "start" or any(other.kind in ("trill-mark", "shake") for other in note.ornaments)


def _nearest(event: Event, small: SmallNote) -> int:
    """Index of the chord note a small note belongs to: the one nearest in pitch, the higher of two as near."""
    midi = small.sounding[0].midi
    return min(
        range(len(event.notes)),
        key=lambda i: (abs(event.notes[i].sounding.midi - midi), -event.notes[i].sounding.midi),
        default=0,
    )
