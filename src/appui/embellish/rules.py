"""The rules a proposal keeps, one function each, with where it comes from.

A rule takes the case and a draft and gives `None`, or what is wrong in words. Limits that no source states in numbers
are in the tables at the top: design values. `read`: the words were read in a copy; `memory`: they were not.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from itertools import groupby, pairwise
from typing import NamedTuple

from appui.embellish.case import Case
from appui.embellish.line import Moment, heard, pitches
from appui.embellish.model import Draft
from appui.exact import Fraction
from appui.harmony.ground import SURE, Footing
from appui.harmony.places import letter_place
from appui.harmony.spelling import class_of
from appui.score.model import Event
from appui.score.pitch import Pitch
from appui.score.solo import family_of

__all__ = ["OF_ONE_NOTE", "RULES", "Rule", "dominant_of", "faults", "is_hard", "is_plain", "is_trilled", "parallel"]

# fmt: off
#  notes a second that may be added in time, by character: sparse, moderate, rich
_MORE = {"slow": (1.6, 2.6, 4.0), "moderate": (1.2, 2.0, 3.0), "fast": (0.6, 1.2, 2.0)}
#  shortest note in seconds: by step, by leap or repeated
_QUICKEST = {"sad": (0.24, 0.30), "tender": (0.10, 0.16), "lively": (0.085, 0.13)}
_VOICE_SLOWER = 1.3
#  seconds of the last note where small notes follow
_ROOM_S = 0.4
#  the share of the printed notes of the beats that may be passed over, each by another note of its chord
_LOST = {"slow": 0.34, "moderate": 0.5, "fast": 0.5}
#  widest leap in semitones
_WIDEST = {"sad": 9, "tender": 12, "lively": 12}
# fmt: on
#  semitones of leaps that are hard to play and to hear, in time
_AWKWARD = frozenset((6, 10, 11))
#  steps and semitones of augmented seconds and fifths, diminished fourths and sevenths
_TWISTED = frozenset(((1, 3), (4, 8), (3, 4), (6, 9)))
#  steps of a scale that may be gone back over: down and up; up and down over a peak that is dwelt on
_SCALE = (3, 4)
#  notes of a cadenza before its trill
_FEWEST = 5
#  a chord of so many letters has a seventh
_OF_SEVENTH = 4
_AMOUNT = {"sparse": 0, "moderate": 1, "rich": 2}
#  nobody plays to the very end of a breath: more than this share of it wants a rest inside
_BREATHE = Fraction(4, 5)
_STRUCTURAL = frozenset({"peak", "low", "chord", "home"})
_TRILLS = frozenset({"trill-mark", "shake", "wavy-line"})


class Rule(NamedTuple):
    """One rule: its name, the citation, how it is known, and the function that finds its fault."""

    name: str
    source: str
    known: str
    fault: Callable[[Case, Draft], str | None]


def faults(case: Case, draft: Draft, only: frozenset[str] = frozenset()) -> Iterator[tuple[str, str]]:
    """What is wrong with a draft: rule and words; `only`: by these rules, all where none is named."""
    for rule in RULES:
        if only and rule.name not in only:
            continue
        found = rule.fault(case, draft)
        if found is not None:
            yield rule.name, found


# what the rules ask


def _pitch(moment: Moment) -> Pitch:
    assert moment.note.pitch is not None
    return moment.note.pitch


def _pitches(case: Case, draft: Draft) -> list[Pitch]:
    """The pitches of a draft with the next printed note, where one follows."""
    found = pitches(case, draft)
    return [*found, case.goal[1]] if case.goal is not None else found


def _member(case: Case, moment: Moment) -> bool:
    footing = case.ground.at(moment.printed_q)
    if footing is None:
        return True
    if footing.shared >= SURE:
        return footing.has(_pitch(moment))
    # where the chord is doubtful the one the beat began with still counts
    bar = case.score.bar_at(moment.printed_q)
    into_q = (moment.printed_q - bar.onset_q + bar.lead_q) % bar.meter.beat_q
    begun = case.ground.at(max(moment.printed_q - into_q, case.start_q))
    return footing.has(_pitch(moment)) and (begun is None or begun.has(_pitch(moment)))


def _steps(one: Pitch, other: Pitch) -> int:
    return abs(one.diatonic - other.diatonic)


def is_trilled(event: Event | None) -> bool:
    """Whether an event has a printed trill."""
    return event is not None and any(o.kind in _TRILLS for note in event.notes for o in note.ornaments)


def dominant_of(tonic: Pitch, case: Case) -> tuple[Pitch, ...]:
    """The second and the leading note around a tonic, that a last trill stands on."""
    ground, at_q = case.ground, case.start_q + case.lead_q
    return ground.neighbour(tonic, 1, at_q), ground.neighbour(tonic, -1, at_q, rising=True)


# the rules


def _structure(case: Case, draft: Draft) -> str | None:
    """Enough of the printed notes of the beats still sound in their own time; a single one always."""
    line = heard(case, draft)
    if case.span.held:
        return None if _pitch(line[0]) == case.events[0].top.sounding else "does not begin with the printed note"
    lost = [event.top.sounding.name for event in case.events if event.notes and not _keeps(case, event, line)]
    beats = sum(bool(event.notes) and case.on_beat(event.onset_q) for event in case.events)
    allowed = int(beats * _LOST[case.character])
    if case.following is not None and not case.following.notes and _pitch(line[-1]) != case.events[-1].top.sounding:
        return f"does not end on {case.events[-1].top.sounding.name} before a rest"
    return f"loses {', '.join(lost)}" if len(lost) > allowed else None


def _keeps(case: Case, event: Event, line: list[Moment]) -> bool:
    """Whether a printed note on a beat is heard within its own time; what is between beats may go."""
    if not case.on_beat(event.onset_q):
        return len(case.events) > 1 or any(_pitch(m) == event.top.sounding for m in line)
    bar = case.score.bars[event.bar]
    end_q = max(event.end_q, event.onset_q + bar.meter.beat_q)
    return any(event.onset_q <= m.printed_q < end_q and _pitch(m) == event.top.sounding for m in line)


def _strong(case: Case, draft: Draft) -> str | None:
    """In time: chord notes on the beats, or notes that lean into one; other notes go on by step, and come by step."""
    line, printed = heard(case, draft), {event.onset_q for event in case.events}
    if case.span.held:
        return None
    after = [*line[1:], None]
    for index, (moment, following) in enumerate(zip(line, after, strict=True)):
        if _as_printed(case, moment) or _member(case, moment):
            continue
        if following is not None and following.at_q > moment.at_q + moment.note.value_q:
            return f"{_pitch(moment).name} is foreign to the chord and breaks off before a rest"
        goal = _pitch(following) if following is not None else _met(case)
        anticipates = following is None and goal == _pitch(moment) and _arrives(case)
        if not anticipates and (goal is None or _steps(_pitch(moment), goal) != 1):
            return f"{_pitch(moment).name} is foreign to the chord and does not go on by step"
        if case.on_beat(moment.printed_q):
            if following is None or not (_member(case, following) or following.note.mark == "printed"):
                return f"{_pitch(moment).name} on a beat leans into no chord note"
        elif index and moment.printed_q not in printed and _steps(_pitch(moment), _pitch(line[index - 1])) > 1:
            return f"{_pitch(moment).name} is foreign to the chord and comes by leap"
    return None


def _as_printed(case: Case, moment: Moment) -> bool:
    """Whether a note is what is printed at its moment: whatever it is to the harmony, the composer put it there."""
    at_q = moment.printed_q
    own = {event.top.sounding for event in case.events if event.notes and event.onset_q <= at_q < event.end_q}
    return moment.note.mark == "printed" and _pitch(moment) in own


def _met(case: Case) -> Pitch | None:
    """The next printed note, where it follows without a rest."""
    return case.goal[1] if case.goal is not None and case.goal[0] == case.end_q else None


def _arrives(case: Case) -> bool:
    """Whether the next printed note is of its chord: what is no chord note is not anticipated."""
    footing = case.ground.at(case.goal[0]) if case.goal is not None else None
    return footing is not None and case.goal is not None and footing.has(case.goal[1])


def _given_harmony(case: Case, draft: Draft) -> str | None:
    """On a fermata: the ends of runs, turning points, leaps and long notes are of the given harmony."""
    footing = case.held
    if not case.span.held or footing is None:
        return None
    line = [m for m in heard(case, draft) if m.note.mark != "arrival"]
    whole = _pitches(case, draft)
    for index, moment in enumerate(line):
        here = whole[index]
        if index == 0 or footing.has(here):
            continue
        if moment.note.mark in _STRUCTURAL:
            return f"{here.name}, a {moment.note.mark} note, is foreign to the given harmony"
        if any(_steps(here, other) != 1 for other in whole[index - 1 : index + 2 : 2]):
            return f"{here.name} is foreign to the given harmony and not led by step"
    return None


def _last_trill(case: Case, draft: Draft) -> str | None:
    """A cadenza ends with a trill before the final note, its own or the printed one."""
    if case.place.kind != "cadenza":
        return None
    if draft.all[-1].trill or (not draft.in_time and is_trilled(case.following)):
        return None
    return "has no trill before its end"


def _within_dominant(case: Case, draft: Draft) -> str | None:
    """A lead-in arrives on the first note of what follows, by step, out of the dominant."""
    if case.place.kind != "lead-in" or case.goal is None:
        return None
    last = _pitch(heard(case, draft)[-1])
    if _steps(last, case.goal[1]) != 1:
        return f"ends on {last.name}, which is no step from {case.goal[1].name}"
    return None


def _breath(case: Case, draft: Draft) -> str | None:
    """What is free of the bar is played in one breath by winds and voice; others may take two."""
    if not case.span.held:
        return None
    part = case.score.parts[case.span.part]
    room_s = float(case.wish.breath_s) * (2 if family_of(part) in ("strings", "keyboard") else 1)
    if case.seconds(draft.length_q) > room_s:
        return f"lasts {case.seconds(draft.length_q):.1f} s, longer than a breath of {room_s:g}"
    return None


def _place_to_breathe(case: Case, draft: Draft) -> str | None:
    """What is free of the bar goes on for four fifths of a breath at most; what is longer has a rest inside."""
    if not case.span.held:
        return None
    most_s = float(case.wish.breath_s * _BREATHE)
    for silent, notes in groupby(draft.notes, lambda note: note.pitch is None):
        length_s = case.seconds(sum((note.value_q for note in notes), Fraction(0)))
        if not silent and length_s > most_s:
            return f"goes on for {length_s:.1f} s without a place to breathe"
    return None


def _amount(case: Case, draft: Draft) -> str | None:
    """In time: more is added in slow pieces and to long notes than in fast ones and to short notes."""
    if case.span.held:
        return None
    most = _MORE[case.character][_AMOUNT[case.wish.how_much]]
    line = heard(case, draft)
    for event in case.events:
        own = [m for m in line if event.onset_q <= m.printed_q < event.end_q]
        room = max(1.0, case.seconds(event.duration_q) * most)
        if len(own) - 1 > room + 1:
            return f"adds {len(own) - 1} notes to one of {case.seconds(event.duration_q):.1f} s"
    return None


def _character(case: Case, draft: Draft) -> str | None:
    """It suits the character: in what is sad nothing runs and nothing leaps widely."""
    if draft.fits and case.mood not in draft.fits:
        return f"is not for what is {case.mood}"
    for one, other in pairwise(_pitches(case, draft)):
        if abs(int(one.midi - other.midi)) > _WIDEST[case.mood] and (one, other) not in _printed_pairs(case):
            return f"leaps from {one.name} to {other.name}"
    return None


def _printed_pairs(case: Case) -> set[tuple[Pitch, Pitch]]:
    notes = [event.top.sounding for event in case.events if event.notes]
    return set(pairwise([*notes, case.goal[1]] if case.goal is not None else notes))


def _compass(case: Case, draft: Draft) -> str | None:
    """Every note lies within the player's range; a printed one may go beyond it."""
    printed = {event.top.sounding for event in case.events if event.notes}
    for moment in heard(case, draft):
        tops = [_pitch(moment)]
        if moment.note.trill:
            tops.append(case.ground.neighbour(tops[0], 1, moment.printed_q))
        for pitch in tops:
            if pitch not in printed and not case.low.midi <= pitch.midi <= case.high.midi:
                return f"{pitch.name} is out of range"
    return None


