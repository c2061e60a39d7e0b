"""The other notes of trills, turns and mordents: what the harmony says on top of the page.

In this order, for the note above and the note below:

1. the sign's own accidental mark, an accidental in force in the bar, a small note on the same note (the page);
2. the notes in which the edition spells the ornament out, where it does;
3. the same letter as another part sounds it meanwhile, then as the chord has it: no B natural over C7, no F natural
   over D7 (C.P.E. Bach 1753, 2.1 §17: exceptions from the context, read);
4. for the note below: a semitone under the tonic of the key of the moment in a trill and its ending, a semitone under
   the root or the fifth of the chord in a turn (counted on written-out ornaments of sonatas: with the others together
   .97; Clementi 1801, read: the lowest note of a turn is mostly a semitone);
5. the key of the moment, where the letter was last heard as that key has it;
6. the key signature.

Nothing makes an augmented second unless it is printed (C.P.E. Bach 2.3 §19, 2.4 §25, read).
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Iterator
from operator import attrgetter

from appui.exact import Fraction
from appui.harmony.ground import SURE, Footing, Ground
from appui.harmony.places import letter_place
from appui.harmony.spelling import class_of
from appui.score.auxiliary import Auxiliaries, narrowed
from appui.score.model import Event, Note, Score
from appui.score.pitch import Pitch
from appui.score.signs import Sign

__all__ = ["Neighbours", "is_open"]

_TRILLS = frozenset({"trill", "shake", "wavy line"})
_TURNS = frozenset({"turn", "turn after", "vertical turn", "haydn ornament"})
_INVERTED = frozenset({"inverted turn", "inverted turn after", "inverted vertical turn"})
_ONSET = attrgetter("onset_q")


class Neighbours:
    """The neighbours of the main notes of a score's signs, as sounding pitches by letter step: 1 above, -1 below."""

    def __init__(self, score: Score) -> None:
        self.score, self.page = score, Auxiliaries(score)

    def of(self, sign: Sign, ground: Ground) -> dict[int, Pitch]:
        """Both neighbours of a sign's main note; `ground` is the harmony under its voice."""
        note = sign.main_note(self.score)
        if note is None or note.unpitched:
            return {}
        return {steps: self._one(sign, note, steps, ground) for steps in (1, -1)}

    def _one(self, sign: Sign, note: Note, steps: int, ground: Ground) -> Pitch:
        printed, said = self.page.printed(sign, steps)
        if said:
            return printed
        spelled = self._spelled(sign, printed)
        if spelled is not None:
            return spelled
        footing = ground.at(sign.onset_q(self.score))
        found = self._heard_or_chord(sign, note, printed, footing)
        if steps == -1 and found is None and _leads(sign, note, footing):
            found = printed._replace(alter=printed.alter + note.sounding.midi - 1 - printed.midi)
        if found is None:
            found = self._of_key(sign, printed, footing)
        return narrowed(found, note.sounding)

    def _spelled(self, sign: Sign, printed: Pitch) -> Pitch | None:
        """The neighbour as the edition's hidden notes have it."""
        voices = self.score.parts[sign.part].voices
        pitches = (voices[voice].events[event].notes[0].sounding for voice, event in sign.spelled)
        return next((pitch for pitch in pitches if pitch.diatonic == printed.diatonic), None)

    def _heard_or_chord(self, sign: Sign, note: Note, printed: Pitch, footing: Footing | None) -> Pitch | None:
        """The neighbour as others sound its letter meanwhile, or as the chord has it; `None` where neither does."""
        event = sign.main(self.score)
        others = {pitch.alter for pitch in self._others(sign, event) if pitch.step == printed.step}
        if len(others) == 1:
            return _beside(printed._replace(alter=others.pop()), note)
        if footing is None or footing.chance < SURE:
            return None
        letters = [letter for letter in footing.letters if letter[0] == printed.step]
        return _beside(printed._replace(alter=footing.alter(printed.step)), note) if letters else None

    def _others(self, sign: Sign, event: Event) -> Iterator[Pitch]:
        """What the other voices sound while an event lasts."""
        for part in self.score.parts:
            for index, voice in enumerate(part.voices):
                if part.percussion or (part.index == sign.part and index == sign.voice):
                    continue
                first = max(bisect_right(voice.events, event.onset_q, key=_ONSET) - 1, 0)
                for other in voice.events[first : bisect_left(voice.events, event.end_q, key=_ONSET)]:
                    if other.end_q > event.onset_q:
                        yield from (note.sounding for note in other.notes if not note.hidden and not note.cue)

    def _of_key(self, sign: Sign, printed: Pitch, footing: Footing | None) -> Pitch:
        """The neighbour in the key of the moment, where its letter was last heard so; else as the page has it."""
        if footing is None:
            return printed
        alter = footing.alter(printed.step)
        if alter == printed.alter or self._last_heard(sign, printed) != alter:
            return printed
        return printed._replace(alter=alter)

    def _last_heard(self, sign: Sign, printed: Pitch) -> int | Fraction | None:
        """How a letter last sounded, in any part and octave, in this bar or the one before; else how it comes next."""
        event = sign.main(self.score)
        bars = self.score.bars[max(event.bar - 1, 0)].onset_q
        until_q = self.score.bars[event.bar].onset_q + self.score.bars[event.bar].length_q
        before: tuple[Fraction, int | Fraction] | None = None
        after: tuple[Fraction, int | Fraction] | None = None
        for part in self.score.parts:
            for voice in part.voices:
                first = bisect_left(voice.events, bars, key=_ONSET)
                for other in voice.events[first : bisect_left(voice.events, until_q, key=_ONSET)]:
                    for note in other.notes:
                        if note.sounding.step != printed.step:
                            continue
                        if other.onset_q < event.onset_q and (before is None or other.onset_q >= before[0]):
                            before = other.onset_q, note.sounding.alter
                        elif other.onset_q > event.onset_q and (after is None or other.onset_q < after[0]):
                            after = other.onset_q, note.sounding.alter
        found = before or after
        return found[1] if found else None


def _beside(pitch: Pitch, note: Note) -> Pitch | None:
    """A neighbour, unless it would be on the note itself or an augmented second away."""
    return pitch if 1 <= abs(float(pitch.midi - note.sounding.midi)) <= 2 else None


def _leads(sign: Sign, note: Note, footing: Footing | None) -> bool:
    """Whether the note below leads into its note by a semitone."""
    if footing is None:
        return False
    own = int(note.sounding.midi) % 12
    if sign.kind in _TRILLS:
        return own == class_of(footing.key[0])
    return sign.kind in (*_TURNS, *_INVERTED) and footing.chance >= SURE and own in _root_and_fifth(footing)


def _root_and_fifth(footing: Footing) -> set[int]:
    root = class_of(footing.root)
    fifths = {class_of(letter_place(letter)) for letter in footing.letters}
    return {root, (root + 7) % 12} & (fifths | {root})


def is_open(note: Note, footing: Footing | None) -> bool:
    """Whether players differ on the note below in a turn: on the fifth of a dominant."""
    return (
        footing is not None and footing.dominant and int(note.sounding.midi) % 12 == (class_of(footing.root) + 7) % 12
    )
