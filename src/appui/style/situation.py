"""The situation of a sign: the facts a manual's rules ask about.

Conventions: lengths in quarter notes (`*_q`) or seconds at the tempo it is judged at (`*_s`); steps are letter steps.
Where a fact cannot be known it is the word ``unknown`` or ``none``, so that a rule asking for it simply does not
match. `FACTS` documents every fact; a table that asks for another is refused.
"""

from __future__ import annotations

from bisect import bisect_right
from dataclasses import dataclass
from operator import attrgetter

from appui.exact import Fraction
from appui.harmony.model import DISSONANCE, MEMBER, UNKNOWN, Verdict
from appui.score.model import Bar, Event, Note, Ornament, Score
from appui.score.pitch import Pitch
from appui.score.signs import Sign
from appui.score.solo import family_of
from appui.score.tempo_words import tempo_character

__all__ = ["FACTS", "WORDS", "Fact", "Situation", "situation_of"]

Fact = str | bool | int | Fraction

FACTS: dict[str, str] = {
    "sign": "the sign's name: small notes, after-notes, trill ...",
    "count": "how many small notes",
    "slashed": "whether the small notes are crossed",
    "value_q": "printed value of the first small note, in quarters; 0 where none is printed",
    "member": "the first small note in the chord: chord member, dissonance, unknown",
    "leans": "what the harmony says: yes, no, unknown",
    "doubtful": "whether that verdict is doubtful",
    "six_four": "whether it stands over a cadential six-four",
    "before_written_out": "whether the main note is itself a leaning note, printed at full size",
    "octave_with_bass": "whether the small note makes a pure octave with the bass",
    "beat": "where the main note stands: down, strong, weak, off",
    "triple": "whether the bar has three beats",
    "main_q": "length of the main note",
    "main_s": "length of the main note in seconds",
    "three_parts": "whether the main note divides in three (dotted, or a beat of a compound meter)",
    "tied_on": "whether the main note is tied on",
    "before_rest": "whether a rest follows the main note",
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
    "ends_trill": "whether the small notes are the printed end of the trill before",
    "slurred_back": "whether a slur ties the small notes to the note before only",
    "prepared": "whether a small note from above stands before the trill",
    "upper_before": "whether the note before is the trill's upper note",
    "upper_slurred": "whether that upper note is slurred to the trill",
    "end_printed": "whether small notes after the trill print its end",
    "chain": "whether the next note carries a trill too",
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


def situation_of(score: Score, sign: Sign, verdict: Verdict | None, qpm: Fraction, year: int = 0) -> Situation:
    """The facts of a sign; `qpm` is the tempo its seconds are counted at, `year` the year of the music, 0 unknown."""
    around = _Around.of(score, sign)
    facts: dict[str, Fact] = {"sign": sign.kind, "count": len(sign.small), "slashed": bool(sign.slashed)}
    facts |= _of_harmony(verdict)
    facts |= _of_place(score, around, qpm)
    facts |= _of_line(around, sign)
    facts |= _of_trill(around, sign)
    facts |= _of_print(around, sign)
    facts["year"] = year
    return Situation(facts)


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


def _of_harmony(verdict: Verdict | None) -> dict[str, Fact]:
    if verdict is None or not verdict.known:
        return {
            "member": UNKNOWN,
            "leans": "unknown",
            "doubtful": False,
            "six_four": False,
            "octave_with_bass": False,
            "before_written_out": False,
        }
    leans = verdict.leans[0] if verdict.leans else None
    return {
        "member": verdict.members[0] if verdict.members else UNKNOWN,
        "leans": "unknown" if leans is None else ("yes" if leans else "no"),
        "doubtful": verdict.doubtful,
        "six_four": verdict.six_four,
        "octave_with_bass": verdict.octave_with_bass,
        "before_written_out": verdict.before_written_out,
    }


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
    following = tuple(note.written[0] for note in around.following.small_before) if around.following else ()
    return {
        "trilled": _is_trilled(around.event),
        "ends_trill": sign.kind == "small notes" and _ends(around.previous, small),
        "prepared": own_above,
        "upper_before": upper,
        "upper_slurred": upper and around.event.slur_back,
        "end_printed": bool(around.event.small_after) or _ends(around.event, following),
        "chain": _is_trilled(around.following),
    }
