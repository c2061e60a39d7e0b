"""How often the harmonic verdict agrees with an expert's label, on labels kept outside the project.

    python tests/benchmarks/harmony_accuracy.py LABELS.csv SCORES_FOLDER

The CSV has a row a small note: file, part_idx, measure_idx, offset_q, grace_pitch (sounding, as Bb4), grace_member.
Prints agreement over all, by the first word of the file names, and how often a verdict of a confidence is right.
"""

import argparse
import csv
from collections import defaultdict
from fractions import Fraction
from pathlib import Path

from appui.harmony.analyse import analyse
from appui.harmony.model import MEMBER
from appui.score.read import read_score
from appui.score.signs import find_signs


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
    report("all", judged)
    for group in sorted({group for group, _, _ in judged}):
        report(group, [one for one in judged if one[0] == group])
    for low, high in ((0.5, 0.6), (0.6, 0.7), (0.7, 0.8), (0.8, 0.9), (0.9, 1.01)):
        report(f"confidence {low:.1f}-{min(high, 1):.1f}", [one for one in judged if low <= one[2] < high])
    report("confidence 0.8 and more", [one for one in judged if one[2] >= 0.8])


def verdicts(path, rows):
    """For each labelled note: its group, whether the verdict agrees, its confidence."""
    score = read_score(path)
    harmony = analyse(score)
    found = {}
    for sign in find_signs(score):
        if sign.small:
            verdict, event = harmony.verdict(sign), sign.main(score)
            at_q = event.onset_q - score.bars[event.bar].onset_q
            for index, small in enumerate(sign.small):
                chance = verdict.member_chances[index]
                for pitch in small.sounding:
                    key = (sign.part, event.bar, at_q, pitch.name)
                    found[key] = (verdict.members[index] == MEMBER, max(chance, 1 - chance))
    for row in rows:
        at_q = Fraction(row["offset_q"]).limit_denominator(1000)
        key = (int(row["part_idx"]), int(row["measure_idx"]), at_q, row["grace_pitch"])
        if key in found:
            member, confidence = found[key]
            yield row["file"].split("_")[0], member == (row["grace_member"] == "1"), confidence


def report(name, judged) -> None:
    """One line: how many, how many right."""
    if judged:
        print(f"{name:24} {len(judged):5}  right {sum(right for _, right, _ in judged) / len(judged):.3f}")


if __name__ == "__main__":
    main()