def is_hard(one: Pitch, other: Pitch) -> bool:
    """Whether two notes are hard to sing one after the other: a tritone, a seventh, what is augmented or diminished."""
    gap = abs(int(one.midi - other.midi))
    return gap in _AWKWARD or (_steps(one, other), gap) in _TWISTED


def _leaps(case: Case, draft: Draft) -> str | None:
    """Leaps are comfortable: within the chord, or printed; in time no seventh, no tritone, no diminished fourth."""
    line, printed = heard(case, draft), _printed_pairs(case)
    for one, other in pairwise(line):
        a, b = _pitch(one), _pitch(other)
        if (
            _steps(a, b) > 1
            and (a, b) not in printed
            and not (_held_or_member(case, one) and _held_or_member(case, other))
        ):
            return f"leaps from {a.name} to {b.name}, which are not of one chord"
        if not case.span.held and (a, b) not in printed and is_hard(a, b):
            return f"leaps from {a.name} to {b.name}, a tritone, a seventh or a diminished fourth"
    return None


def _held_or_member(case: Case, moment: Moment) -> bool:
    return moment.note.mark in ("printed", "arrival") or _member(case, moment)


def _speed(case: Case, draft: Draft) -> str | None:
    """It can be played: no note quicker than the mood and a key or a throat allow."""
    by_step, by_leap = _QUICKEST[case.mood]
    slower = _VOICE_SLOWER if family_of(case.score.parts[case.span.part]) == "voice" else 1.0
    for moment, (one, other) in zip(heard(case, draft), pairwise(_pitches(case, draft)), strict=False):
        least = by_step if _steps(one, other) == 1 else by_leap
        if case.seconds(moment.note.value_q) < least * slower:
            return f"{one.name} lasts {case.seconds(moment.note.value_q):.2f} s"
    return None


