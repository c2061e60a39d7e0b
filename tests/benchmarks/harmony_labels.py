"""The harmonic verdict beside an expert's, on folders of labelled scores kept outside the project.

    python -m tests.benchmarks.harmony_labels FOLDER [FOLDER ...]

A folder holds `labels.csv` (a row a small note: file, part_idx, measure_idx, offset_q, gidx, glen, grace_pitch,
grace_member, main_member, chord_names, composer, and work where a file is only part of one), `scores/`, and perhaps
`chords.csv` (a row a chord label: file, measure_idx, offset_q, key, plain_names).

Printed: the verdicts of the tool as it is; the same with the weights of `appui.harmony.facts` fitted without the work
that is judged, then without its composer; the weights fitted on all, to be copied there. Every row of a table has the
number of notes, how many are right, how many of those that are at least 80 % sure and how many these are, and the
expected calibration error (mean distance of how sure from how often right, over six ranges of sureness). Then, where
there are chord labels: the written-out leaning notes (a note on a beat that steps down, foreign to the expert's chord
without its suspensions, while the next belongs to it) with precision and recall, and how much of the time the local
key is the expert's.

The chords themselves are judged with the shipped parameters, of which some were chosen with the first set of labels
known; and which facts are weighed was chosen with all labels known.
"""

import argparse
import csv
import math
import re
from collections import defaultdict
from collections.abc import Callable, Iterator, Sequence
from functools import partial
from itertools import pairwise
from pathlib import Path
from typing import NamedTuple

import numpy as np

from appui.exact import Fraction, fraction_of
from appui.harmony.analyse import Harmony, analyse
from appui.harmony.belonging import belonging
from appui.harmony.facts import CONSTANT, WEIGHTS, Facts, facts_of, is_thin, weighed
from appui.harmony.resolving import Resolving, resolving_chance, resolving_facts
from appui.harmony.spelling import letter_of
from appui.harmony.written_out import metrical_weight, pairs_at, written_out
from appui.musicxml.read.score import read_score
from appui.score.model import Event, Score
from appui.score.pitch import parse_pitch
from appui.score.signs import Sign, find_signs

FOLDS = 8
RIDGE = 2.0
EDGES = (0.5, 0.6, 0.7, 0.8, 0.9, 0.95, 1.01)
SURE = 0.8
LISTED = (0.5, 0.7, 0.8, 0.9)
_SONATA = re.compile(r"(.*Sonatas__\d+)_")
_QUARTET = re.compile(r"(.*__Op\d+(?:_No\d+)?)__")

Row = dict[str, str]
#  constant and weights
Weights = tuple[float, Facts]


class Place(NamedTuple):
    """One labelled note: what it is, what the expert says, what the chord says, and the facts where it is thin."""

    folder: str
    work: str
    composer: str
    group: str
    texture: str
    single: bool
    member: bool
    main_member: bool
    by_chord: float
    facts: Facts | None


