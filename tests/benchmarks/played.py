"""How far the rules of level and tempo go the way pianists go, on performances kept outside the project.

    python -m tests.benchmarks.played FOLDER [--write]

FOLDER holds `scores/*.mxl`, `levels.csv.gz` (a row a printed note: file, part_idx, measure_idx, offset_q, pitch,
is_top, is_small, level_db, sd, n_perf), `tempo.csv.gz` (a row a beat: file, measure_idx, offset_q, beat_q, span_q,
log2_dev, sd, n_perf) and `ceilings.csv` (a row a file: composer, work, n_perf, how far pianists agree).

Printed are the correlations r within a performance, mean over performances: each work is judged with coefficients
fitted on the other works by Haydn, Beethoven and Bach. Since the files hold means over performances, r within one is
reckoned from the covariance with the mean and the spread of one performance, which is exact where all played all notes.
Beside them stands how far one pianist agrees with another. Then, term by term, its coefficient, how far it wanders
between the fits, and what r loses without it. `--write` puts the coefficients, fitted on all works, into the project's
tables.

The terms were chosen with these works known, so what is left out is the coefficients only, not their choice.
"""

import argparse
import csv
import gzip
import re
from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
from pathlib import Path
from typing import NamedTuple

import numpy as np

from appui.notations.read import read_score
from appui.perform import sheet as sheets
from appui.perform import terms, timing
from appui.perform.beats import beats_of
from appui.perform.sheet import Sheet

FITTED = ("Haydn", "Beethoven", "Bach")
ALL = (*FITTED, "Schumann")
_TICKS = 960
_RIDGE = 1e-6


class Played(NamedTuple):
    """One file: terms by note or beat, what was played, spread between performances, how many, and which to judge."""

    columns: np.ndarray
    played: np.ndarray
    sd: np.ndarray
    times: np.ndarray
    chosen: np.ndarray


class Case(NamedTuple):
    """Centred terms and values of one file, the weights, the spread within one performance."""

    composer: str
    work: str
    performances: int
    terms: np.ndarray
    values: np.ndarray
    weights: np.ndarray
    spread: float


def rows_of(path: Path) -> dict[str, list[dict[str, str]]]:
    """The rows of a table by file."""
    found: dict[str, list[dict[str, str]]] = defaultdict(list)
    with gzip.open(path, "rt", encoding="utf-8") as stream:
        for row in csv.DictReader(stream):
            found[row["file"]].append(row)
    return found


def levels_played(sheet: Sheet, rows: Sequence[Mapping[str, str]]) -> Played:
    """The notes of a file that somebody played, found in the score by part, bar, place and pitch."""
    starts = [float(bar.onset_q) for bar in sheet.score.bars]
    index = {
        (row.part, row.bar, round((float(row.onset_q) - starts[row.bar]) * _TICKS), row.pitch): place
        for place, row in enumerate(sheet.rows)
    }
    found = []
    for row in rows:
        key = int(row["part_idx"]), int(row["measure_idx"]), round(float(row["offset_q"]) * _TICKS), float(row["pitch"])
        if row["is_small"] == "0" and row["level_db"] and key in index:
            found.append(
                (index[key], float(row["level_db"]), float(row["sd"] or 0), int(row["n_perf"]), row["is_top"] == "1")
            )
    columns = np.column_stack(list(terms.columns_of(sheet).values()))
    places, *others = zip(*found, strict=True)
    return Played(columns[list(places)], *map(np.array, others))


