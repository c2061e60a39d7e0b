"""The situation of a sign: the facts a manual's rules ask about.

Conventions: lengths in quarter notes (`*_q`) or seconds at the tempo it is judged at (`*_s`); steps are letter steps.
Where a fact cannot be known it is the word ``unknown`` or ``none``, so that a rule asking for it simply does not
match. `FACTS` documents every fact; a table that asks for another is refused.
"""

from __future__ import annotations

from bisect import bisect_right
from dataclasses import dataclass
from itertools import pairwise
from operator import attrgetter
from typing import Literal

from appui.exact import Fraction
from appui.harmony.model import DISSONANCE, MEMBER, UNKNOWN, Verdict
from appui.score.endings import ending_after
from appui.score.habits import Habits
from appui.score.model import Bar, Event, Note, Ornament, Score
from appui.score.pitch import Pitch
from appui.score.signs import Sign
from appui.score.solo import family_of
from appui.score.tempo_words import tempo_character

__all__ = ["FACTS", "WORDS", "Circumstances", "Fact", "Situation", "StrokesWish", "situation_of"]

#  what a player wishes of strokes through the stem
StrokesWish = Literal["by habit", "as-printed", "ignore"]
#  until about then the stroke is as a rule the editor's (an article on the short appoggiatura, read; Grove 1879, p. 77)
LAST_YEAR_OF_EDITORS_STROKES = 1830

Fact = str | bool | int | Fraction

FACTS: dict[str, str] = {
    "sign": "the sign's name: small notes, after-notes, trill ...",
    "count": "how many small notes",
    "slashed": "whether the small notes have a stroke through the stem that tells them from others",
    "stroke": "what a printed stroke is worth: none (not printed), telling, silent",
    "value_q": "printed value of the first small note, in quarters; 0 where none is printed or it says nothing",
    "member": "the first small note in the chord: chord member, dissonance, unknown",
    "leans": "what the harmony says: yes, no, unknown",
    "doubtful": "whether that verdict is doubtful, or pulls against a stroke",
    "six_four": "whether it stands over a cadential six-four",
    "before_written_out": "whether the main note is itself a leaning note, printed at full size",
    "main_seventh": "whether the main note is the seventh of the chord",
    "octave_with_bass": "whether the small note makes a pure octave with the bass",
    "beat": "where the main note stands: down, strong, weak, off",
    "triple": "whether the bar has three beats",
    "main_q": "length of the main note",
    "main_s": "length of the main note in seconds",
    "three_parts": "whether the main note divides in three (dotted, or a beat of a compound meter)",
    "tied_on": "whether the main note is tied on",
    "before_rest": "whether a rest follows the main note",
    "into_rest": "whether the main note may sound in that rest: harmony, printed value and staccato allow it",
    "long_place": "whether the main note is of those that long ones stand before: long, tied, last, trilled, held",
    "syncopated": "whether the main note begins off a beat and lasts over it, or on a light beat over a heavier one",
    "figure": "what the notes make together: turn back, eighth and two, slide, none",
    "before": "what precedes the main note: start, rest, same, step, third, leap",
    "repeats_before": "whether the small note repeats the note before",
    "main_repeated": "whether the main note is the note before, or the note after, again",
    "direction": "where the small note lies: above, below, same",
    "steps": "letter steps from the small note to the main note",
    "semitones": "semitones from the small note to the main note",
    "fills_third": "whether the small note fills a falling third between the note before and the main note",
    "main_staccato": "whether the main note is staccato",
    "triplet": "whether the main note belongs to a triplet",
    "run": "whether the main note is one of four or more equal short notes",
    "next": "what follows the main note: falling second, rising second, third, leap, same, rest, end",
    "trilled": "whether the main note carries a trill",
    "turned": "whether the main note carries a turn",
    "ends_trill": "whether the small notes are the printed end of the trill before",
    "slurred_back": "whether a slur ties the small notes to the note before only",
    "prepared": "whether a small note from above stands before the trill",
    "upper_before": "whether the note before is the trill's upper note",
    "upper_slurred": "whether that upper note is slurred to the trill",
    "end_printed": "whether the end of the trill is printed after it, in small notes or at full size",
    "anticipated": "whether the note after the trill is printed early, as an anticipation",
    "chain": "whether the next note, a step away, carries a trill too",
    "spelled": "whether hidden notes of the edition spell the ornament out",
    "character": "slow, moderate, fast: by the tempo words, else by the beat",
    "keyboard": "whether a keyboard plays it",
    "fermata": "whether the main note has a fermata",
    "dotted": "whether the main note is dotted",
    "on_small": "whether the sign stands over a small note",
    "long": "whether the sign is printed long",
    "approach": "how a compound sign begins: above, below, none",
    "departure": "how a compound sign ends: above, below, none",
    "arrow": "where the arrow of an arpeggio points: up, down, none",
    "free": "whether a tremolo is printed unmeasured",
    "shape": "the shape of a fermata",
    "on_rest": "whether the sign stands over a rest",
    "year": "the year the music is taken to be of, 0 where it is not known",
}


