"""How good a draft is that keeps the rules: a sum of stated terms, each in a line, each a matter of taste.

No source weighs them; they put common practice into numbers. Higher is better.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from itertools import groupby, pairwise

from appui.embellish.case import Case
from appui.embellish.line import Moment, heard, pitches
from appui.embellish.model import Draft
from appui.harmony.spelling import class_of

__all__ = ["TERMS", "judged"]

# fmt: off
#  notes a second wished for in time, and seconds of a free passage as a share of the breath: by amount
_WISHED = {"sparse": (0.9, 0.45), "moderate": (1.5, 0.65), "rich": (2.4, 0.85)}
_SLOWER = {"slow": 1.0, "moderate": 1.2, "fast": 1.4}
# fmt: on
_QUICK_MS = 250
_RUNNING_S = 0.3


def _amount(case: Case, draft: Draft) -> float:
    """As much as was wished for: notes a second in time, seconds under a fermata."""
    wished, share = _WISHED[case.wish.how_much]
    if case.span.held:
        return -abs(case.seconds(draft.length_q) / float(case.wish.breath_s) - share) * 2
    length_s = max(case.seconds(draft.length_q), 0.1)
    return -abs(len(draft.notes) / length_s - wished * _SLOWER[case.character])


def _led(case: Case, draft: Draft) -> float:
    """It leads by step into what comes."""
    line = pitches(case, draft)
    if not line or case.goal is None:
        return 0.0
    return {0: -0.3, 1: 0.6, 2: 0.1}.get(abs(line[-1].diatonic - case.goal[1].diatonic), 0.0)


def _steps(case: Case, draft: Draft) -> float:
    """Some two thirds steps, the rest chord notes; nothing twice in a row."""
    line = pitches(case, draft)
    if len(line) < 3:
        return 0.0
    gaps = [abs(one.diatonic - other.diatonic) for one, other in pairwise(line)]
    share = sum(gap == 1 for gap in gaps) / len(gaps)
    return -abs(share - 0.72) - 0.5 * sum(gap == 0 for gap in gaps) / len(gaps)


def _variety(case: Case, draft: Draft) -> float:
    """Not the same move again and again, nor the same few notes."""
    line = pitches(case, draft)
    moves = 0.4 * (len(set(draft.words)) - len(draft.words))
    return moves + 0.8 * len(set(line)) / max(len(line), 1)


def _peak(case: Case, draft: Draft) -> float:
    """Free of the bar: the peak past the middle, a third to a tenth above the held note, of the chord."""
    if not case.span.held:
        return 0.0
    notes = heard(case, draft)
    top = max(notes, key=_midi)
    place = float(top.at_q / draft.length_q)
    height = _midi(top) - _midi(notes[0])
    foreign = case.held is not None and top.note.pitch is not None and not case.held.has(top.note.pitch)
    return -abs(place - 0.55) - (0.3 if height < 3 or height > 16 else 0.0) - 0.25 * foreign


def _midi(moment: Moment) -> int:
    return int(moment.note.pitch.midi) if moment.note.pitch is not None else 0


def _gait(case: Case, draft: Draft) -> float:
    """Quick notes come in groups: a lone one between long ones limps, but in a figure; in what is sad few are quick."""
    quick = [case.seconds(note.value_q) * 1000 < _QUICK_MS for note in draft.notes]
    own = [note.mark == "figure" for note in draft.notes]
    lone = sum(
        here and not before and not after and not figure
        for before, here, after, figure in zip([False, *quick], quick, [*quick[1:], False], own, strict=False)
    )
    sad = 0.8 * sum(quick) / max(len(quick), 1) if case.mood == "sad" else 0.0
    return -0.25 * lone - sad


def _held(case: Case, draft: Draft) -> float:
    """Free of the bar: the printed note is held for less than half of it."""
    if not case.span.held:
        return 0.0
    return -2 * max(0.0, float(draft.notes[0].value_q / draft.length_q) - 0.4)


def _turning(case: Case, draft: Draft) -> float:
    """Free of the bar: leaps are answered by steps the other way."""
    line = pitches(case, draft)
    bad = 0
    for one, two, three in zip(line, line[1:], line[2:], strict=False):
        first, second = two.diatonic - one.diatonic, three.diatonic - two.diatonic
        bad += abs(first) >= 4 and abs(second) >= 2 and (first > 0) == (second > 0)
    return -0.25 * bad


def _figure(case: Case, draft: Draft) -> float:
    """Free of the bar: it says what the piece has said, the chief figure best, twice best (Türk, V §13, memory).

    An answer a step or a third away is nearer than a fourth, and rather higher than lower.
    """
    del case
    own = draft.figure
    if own is None:
        return 0.0
    answer = own.letters[len(own.letters) // own.times] - own.letters[0] if own.times > 1 else 0
    near = 0.1 * (answer > 0) - 0.2 * (abs(answer) > 2)
    return 1.2 * own.likeness**2 + 0.6 * own.weight - (0.2 if own.times != 2 else 0.0) + near


def _exercise(case: Case, draft: Draft) -> float:
    """Free of the bar: no scale up and down again, no long stretch of one value, as exercises have them."""
    if not case.span.held:
        return 0.0
    runs = _runs(case, draft)
    mirrored = sum(min(one, other) for one, other in pairwise(runs) if min(one, other) > 2)
    even = max(len(list(group)) for _, group in groupby(draft.notes, lambda note: note.value_q))
    return -0.12 * mirrored - 0.12 * max(0, even - 6) - 0.06 * sum(max(0, run - 6) for run in runs)


def _runs(case: Case, draft: Draft) -> list[int]:
    """How many steps go the same way in a row, for each such row; 0 for what is no step, or of the piece's figure."""
    gaps = [
        0 if other.note.mark == "figure" else two.diatonic - one.diatonic
        for (one, two), other in zip(pairwise(pitches(case, draft)), heard(case, draft)[1:], strict=True)
    ]
    return [len(list(group)) if abs(gap) == 1 else 0 for gap, group in groupby(gaps)]


def _running(case: Case, draft: Draft) -> float:
    """Free of the bar: what says a figure of the piece runs out of it, some three quick notes, but in what is sad."""
    if draft.figure is None or case.mood == "sad":
        return 0.0
    running = sum(note.mark == "run" and case.seconds(note.value_q) < _RUNNING_S for note in draft.notes)
    return -0.2 * max(0, 3 - running)


def _close(case: Case, draft: Draft) -> float:
    """A last trill stands rather on the second than on the leading note, and that one is reached from above."""
    line = pitches(case, draft)
    if case.place.kind != "cadenza" or case.goal is None or len(line) < 2:
        return 0.0
    printed = not draft.all[-1].trill
    last, before = (case.goal[1], line[-1]) if printed else (line[-1], line[-2])
    footing = case.held
    leading = footing is not None and (int(last.midi) + 1) % 12 == class_of(footing.root)
    return -0.7 * (leading and not printed) - 0.6 * (leading and before.midi < last.midi)


TERMS: Mapping[str, Callable[[Case, Draft], float]] = {
    "amount": _amount,
    "leads on": _led,
    "steps and leaps": _steps,
    "variety": _variety,
    "peak": _peak,
    "gait": _gait,
    "turning back": _turning,
    "held": _held,
    "the piece's own": _figure,
    "no exercise": _exercise,
    "running out": _running,
    "close": _close,
}


def judged(case: Case, draft: Draft) -> tuple[float, dict[str, float]]:
    """The score of a draft, and its terms."""
    terms = {name: round(term(case, draft), 3) for name, term in TERMS.items()}
    return sum(terms.values()), terms