def tempo_played(sheet: Sheet, rows: Sequence[Mapping[str, str]]) -> Played:
    """The beats of a file that somebody played, in per cent; marked those before the last sixteen quarters."""
    beats = beats_of(sheet)
    starts = [float(bar.onset_q) for bar in sheet.score.bars]
    index = {
        (bar, round((float(onset_q) - starts[bar]) * _TICKS)): place
        for place, (bar, onset_q) in enumerate(zip(beats.bar, beats.exact_q, strict=True))
    }
    found = []
    for row in rows:
        key = int(row["measure_idx"]), round(float(row["offset_q"]) * _TICKS)
        if row["log2_dev"] and key in index:
            percent = [float(row[name] or 0) * np.log(2) * 100 for name in ("log2_dev", "sd")]
            found.append((index[key], *percent, int(row["n_perf"]), float(row["toend_q"]) > timing.END_Q))
    columns = np.column_stack(list(timing.beat_columns(beats).values()))
    places, *others = zip(*found, strict=True) if found else ((), (), (), (), ())
    return Played(columns[list(places)], *map(np.array, others))


def cases_of(played: Mapping[str, Played], about: Mapping[str, dict[str, str]], *, chosen: bool) -> list[Case]:
    """The files centred; with `chosen` only the notes or beats that are marked."""
    found = []
    for file, one in played.items():
        take = one.chosen if chosen else np.ones(len(one.played), bool)
        weights, values = one.times[take].astype(float), one.played[take]
        columns = one.columns[take]
        values = values - np.average(values, weights=weights)
        columns = columns - np.average(columns, axis=0, weights=weights)
        between = one.sd[take] ** 2 * (one.times[take] - 1) / one.times[take]
        spread = float(np.sqrt(np.average(values**2 + between, weights=weights)))
        row = about[file]
        found.append(Case(row["composer"], row["work"], int(row["n_perf"]), columns, values, weights, spread))
    return found


class Fit(NamedTuple):
    """Least squares of all fitted works, and of all but each one, by its name."""

    whole: np.ndarray
    without: Mapping[str, np.ndarray]


def fitted(cases: Sequence[Case], use: Sequence[int]) -> Fit:
    """The coefficients of the terms in `use`."""
    normal: dict[str, tuple[np.ndarray, np.ndarray]] = {}
    for case in cases:
        if case.composer in FITTED:
            weighed = (case.terms[:, use] * case.weights[:, None]).T
            left, right = weighed @ case.terms[:, use], weighed @ case.values
            known = normal.get(case.work)
            normal[case.work] = (left, right) if known is None else (known[0] + left, known[1] + right)
    all_left = sum(left for left, _ in normal.values()) + _RIDGE * np.eye(len(use))
    all_right = sum(right for _, right in normal.values())
    nothing = np.zeros_like(all_left), np.zeros_like(all_right)
    without = {}
    for work in {case.work for case in cases}:
        left, right = normal.get(work, nothing)
        without[work] = np.linalg.solve(all_left - left, all_right - right)
    return Fit(np.linalg.solve(all_left, all_right), without)


def agreement(cases: Sequence[Case], use: Sequence[int], fit: Fit) -> dict[str, float]:
    """Mean r within a performance by composer, each work judged by the fit without it."""
    found: dict[str, list[tuple[float, int]]] = defaultdict(list)
    for case in cases:
        said = case.terms[:, use] @ fit.without[case.work]
        said = said - np.average(said, weights=case.weights)
        size = np.sqrt(np.average(said**2, weights=case.weights))
        r = np.average(said * case.values, weights=case.weights) / (size * case.spread) if size > 0 else 0.0
        found[case.composer].append((float(r), case.performances))
    return {name: weighed(found[name]) for name in found}


def weighed(pairs: Sequence[tuple[float, int]]) -> float:
    """A mean with weights."""
    return float(np.average([value for value, _ in pairs], weights=[weight for _, weight in pairs]))


def ceilings(about: Mapping[str, dict[str, str]], column: str) -> dict[str, float]:
    """How far one pianist agrees with another, mean by composer."""
    found: dict[str, list[tuple[float, int]]] = defaultdict(list)
    for row in about.values():
        if row[column]:
            found[row["composer"]].append((float(row[column]), int(row["n_perf"])))
    return {name: weighed(pairs) for name, pairs in found.items()}


def line(name: str, found: Mapping[str, float]) -> str:
    """A line of the table."""
    return f"{name:34s}" + "".join(f"{found.get(composer, float('nan')):11.3f}" for composer in ALL)


