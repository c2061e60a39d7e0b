"""The harmonic verdict beside an expert's, on folders of labelled scores kept outside the project.

    python -m tests.benchmarks.harmony_labels FOLDER [FOLDER ...]

A folder holds `labels.csv` (a row a small note: file, part_idx, measure_idx, offset_q, gidx, glen, grace_pitch,
grace_member, main_member, chord_names, composer, and work where a file is only part of one), `scores/`, and perhaps
`chords.csv` (a row a chord label: file, measure_idx, offset_q, key, plain_names).

Printed: the verdicts of the tool as it is; the same with the weights of `appui.harmony.facts` and of the ranking of
chords fitted without the work that is judged, then without its composer; the chord alone, the line alone and the
ranking alone beside them; the weights fitted on all, to be copied there. Every row of a table has the
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
from appui.harmony.analyse import CARRIED, Harmony, analyse
from appui.harmony.facts import CONSTANT, WEIGHTS, Facts, weighed
from appui.harmony.ranking import place_of, table_of
from appui.harmony.ranking_weights import RANKING
from appui.harmony.resolving import Resolving, resolving_chance, resolving_facts
from appui.harmony.segment import members_table
from appui.harmony.small import Asked, asked, mixed
from appui.harmony.spelling import letter_of
from appui.harmony.written_out import metrical_weight, pairs_at, written_out
from appui.musicxml.read.score import read_score
from appui.score.model import Event, Score
from appui.score.pitch import parse_pitch
from appui.score.signs import Sign, find_signs
from tests.benchmarks import ranking_fit
from tests.benchmarks.ranking_fit import chords_of, facts_table

FOLDS = 8
RIDGE = 2.0
EDGES = (0.5, 0.6, 0.7, 0.8, 0.9, 0.95, 1.01)
SURE = 0.8
LISTED = (0.5, 0.6, 0.7, 0.8, 0.9)
_SONATA = re.compile(r"(.*Sonatas__\d+)_")
_QUARTET = re.compile(r"(.*__Op\d+(?:_No\d+)?)__")

Row = dict[str, str]
NAMES = list(RANKING)
#  full-size notes of a score asked for the chord of their label, at most about so many
FULL_SIZE = 60


class Weights(NamedTuple):
    """The weights of the line and of the ranking."""

    constant: float
    line: Facts
    ranking: ranking_fit.Weights


SHIPPED = Weights(CONSTANT, WEIGHTS, RANKING)


class Place(NamedTuple):
    """One labelled note: what it is, what the expert says, what the chord says; the facts of the line where it is thin.

    `ranking` is what the chords are ranked by, `None` where the chord alone decides.
    """

    folder: str
    work: str
    composer: str
    group: str
    texture: str
    single: bool
    member: bool
    main_member: bool
    pitch_class: int
    by_chord: float
    facts: Facts | None
    ranking: ranking_fit.Asked | None


def main() -> None:
    """Read, judge, count."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("folders", nargs="+", type=Path)
    places: list[Place] = []
    others: list[ranking_fit.Asked] = []
    for folder in parser.parse_args().folders:
        scores = Scores(folder)
        found = [place for file, rows in by_file(folder / "labels.csv").items() for place in scores.places(file, rows)]
        print(f"{folder.name}: {len(found)} labelled notes found, in {len(scores.known)} scores", flush=True)
        places += found
        if (folder / "chords.csv").exists():
            labels = by_file(folder / "chords.csv")
            others += scores.full_size(labels)
            scores.chord_tables(labels)
    tables("as it is", places, [chance(place, SHIPPED) for place in places])
    tables("the chord alone", places, [place.by_chord for place in places])
    for name, key in (("work", lambda place: place.work), ("composer", lambda place: place.composer)):
        by_both, by_line, by_rank = left_out(places, others, key)
        tables(f"without the {name}", places, by_both)
        print_gained(places, by_line, by_both)
        tables(f"the same, chord and line alone, {name}", places, by_line)
        tables(f"the same, the ranking alone, {name}", places, by_rank)
    print(f"\nthe ranking is fitted on {len(others)} full-size notes as well")
    print_weights(fitted(places, others))


