"""How often the chord proposed for a bare solo has the root an expert gives, beat by beat.

    python -m tests.benchmarks.proposed_chords FOLDER [--tables]

The folder is one of `harmony_labels.py` with `chords.csv`. Of every score the highest voice of the first part is kept,
of its chords the top note; the rest is hidden. Printed for some chances of the chord: how many beats have it, and in
how many the root is the expert's, with the tables of the project, then with tables counted without the work that is
judged. `--tables` prints the tables counted on all, to be copied to `appui.harmony.implied_tables`.
"""

import argparse
from collections.abc import Iterator, Sequence
from dataclasses import replace
from pathlib import Path

import numpy as np

from appui.accompany.propose import guesses
from appui.harmony.implied import Tables, beats_of
from appui.musicxml.read.score import read_score
from appui.score.model import Part, Score, Voice
from tests.benchmarks.harmony_labels import FOLDS, Labels, Row, by_file, classes_of, folds, work_of
from tests.benchmarks.implied_fit import TYPES, Labelled, tables_of, written

LEVELS = (0.0, 0.3, 0.4, 0.5, 0.55, 0.6, 0.7, 0.8)


def main() -> None:
    """Hide, propose, count."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("folder", type=Path)
    parser.add_argument("--tables", action="store_true")
    words = parser.parse_args()
    works = {file: rows[0].get("work") or work_of(file) for file, rows in by_file(words.folder / "labels.csv").items()}
    labelled = by_file(words.folder / "chords.csv")
    scores = {file: read_score(words.folder / "scores" / file) for file in labelled}
    labels = {file: Labels(scores[file], rows) for file, rows in labelled.items()}
    lines = {file: line_of(works.get(file, file), scores[file], labels[file]) for file in labelled}
    if words.tables:
        print(written(tables_of(list(lines.values()))))
        return
    table("as it is", [beat for file in labelled for beat in judged(scores[file], labels[file], None)])
    fold_of = folds([line.work for line in lines.values()])
    beats: list[tuple[bool, float]] = []
    for fold in range(FOLDS):
        tables = tables_of([line for line in lines.values() if fold_of[line.work] != fold])
        for file, line in lines.items():
            if fold_of[line.work] == fold:
                beats += judged(scores[file], labels[file], tables)
    table("without the work", beats)


def table(name: str, beats: Sequence[tuple[bool, float]]) -> None:
    """A line for each level of chance."""
    print(name)
    for least in LEVELS:
        right = [same for same, chance in beats if chance >= least]
        share = sum(right) / max(len(right), 1)
        print(f"  chance {least:.2f} and more: {len(right):5} of {len(beats)} beats, root right in {share:.3f}")


def line_of(work: str, score: Score, labels: Labels) -> Labelled:
    """The line of a score with the label of every beat."""
    beats = beats_of(replace(score, parts=(replace(solo_of(score), chord_symbols=(), figures=()),)))
    said = [_said(labels.at(onset_q)) for onset_q in beats.onset_q]
    columns = np.array(said, np.int64).reshape(-1, 4).T
    return Labelled(work, beats, *columns)


def _said(label: Row | None) -> tuple[int, int, int, int]:
    """Tonic, mode, root and type of a label."""
    if label is None:
        return -1, -1, -1, -1
    key, (root,) = label["key"], classes_of(label["plain_names"].split()[0])
    (tonic,) = classes_of(key[0].upper() + key[1:])
    above = tuple(sorted((each - root) % 12 for each in classes_of(label["plain_names"])))
    return tonic, int(key[0].islower()), root, TYPES.get(above, -1)


def judged(score: Score, labels: Labels, tables: Tables | None) -> Iterator[tuple[bool, float]]:
    """For every labelled beat whether the root agrees, and the chance of the chord proposed."""
    found = list(guesses(score, solo_of(score), tables))
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
