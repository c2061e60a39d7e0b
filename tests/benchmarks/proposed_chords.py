"""How often the chord proposed for a bare solo has the root an expert gives, beat by beat.

    python -m tests.benchmarks.proposed_chords FOLDER [--every N]

The folder is one of `harmony_labels.py` with `chords.csv`. Of every score the highest voice of the first part is kept,
of its chords the top note; the rest is hidden. `--every` takes one score of so many.
"""

import argparse
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

from appui.accompany.propose import guesses
from appui.musicxml.read.score import read_score
from appui.score.model import Part, Score, Voice
from tests.benchmarks.harmony_labels import Labels, by_file, classes_of

LEVELS = (0.0, 0.3, 0.5, 0.7, 0.8)


def main() -> None:
    """Hide, propose, count."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("folder", type=Path)
    parser.add_argument("--every", type=int, default=1)
    words = parser.parse_args()
    beats: list[tuple[bool, float]] = []
    for file, rows in list(by_file(words.folder / "chords.csv").items())[:: words.every]:
        score = read_score(words.folder / "scores" / file)
        beats += beats_of(score, Labels(score, rows))
    for least in LEVELS:
        right = [same for same, chance in beats if chance >= least]
        share = sum(right) / max(len(right), 1)
        print(f"chance {least:.1f} and more: {len(right):5} of {len(beats)} beats, root right in {share:.3f}")


def beats_of(score: Score, labels: Labels) -> Iterator[tuple[bool, float]]:
    """For every labelled beat whether the root agrees, and the chance of the chord proposed."""
    found = list(guesses(score, solo_of(score)))
    ends = [*(onset_q for onset_q, _, _ in found[1:]), score.bars[-1].onset_q + score.bars[-1].length_q]
    for (start_q, label, chance), until_q in zip(found, ends, strict=False):
        onset_q = start_q
        while onset_q < until_q:
            expert = labels.at(onset_q)
            if expert is not None:
                root = label[: 2 if label[1:2] in ("b", "#") else 1]
                yield classes_of(root) == classes_of(expert["plain_names"].split()[0]), chance
            onset_q += score.bar_at(onset_q).meter.beat_q


def solo_of(score: Score) -> Part:
    """The highest voice of the first part, its top notes alone."""
    part = score.parts[0]
    voice = max(part.voices, key=height)
    line = tuple(event._replace(notes=(event.top,)) if len(event.notes) > 1 else event for event in voice.events)
    return replace(part, index=0, voices=(voice._replace(events=line),))


def height(voice: Voice) -> float:
    """The mean pitch of a voice, weighed by length."""
    sounding = [(float(event.top.sounding.midi), float(event.duration_q)) for event in voice.events if event.notes]
    total = sum(length for _, length in sounding)
    return sum(midi * length for midi, length in sounding) / total if total else 0.0


if __name__ == "__main__":
    main()