def parallel(upper: tuple[Pitch, Pitch], lower: tuple[Pitch, Pitch]) -> str | None:
    """``fifths`` or ``octaves`` where two voices move from one to the next, the same way or not, else `None`."""
    if upper[0].midi == upper[1].midi or lower[0].midi == lower[1].midi:
        return None
    gaps = [int(high.midi - low.midi) % 12 for high, low in zip(upper, lower, strict=True)]
    return {7: "fifths", 0: "octaves"}.get(gaps[0]) if gaps[0] == gaps[1] else None


def _parallels(case: Case, draft: Draft) -> str | None:
    """No parallel fifths or octaves with the bass from one beat to the next, nor into the next printed note."""
    if case.span.held:
        return None
    line = [(m.printed_q, _pitch(m)) for m in heard(case, draft)]
    plain = [(event.onset_q, event.top.sounding) for event in case.events if event.notes]
    goal = [case.goal] if case.goal is not None else []
    beats = [*_beats(case), *(at_q for at_q, _ in goal)]
    # parallels that the composer wrote are not ours
    written = set(pairwise(_sounding_at(beats, plain + goal)))
    for one, other in (*pairwise(_sounding_at(beats, line + goal)), *pairwise(line + goal)):
        lower = case.ground.lowest(one[0]), case.ground.lowest(other[0])
        if lower[0] is None or lower[1] is None or (one, other) in written:
            continue
        found = parallel((one[1], other[1]), (lower[0], lower[1]))
        if found is not None:
            return f"{one[1].name} {other[1].name} makes parallel {found} with the bass"
    return None