#  facts that are words -> the words there are; a condition on another word could never hold
WORDS: dict[str, tuple[str, ...]] = {
    "member": (MEMBER, DISSONANCE, UNKNOWN),
    "leans": ("yes", "no", "unknown"),
    "stroke": ("none", "telling", "silent"),
    "figure": ("turn back", "eighth and two", "slide", "none"),
    "beat": ("down", "strong", "weak", "off"),
    "before": ("start", "rest", "same", "step", "third", "leap"),
    "direction": ("above", "below", "same", "none"),
    "next": ("falling second", "rising second", "third", "leap", "same", "rest", "end"),
    "character": ("slow", "moderate", "fast"),
    "approach": ("above", "below", "none"),
    "departure": ("above", "below", "none"),
    "arrow": ("up", "down", "none"),
    "shape": ("normal", "angled", "square", "double-angled", "double-square", "double-dot", "half-curve", "curlew",
              "none"),
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class Situation:
    """All facts of one sign, by name."""

    facts: dict[str, Fact]

    def __getitem__(self, name: str) -> Fact:
        return self.facts[name]

    @property
    def rule_share(self) -> Fraction:
        """Half of a note of two parts, two thirds of one of three (C.P.E. Bach 1753, 2.2 §11, read)."""
        return Fraction(2, 3) if self.facts["three_parts"] else Fraction(1, 2)

    @property
    def written_share(self) -> Fraction:
        """The printed value as a share of the main note where it is at most half of it, else the rule."""
        value, main = self.facts["value_q"], self.facts["main_q"]
        if isinstance(value, Fraction) and isinstance(main, Fraction) and 0 < value <= main / 2:
            return value / main
        return self.rule_share


@dataclass(frozen=True, slots=True)
class Circumstances:
    """What is known around a sign beside the notes.

    `qpm` is the tempo its seconds are counted at; `year` when the music is from, 0 where that is not known. `habits`
    are the print's, `None` where nobody has looked; `strokes` what the player wishes of strokes: by the habits of the
    print, as they are printed, or ignored. `rest_holds`: whether the main note belongs to the chord where the rest
    after it begins; `None` where that is not known.
    """

    qpm: Fraction
    year: int = 0
    habits: Habits | None = None
    strokes: StrokesWish = "by habit"
    rest_holds: bool | None = None

    def stroke(self, sign: Sign) -> str:
        """What the stroke of a sign is worth: see the fact of that name."""
        if not sign.slashed:
            return "none"
        if self.strokes != "by habit":
            return "telling" if self.strokes == "as-printed" else "silent"
        later = self.year > LAST_YEAR_OF_EDITORS_STROKES
        silent = self.habits is not None and self.habits.strokes == "nearly all" and not later
        return "silent" if silent else "telling"


def situation_of(score: Score, sign: Sign, verdict: Verdict | None, known: Circumstances) -> Situation:
    """The facts of a sign."""
    around = _Around.of(score, sign)
    stroke = known.stroke(sign)
    facts: dict[str, Fact] = {
        "sign": sign.kind,
        "count": len(sign.small),
        "slashed": stroke == "telling",
        "stroke": stroke,
        "spelled": bool(sign.spelled),
        "year": known.year,
    }
    facts |= _of_harmony(verdict, around.note)
    facts |= _of_place(score, around, known.qpm)
    facts |= _of_line(around, sign)
    facts |= _of_trill(around, sign)
    facts |= _of_print(around, sign)
    facts |= _of_figures(score, around, sign)
    return Situation(facts | _together(facts, known))


def _together(facts: dict[str, Fact], known: Circumstances) -> dict[str, Fact]:
    """Facts that rest on several of the others."""
    one_value = known.habits is not None and known.habits.one_value is not None
    value_q = Fraction(0) if one_value else facts["value_q"]
    main_q = facts["main_q"]
    assert isinstance(value_q, Fraction)
    assert isinstance(main_q, Fraction)
    fits = (not value_q or value_q >= main_q) and known.rest_holds is not False
    heavy = bool(value_q and value_q >= max(main_q / 2, Fraction(1)))
    return {
        "value_q": value_q,
        "into_rest": bool(facts["before_rest"] and not facts["main_staccato"] and fits),
        "long_place": bool(facts["long_place"]) or heavy,
        "doubtful": bool(facts["doubtful"]) or (facts["stroke"] == "telling" and facts["leans"] == "yes"),
    }


def _of_print(around: _Around, sign: Sign) -> dict[str, Fact]:
    """What the sign's own print says."""
    ornament = sign.ornament or Ornament("")
    shapes = WORDS["shape"]
    return {
        "dotted": around.event.dots > 0,
        "on_small": sign.within is not None,
        "long": ornament.get("long") == "yes",
        "approach": _one_of(ornament.get("approach"), ("above", "below")),
        "departure": _one_of(ornament.get("departure"), ("above", "below")),
        "arrow": _one_of(ornament.get("direction"), ("up", "down")),
        "free": ornament.get("type") == "unmeasured",
        "shape": (_one_of(ornament.text, shapes) if sign.kind == "fermata" else "none"),
        "on_rest": around.event.is_rest,
    }


def _one_of(word: str | None, words: tuple[str, ...]) -> str:
    return word if word in words else "none"


@dataclass(frozen=True, slots=True)
class _Around:
    """A sign's event with its neighbours in the voice."""

    event: Event
    note: Note | None
    previous: Event | None
    following: Event | None
    events: tuple[Event, ...]
    index: int
    keyboard: bool

    @classmethod
    def of(cls, score: Score, sign: Sign) -> _Around:
        part = score.parts[sign.part]
        events = part.voices[sign.voice].events
        previous = events[sign.event - 1] if sign.event else None
        following = events[sign.event + 1] if sign.event + 1 < len(events) else None
        event = events[sign.event]
        if previous is not None and previous.end_q < event.onset_q:
            previous = None
        if following is not None and following.onset_q > event.end_q:
            following = None
        return cls(event, sign.main_note(score), previous, following, events, sign.event, family_of(part) == "keyboard")


def _of_harmony(verdict: Verdict | None, main: Note | None) -> dict[str, Fact]:
    if verdict is None or not verdict.known:
        return {
            "member": UNKNOWN,
            "leans": "unknown",
            "doubtful": False,
            "six_four": False,
            "octave_with_bass": False,
            "before_written_out": False,
            "main_seventh": False,
        }
    leans = verdict.leans[0] if verdict.leans else None
    return {
        "member": verdict.members[0] if verdict.members else UNKNOWN,
        "leans": "unknown" if leans is None else ("yes" if leans else "no"),
        "doubtful": verdict.doubtful,
        "six_four": verdict.six_four,
        "octave_with_bass": verdict.octave_with_bass,
        "before_written_out": verdict.before_written_out,
        "main_seventh": main is not None and _letters_above(main.sounding, verdict.root) == 6,
    }


def _letters_above(pitch: Pitch, root: str) -> int:
    """How many letters a pitch is above a root, within an octave."""
    return ("CDEFGAB".index(pitch.step) - "CDEFGAB".index(root[0])) % 7


def _of_place(score: Score, around: _Around, qpm: Fraction) -> dict[str, Fact]:
    event, bar = around.event, score.bars[around.event.bar]
    return {
        "beat": _beat(bar, event.onset_q - bar.onset_q),
        "triple": _beats(bar) == 3,
        "main_q": event.duration_q,
        "main_s": event.duration_q * 60 / qpm,
        "three_parts": event.tuplet == 1 and _in_three(event, bar),
        "tied_on": bool(around.note and around.note.tied_on),
        "fermata": event.fermata is not None,
        "triplet": event.tuplet == Fraction(2, 3),
        "character": _character(score, event, qpm, bar),
        "keyboard": around.keyboard,
        "main_staccato": bool(event.articulations & {"staccato", "staccatissimo", "spiccato"}),
        "run": _run(around),
    }


def _in_three(event: Event, bar: Bar) -> bool:
    """Whether the note has three equal parts: dotted, or a beat, or three, of a compound meter.

    A note of two compound beats has two equal parts, dotted though it is.
    """
    beats = event.duration_q / bar.meter.beat_q
    if bar.meter.compound and beats.denominator == 1:
        return beats == 1 or beats % 3 == 0
    return event.dots == 1


def _beats(bar: Bar) -> int:
    return int(bar.meter.bar_q / bar.meter.beat_q)


def _beat(bar: Bar, at_q: Fraction) -> str:
    place = at_q + bar.lead_q
    number, rest_q = divmod(place, bar.meter.beat_q)
    if rest_q:
        # the half of a long beat is felt as a beat of its own (alla breve, slow 2/4); smaller parts are not
        return "off"
    if number == 0:
        return "down"
    return "strong" if _beats(bar) % 2 == 0 and number * 2 == _beats(bar) else "weak"


def _character(score: Score, event: Event, qpm: Fraction, bar: Bar) -> str:
    until = bisect_right(score.tempos, event.onset_q, key=attrgetter("onset_q"))
    worded = (mark.words for mark in reversed(score.tempos[:until]) if mark.words)
    said = next(filter(None, map(tempo_character, worded)), None)
    if said:
        return said
    beats = qpm / bar.meter.beat_q
    return "slow" if beats < 66 else "moderate" if beats < 112 else "fast"


def _run(around: _Around) -> bool:
    event = around.event
    if event.duration_q > Fraction(1, 2):
        return False
    count = 1
    for direction in (-1, 1):
        index = around.index + direction
        while (
            0 <= index < len(around.events)
            and around.events[index].notes
            and around.events[index].duration_q == event.duration_q
        ):
            count += 1
            index += direction
            if count >= 4:
                return True
    return False


def _of_line(around: _Around, sign: Sign) -> dict[str, Fact]:
    main = around.note.written if around.note else None
    small = sign.small[0].written[0] if sign.small else None
    last = sign.small[-1].written[0] if sign.small else None
    before = around.previous.top.written if around.previous and around.previous.notes else None
    after = around.following.top.written if around.following and around.following.notes else None
    return {
        "value_q": (sign.small[0].value_q if sign.small else None) or Fraction(0),
        "before_rest": around.following is not None and around.following.is_rest,
        "before": _before(around, main, before),
        "next": _next(around, main, after),
        "repeats_before": small is not None and small == before,
        "main_repeated": main is not None and main in (before, after),
        "direction": _direction(last, main),
        "steps": abs(last.diatonic - main.diatonic) if last and main else 0,
        "semitones": int(abs(float(last.midi - main.midi))) if last and main else 0,
        "fills_third": bool(
            small
            and main
            and before
            and len(sign.small) == 1
            and before.diatonic - main.diatonic == 2
            and before.diatonic - small.diatonic == 1
        ),
        "slurred_back": bool(sign.small and sign.small[-1].slur_stop and not any(s.slur_start for s in sign.small)),
    }


def _direction(small: Pitch | None, main: Pitch | None) -> str:
    if small is None or main is None:
        return "none"
    gap = small.diatonic - main.diatonic
    return "above" if gap > 0 else "below" if gap < 0 else "same"


def _before(around: _Around, main: Pitch | None, before: Pitch | None) -> str:
    if around.previous is None:
        return "start"
    if before is None or main is None:
        return "rest"
    return ("same", "step", "third", "leap")[min(abs(before.diatonic - main.diatonic), 3)]


def _next(around: _Around, main: Pitch | None, after: Pitch | None) -> str:
    if around.following is None:
        return "end"
    if after is None or main is None:
        return "rest"
    gap = after.diatonic - main.diatonic
    if abs(gap) == 1:
        return "rising second" if gap > 0 else "falling second"
    return {0: "same", 2: "third"}.get(abs(gap), "leap")


def _of_figures(score: Score, around: _Around, sign: Sign) -> dict[str, Fact]:
    """What the notes around make together."""
    event, bar = around.event, score.bars[around.event.bar]
    beats = event.duration_q / bar.meter.beat_q
    last = around.following is None or (around.following.is_rest and beats >= 1)
    tied = bool(around.note and around.note.tied_on)
    return {
        "long_place": beats >= 2 or tied or last or event.fermata is not None or _is_trilled(event),
        "syncopated": _syncopated(bar, event),
        "figure": next((name for name, makes in _FIGURES.items() if makes(around, sign)), "none"),
    }


def _syncopated(bar: Bar, event: Event) -> bool:
    """Whether a note is held over a heavier place than the one it begins on."""
    beat_q, at_q = bar.meter.beat_q, event.onset_q - bar.onset_q
    own = _WEIGHTS[_beat(bar, at_q)]
    start_q = at_q + bar.lead_q
    first = int(start_q // beat_q) + 1
    until = int(-(-(start_q + event.duration_q) // beat_q))
    crossed = (_WEIGHTS[_beat(bar, beat * beat_q - bar.lead_q)] for beat in range(first, min(until, _beats(bar))))
    return any(weight > own for weight in crossed)


_WEIGHTS = {"off": 0, "weak": 1, "strong": 2, "down": 3}


def _turns_back(around: _Around, sign: Sign) -> bool:
    """Whether four small notes turn around the note before, which they then belong to."""
    before = around.previous
    if before is None or before.is_rest or len(sign.small) != 4:
        return False
    steps = [small.written[0].diatonic - before.top.written.diatonic for small in sign.small]
    return steps in ([1, 0, -1, 0], [-1, 0, 1, 0])


def _fills_up(around: _Around, sign: Sign) -> bool:
    """Whether a small note, an eighth and a sixteenth fall by step and another sixteenth follows by step: all even."""
    events = around.events[around.index : around.index + 3]
    if len(events) < 3 or len(sign.small) != 1 or any(event.is_rest for event in events):
        return False
    length_q = events[0].duration_q
    even = length_q <= Fraction(1, 2) and all(event.duration_q * 2 == length_q for event in events[1:])
    letters = [sign.small[0].written[0].diatonic, *(event.top.written.diatonic for event in events)]
    steps = [high - low for high, low in pairwise(letters)]
    return even and steps[:2] == [1, 1] and abs(steps[2]) == 1


def _slides(around: _Around, sign: Sign) -> bool:
    """Whether two small notes rise by step into their note."""
    if around.note is None or len(sign.small) != 2:
        return False
    letters = [*(small.written[0].diatonic for small in sign.small), around.note.written.diatonic]
    return [high - low for low, high in pairwise(letters)] == [1, 1]


_FIGURES = {"turn back": _turns_back, "eighth and two": _fills_up, "slide": _slides}
_SECONDS = ("falling second", "rising second")
_TRILLS = frozenset({"trill-mark", "shake", "wavy-line"})


def _is_trilled(event: Event | None) -> bool:
    return event is not None and any(o.kind in _TRILLS for note in event.notes for o in note.ornaments)


def _ends(event: Event | None, small: tuple[Pitch, ...]) -> bool:
    """Whether small notes are the end of a trill on `event`.

    The note below and the note itself, or the note below alone.
    """
    if event is None or not _is_trilled(event):
        return False
    return [pitch.diatonic - event.top.written.diatonic for pitch in small] in ([-1, 0], [-1])


def _of_trill(around: _Around, sign: Sign) -> dict[str, Fact]:
    main = around.note.written if around.note else None
    previous = around.previous.top.written if around.previous and around.previous.notes else None
    own = around.event.small_before
    own_above = bool(own and main and len(own) == 1 and own[0].written[0].diatonic - main.diatonic == 1)
    upper = bool(previous and main and previous.diatonic - main.diatonic == 1)
    small = tuple(note.written[0] for note in sign.small)
    ending = ending_after(around.events, around.index) if _is_trilled(around.event) else "none"
    following = around.following if around.following and around.following.notes else None
    return {
        "trilled": _is_trilled(around.event),
        "turned": any("turn" in ornament.kind for note in around.event.notes for ornament in note.ornaments),
        "ends_trill": sign.kind == "small notes" and _ends(around.previous, small),
        "prepared": own_above,
        "upper_before": upper,
        "upper_slurred": upper and around.event.slur_back,
        "end_printed": bool(around.event.small_after) or ending in ("small", "full"),
        "anticipated": ending == "anticipation",
        "chain": following is not None
        and _is_trilled(following)
        and _next(around, main, following.top.written) in _SECONDS,
    }
