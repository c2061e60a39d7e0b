"""How long the harmony of a whole movement takes, with a verdict on every sign.

    python -m tests.benchmarks.harmony_speed [FILE ...]

Without files: the scores of the music21 corpus folders the project uses that hold most notes. Processor time in
seconds, the best of three, reading the file not counted: the verdicts on all signs, then the written-out leaning notes.
"""

import argparse
import time
from collections.abc import Callable, Sequence
from functools import partial
from pathlib import Path

import music21

from appui.errors import AppuiError
from appui.harmony.analyse import analyse
from appui.harmony.verdicts import verdict_of
from appui.harmony.written_out import written_out
from appui.musicxml.read.score import read_score
from appui.score.model import Score
from appui.score.signs import Sign, find_signs

FOLDERS = "beethoven haydn schumann_clara schumann_robert verdi weber corelli handel cpebach".split()
MOST = 6
TRIES = 3


def main() -> None:
    """Measure and print a line a score."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("files", nargs="*", type=Path)
    files = parser.parse_args().files or largest()
    print(f"{'':44} {'bars':>5} {'notes':>6} {'signs':>6} {'verdicts s':>11} {'written out s':>14}")
    for file in files:
        score = read_score(file)
        signs = find_signs(score)
        judged = best(partial(all_of, score, signs))
        listed = best(partial(all_written_out, score))
        name = "/".join(file.parts[-2:])
        print(f"{name:44} {len(score.bars):5} {notes_of(score):6} {len(signs):6} {judged:11.2f} {listed:14.2f}")


def all_written_out(score: Score) -> None:
    """Every written-out leaning note, the harmony worked out anew."""
    written_out(score, analyse(score))


def all_of(score: Score, signs: Sequence[Sign]) -> None:
    """The verdict on every sign, the harmony worked out anew."""
    harmony = analyse(score)
    for sign in signs:
        verdict_of(harmony, sign)


def best(work: Callable[[], object]) -> float:
    """The least processor time of some tries, in seconds."""
    times = []
    for _ in range(TRIES):
        start = time.process_time()
        work()
        times.append(time.process_time() - start)
    return min(times)


def notes_of(score: Score) -> int:
    """How many full-size notes there are."""
    return sum(len(event.notes) for part in score.parts for voice in part.voices for event in voice.events)


def largest() -> list[Path]:
    """The scores with most notes."""
    corpus, counted = Path(music21.__file__).parent / "corpus", []
    for folder in FOLDERS:
        for file in sorted((corpus / folder).rglob("*")):
            if file.suffix in (".mxl", ".xml", ".musicxml"):
                try:
                    counted.append((notes_of(read_score(file)), file))
                except AppuiError as error:
                    print(f"skipped: {error}")
    return [file for _, file in sorted(counted, reverse=True)[:MOST]]


if __name__ == "__main__":
    main()
