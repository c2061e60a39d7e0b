"""How often the harmonic verdict agrees with an expert's label, on labels kept outside the project.

    python -m tests.benchmarks.harmony_accuracy LABELS.csv SCORES_FOLDER [--leave-out]

The CSV has a row a small note: file, part_idx, measure_idx, offset_q, glen (how many small notes stand together),
grace_pitch (sounding, as Bb4), grace_member (1: belongs to the chord). Prints agreement over all, by group and by
texture, then how often a verdict of a confidence is right beside how sure it said it was. A verdict "unknown" counts as
wrong.

Without an option the verdicts are those of the shipped parameters, which were chosen on labels like these: the figures
say how well the parameters fit, not how well the tool does on other scores. `--leave-out` says that: the scores are
dealt into six folds; for each fold the parameters are fitted anew on the five others, from round values, by a
deterministic search one knob at a time, then the two that turn the chance of chords into the chance that a note belongs
by the likelihood of the labels, and the fold is judged with them. No score is judged with parameters that were fitted
on it. Not left out: the form of the model, the round values and the knobs, chosen with these labels known,
and what a move must be worth, the best of half a dozen ways of fitting by such folds.
"""

import argparse
import csv
import math
from collections import defaultdict
from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace
from itertools import pairwise
from pathlib import Path
from statistics import mean, median
from typing import NamedTuple

from scipy.optimize import minimize

from appui.exact import fraction_of
from appui.harmony.analyse import Harmony, analyse
from appui.harmony.belonging import Membership, belonging
from appui.harmony.fits import Sounding
from appui.harmony.parameters import Parameters
from appui.musicxml.read.score import read_score
from appui.score.model import Score
from appui.score.pitch import parse_pitch
from appui.score.signs import Sign, find_signs

FOLDS = 6
ROUNDS = 2
# a move of a knob that gains less (in nats a note) fits noise: with a quarter of it the folds left out come out worse
# than with no fitting at all
WORTH = 0.004
# labels are wrong now and then: no single one may count for more
FLOOR = 0.03
# keeps the last two values where they are when the labels say little of them
RIDGE = 0.2
EDGES = (0.5, 0.6, 0.7, 0.8, 0.9, 0.95, 1.01)

# round values, from what the study that proposed the model says in words; not from these labels
START = Parameters(
    onset_bonus=0.5,
    cap=1.5,
    passing=0.7,
    member=1.0,
    foreign=1.0,
    missing_root=0.3,
    missing_third=0.3,
    missing_fifth=0.1,
    missing_seventh=0.1,
    bass_root=0.5,
    bass_third=0.0,
    bass_fifth=-0.5,
    bass_seventh=-1.0,
    bass_foreign=-1.0,
    bass_alone=0.5,
    nearby=1.0,
    nearby_slices=24.0,
    prior=1.0,
    sharpness=1.5,
    change=3.0,
    falling_fifth=0.5,
    share_parts=0.5,
    share_beats=0.25,
    share_window=0.25,
    spread=1.0,
    sounding=0.0,
)
# what is turned together, by which factors of its value at the start
KNOBS = {
    "sharpness": (("sharpness",), (0.5, 0.7, 1, 1.4, 2)),
    "change": (("change",), (0.5, 0.7, 1, 1.4, 2)),
    "nearby": (("nearby",), (0, 0.5, 1, 1.5, 2)),
    "prior": (("prior",), (0.35, 0.6, 1, 1.5)),
    "bass": (("bass_root", "bass_fifth", "bass_seventh"), (0, 0.5, 1, 1.5)),
    "foreign bass": (("bass_foreign",), (0, 0.3, 1)),
    "foreign": (("foreign",), (0.6, 0.8, 1, 1.3, 1.7)),
    "missing": (("missing_root", "missing_third", "missing_fifth", "missing_seventh"), (0, 0.5, 1, 1.7)),
    "onset": (("onset_bonus",), (0, 0.5, 1, 2)),
    "falling fifth": (("falling_fifth",), (0, 1, 2)),
    "before": (("before",), (0.5, 1, 1.4)),
}


class Place(NamedTuple):
    """One labelled small note in a score: what was found of it, and what the expert says."""

    sign: Sign
    pitch_class: int
    member: bool
    single: bool
    texture: str


class Piece(NamedTuple):
    """A score with its labelled places; `sounding` is what does not depend on parameters."""

    file: str
    group: str
    score: Score
    sounding: Sounding
    places: tuple[Place, ...]


class Judged(NamedTuple):
    """One labelled note: where it belongs, whether the verdict agrees, how sure it was, whether there was one."""

    group: str
    single: bool
    texture: str
    right: bool
    confidence: float
    known: bool


