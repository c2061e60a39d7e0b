"""The tables of `appui.harmony.implied`, counted on chord labels; used by proposed_chords.py."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Any

import numpy as np

from appui.harmony.implied import Beats, Tables

PLACES = 5
#  a chord met on fewer beats is not proposed
LEAST = 50
#  what a table is drawn to: the same type of chord everywhere, how common a chord is
FROM_TYPE, FROM_USUAL = 60.0, 5.0
TYPES = {
    (0, 4, 7): 0,
    (0, 3, 7): 1,
    (0, 4, 7, 10): 2,
    (0, 3, 6): 3,
    (0, 3, 6, 9): 3,
    (0, 3, 6, 10): 3,
    (0, 3, 7, 10): 1,
    (0, 4, 7, 11): 0,
    (0, 4, 8): 0,
}

#  a chord (mode, root above the tonic, type) and its number in the tables
Numbers = dict[tuple[int, int, int], int]


@dataclass(frozen=True)
class Labelled:
    """A line with its labels, one a beat: tonic, mode (1 minor), root, type; -1 where no chord is said."""

    work: str
    beats: Beats
    tonic: np.ndarray
    mode: np.ndarray
    root: np.ndarray
    kind: np.ndarray

    def known(self) -> Iterator[int]:
        """The beats with a chord that can be proposed."""
        return iter(np.flatnonzero((self.tonic >= 0) & (self.kind >= 0)).tolist())


def tables_of(lines: Sequence[Labelled]) -> Tables:
    """All tables."""
    chords = [_common(lines, mode) for mode in (0, 1)]
    most = max(map(len, chords))
    roots, types = np.zeros((2, most), np.int64), np.full((2, most), -1)
    for mode, found in enumerate(chords):
        roots[mode, : len(found)], types[mode, : len(found)] = np.array(found).T
    place = {(mode, *chord): number for mode, found in enumerate(chords) for number, chord in enumerate(found)}
    sounding, on_beat = (_notes(lines, place, most, which) for which in ("sounding", "on_beat"))
    usual = np.zeros((2, most))
    for (mode, root, kind), number in place.items():
        usual[mode, number] = sum(_count(line, mode, root, kind) for line in lines)
    usual /= usual.sum(1, keepdims=True)
    follows, changes = _following(lines, place, usual)
    return Tables(roots, types, sounding, on_beat, usual, follows, changes, *_keys(lines))


def _common(lines: Sequence[Labelled], mode: int) -> list[tuple[int, int]]:
    """The chords of a mode met often enough, as root above the tonic and type."""
    found = [(root, kind) for root in range(12) for kind in range(4)]
    return [each for each in found if sum(_count(line, mode, *each) for line in lines) >= LEAST]


def _count(line: Labelled, mode: int, root: int, kind: int) -> int:
    above = (line.root - line.tonic) % 12
    return int(((line.tonic >= 0) & (line.mode == mode) & (above == root) & (line.kind == kind)).sum())


def _notes(lines: Sequence[Labelled], place: Numbers, most: int, which: str) -> np.ndarray:
    """How often each pitch class sounds over each chord, drawn to what its type has everywhere."""
    everywhere, found = np.full((4, 12), 0.5), np.zeros((2, most, 12))
    for line in lines:
        table = getattr(line.beats, which)
        for index in line.known():
            everywhere[line.kind[index]] += np.roll(table[index], -line.root[index])
            number = place.get(_chord(line, index))
            if number is not None:
                found[line.mode[index], number] += np.roll(table[index], -line.tonic[index])
    everywhere /= everywhere.sum(1, keepdims=True)
    for (mode, root, kind), number in place.items():
        found[mode, number] += FROM_TYPE * np.roll(everywhere[kind], root)
    found[found.sum(2) == 0] = 1.0
    return np.asarray(found / found.sum(2, keepdims=True))


def _chord(line: Labelled, index: int) -> tuple[int, int, int]:
    return int(line.mode[index]), int((line.root[index] - line.tonic[index]) % 12), int(line.kind[index])


def _following(lines: Sequence[Labelled], place: Numbers, usual: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Which chord follows which, and how often the chord changes at each place in the bar, within a key."""
    follows, changes = np.zeros((2, usual.shape[1], usual.shape[1])), np.ones((2, PLACES, 2))
    for line in lines:
        for one, other in pairwise(line.known()):
            same_key = line.tonic[one] == line.tonic[other] and line.mode[one] == line.mode[other]
            before, after = place.get(_chord(line, one)), place.get(_chord(line, other))
            if other != one + 1 or not same_key or before is None or after is None:
                continue
            mode = line.mode[other]
            changes[mode, line.beats.place[other], int(before != after)] += 1
            if before != after:
                follows[mode, before, after] += 1
    follows += FROM_USUAL * usual[:, None, :]
    follows[:, np.arange(len(usual[0])), np.arange(len(usual[0]))] = 0
    return follows / follows.sum(2, keepdims=True), changes[:, :, 1] / changes.sum(2)


def _keys(lines: Sequence[Labelled]) -> tuple[np.ndarray, float]:
    """Which keys are common under a signature, and how often the key changes at a beat."""
    keys, changed, beats = np.full((2, 12), 0.5), 0, 0
    for line in lines:
        said = np.flatnonzero(line.tonic >= 0)
        above = (line.tonic - line.beats.signature * 7) % 12
        np.add.at(keys, (line.mode[said], above[said]), 1)
        key = line.tonic[said] + 12 * line.mode[said]
        changed += int((key[1:] != key[:-1]).sum())
        beats += max(len(key) - 1, 0)
    return keys / keys.sum(), changed / max(beats, 1)


def written(tables: Tables) -> str:
    """The tables in thousandths, as `appui.harmony.implied_tables` has them."""
    chords = [
        [(int(root), int(kind)) for root, kind in zip(roots, types, strict=True) if kind >= 0]
        for roots, types in zip(tables.roots, tables.types, strict=True)
    ]
    counts = [len(found) for found in chords]
    parts = {
        "CHORDS_OF": _lines(chords),
        "SOUNDING": _lines([_whole(table[:n]) for table, n in zip(tables.sounding, counts, strict=True)]),
        "ON_BEAT": _lines([_whole(table[:n]) for table, n in zip(tables.on_beat, counts, strict=True)]),
        "USUAL": _lines(_whole([row[:n] for row, n in zip(tables.usual, counts, strict=True)])),
        "FOLLOWS": _lines([_whole(table[:n, :n]) for table, n in zip(tables.follows, counts, strict=True)]),
        "CHANGES": _lines(_whole(tables.changes)),
        "KEYS": _lines(_whole(tables.keys)),
    }
    text = "".join(f"{name} = {lines}\n" for name, lines in parts.items())
    return text + f"KEY_CHANGES = {round(1000 * tables.key_changes)}\n"


def _whole(table: Any) -> list[tuple[int, ...]]:
    return [tuple(round(1000 * float(value)) for value in row) for row in table]


def _lines(rows: Any) -> str:
    return "(\n" + "".join(f"    {_line(row)},\n" for row in rows) + ")"


def _line(row: Any) -> str:
    if row and isinstance(row[0], (tuple, list)):
        return "(\n" + "".join(f"        {_line(each)},\n" for each in row) + "    )"
    return "(" + ", ".join(map(str, row)) + ("," if len(row) == 1 else "") + ")"