def print_weights(weights: Weights) -> None:
    """What is to be copied into the project."""
    print(f"\nfitted on all: CONSTANT = {weights.constant:.2f}")
    print("  " + ", ".join(f"{name}={value:.2f}" for name, value in zip(Facts._fields, weights.line, strict=True)))
    print("RANKING = {")
    for name, value in weights.ranking.items():
        print(f'    "{name}": {value:.2f},')
    print("}")


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
        self.composers: dict[str, str] = {}

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
        self.composers[file] = rows[0]["composer"].strip()
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
        score, heard = harmony.score, harmony.heard(sign, harmony.moment_q(sign))
        pitch = parse_pitch(row["grace_pitch"])
        note, work = None, row.get("work") or work_of(row["file"])
        if heard is not None:
            known = harmony.membership_at(sign, heard, harmony.chances(heard.moment_q))
            bass = None if heard.why == CARRIED else harmony.fits.bass(heard.moment_q, (sign.part, sign.voice))
            struck = asked(harmony, sign, known, bass, heard.moment_q)[index]
            note = next(each for each in struck if each.pitch == pitch)
        return Place(
            folder=self.folder.name,
            work=work,
            composer=row["composer"].strip(),
            group=group_of(row),
            texture=texture_of(score, harmony, sign),
            single=row["glen"] == "1",
            member=row["grace_member"] == "1",
            main_member=row["main_member"] == "1",
            pitch_class=round(pitch.midi) % 12,
            by_chord=note.by_chord if note else 0.5,
            facts=note.facts if note and note.thin else None,
            ranking=_small(row, work, note) if note and note.tables else None,
        )

    def full_size(self, labels: dict[str, list[Row]]) -> Iterator[ranking_fit.Asked]:
        """Full-size notes with the chord of the label they stand under, evenly chosen."""
        for file, rows in labels.items():
            score, harmony = self.of(file)
            spans = Labels(score, rows)
            signs = list(upper_notes(score, {float(start_q) for start_q in spans.starts}))
            for sign in signs[:: max(len(signs) // FULL_SIZE, 1)]:
                moment_q = sign.main(score).onset_q
                label, heard = spans.at(moment_q), harmony.heard(sign, moment_q)
                chords = chords_of(classes_of(label["chord_names"])) if label else np.zeros(1, bool)
                if chords.any() and heard is not None and heard.certainty >= 1:
                    known = harmony.membership_at(sign, heard, harmony.chances(heard.moment_q))
                    bass = harmony.fits.bass(heard.moment_q, (sign.part, sign.voice))
                    around = table_of(harmony, sign, place_of(harmony, sign, known, bass, heard.moment_q))
                    facts, all_agree = facts_table(NAMES, around), np.ones(len(chords), bool)
                    work, composer = self.works.get(file, file), self.composers.get(file, "")
                    yield ranking_fit.Asked(facts, all_agree, chords, 0.0, ranking_fit.FULL_SIZE, work, composer)

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


def _small(row: Row, work: str, note: Asked) -> ranking_fit.Asked:
    """What the ranking is fitted to at a labelled small note."""
    agree = (members_table()[:, round(note.pitch.midi) % 12] > 0) == (row["grace_member"] == "1")
    chords = chords_of(classes_of(row["chord_names"]))
    known = bool(chords.any())
    facts, chords = facts_table(NAMES, *note.tables), chords if known else np.ones(len(chords), bool)
    return ranking_fit.Asked(facts, agree, chords, 1.0, float(known), work, row["composer"].strip())


def upper_notes(score: Score, starts: set[float]) -> Iterator[Sign]:
    """The highest note that is struck on each beat or where a label starts, without small notes, by time."""
    found: dict[Fraction, tuple[int, Sign]] = {}
    for part in score.parts:
        for number, voice in enumerate(part.voices):
            for index, event in enumerate(voice.events):
                bar = score.bars[event.bar]
                off = (event.onset_q - bar.onset_q + bar.lead_q) % bar.meter.beat_q
                if not event.notes or event.small_before or (off and float(event.onset_q) not in starts):
                    continue
                top = max(range(len(event.notes)), key=lambda place: event.notes[place].sounding.midi)
                note = event.notes[top]
                high = round(note.sounding.midi)
                if not (note.tied_back or note.hidden or note.cue) and high > found.get(event.onset_q, (-1,))[0]:
                    found[event.onset_q] = high, Sign("", "written out", part.index, number, index, top)
    return (found[onset_q][1] for onset_q in sorted(found))


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
    if place.ranking is None:
        return place.by_chord
    return mixed(by_line(place, weights), by_rank(place, weights), thin=place.facts is not None)


def by_line(place: Place, weights: Weights) -> float:
    """The same by the chord, and over a thin one by the line."""
    return place.by_chord if place.facts is None else weighed(place.facts, weights.constant, weights.line)


def by_rank(place: Place, weights: Weights) -> float:
    """The same by the chords ranked anew."""
    if place.ranking is None:
        return place.by_chord
    values = np.array([weights.ranking[name] for name in NAMES])
    chords = ranking_fit.chances(place.ranking.facts[None].astype(float), values)[0]
    return float(chords @ members_table()[:, place.pitch_class])


def fitted(places: Sequence[Place], others: Sequence[ranking_fit.Asked]) -> Weights:
    """The likeliest weights for labels; `others` are full-size notes."""
    constant, weights = regression([(place.facts, place.member) for place in places if place.facts is not None])
    ranking = ranking_fit.fit(NAMES, [*(place.ranking for place in places if place.ranking is not None), *others])
    return Weights(constant, Facts(*weights), ranking)


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


def left_out(
    places: Sequence[Place],
    others: Sequence[ranking_fit.Asked],
    key: Callable[[Place | ranking_fit.Asked], str],
) -> tuple[list[float], list[float], list[float]]:
    """Every place judged with weights fitted without all of its key: by all, by chord and line, by the ranking."""
    fold_of = folds([key(place) for place in places])
    weights = [
        fitted(
            [place for place in places if fold_of[key(place)] != fold],
            [other for other in others if fold_of.get(key(other)) != fold],
        )
        for fold in range(FOLDS)
    ]
    ways = (chance, by_line, by_rank)
    all_of, line, rank = ([way(place, weights[fold_of[key(place)]]) for place in places] for way in ways)
    return all_of, line, rank


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


def print_gained(places: Sequence[Place], before: Sequence[float], after: Sequence[float]) -> None:
    """What the ranking turns right and wrong beside chord and line alone, and in how many works more of which."""
    gained: dict[str, int] = defaultdict(int)
    turned = [0, 0]
    for place, one, other in zip(places, before, after, strict=True):
        change = int((other >= 0.5) == place.member) - int((one >= 0.5) == place.member)
        gained[place.work] += change
        turned[0] += change > 0
        turned[1] += change < 0
    better, worse = sum(value > 0 for value in gained.values()), sum(value < 0 for value in gained.values())
    print(f"  beside chord and line alone: {turned[0]} turned right, {turned[1]} turned wrong", end="; ")
    print(f"{better} works better, {worse} worse, of {len(gained)}")


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