def _beats(case: Case) -> list[Fraction]:
    """The beats within the span."""
    bar = case.score.bar_at(case.start_q)
    at_q, found = bar.onset_q - bar.lead_q, []
    while at_q < case.end_q:
        if at_q >= case.start_q:
            found.append(at_q)
        at_q += bar.meter.beat_q
    return found


_Line = list[tuple[Fraction, Pitch]]


def _sounding_at(beats: list[Fraction], line: _Line) -> _Line:
    """What has begun last at each of these moments."""
    last = [[each for each in line if each[0] <= at_q][-1:] for at_q in beats]
    return [(at_q, found[0][1]) for at_q, found in zip(beats, last, strict=True) if found]


def _augmented(case: Case, draft: Draft) -> str | None:
    """No augmented seconds."""
    for one, other in pairwise(_pitches(case, draft)):
        if _steps(one, other) == 1 and abs(int(one.midi - other.midi)) > 2 and (one, other) not in _printed_pairs(case):
            return f"{one.name} {other.name} is an augmented second"
    return None


def _spelling(case: Case, draft: Draft) -> str | None:
    """Every note is as the key, the chord or melodic minor has it, or the semitone below a note that it leads to."""
    line = heard(case, draft)
    for moment, following in zip(line, [*line[1:], None], strict=True):
        footing = case.ground.at(moment.printed_q)
        if moment.note.mark == "printed" or footing is None or footing.spells(_pitch(moment)):
            continue
        goal = _pitch(following) if following is not None else _met(case)
        known = following is None or following.note.mark == "printed" or _member(case, following)
        if goal is None or not known or not _leads_up(_pitch(moment), goal):
            return f"{_pitch(moment).name} is not of the key"
        goals = {goal.letter, case.goal[1].letter if case.goal is not None else ""}
        own = _pitch(moment)
        if any(letter[:1] == own.step and letter != own.letter for letter in (*footing.letters, *goals)):
            return f"{own.name} clashes with the {own.step} of the chord or the next note"
    return None


