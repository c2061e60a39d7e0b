"""How often two experts agree on whether a small note belongs to its chord: the ceiling for any judge.

    python -m tests.benchmarks.expert_agreement LABELS.csv

The CSV is that of `harmony_accuracy.py`: `analyst` and `grace_member` are the first expert's name and verdict (1:
belongs to the chord), and each further column `member_NAME` is another expert's verdict, empty where there is none. A
pair counts only where the two are different people, by a word of their names in `SAME`.
"""

import argparse
import csv
from itertools import combinations
from pathlib import Path

#  column of a second expert -> the words by which the first expert's name shows it to be the same
SAME = {"member_DT": ("tymoczko",), "member_DCML": ("dcml",), "member_BPS": ("bps", "tsung-ping")}
FIRST = "grace_member"


def main() -> None:
    """Print a line for each pair of experts: on how many notes both have spoken, and how often they say the same."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("labels", type=Path)
    with parser.parse_args().labels.open(encoding="utf-8") as stream:
        rows = list(csv.DictReader(stream))
    columns = [FIRST, *(name for name in rows[0] if name.startswith("member_"))]
    for one, other in combinations(columns, 2):
        both = [row for row in rows if {row[one], row[other]} <= {"0", "1"} and not _is_same(row, one, other)]
        if both:
            share = sum(row[one] == row[other] for row in both) / len(both)
            print(f"{one} and {other}: {share:.1%} of {len(both)} notes")


def _is_same(row: dict[str, str], one: str, other: str) -> bool:
    """Whether the first expert's label is the second's own."""
    return one == FIRST and any(word in row["analyst"].lower() for word in SAME.get(other, ()))


if __name__ == "__main__":
    main()