def main() -> None:
    """Read, judge, count."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("folders", nargs="+", type=Path)
    places: list[Place] = []
    for folder in parser.parse_args().folders:
        scores = Scores(folder)
        found = [place for file, rows in by_file(folder / "labels.csv").items() for place in scores.places(file, rows)]
        print(f"{folder.name}: {len(found)} labelled notes found, in {len(scores.known)} scores", flush=True)
        places += found
        if (folder / "chords.csv").exists():
            scores.chord_tables(by_file(folder / "chords.csv"))
    tables("as it is", places, [chance(place, (CONSTANT, WEIGHTS)) for place in places])
    tables("without the work", places, left_out(places, lambda place: place.work))
    tables("without the composer", places, left_out(places, lambda place: place.composer))
    constant, weights = fitted(places)
    print(f"\nfitted on all: CONSTANT = {constant:.2f}")
    print("  " + ", ".join(f"{name}={value:.2f}" for name, value in zip(Facts._fields, weights, strict=True)))


def by_file(path: Path) -> dict[str, list[Row]]:
    """The rows of a table by score."""
    rows = defaultdict(list)
    with path.open(encoding="utf-8") as stream:
        for row in csv.DictReader(stream):
            rows[row["file"]].append(row)
    return dict(sorted(rows.items()))


# what is labelled


class Scores:
    """The scores of a folder with their harmony, each made once."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.known: dict[str, tuple[Score, Harmony]] = {}
        self.works: dict[str, str] = {}

    def of(self, file: str) -> tuple[Score, Harmony]:
        """A score and its harmony."""
        if file not in self.known:
            score = read_score(self.folder / "scores" / file)
            self.known[file] = score, analyse(score)
        return self.known[file]

    def places(self, file: str, rows: list[Row]) -> Iterator[Place]:
        """The labelled small notes of a score that are found in it."""
        score, harmony = self.of(file)
        self.works[file] = rows[0].get("work") or work_of(file)
        signs = defaultdict(list)
        for sign in find_signs(score):
            event = sign.main(score)
            at_q = event.onset_q - score.bars[event.bar].onset_q
            for index, small in enumerate(sign.small):
                for pitch in small.sounding:
                    signs[sign.part, event.bar, at_q, pitch.name].append((sign, index))
        for row in rows:
            at_q = fraction_of(row["offset_q"]).limit_denominator(1000)
            found = signs[int(row["part_idx"]), int(row["measure_idx"]), at_q, row["grace_pitch"]]
            if found:
                sign, index = next((each for each in found if each[1] == int(row["gidx"])), found[-1])
                yield self._place(row, harmony, sign, index)

    def _place(self, row: Row, harmony: Harmony, sign: Sign, index: int) -> Place:
        score, known = harmony.score, harmony.membership(sign)
        pitch = parse_pitch(row["grace_pitch"])
        facts, chance = None, 0.5
        if known is not None:
            chance = float(belonging(known, harmony.parameters)[round(pitch.midi) % 12])
            if is_thin(score, sign, known):
                facts = facts_of(score, sign, index, pitch, known, harmony.bass_under(sign))
        return Place(
            folder=self.folder.name,
            work=row.get("work") or work_of(row["file"]),
            composer=row["composer"].strip(),
            group=group_of(row),
            texture=texture_of(score, harmony, sign),
            single=row["glen"] == "1",
            member=row["grace_member"] == "1",
            main_member=row["main_member"] == "1",
            by_chord=chance,
            facts=facts,
        )

    def chord_tables(self, labels: dict[str, list[Row]]) -> None:
        """Written-out leaning notes and local keys beside the chord labels."""
        pairs, lasted = [], []
        for file, rows in labels.items():
            score, harmony = self.of(file)
            spans = Labels(score, rows)
            pairs += list(leaning_pairs(self.works.get(file, file), score, harmony, spans))
            lasted += list(key_spans(score, harmony, spans))
        print_written_out(pairs)
        print_keys(lasted)


def work_of(file: str) -> str:
    """The work a score is a movement of."""
    match = _SONATA.match(file) or _QUARTET.match(file)
    return match[1] if match else file


def group_of(row: Row) -> str:
    """What a place is counted with: the first set by kind, the second by corpus."""
    file = row["file"]
    if "work" in row:
        return file.split("__")[0]
    if "Sonatas" in file:
        return "piano sonatas"
    return "quartets" if file.startswith("osq") or _QUARTET.match(file) else "songs"


def texture_of(score: Score, harmony: Harmony, sign: Sign) -> str:
    """How many other notes sound with the main note, and whether the bass is held from before."""
    event, known = sign.main(score), harmony.membership(sign)
    start = float(event.onset_q)
    others = harmony.fits.sounding.others(start, start + 0.01, (sign.part, sign.voice))
    if known is None or not len(others):
        return "others sounding: none"
    lowest = harmony.fits.sounding.lowest(others)
    bass = harmony.fits.sounding.note(lowest)[1] if lowest is not None else None
    if bass is not None and bass.onset_q < event.onset_q:
        return "others sounding: held bass"
    return f"others sounding: {('one', 'two', 'three and more')[min(len(others), 3) - 1]}"


# the weights


def chance(place: Place, weights: Weights) -> float:
    """The chance that a labelled note belongs to the chord."""
    return place.by_chord if place.facts is None else weighed(place.facts, *weights)


def fitted(places: Sequence[Place]) -> Weights:
    """The likeliest weights of the facts for labels."""
    constant, weights = regression([(place.facts, place.member) for place in places if place.facts is not None])
    return constant, Facts(*weights)


def regression(labelled: Sequence[tuple[tuple[float, ...], bool]]) -> tuple[float, list[float]]:
    """A logistic regression held a little (ridge) on scaled facts: constant and weights."""
    table = np.array([facts for facts, _ in labelled], float)
    mean, width = table.mean(0), table.std(0) + 1e-9
    rows = np.hstack([np.ones((len(table), 1)), (table - mean) / width])
    labels = np.array([label for _, label in labelled], float)
    held = np.full(rows.shape[1], RIDGE)
    held[0] = 0.0
    values = np.zeros(rows.shape[1])
    for _ in range(50):
        said = 1 / (1 + np.exp(-(rows @ values)))
        slope = rows.T @ (labels - said) - held * values
        curve = (rows * (said * (1 - said))[:, None]).T @ rows + np.diag(held)
        step = np.linalg.solve(curve, slope)
        values += step
        if np.abs(step).max() < 1e-9:
            break
    weights = values[1:] / width
    return float(values[0] - weights @ mean), [float(weight) for weight in weights]