def _sevenths(case: Case, draft: Draft) -> str | None:
    """In time: an added seventh goes on by step, or to another note of its chord while that lasts."""
    line = heard(case, draft)
    if case.span.held:
        return None
    ends = [*((m.printed_q, _pitch(m)) for m in line[1:]), case.goal]
    for moment, goal in zip(line, ends, strict=True):
        footing = case.ground.at(moment.printed_q)
        if moment.note.mark == "printed" or footing is None or goal is None or len(footing.letters) < _OF_SEVENTH:
            continue
        there = case.ground.at(goal[0])
        same = there is not None and there.letters == footing.letters and goal[0] < case.end_q
        if _pitch(moment).letter == footing.letters[3] and _steps(_pitch(moment), goal[1]) > 1 and not same:
            return f"{_pitch(moment).name}, a seventh, does not go on by step"
    return None


def _leads_up(one: Pitch, other: Pitch) -> bool:
    """Whether a note is the semitone below another, a letter lower, without a double sharp."""
    return other.midi - one.midi == 1 == other.diatonic - one.diatonic and -2 < one.alter < 2


def _leading(footing: Footing | None) -> str:
    """The letter of the leading note of a chord that wants to resolve; empty where it has none."""
    if footing is None:
        return ""
    gaps = tuple(class_of(letter_place(letter) - footing.root) for letter in footing.letters[1:])
    if gaps[:2] == (3, 6):
        return footing.letters[0]
    return footing.letters[1] if gaps[:1] == (4,) and (footing.dominant or gaps[2:] == (10,)) else ""