def main() -> None:
    """Read, judge, count."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("labels", type=Path)
    parser.add_argument("scores", type=Path)
    parser.add_argument("--leave-out", action="store_true", help="fit anew without each score, then judge it")
    words = parser.parse_args()
    by_file = defaultdict(list)
    with words.labels.open(encoding="utf-8") as stream:
        for row in csv.DictReader(stream):
            by_file[row["file"]].append(row)
    pieces = [piece(words.scores / file, rows) for file, rows in sorted(by_file.items())]
    found = sum(len(one.places) for one in pieces)
    print(f"{found} of {sum(map(len, by_file.values()))} labelled notes found, in {len(pieces)} scores")
    judged = left_out(pieces) if words.leave_out else [j for one in pieces for j in verdicts(one, Parameters())]
    tables(judged)


# what is labelled


def piece(path: Path, rows: list[dict[str, str]]) -> Piece:
    """A score with those of its labelled small notes that are found in it."""
    score = read_score(path)
    sounding, signs = Sounding(score), {}
    for sign in find_signs(score):
        event = sign.main(score)
        at_q = event.onset_q - score.bars[event.bar].onset_q
        for small in sign.small:
            for pitch in small.sounding:
                signs[sign.part, event.bar, at_q, pitch.name] = sign
    places = []
    for row in rows:
        at_q = fraction_of(row["offset_q"]).limit_denominator(1000)
        labelled = signs.get((int(row["part_idx"]), int(row["measure_idx"]), at_q, row["grace_pitch"]))
        if labelled is not None:
            texture = texture_at(score, sounding, labelled)
            own = class_of(row["grace_pitch"])
            places.append(Place(labelled, own, row["grace_member"] == "1", row["glen"] == "1", texture))
    return Piece(path.name, group_of(path.name), score, sounding, tuple(places))


def class_of(name: str) -> int:
    """The pitch class of a named pitch."""
    return round(parse_pitch(name).midi) % 12


def group_of(file: str) -> str:
    """Piano sonatas, string quartets, or the rest: songs."""
    if file.startswith("asap"):
        return "piano sonatas"
    return "quartets" if file.startswith("osq") or "__Op" in file else "songs"


def texture_at(score: Score, sounding: Sounding, sign: Sign) -> str:
    """How the other voices lay out the chord in the main note's beat."""
    event, own = sign.main(score), (sign.part, sign.voice)
    start = float(event.onset_q)
    end = start + float(score.bars[event.bar].meter.beat_q)
    classes = [
        {int(sounding.texture.midi[i]) % 12 for i in sounding.others(start, until, own)}
        for until in (start + 0.01, end)
    ]
    now, beat = map(len, classes)
    if not now:
        return "others rest on the beat"
    if now >= 3:
        return "full chord"
    return "chord broken over the beat" if beat >= 3 else "one or two notes"


# judging and fitting


def chances(one: Piece, p: Parameters) -> list[list[float] | None]:
    """For every place the chance of each pitch class to belong to the chord."""
    harmony: Harmony = analyse(one.score, p, one.sounding)
    found = (harmony.class_chances(place.sign) for place in one.places)
    return [None if each is None else each.tolist() for each in found]


def verdicts(one: Piece, p: Parameters) -> Iterator[Judged]:
    """For each labelled note what is said and whether it agrees."""
    for place, said in zip(one.places, chances(one, p), strict=True):
        chance = 0.5 if said is None else said[place.pitch_class]
        right = said is not None and (chance >= 0.5) == place.member
        yield Judged(one.group, place.single, place.texture, right, max(chance, 1 - chance), said is not None)


def loss(one: Piece, p: Parameters) -> float:
    """How surprised the parameters are by an expert, in nats, summed over a score's places."""
    total = 0.0
    for place, said in zip(one.places, chances(one, p), strict=True):
        chance = 0.5 if said is None else said[place.pitch_class]
        total -= math.log(max(chance if place.member else 1 - chance, FLOOR))
    return total


def folds_of(pieces: list[Piece]) -> list[list[Piece]]:
    """The scores dealt into folds: by group, the largest first, each to the fold that has fewest places."""
    folds: list[list[Piece]] = [[] for _ in range(FOLDS)]
    for one in sorted(pieces, key=lambda one: (one.group, -len(one.places), one.file)):
        min(folds, key=lambda fold: sum(len(o.places) for o in fold if o.group == one.group)).append(one)
    return folds


def turned(settings: dict[str, int]) -> Parameters:
    """The parameters with each knob at one of its factors."""
    values = {}
    for knob, (names, factors) in KNOBS.items():
        for name in names:
            values[name] = getattr(START, name) * factors[settings[knob]]
    return replace(START, **values)