def folds(keys: Sequence[str]) -> dict[str, int]:
    """The fold of each key: the most frequent first, each to the fold that has fewest."""
    count: dict[str, int] = defaultdict(int)
    for key in keys:
        count[key] += 1
    sizes, fold_of = [0] * FOLDS, {}
    for name in sorted(count, key=lambda name: (-count[name], name)):
        fold_of[name] = min(range(FOLDS), key=lambda fold: sizes[fold])
        sizes[fold_of[name]] += count[name]
    return fold_of


def left_out(places: Sequence[Place], key: Callable[[Place], str]) -> list[float]:
    """Every place judged with weights fitted without all places of its key."""
    fold_of = folds([key(place) for place in places])
    weights = [fitted([place for place in places if fold_of[key(place)] != fold]) for fold in range(FOLDS)]
    return [chance(place, weights[fold_of[key(place)]]) for place in places]


# counting


def has(place: Place, field: str, kind: str) -> bool:
    """Whether a place is of a kind by one of its fields."""
    return bool(getattr(place, field) == kind)


def tables(name: str, places: Sequence[Place], chances: Sequence[float]) -> None:
    """One table: all, by folder, corpus, texture, kind of place."""
    print(f"\n{name:36} {'notes':>5}  right   sure  right  calibration")
    said = np.array(chances)
    kinds: dict[str, Callable[[Place], bool]] = {"all": lambda _: True}
    for field in ("folder", "group", "texture"):
        for kind in sorted({getattr(place, field) for place in places}):
            kinds[kind] = partial(has, field=field, kind=kind)
    kinds["single"] = lambda place: place.single
    kinds["in a group"] = lambda place: not place.single
    kinds["the expert's chord has the main note"] = lambda place: place.main_member
    kinds["it has not"] = lambda place: not place.main_member
    kinds["weighed by the line"] = lambda place: place.facts is not None
    for kind, belongs in kinds.items():
        inside = np.array([belongs(place) for place in places])
        if inside.any():
            print(f"  {kind:34} " + measured(said[inside], np.array([p.member for p in places])[inside]))
    sure = np.maximum(said, 1 - said) >= 0.95
    wrong = (said >= 0.5) != np.array([place.member for place in places])
    print(f"  wrong at 95 % sure and more: {int((wrong & sure).sum())} of {int(wrong.sum())} errors")


def measured(said: np.ndarray, member: np.ndarray) -> str:
    """The numbers of one row."""
    right, sure = (said >= 0.5) == member, np.maximum(said, 1 - said)
    error = 0.0
    for low, high in pairwise(EDGES):
        inside = (sure >= low) & (sure < high)
        if inside.any():
            error += inside.mean() * abs(sure[inside].mean() - right[inside].mean())
    enough = sure >= SURE
    best = right[enough].mean() if enough.any() else math.nan
    return f"{len(said):5}  {right.mean():.3f}  {enough.mean():4.0%}  {best:.3f}  {error:.3f}"


# chord labels


class Labels:
    """The chord labels of a score, one after the other."""

    def __init__(self, score: Score, rows: list[Row]) -> None:
        rows = [row for row in rows if int(row["measure_idx"]) < len(score.bars)]
        self.starts = [
            score.bars[int(row["measure_idx"])].onset_q + fraction_of(row["offset_q"]).limit_denominator(1000)
            for row in rows
        ]
        order = sorted(range(len(rows)), key=lambda index: (self.starts[index], index))
        self.starts, self.rows = [self.starts[i] for i in order], [rows[i] for i in order]

    def at(self, onset_q: Fraction) -> Row | None:
        """The label that holds at a moment; `None` before the first and where no chord is said."""
        index = int(np.searchsorted([float(start) for start in self.starts], float(onset_q) + 1e-6)) - 1
        return self.rows[index] if index >= 0 and self.rows[index]["key"] else None


def classes_of(names: str) -> set[int]:
    """The pitch classes of named letters."""
    return {round(parse_pitch(f"{name}4").midi) % 12 for name in names.split()}


class Pair(NamedTuple):
    """A note on a beat that steps down: of which work, whether it leans by the label, its facts outside runs."""

    work: str
    leans: bool
    confidence: float
    facts: Resolving | None