def _leading_note(case: Case, draft: Draft) -> str | None:
    """A leading note that is added is not struck against the bass's; as a peak it goes on by step."""
    line = heard(case, draft)
    for index, moment in enumerate(line):
        own = _pitch(moment)
        if moment.note.mark in ("printed", "arrival") or own.letter != _leading(case.ground.at(moment.printed_q)):
            continue
        struck = case.on_beat(moment.printed_q) or (index and _steps(own, _pitch(line[index - 1])) > 1)
        bass = case.ground.lowest(moment.printed_q)
        if not case.span.held and struck and bass is not None and bass.letter == own.letter:
            return f"{own.name} doubles the leading note of the bass"
        following = _pitch(line[index + 1]) if index + 1 < len(line) else None
        peak = case.span.held and own.midi == max(_pitch(each).midi for each in line)
        if peak and following is not None and _steps(own, following) > 1:
            return f"{own.name}, the leading note, is the peak and leaps away"
    return None


def _resolution(case: Case, draft: Draft) -> str | None:
    """In time: a leading note that is printed with its key note after it is not left by a leap to an added note."""
    rising = {one for one, other in _printed_pairs(case) if other.diatonic - one.diatonic == 1}
    for moment, following in pairwise(heard(case, draft)):
        own, footing = _pitch(moment), case.ground.at(moment.printed_q)
        leads = footing is not None and int(own.midi) % 12 == footing.leading_class and own in rising
        if not case.span.held and leads and following.note.mark != "printed" and _steps(own, _pitch(following)) > 1:
            return f"{own.name}, the leading note, leaps away where it is printed with its resolution"
    return None


def _room(case: Case, draft: Draft) -> str | None:
    """Small notes before the next note may take their time from the last one added: it is not quick then."""
    following = case.voice[case.span.last + 1] if case.span.last + 1 < len(case.voice) else None
    if following is None or not following.small_before:
        return None
    last = draft.all[-1]
    return "leaves the next note's small notes no time" if case.seconds(last.value_q) < _ROOM_S else None


def _one_peak(case: Case, draft: Draft) -> str | None:
    """A cadenza or lead-in rises to one peak; a cadenza comes down from it, unless it rises by step into its trill."""
    if case.place.kind not in ("cadenza", "lead-in"):
        return None
    pitches = [int(_pitch(moment).midi) for moment in heard(case, draft)]
    high = [index for index, (midi, _) in enumerate(groupby(pitches)) if midi == max(pitches)]
    if case.place.kind == "cadenza" and pitches[-1] == max(pitches) and not _rises_into_trill(case, draft):
        return "ends on its highest note"
    return "has its highest note more than once" if len(high) > 1 else None


def _rises_into_trill(case: Case, draft: Draft) -> bool:
    """Whether the last note has a trill, which the note before leads into by step from below."""
    line = heard(case, draft)
    return line[-1].note.trill and len(line) > 1 and _pitch(line[-1]).diatonic - _pitch(line[-2]).diatonic == 1


def _no_exercise(case: Case, draft: Draft) -> str | None:
    """Under a fermata: no scale down and up again, or up and down, over the same notes."""
    if not case.span.held:
        return None
    for one, other in pairwise(_scales(case, draft)):
        if one * other < 0 and min(abs(one), abs(other)) > _SCALE[one > 0]:
            return "has a scale and the way back over it, as an exercise has"
    return None


def _scales(case: Case, draft: Draft) -> list[int]:
    """How many steps each scale goes, above 0 up, below 0 down; 0 for leaps and for the piece's own figure."""
    line = heard(case, draft)
    gaps = [
        0 if "figure" in (one.note.mark, other.note.mark) else _pitch(other).diatonic - _pitch(one).diatonic
        for one, other in pairwise(line)
    ]
    return [gap * len(list(run)) if abs(gap) == 1 else 0 for gap, run in groupby(gaps)]


def _long_enough(case: Case, draft: Draft) -> str | None:
    """What is called a cadenza has five notes at least before its trill."""
    count = sum(note.pitch is not None and not note.trill for note in draft.all)
    return f"has only {count} notes" if case.place.kind == "cadenza" and count < _FEWEST else None