def fitted(pieces: list[Piece], losses: Callable[[Piece, Parameters], float]) -> dict[str, int]:
    """Each knob in turn moved by one step as long as that is worth it."""
    count = sum(len(one.places) for one in pieces)
    here = {knob: factors.index(1) for knob, (_, factors) in KNOBS.items()}

    def cost(settings: dict[str, int]) -> float:
        return sum(losses(one, turned(settings)) for one in pieces) / count

    best = cost(here)
    for _ in range(ROUNDS):
        for knob, (_, factors) in KNOBS.items():
            for way in (1, -1):
                moved = here | {knob: here[knob] + way}
                while 0 <= moved[knob] < len(factors) and (now := cost(moved)) < best - WORTH:
                    here, best, moved = moved, now, moved | {knob: moved[knob] + way}
    return here


def settled(pieces: list[Piece], p: Parameters) -> Parameters:
    """The parameters with `spread` and `sounding` at the likeliest for the labels; the chords stay as they are."""
    known: list[tuple[Membership, Place]] = []
    for one in pieces:
        harmony = analyse(one.score, p, one.sounding)
        found = ((harmony.membership(place.sign), place) for place in one.places)
        known += [(each, place) for each, place in found if each is not None]

    def surprise(values: Sequence[float]) -> float:
        turned = replace(p, spread=float(values[0]), sounding=float(values[1]))
        total = RIDGE * sum(value * value for value in values)
        for each, place in known:
            chance = belonging(each, turned)[place.pitch_class]
            total -= math.log(chance if place.member else 1 - chance)
        return total

    spread, sounding = minimize(surprise, (1.0, 1.0), method="Nelder-Mead").x
    return replace(p, spread=float(spread), sounding=float(sounding))


def left_out(pieces: list[Piece]) -> list[Judged]:
    """Every score judged with parameters fitted on the other folds."""
    known: dict[tuple[str, Parameters], float] = {}

    def losses(one: Piece, p: Parameters) -> float:
        if (one.file, p) not in known:
            known[one.file, p] = loss(one, p)
        return known[one.file, p]

    judged, knobs, last = [], [], []
    folds = folds_of(pieces)
    for number, fold in enumerate(folds, 1):
        knobs.append(fitted([one for other in folds if other is not fold for one in other], losses))
        p = settled([one for other in folds if other is not fold for one in other], turned(knobs[-1]))
        last.append((p.spread, p.sounding))
        new = [j for one in fold for j in verdicts(one, p)]
        judged += new
        train = [j for other in folds if other is not fold for one in other for j in verdicts(one, p)]
        rates = mean(j.right for j in new), mean(j.right for j in train)
        print(f"fold {number}: {len(new)} notes, right {rates[0]:.3f}; on the scores fitted {rates[1]:.3f}", flush=True)
    plain = [j.right for one in pieces for j in verdicts(one, START)]
    print(f"round values as they are, nothing fitted: right {mean(plain):.3f}")
    print("factors chosen, one a fold (round values: 1)")
    for knob, (_, factors) in KNOBS.items():
        chosen = [factors[each[knob]] for each in knobs]
        print(f"  {knob:14} {'  '.join(f'{one:4}' for one in chosen)}   median {median(chosen):g}")
    for name, values in zip(("spread", "sounding"), zip(*last, strict=True), strict=True):
        print(f"  {name:14} {'  '.join(f'{one:4.2f}' for one in values)}   median {median(values):.2f}")
    return judged


# counting


def tables(judged: list[Judged]) -> None:
    """Agreement over all and by kind, then the reliability table."""
    total = len(judged)
    report("all", judged, total)
    report("single notes", [one for one in judged if one.single], total)
    for name in ("group", "texture"):
        for kind in sorted({getattr(one, name) for one in judged}):
            report(kind, [one for one in judged if getattr(one, name) == kind], total)
    for low, high in pairwise(EDGES):
        inside = [one for one in judged if one.known and low <= one.confidence < high]
        report(f"confidence {low:.2f}-{min(high, 1):.2f}", inside, total)
    report("confidence 0.8 and more", [one for one in judged if one.known and one.confidence >= 0.8], total)
    report("unknown", [one for one in judged if not one.known], total)


def report(name: str, judged: list[Judged], total: int) -> None:
    """One line: how many, what share of all, how many right, how sure on average."""
    if judged:
        right, sure = mean(one.right for one in judged), mean(one.confidence for one in judged)
        print(f"{name:28} {len(judged):5}  {len(judged) / total:4.0%}  right {right:.3f}  sure {sure:.3f}")


if __name__ == "__main__":
    main()
