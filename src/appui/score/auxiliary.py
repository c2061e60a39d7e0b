"""Neighbours of a note, as the page makes them.

The letter above or below; its alteration from the sign's own accidental mark, else from an accidental already in force
in the bar (a small note's on the same note counts too), else from the key signature (C.P.E. Bach 1753, 2.1 §17, read).
Where that would make an augmented second with the main note it is narrowed to a whole tone (C.P.E. Bach 2.3 §19, read).
What the harmony has to say on top of the page is decided elsewhere (`appui.harmony.neighbours`) and handed in.
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Callable, Mapping
from operator import itemgetter
from types import MappingProxyType

from appui.exact import Fraction
from appui.score.model import Event, Note, Part, Score
from appui.score.pitch import Pitch, natural
from appui.score.signs import Sign

__all__ = ["Auxiliaries", "narrowed"]

_STEPS = {"whole": 2, "half": 1, "unison": 0}
_NONE: Mapping[int, Pitch] = MappingProxyType({})


class Auxiliaries:
    """The neighbours of any note of a score; what is in force in each bar is looked up once."""

    def __init__(self, score: Score) -> None:
        self.score = score
        self._bars: dict[int, dict[tuple[int, int, int], list[tuple[Fraction, int | Fraction]]]] = {}

    def of(
        self,
        sign: Sign,
        step: object = None,
        note: Note | None = None,
        lower: object = None,
        decided: Mapping[int, Pitch] = _NONE,
    ) -> Callable[[int], Pitch]:
        """A function from letter steps (+1 above, -1 below, -2 …; 0 the note itself) to sounding pitches.

        `step` is MusicXML's trill-step, for the note above only; `note` is asked about in place of the main note.
        With `lower` ``raised`` the note below is a semitone away, with ``diatonic`` as the page has it, unless a mark
        is printed for it. `decided` are sounding neighbours by step that go before what the page says.
        """
        part, event, main = self.score.parts[sign.part], sign.main(self.score), note or sign.main_note(self.score)
        assert main is not None

        def neighbour(steps: int) -> Pitch:
            if steps == 0:
                return main.sounding
            asked = (steps == 1 and step in _STEPS) or (steps == -1 and lower is not None)
            if steps in decided and not asked:
                return decided[steps]
            written = self._written(part, event, main, sign, steps, step)
            if steps == -1 and lower == "raised" and (sign.ornament is None or sign.ornament.below is None):
                written = written._replace(alter=written.alter + main.written.midi - 1 - written.midi)
            return part.transposition_at(event.onset_q).sounding(written)

        return neighbour

    def printed(self, sign: Sign, steps: int) -> tuple[Pitch, bool]:
        """The sounding neighbour one letter step above (1) or below (-1), and whether the page itself says so.

        It does where the sign has a mark for it, or an accidental is in force on its line or space.
        """
        part, event, main = self.score.parts[sign.part], sign.main(self.score), sign.main_note(self.score)
        assert main is not None
        written = self._written(part, event, main, sign, steps, None)
        said = _mark(sign, steps) is not None or self._found(part, event, main, written) is not None
        return part.transposition_at(event.onset_q).sounding(written), said

    def _written(self, part: Part, event: Event, note: Note, sign: Sign, steps: int, step: object) -> Pitch:
        plain = natural(note.written.diatonic + steps)
        if step in _STEPS and steps == 1:
            return plain._replace(alter=note.written.midi + _STEPS[step] - plain.midi)
        mark = _mark(sign, steps)
        if mark is not None:
            return plain._replace(alter=mark)
        in_force = self._found(part, event, note, plain)
        alter = part.key_at(event.onset_q).alter(plain.step) if in_force is None else in_force
        found = plain._replace(alter=alter)
        return narrowed(found, note.written) if abs(steps) == 1 else found

    def _found(self, part: Part, event: Event, note: Note, plain: Pitch) -> int | Fraction | None:
        """The alteration in force on a line or space, where a note has been written there in the bar."""
        own = [p.alter for small in event.small_before for p in small.written if p.diatonic == plain.diatonic]
        if own:
            return own[-1]
        changes = self._changes(part).get((event.bar, note.staff, plain.diatonic), [])
        at = bisect_left(changes, event.onset_q, key=itemgetter(0))
        return changes[at - 1][1] if at else None

    def _changes(self, part: Part) -> dict[tuple[int, int, int], list[tuple[Fraction, int | Fraction]]]:
        """For each bar, staff and line or space of a part: the alterations that were written there, in time order."""
        found = self._bars.get(part.index)
        if found is None:
            found = self._bars[part.index] = {}
            for voice in part.voices:
                for event in voice.events:
                    for note in event.notes:
                        found.setdefault((event.bar, note.staff, note.written.diatonic), []).append(
                            (event.onset_q, note.written.alter)
                        )
                    for small in event.small_before:
                        for pitch in small.written:
                            found.setdefault((event.bar, small.staff, pitch.diatonic), []).append(
                                (event.onset_q, pitch.alter)
                            )
            for changes in found.values():
                changes.sort(key=itemgetter(0))
        return found


def _mark(sign: Sign, steps: int) -> int | None:
    if sign.ornament is None or abs(steps) != 1:
        return None
    return sign.ornament.above if steps > 0 else sign.ornament.below


def narrowed(neighbour: Pitch, main: Pitch) -> Pitch:
    """A neighbour no further from its note than a whole tone."""
    wide = int(abs(float(neighbour.midi - main.midi))) - 2
    if wide <= 0:
        return neighbour
    return neighbour._replace(alter=neighbour.alter - wide if neighbour.midi > main.midi else neighbour.alter + wide)
