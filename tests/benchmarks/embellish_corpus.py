"""Proposals over the fermatas, repeats and bare notes of the corpus, every one held against the laws.

    python -m tests.benchmarks.embellish_corpus [--every N] [--places N] [--kind KIND ...] [--seconds S]
    python -m tests.benchmarks.embellish_corpus --against PAIRS [--how-much AMOUNT] [--seed N]
    python -m tests.benchmarks.embellish_corpus --coverage SCORE ... [--how-much AMOUNT]

Of each score's places at most so many are tried, fermatas first; after so many seconds no further score is opened.
A proposal is counted with its faults by `tests/embellish/proposal_laws.py` and by the reader of plans, which checks
sums, compass and harmony again. With ``--against`` a table of plain and varied bars is proposed for, and the
proportions of both stand beside each other (`varied_pairs`). With ``--coverage`` it is told which share of the
quarters in which the solo sounds has a note that is not printed there, if the first proposal of each place is played.
"""

from __future__ import annotations

import argparse
import tempfile
import time
from collections import Counter
from math import ceil
from pathlib import Path

from appui.embellish.choose import propose_all
from appui.embellish.keep import plan_with
from appui.embellish.model import AMOUNTS, Wish
from appui.embellish.places import find_places
from appui.errors import AppuiError
from appui.exact import Fraction
from appui.interpret.interpretation import interpret
from appui.interpret.wishes import Wishes
from appui.plan.compass import compass_of
from tests.benchmarks.corpus_styles import ROOT, files
from tests.benchmarks.varied_pairs import bars_of, report
from tests.embellish.proposal_laws import faults


def tried(path: Path, most: int, kinds: tuple[str, ...], counts: Counter[str]) -> None:
    """Add what one score gives to the counts; faults are printed."""
    interpretation = interpret(path)
    places, left = find_places(interpretation, Wish(kinds=kinds))
    counts["left alone"] += len(left)
    places.sort(key=lambda place: (place.kind in ("second-time", "long-notes", "cadence"), place.span.first))
    compass = compass_of(interpretation.solo)
    found = propose_all(interpretation, places[:most], Wish(count=3))
    for each in found:
        counts[f"places: {each.place.kind}"] += 1
        counts["places with none"] += not each.proposals
        for proposal in each.proposals:
            counts["proposals"] += 1
            counts["proposals with a figure of the piece"] += "figure of bar" in proposal.words
            for fault in faults(interpretation, proposal, compass.easy_low, compass.easy_high):
                counts["faults"] += 1
                print(f"{path.relative_to(ROOT)} {each.place.place}: {proposal.words}: {fault}")
    # every proposal in force once: those of one number together are a plan
    for number in range(1, 4):
        kept = {each.place.place: number for each in found if len(each.proposals) >= number}
        if kept:
            with tempfile.TemporaryDirectory() as folder:
                plan = Path(folder) / "plan.toml"
                plan.write_text(plan_with(interpretation, found, kept), encoding="utf-8")
                interpret(path, Wishes(plan=plan, solo=str(interpretation.solo.index + 1)))
                counts["plans read back"] += 1


def covered(path: Path, wish: Wish) -> float:
    """The share of the solo's quarters in which the first proposals have a note that is not printed there."""
    interpretation = interpret(path)
    touched: set[int] = set()
    voice = 0
    for found in propose_all(interpretation, find_places(interpretation, wish)[0], wish):
        events = found.place.span.events(interpretation.score)
        voice = found.place.span.voice
        printed = {(event.onset_q, event.top.sounding) for event in events if event.notes}
        for proposal in found.proposals[:1]:
            free, at_q = proposal.embellishment.free, Fraction(0)
            for note in free.notes:
                onset_q = events[0].onset_q + free.moment_q(at_q)
                touched |= set() if (onset_q, note.pitch) in printed else {int(onset_q)}
                at_q += note.value_q
    sounding = {
        quarter
        for event in interpretation.solo.voices[voice].events
        if event.notes
        for quarter in range(int(event.onset_q), ceil(event.end_q))
    }
    return len(touched & sounding) / len(sounding)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--every", type=int, default=1)
    parser.add_argument("--places", type=int, default=6)
    parser.add_argument("--kind", action="append", default=[])
    parser.add_argument("--seconds", type=float, default=float("inf"))
    parser.add_argument("--against", type=Path)
    parser.add_argument("--how-much", choices=AMOUNTS, default="moderate")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--coverage", type=Path, nargs="+", default=[])
    options = parser.parse_args()
    for path in options.coverage:
        print(f"{covered(path, Wish(how_much=options.how_much, seed=options.seed, count=1)):.2f} {path.name}")
    if options.coverage:
        return
    if options.against is not None:
        print(*report(bars_of(options.against), Wish(how_much=options.how_much, seed=options.seed, count=1)), sep="\n")
        return
    end_s = time.monotonic() + options.seconds
    counts: Counter[str] = Counter()
    for path in files(options.every):
        if time.monotonic() > end_s:
            counts["not opened"] += 1
            continue
        try:
            tried(path, options.places, tuple(options.kind), counts)
            counts["scores"] += 1
        except AppuiError as error:
            counts["refused"] += 1
            print(f"{path.relative_to(ROOT)}: {error}")
    for name, count in sorted(counts.items()):
        print(f"{count:6} {name}")


if __name__ == "__main__":
    main()
