"""How often the harmonic verdict agrees with an expert's label, on labels kept outside the project.

    python tests/benchmarks/harmony_accuracy.py LABELS.csv SCORES_FOLDER

The CSV has a row a small note: file, part_idx, measure_idx, offset_q, grace_pitch (sounding, as Bb4), grace_member (1:
belongs to the chord). Prints agreement over all and by the first word of the file names, then how often a verdict of a
confidence is right beside how sure it said it was. A verdict "unknown" counts as wrong.
"""

import argparse
import csv
from collections import defaultdict
from fractions import Fraction
from itertools import pairwise
from pathlib import Path
from statistics import mean
from typing import NamedTuple

from appui.harmony.analyse import analyse
from appui.harmony.model import DISSONANCE, MEMBER, UNKNOWN
from appui.score.read import read_score
from appui.score.signs import find_signs


class Judged(NamedTuple):
    """One labelled note: its group, whether the verdict agrees, how sure it was, whether there was one."""

    group: str
    right: bool
    confidence: float
    known: bool


def main() -> None:
    """Read, judge, count."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("labels", type=Path)
    parser.add_argument("scores", type=Path)
    words = parser.parse_args()
    by_file = defaultdict(list)
    with words.labels.open(encoding="utf-8") as stream:
        for row in csv.DictReader(stream):
            by_file[row["file"]].append(row)
    judged = [one for file, rows in sorted(by_file.items()) for one in verdicts(words.scores / file, rows)]
    print(f"{len(judged)} of {sum(map(len, by_file.values()))} labelled notes found")
    report("all", judged, len(judged))
    for group in sorted({one.group for one in judged}):
        report(group, [one for one in judged if one.group == group], len(judged))
    edges = (0.5, 0.6, 0.7, 0.8, 0.9, 0.95, 1.01)
    for low, high in pairwise(edges):
        inside = [one for one in judged if one.known and low <= one.confidence < high]
        report(f"confidence {low:.2f}-{min(high, 1):.2f}", inside, len(judged))
    report("confidence 0.8 and more", [one for one in judged if one.known and one.confidence >= 0.8], len(judged))
    report("unknown", [one for one in judged if not one.known], len(judged))


def verdicts(path, rows):
    """For each labelled note that is found: what was said and whether it agrees."""
    score = read_score(path)
    harmony = analyse(score)
    found = {}
    for sign in find_signs(score):
        if sign.small:
            verdict, event = harmony.verdict(sign), sign.main(score)
            at_q = event.onset_q - score.bars[event.bar].onset_q
            for index, small in enumerate(sign.small):
                for pitch in small.sounding:
                    key = (sign.part, event.bar, at_q, pitch.name)
                    found[key] = (verdict.members[index], verdict.member_chances[index])
    for row in rows:
        at_q = Fraction(row["offset_q"]).limit_denominator(1000)
        key = (int(row["part_idx"]), int(row["measure_idx"]), at_q, row["grace_pitch"])
        if key in found:
            member, chance = found[key]
            right = member == (MEMBER if row["grace_member"] == "1" else DISSONANCE)
            yield Judged(row["file"].split("_")[0], right, max(chance, 1 - chance), member != UNKNOWN)


def report(name, judged, total) -> None:
    """One line: how many, what share of all, how many right, how sure on average."""
    if judged:
        right, sure = mean(one.right for one in judged), mean(one.confidence for one in judged)
        print(f"{name:24} {len(judged):5}  {len(judged) / total:4.0%}  right {right:.3f}  sure {sure:.3f}")


if __name__ == "__main__":
    main()