def _readable(case: Case, draft: Draft) -> str | None:
    """Values a player reads at sight: plain or dotted ones, triplets in threes."""
    del case
    triplets = [note.value_q for note in draft.all if note.value_q.denominator % 3 == 0]
    if any(value > Fraction(1, 3) or value.denominator > 24 or value.numerator != 1 for value in triplets):
        return "has odd triplets"
    if any(len(list(run)) % 3 for _, run in groupby(triplets)):
        return "has broken triplets"
    plain = [note.value_q for note in draft.all if note.value_q.denominator % 3]
    if any(not is_plain(value) for value in plain):
        return "has values that no single note has"
    # the dots of the piece's own figure are known from the page; a dot with its short note beside it is read as one
    line = draft.all
    dotted = [
        note
        for before, note, after in zip((None, *line), line, (*line[1:], None), strict=False)
        if note.mark != "figure"
        and note.value_q.numerator % 3 == 0
        and note.value_q < 1
        and not any(each is not None and 3 * each.value_q == note.value_q for each in (before, after))
    ]
    return "has several dotted quick notes" if len(dotted) > 1 + (len(plain) > 6) else None


def is_plain(value: Fraction) -> bool:
    """Whether one note, plain or dotted, has a value in quarters."""
    odd = value.numerator
    while odd % 2 == 0:
        odd //= 2
    whole = value.denominator
    return odd in (1, 3) and whole <= 32 and whole & (whole - 1) == 0


#  what can be asked of the notes of one printed note alone
# fmt: off
OF_ONE_NOTE = frozenset((
    "strong parts", "amount", "character", "compass", "leaps", "speed", "augmented seconds", "spelling", "sevenths",
    "leading note",
))
RULES: tuple[Rule, ...] = (
    Rule("structure", "Tartini, c. 1750: the harmony's notes are kept; shares: design values", "memory", _structure),
    Rule("strong parts", "Tartini, c. 1750: passing notes and turns between the written notes", "memory", _strong),
    Rule("given harmony", "Türk 1789, V §4, p. 301", "read", _given_harmony),
    Rule("last trill", "Türk 1789, V §11, pp. 308-309", "read", _last_trill),
    Rule("out of the dominant", "common practice, no source", "common practice", _within_dominant),
    Rule("one breath", "Agricola 1757: a cadenza in one breath; the seconds are a design value", "memory", _breath),
    Rule("place to breathe", "common practice, no source", "common practice", _place_to_breathe),
    Rule("amount", "C.P.E. Bach 1753, 2.1 §19, p. 59; the numbers are design values", "read", _amount),
    Rule("character", "Türk 1789, V §4, p. 301, and §7, p. 238; the numbers are design values", "read", _character),
    Rule("compass", "the player's; the table of instruments: common practice, no source", "common practice", _compass),
    Rule("leaps", "common practice, no source", "common practice", _leaps),
    Rule("speed", "common practice, no source; the seconds are design values", "common practice", _speed),
    Rule("parallels", "common practice, no source", "common practice", _parallels),
    Rule("augmented seconds", "C.P.E. Bach 1753, 2.3 §19, 2.4 §25, pp. 75, 89, of trills", "read", _augmented),
    Rule("spelling", "C.P.E. Bach 1753, 2.1 §17, p. 58", "read", _spelling),
    Rule("sevenths", "common practice, no source", "common practice", _sevenths),
    Rule("leading note", "common practice, no source", "common practice", _leading_note),
    Rule("resolution", "common practice, no source", "common practice", _resolution),
    Rule("room", "common practice, no source; the seconds are a design value", "common practice", _room),
    Rule("one peak", "common practice, no source", "common practice", _one_peak),
    Rule("no exercise", "common practice, no source; the number is a design value", "common practice", _no_exercise),
    Rule("five notes", "common practice, no source; the number is a design value", "common practice", _long_enough),
    Rule("readable", "common practice, no source", "common practice", _readable),
)
# fmt: on