def report(
    names: Sequence[str], judged: Mapping[str, Sequence[Case]], most: Mapping[str, Mapping[str, float]]
) -> Iterator[str]:
    """The table of one kind: the agreement, the ceilings, and each term's part."""
    every = list(range(len(names)))
    first = next(iter(judged.values()))
    fit = fitted(first, every)
    whole = {kind: agreement(cases, every, fit) for kind, cases in judged.items()}
    yield f"{'r within a performance':34s}" + "".join(f"{composer:>11s}" for composer in ALL)
    for kind, found in whole.items():
        yield line(kind, found)
        yield line(f"  {kind}, two pianists", most[kind])
    yield f"\n{'term':12s}{'worth':>9s}{'+-':>8s}   what r loses without it: " + ", ".join(judged)
    for place, name in enumerate(names):
        use = [other for other in every if other != place]
        less = fitted(first, use)
        wander = float(np.std([one[place] for one in fit.without.values()])) * np.sqrt(len(fit.without))
        parts = []
        for kind, cases in judged.items():
            without = agreement(cases, use, less)
            parts.append(" ".join(f"{whole[kind][composer] - without[composer]:+.3f}" for composer in FITTED))
        yield f"{name:12s}{fit.whole[place]:9.3f}{wander:8.3f}   {' | '.join(parts)}"


def write_table(path: Path, names: Sequence[str], values: Sequence[float], key: str) -> None:
    """Put coefficients into a table of terms, everything else in it left as it is."""
    text = path.read_text(encoding="utf-8")
    for name, value in zip(names, values, strict=True):
        text, count = re.subn(rf"(\[terms\.{name}\]\n{key} = )[-+.\d]+", rf"\g<1>{value:.2f}", text)
        if count != 1:
            raise SystemExit(f"{path} has no term {name}")
    path.write_text(text, encoding="utf-8")


def main() -> None:
    """Fit and print."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("folder", type=Path)
    parser.add_argument("--write", action="store_true", help="put the coefficients into the project's tables")
    said = parser.parse_args()
    with (said.folder / "ceilings.csv").open(encoding="utf-8") as stream:
        about = {row["file"]: row for row in csv.DictReader(stream)}
    read = {file: sheets.sheet_of(read_score(said.folder / "scores" / file)) for file in about}
    levels = rows_of(said.folder / "levels.csv.gz")
    played = {file: levels_played(sheet, levels[file]) for file, sheet in read.items()}
    print(f"Levels: {sum(len(one.played) for one in played.values()):,} notes of {len(read)} scores, dB\n")
    judged = {kind: cases_of(played, about, chosen=kind == "top line") for kind in ("all notes", "top line")}
    most = {"all notes": ceilings(about, "level_pair"), "top line": ceilings(about, "level_pair_top")}
    print("\n".join(report(list(terms.TERMS), judged, most)))
    beats = rows_of(said.folder / "tempo.csv.gz")
    timed = {file: tempo_played(sheet, beats[file]) for file, sheet in read.items()}
    timed = {file: one for file, one in timed.items() if one.chosen.any()}
    print(f"\nTempo: {sum(len(one.played) for one in timed.values()):,} beats, per cent\n")
    paced = {kind: cases_of(timed, about, chosen=kind != "all beats") for kind in ("all beats", "before the end")}
    most = {"all beats": ceilings(about, "tempo_pair"), "before the end": ceilings(about, "tempo_pair_noend")}
    print("\n".join(report(list(timing.RULES), paced, most)))
    if said.write:
        own = Path(terms.__file__).parent
        for table, names, cases, key in (
            ("levels.toml", terms.TERMS, judged["all notes"], "db"),
            ("timing.toml", timing.RULES, paced["all beats"], "percent"),
        ):
            write_table(own / table, list(names), fitted(cases, range(len(names))).whole.tolist(), key)


if __name__ == "__main__":
    main()