def leaning_pairs(work: str, score: Score, harmony: Harmony, labels: Labels) -> Iterator[Pair]:
    """Every note on a beat that steps down to a weaker place, with what the tool and the label say of it."""
    said = {(one.part, one.voice, one.event, one.note): one.confidence for one in written_out(score, harmony)}
    for part in score.parts:
        for index, voice in enumerate(part.voices):
            for place, (here, after) in enumerate(pairwise(voice.events)):
                label = labels.at(here.onset_q)
                if label is None or not on_beat(score, here, after):
                    continue
                chord = classes_of(label["plain_names"])
                asked = {pair.note for pair in pairs_at(score, part.index, index, voice.events, place)}
                for number, note in enumerate(here.notes):
                    steps = [n for n in after.notes if n.sounding.diatonic == note.sounding.diatonic - 1]
                    if steps and not note.tied_back:
                        own, target = (round(n.sounding.midi) % 12 for n in (note, steps[0]))
                        facts = None
                        if number in asked:
                            facts = resolving_facts(harmony, (part.index, index), place, number, steps[0].sounding)
                        confidence = said.get((part.index, index, place, number), 0.0)
                        yield Pair(work, own not in chord and target in chord, confidence, facts)


def on_beat(score: Score, here: Event, after: Event) -> bool:
    """Whether an event is on a beat, and the next follows at once on a weaker place of the bar."""
    bar = score.bars[here.bar]
    if here.bar != after.bar or here.end_q != after.onset_q:
        return False
    if (here.onset_q - bar.onset_q + bar.lead_q) % bar.meter.beat_q:
        return False
    return metrical_weight(bar, after.onset_q) < metrical_weight(bar, here.onset_q)


def print_written_out(pairs: Sequence[Pair]) -> None:
    """Precision and recall at some levels of confidence, as it is and without the work that is judged."""
    print(f"\nleaning notes at full size: {sum(pair.leans for pair in pairs)} of {len(pairs)} notes that step down")
    asked = [(pair, pair.facts) for pair in pairs if pair.facts is not None]
    judged = [pair for pair, _ in asked]
    print(f"  outside runs of equal notes: {sum(pair.leans for pair in judged)} of {len(judged)}")
    precision_table("as it is", judged, [pair.confidence for pair in judged])
    fold_of = folds([pair.work for pair in judged])
    fits = [
        regression([(facts, pair.leans) for pair, facts in asked if fold_of[pair.work] != fold])
        for fold in range(FOLDS)
    ]
    left_out = [
        resolving_chance(facts, fits[fold_of[pair.work]][0], Resolving(*fits[fold_of[pair.work]][1]))
        for pair, facts in asked
    ]
    precision_table("without the work", judged, left_out)
    constant, weights = regression([(facts, pair.leans) for pair, facts in asked])
    print(f"  fitted on all: RESOLVING_CONSTANT = {constant:.2f}")
    print("  " + ", ".join(f"{name}={value:.2f}" for name, value in zip(Resolving._fields, weights, strict=True)))


def precision_table(name: str, pairs: Sequence[Pair], confidences: Sequence[float]) -> None:
    """A line for each level of confidence."""
    for least in LISTED:
        listed = [pair for pair, confidence in zip(pairs, confidences, strict=True) if confidence >= least]
        right = sum(pair.leans for pair in listed)
        precision, recall = right / max(len(listed), 1), right / max(sum(pair.leans for pair in pairs), 1)
        print(f"  {name}, from {least:.2f}: {len(listed):5} listed, precision {precision:.3f}, recall {recall:.3f}")


class KeySpan(NamedTuple):
    """How long one label lasts, whether the key is the expert's, and how sure it was (0..1)."""

    length_q: float
    right: bool
    sure: float


def key_spans(score: Score, harmony: Harmony, labels: Labels) -> Iterator[KeySpan]:
    """The local key beside the expert's, label by label."""
    ends = [*labels.starts[1:], score.bars[-1].onset_q + score.bars[-1].length_q]
    for start_q, end_q, row in zip(labels.starts, ends, labels.rows, strict=True):
        if not row["key"] or end_q <= start_q:
            continue
        bar = score.bar_at(start_q).index
        tonic, minor = harmony.keys[bar]
        letter = letter_of(tonic)
        said = letter.lower() if minor else letter
        same = classes_of(said[0].upper() + said[1:]) == classes_of(row["key"][0].upper() + row["key"][1:])
        yield KeySpan(float(end_q - start_q), same and row["key"][0].islower() == minor, harmony.key_chances[bar])


def print_keys(spans: Sequence[KeySpan]) -> None:
    """The share of the time in which the key is the expert's, over all and where it is sure."""
    total = sum(span.length_q for span in spans)
    print("local keys")
    for least in (0.0, 0.35, 0.5, 0.7, 0.9):
        inside = [span for span in spans if span.sure >= least]
        lasts = sum(span.length_q for span in inside)
        right = sum(span.length_q for span in inside if span.right) / max(lasts, 1e-9)
        print(f"  at least {least:.2f} sure: {lasts / total:4.0%} of the time, right in {right:.3f} of it")


if __name__ == "__main__":
    main()
