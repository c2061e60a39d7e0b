"""Takes with truth: a score played by an invented player in an invented room, and what `appui listen` makes of it.

    python -m tests.benchmarks.takes SCORE[=A-B] ... [--bars A-B] [--seeds 0-5] [--soundfont FILE]
        [--over | --full] [--figures] [--signs N | --slides N] [--places] [--memory]

No recordings with labels exist openly, so these are made: each ornament is played in a way drawn by chance (before the
beat, short, leaning by a third, half or two thirds, or left out), in human time, and rendered. A seed and a score make
the same take again.

A player: a tempo curve of up to 8 % either way, 10 ms of scatter a note, lengths of small notes drawn, weights of -6
to 8 dB, tuning up to 30 cents off, vibrato, an invented room, noise. Three kinds in turn: one that tongues, one that
goes with the music (more rubato, a wetter room), one that slurs everything (each note rings into the next).

With `--over` the player plays over the accompaniment, which leaks into the microphone. With `--full` it is a recording
of all the players: the others follow the solo's tempo with 10 to 30 ms of scatter, 3 to 12 dB softer, in the same room.

With `--figures` turns, mordents and short trills are played in ways drawn by chance too, from chances of their own, so
that all else is played as without it; `--signs N` writes such signs over plain notes of the score first, by chance N,
and `--slides N` slides.

What is printed: before or on, right where the tool speaks and how often it is silent; the onset of the small note
against the truth, less the take's own middle for plain notes (a recording has no clock of its own); its length; its
weight; trills; what was claimed though not played. Last, right against claimed by confidence. With `--memory` each take
is heard once more in a process of its own, and the most memory that any of them took is printed.
"""

import argparse
import math
import subprocess
import sys
import time
from collections import defaultdict
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path
from tempfile import TemporaryDirectory

import numpy as np
import soundfile
from scipy.signal import fftconvolve, lfilter, resample_poly

import appui
from appui.errors import AppuiError
from appui.listen.backing import Backing
from appui.listen.figured import FigureHeard, laid
from appui.listen.figures import form_of, forms_for, is_usual
from appui.listen.frames import RATE as TAKE_RATE
from appui.listen.judge import Heard
from appui.listen.listen import Report, Wanted, listen, listen_over
from appui.perform.model import Performance, PerformedNote, Tuning
from appui.perform.perform import only
from appui.practice.tag import TrackTimes
from appui.sound.synth import RATE, render_blocks
from tests.benchmarks._figures import drawn_figures, played_figures, too_quick, truths_of, with_signs

SMALL = ("before", "short", "lean")
TRILL = ("trill", "termination")
WORDS = ("heavier", "about the same", "lighter")
#  the word that is ruled out where no one is sure
NOT = {"not heavier": "heavier", "not lighter": "lighter"}


@dataclass(frozen=True)
class Player:
    """A kind of player and room; `room_db` is the energy of the room's answer against the direct sound's."""

    name: str
    rubato: float
    gap_s: float
    room_s: float
    room_db: float
    noise_db: float


PLAYERS = (
    Player("tongues", 0.05, 0.035, 0.4, -12.0, -50.0),
    Player("goes with it", 0.08, 0.01, 1.1, -5.0, -42.0),
    Player("slurs", 0.08, -0.03, 0.7, -8.0, -46.0),
)


@dataclass
class Truth:
    """What was played at one ornament; seconds in the take."""

    place: str
    kind: str
    how: str
    small_s: list[float] = field(default_factory=list)
    main_s: float = math.nan
    length_s: float = math.nan
    weight_db: float = math.nan
    beat_s: float = math.nan
    same_as: str = ""
    trill_s: list[float] = field(default_factory=list)
    trill_keys: list[int] = field(default_factory=list)
    terminated: bool = False
    end_s: float = math.nan


@dataclass
class Made:
    """A take made: samples at `RATE`, the truth by place, the onsets of plain notes."""

    sound: np.ndarray
    truths: dict[str, Truth]
    plain_s: list[float]
    player: Player
    backing: Backing | None = None


def drawn_readings(piece: appui.Piece, bars: str | None, rng: np.random.Generator) -> dict[str, str]:
    """A way of playing for every ornament with small notes before it; what its place does not allow is tried again."""
    found: dict[str, str] = {}
    inside = {note[0] for note in _places(piece, bars)}
    for one in piece.signs:
        if one.kind == "trill" and one.place in inside:
            found[one.place] = str(rng.choice(["trill from above", "trill from the main note"]))
        if one.kind != "small notes" or one.place not in inside:
            continue
        words = _drawn(rng, len(one.sign.small))
        try:
            piece.interpretation.reading(one.place, words)
        except AppuiError:
            words = "before" if rng.random() < 0.5 else "short"
        found[one.place] = words
    return found


def _places(piece: appui.Piece, bars: str | None) -> list[tuple[str, str]]:
    part = piece.play(bars=bars, solo_only=True, repeats=False).performance.parts[0]
    return [(note.sign, note.role) for note in part.notes if note.sign]


def _drawn(rng: np.random.Generator, count: int) -> str:
    draw = rng.random()
    if draw < 0.1:
        return "plain"
    if draw < 0.45:
        return f"before {round(rng.uniform(55, 150) * count**0.7)} ms"
    if draw < 0.65:
        return f"short {round(rng.uniform(50, 130) * count**0.7)} ms"
    return rng.choice(["leaning 1/3", "leaning 1/2", "leaning 2/3"]) if count == 1 else "short"


@dataclass(frozen=True)
class Way:
    """How takes are made: over an accompaniment, with all the players, with figures played in ways drawn."""

    over: bool = False
    full: bool = False
    figures: bool = False


def make(piece: appui.Piece, bars: str | None, seed: int, font: Path | None, way: Way) -> Made:
    """The take of a seed."""
    rng, figures_rng = np.random.default_rng([seed, 7]), np.random.default_rng([seed, 8])
    player = PLAYERS[seed % len(PLAYERS)]
    readings = drawn_readings(piece, bars, rng)
    figures = drawn_figures(piece, {note[0] for note in _places(piece, bars)}, figures_rng) if way.figures else {}
    played = piece.play(bars=bars, readings=readings | figures, repeats=False).performance
    asked = next(part for part in played.parts if part.solo).notes
    if hurried := too_quick(asked, figures):
        figures |= dict.fromkeys(hurried, "plain")
        played = piece.play(bars=bars, readings=readings | figures, repeats=False).performance
        asked = next(part for part in played.parts if part.solo).notes
    notes, early = played_figures(asked, figures, figures_rng)
    if (way.over or way.full) and not any(part.notes for part in played.parts if not part.solo):
        raise SystemExit(f"{piece.interpretation.score.file} has no other part that plays with the solo")
    warp = _warp(played.length_s, 0.0 if way.over else player.rubato, rng)
    human, truths, plain = _humanly(notes, warp, player, rng, readings)
    for place, figure in truths_of(human, figures, early).items():
        truths[place] = Truth(place, "figure", figure.how, trill_s=figure.starts_s, trill_keys=figure.keys)
        truths[place].end_s = figure.end_s
    for one in piece.signs:
        if one.place in truths:
            _note_pitches(one, truths[one.place], notes)
    a4_hz = 440 * 2 ** (rng.uniform(-30, 30) / 1200)
    solo = _with_notes(only(played, solo=True), human)
    sound = _render(replace(solo, tuning=Tuning("", a4_hz, (0.0,) * 12)), font)
    sound = _vibrato(sound, rng)
    backing = None
    if way.over:
        backing = _render(only(played, solo=False), font)
        sound = _leaked(sound, backing, rng)
    if way.full:
        sound = _joined(sound, _others(only(played, solo=False), warp, a4_hz, font, rng), rng)
    late_s = rng.uniform(0.1, 0.8)
    sound = np.concatenate([np.zeros(round(late_s * RATE)), sound])
    for truth in truths.values():
        _later(truth, late_s)
    track = Backing("track", _at_rate(backing), _times(played, bars)) if backing is not None else None
    return Made(_room(sound, player, rng), truths, [at + late_s for at in plain], player, track)


def _others(
    played: Performance, warp: Callable[[float], float], a4_hz: float, font: Path | None, rng: np.random.Generator
) -> np.ndarray:
    """The other players, each note where the solo's tempo has it, with scatter of an ensemble."""
    scatter_s = rng.uniform(0.010, 0.030)
    parts = []
    for part in played.parts:
        notes = []
        for note in part.notes:
            start = max(warp(note.onset_s) + rng.normal(0, scatter_s), 0.0)
            end = warp(note.onset_s + note.duration_s)
            notes.append(note._replace(onset_s=start, duration_s=max(end - start, 0.03)))
        parts.append(replace(part, notes=tuple(sorted(notes, key=lambda note: note.onset_s)), controls=()))
    last = max(note.onset_s + note.duration_s for part in parts for note in part.notes)
    tuned = replace(played, parts=tuple(parts), length_s=last, tuning=Tuning("", a4_hz, (0.0,) * 12))
    return _render(tuned, font)


def _joined(solo: np.ndarray, others: np.ndarray, rng: np.random.Generator) -> np.ndarray:
    """The solo and the others together, the others softer."""
    level = np.sqrt(np.mean(solo**2)) / max(np.sqrt(np.mean(others**2)), 1e-9) * 10 ** (rng.uniform(-12, -3) / 20)
    out = np.zeros(max(len(solo), len(others)))
    out[: len(solo)] += solo
    out[: len(others)] += others * level
    return out


def _at_rate(sound: np.ndarray) -> np.ndarray:
    fewer: np.ndarray = resample_poly(sound, 1, RATE // TAKE_RATE).astype(np.float32)
    return fewer


def _times(played: Performance, bars: str | None) -> TrackTimes:
    """The accompaniment as a track: one round, from the first printed beat."""
    return TrackTimes(bars, False, (played.seconds(played.lead_q),), played.tempos)


def _later(truth: Truth, late_s: float) -> None:
    truth.small_s = [at + late_s for at in truth.small_s]
    truth.trill_s = [at + late_s for at in truth.trill_s]
    truth.main_s, truth.beat_s = truth.main_s + late_s, truth.beat_s + late_s
    truth.end_s += late_s


def _later_all(made: Made, late_s: float) -> None:
    for truth in made.truths.values():
        _later(truth, late_s)
    made.plain_s = [at + late_s for at in made.plain_s]


def _warp(length_s: float, rubato: float, rng: np.random.Generator):
    """A smooth curve from the score's seconds to the player's."""
    at = np.arange(0, length_s + 4, 0.02)
    slow = sum(rng.normal() / n**0.5 * np.sin(2 * np.pi * at / (24 / n) + rng.uniform(0, 7)) for n in (1, 2, 3, 4))
    pace = 1 + rubato * slow / max(np.abs(slow).max(), 1e-9)
    moments = np.concatenate([[0], np.cumsum(pace[:-1] * 0.02)])
    return lambda s: float(np.interp(s, at, moments))


def _humanly(notes: list[PerformedNote], warp, player: Player, rng: np.random.Generator, readings: dict[str, str]):
    """The notes in human time, the truth by place, the onsets of plain notes."""
    scatter: dict[str, float] = defaultdict(lambda: rng.normal(0, 0.010))
    lengths = {place: rng.uniform(0.75, 1.3) for place in readings}
    weights = {place: rng.uniform(-6, 8) for place in readings}
    starts: list[float] = []
    for number, note in enumerate(notes):
        group = note.sign or str(number)
        starts.append(warp(note.onset_s) + scatter[group])
    for number, note in enumerate(notes):
        if note.role in SMALL and note.sign in lengths:
            _restretch(notes, starts, number, lengths[note.sign])
    out = [_as_played(notes, starts, number, player, rng, weights) for number in range(len(notes))]
    plain = []
    truths: dict[str, Truth] = {}
    for number, note in enumerate(notes):
        if note.role == "plain":
            plain.append(starts[number])
        elif note.sign:
            _tell(truths, notes, number, starts, readings)
    for truth in truths.values():
        _weigh(truth, out)
    for place, words in readings.items():
        if words == "plain" and place not in truths:
            truths[place] = Truth(place, "small notes", "none")
    return out, truths, plain


def _as_played(
    notes: Sequence[PerformedNote],
    starts: Sequence[float],
    number: int,
    player: Player,
    rng: np.random.Generator,
    weights: Mapping[str, float],
) -> PerformedNote:
    """One note in human time and weight."""
    note, onset = notes[number], starts[number]
    following = starts[number + 1] if number + 1 < len(notes) else onset + note.duration_s
    gapless = number + 1 < len(notes) and notes[number + 1].onset_s - note.onset_s - note.duration_s < 0.04
    end = following - _gap(player, note, rng) if gapless else onset + note.duration_s
    velocity = float(note.velocity)
    if note.role in SMALL and note.sign is not None and note.sign in weights:
        velocity = _main_of(notes, number).velocity * 10 ** (weights[note.sign] / 40)
    heard = int(np.clip(round(velocity * 10 ** (rng.normal(0, 0.7) / 40)), 1, 127))
    return note._replace(onset_s=onset, duration_s=max(end - onset, 0.02), velocity=heard)


def _restretch(notes: list[PerformedNote], starts: list[float], number: int, factor: float) -> None:
    """A small note longer or shorter: on the beat its main note moves, before the beat its own start."""
    note = notes[number]
    length = starts[number + 1] - starts[number]
    if note.role == "before":
        room = starts[number] - starts[number - 1] if number else 0.0
        for earlier in range(number, -1, -1):
            if notes[earlier].sign != note.sign:
                break
            starts[earlier] -= min((factor - 1) * length, 0.4 * room)
    else:
        after = starts[number + 2] - starts[number + 1] if number + 2 < len(starts) else notes[number + 1].duration_s
        moved = min((factor - 1) * length, 0.4 * after)
        later = number + 1
        while later < len(notes) and notes[later].sign == note.sign:
            starts[later] += moved
            later += 1


def _main_of(notes: Sequence[PerformedNote], number: int) -> PerformedNote:
    return next((note for note in notes[number:] if note.role not in SMALL), notes[number])


def _gap(player: Player, note: PerformedNote, rng: np.random.Generator) -> float:
    slurred = note.role in (*SMALL, *TRILL, "turn", "mordent", "after")
    return rng.uniform(-0.005, 0.005) if slurred and player.gap_s > 0 else player.gap_s


def _tell(truths: dict[str, Truth], notes: Sequence[PerformedNote], number: int, starts, readings) -> None:
    note = notes[number]
    place = note.sign
    if place is None:
        return
    if note.role in SMALL:
        how = "before" if note.role == "before" else "on"
        truth = truths.setdefault(place, Truth(place, "small notes", how))
        truth.small_s.append(starts[number])
        if number + 1 < len(notes) and (notes[number + 1].sign != note.sign or notes[number + 1].role not in SMALL):
            truth.main_s = starts[number + 1]
            truth.length_s = truth.main_s - truth.small_s[0]
            truth.beat_s = truth.main_s if how == "before" else truth.small_s[0]
    elif note.role in TRILL:
        truth = truths.setdefault(place, Truth(place, "trill", "trill"))
        truth.trill_s.append(starts[number])
        truth.trill_keys.append(note.key)
        truth.terminated = number + 1 < len(notes) and notes[number + 1].role in ("after", "termination")
    elif readings.get(place) == "plain":
        truth = truths.setdefault(place, Truth(place, "small notes", "none"))
        truth.main_s = truth.beat_s = starts[number]


def _weigh(truth: Truth, out: Sequence[PerformedNote]) -> None:
    mine = [note for note in out if note.sign == truth.place]
    small = [note.velocity for note in mine if note.role in SMALL]
    main = [note.velocity for note in mine if note.role not in SMALL]
    if small and main:
        truth.weight_db = 40 * math.log10(small[-1] / main[0])


def _note_pitches(one: appui.Ornament, truth: Truth, notes: Sequence[PerformedNote]) -> None:
    if truth.kind != "small notes" or not truth.small_s:
        return
    first = next(n for n, note in enumerate(notes) if note.sign == one.place)
    keys = [note.key for note in notes if note.sign == one.place and note.role in SMALL]
    if first and notes[first - 1].key == keys[0]:
        truth.same_as = "previous"


def _with_notes(performance: Performance, notes: Sequence[PerformedNote]) -> Performance:
    part = replace(performance.parts[0], notes=tuple(sorted(notes, key=lambda note: note.onset_s)), controls=())
    length = max(note.onset_s + note.duration_s for note in notes)
    return replace(performance, parts=(part,), length_s=length)


def _render(performance: Performance, font: Path | None) -> np.ndarray:
    blocks = [block.mean(axis=1, dtype=np.float64) for block in render_blocks(performance, font, reverb=False)]
    return np.concatenate(blocks)


def _vibrato(sound: np.ndarray, rng: np.random.Generator) -> np.ndarray:
    """Vibrato of up to 20 cents, by reading the samples a little earlier and later."""
    at = np.arange(len(sound))
    rate = rng.uniform(4.8, 6.2)
    depth = (2 ** (rng.uniform(0, 20) / 1200) - 1) / (2 * np.pi * rate) * RATE
    moved: np.ndarray = np.interp(at + depth * np.sin(2 * np.pi * rate * at / RATE), at, sound)
    return moved


def _room(sound: np.ndarray, player: Player, rng: np.random.Generator) -> np.ndarray:
    """An invented room: the direct sound, a dozen early reflections, a decaying tail; then noise."""
    length = round(player.room_s * RATE)
    tail = rng.normal(size=length) * 10 ** (-3 * np.arange(length) / length)
    tail = lfilter([0.4], [1, -0.6], tail)
    tail *= 10 ** (player.room_db / 20) / np.sqrt((tail**2).sum())
    tail[: round(0.008 * RATE)] = 0
    for _ in range(12):
        tail[rng.integers(round(0.003 * RATE), round(0.06 * RATE))] += rng.choice([-1, 1]) * rng.uniform(0.02, 0.15)
    tail[0] = 1.0
    heard = fftconvolve(sound, tail)
    hiss = lfilter([1], [1, -0.9], rng.normal(size=len(heard)))
    loud = np.sqrt(np.mean(heard**2))
    heard += hiss / np.sqrt(np.mean(hiss**2)) * loud * 10 ** (player.noise_db / 20)
    room: np.ndarray = (0.7 * heard / np.abs(heard).max()).astype(np.float32)
    return room


def _leaked(sound: np.ndarray, backing: np.ndarray, rng: np.random.Generator) -> np.ndarray:
    """The accompaniment in the microphone: late, coloured by loudspeaker and room, softer than the solo."""
    late = round(rng.uniform(0.0, 0.12) * RATE)
    response = rng.normal(size=round(0.2 * RATE)) * 10 ** (-3 * np.arange(round(0.2 * RATE)) / (0.2 * RATE)) * 0.05
    response[0] = 1.0
    heard = np.concatenate([np.zeros(late), fftconvolve(backing, response)])
    level = np.sqrt(np.mean(sound**2)) / max(np.sqrt(np.mean(heard**2)), 1e-9) * 10 ** (rng.uniform(-16, -8) / 20)
    out = np.zeros(max(len(sound), len(heard)))
    out[: len(sound)] += sound
    out[: len(heard)] += heard * level
    return out


@dataclass
class Row:
    """One ornament of one take: the truth beside what was said."""

    score: str
    seed: int
    player: str
    truth: Truth
    said: Heard
    bias_s: float


def rows_of(
    score: Path,
    bars: str | None,
    seeds: Iterable[int],
    fonts: Sequence[Path | None],
    way: Way,
    *,
    memory: bool = False,
) -> Iterator[Row]:
    """Makes takes of a score, listens to them, pairs truth and answer."""
    piece = appui.open(score)
    for seed in seeds:
        font = fonts[seed // len(PLAYERS) % len(fonts)]
        made = make(piece, bars, seed, font, way)
        with TemporaryDirectory() as folder:
            file = Path(folder) / "take.flac"
            soundfile.write(file, made.sound, RATE)
            started = time.process_time()
            try:
                report = _heard(piece, file, made, bars)
            except AppuiError as error:
                REFUSED.append(f"{score.stem} {seed}: {error}")
                continue
            SPENT.append((time.process_time() - started, len(made.sound) / RATE))
            if memory:
                MEMORY_MB.append(_memory_mb(score, bars, file))
        _later_all(made, -report.from_s)
        bias = bias_of(report.heard.starts_s, made.plain_s)
        for said in report.places:
            truth = made.truths.get(said.place.sign.place)
            if truth is not None:
                yield Row(score.stem, seed, made.player.name, truth, said, bias)


def _heard(piece: appui.Piece, file: Path, made: Made, bars: str | None) -> Report:
    if made.backing is None:
        return listen(piece.interpretation, file, Wanted(bars))
    (report,) = listen_over(piece.interpretation, file, made.backing, Wanted())
    return report


#  hears a take and prints the most memory that took, kB; what a process was before it began would count in `resource`
_APART = """
import sys
from pathlib import Path

import appui
from appui.listen.listen import Wanted, listen

score, file, bars = sys.argv[1:]
listen(appui.open(score).interpretation, Path(file), Wanted(bars or None))
print(next(line.split()[1] for line in open("/proc/self/status") if line.startswith("VmHWM")))
"""


def _memory_mb(score: Path, bars: str | None, file: Path) -> float:
    """The most memory that hearing a take needs in a process of its own (Linux)."""
    command = [sys.executable, "-c", _APART, str(score), str(file), bars or ""]
    return int(subprocess.run(command, check=True, capture_output=True, text=True).stdout) * 1024 / 1e6


REFUSED: list[str] = []
SPENT: list[tuple[float, float]] = []
MEMORY_MB: list[float] = []


def bias_of(starts_s: Sequence[float], plain_s: Sequence[float]) -> float:
    """How late the tool hears plain notes in the middle, against the moment they were asked of the synthesizer."""
    found = np.asarray(starts_s)
    away = [found[np.abs(found - at).argmin()] - at for at in plain_s]
    return float(np.median([each for each in away if abs(each) < 0.2] or [0.0]))


def share(values: Sequence[bool]) -> str:
    """A share with its 95 % margin (Wilson)."""
    n, k = len(values), sum(values)
    if not n:
        return "-"
    p, z = k / n, 1.96
    middle = (p + z * z / (2 * n)) / (1 + z * z / n)
    wide = z * math.sqrt(p * (1 - p) / n + z * z / (4 * n * n)) / (1 + z * z / n)
    return f"{p:.2f} ({middle - wide:.2f}-{middle + wide:.2f}, n {n})"


def quantiles(values: Sequence[float]) -> str:
    """The middle and the 90 % of absolute values, ms."""
    if not values:
        return "-"
    size = np.abs(values) * 1000
    return f"{np.median(size):.0f} / {np.quantile(size, 0.9):.0f} (n {len(size)})"


def table(rows: Sequence[Row]) -> None:
    """Everything measured."""
    small = [row for row in rows if row.truth.kind == "small notes" and row.truth.how != "none"]
    none = [row for row in rows if row.truth.kind == "small notes" and row.truth.how == "none"]
    for name, part in (
        ("all", small),
        ("another pitch before", [r for r in small if not r.truth.same_as]),
        ("the pitch before it", [r for r in small if r.truth.same_as]),
        ("before a trill of the same pitches", [r for r in small if r.said.place.hidden]),
        ("all others", [r for r in small if not r.said.place.hidden]),
    ):
        spoken = [row for row in part if row.said.how in ("before", "on", "not on")]
        right = [right_of(row) for row in spoken]
        clear = [right_of(row) for row in spoken if clear_of(row)]
        print(
            f"before or on, {name}: right {share(right)}; margin over 20 ms {share(clear)}; "
            f"silent {share([row.said.how == 'cannot tell' for row in part])}; "
            f"lost {share([row.said.how == 'left out' for row in part])}"
        )
    for player in sorted({row.player for row in small}):
        part = [row for row in small if row.player == player]
        print(
            f"    {player}: right {share([right_of(r) for r in part if r.said.how in ('before', 'on', 'not on')])}; "
            f"silent {share([r.said.how == 'cannot tell' for r in part])}"
        )
    told = [row for row in small if row.said.small_s and row.said.how in ("before", "on")]
    print(
        "beat, ms:",
        quantiles(
            [
                row.said.beat.at_s - row.bias_s - row.truth.beat_s
                for row in small
                if math.isfinite(row.said.beat.at_s) and math.isfinite(row.truth.beat_s)
            ]
        ),
    )
    print(
        "onset of the small note, ms:",
        quantiles([row.said.small_s[0] - row.bias_s - row.truth.small_s[0] for row in told]),
    )
    print(
        "onset of the main note, ms:",
        quantiles(
            [
                row.said.main_s - row.bias_s - row.truth.main_s
                for row in small
                if math.isfinite(row.said.main_s) and math.isfinite(row.truth.main_s)
            ]
        ),
    )
    for low, high in ((0, 0.1), (0.1, 0.2), (0.2, 9)):
        part = [row for row in told if low <= row.truth.length_s < high and math.isfinite(row.said.length_s)]
        print(
            f"length within 25 %, {low}-{high} s:",
            share([abs(r.said.length_s / r.truth.length_s - 1) <= 0.25 for r in part]),
        )
    weights([row for row in told if math.isfinite(row.truth.weight_db)])
    weight_errors([row for row in told if math.isfinite(row.truth.weight_db)])
    print(
        "claimed though left out:",
        share([r.said.how in ("before", "on") for r in none]),
        "; told as left out",
        share([r.said.how == "left out" for r in none]),
    )
    trills(rows)
    figures([row for row in rows if row.truth.kind == "figure"])
    #  where no chance is given it stands at a half
    calibration([row for row in small if row.said.how != "left out" and row.said.on != 0.5])
    print(f"takes refused: {len(REFUSED)} of {len(REFUSED) + len(SPENT)}", *REFUSED, sep="\n    ")
    if SPENT:
        spent, length = (sum(each) for each in zip(*SPENT, strict=True))
        print(f"processor time, s a minute of sound: {60 * spent / length:.1f}")


def weights(rows: Sequence[Row]) -> None:
    """The weight in three words."""
    spoken = [row for row in rows if row.said.weight in WORDS]
    outside = [row for row in spoken if abs(row.truth.weight_db) > 3]
    word = [word_of(row.truth.weight_db) for row in outside]
    right = [each == row.said.weight for each, row in zip(word, outside, strict=True)]
    opposite = [not ok and row.said.weight != "about the same" for ok, row in zip(right, outside, strict=True)]
    print(
        f"weight told: {share([row.said.weight in WORDS for row in rows])}; outside 3 dB right {share(right)}, "
        f"opposite {share(opposite)}; even told of even "
        f"{share([row.said.weight == 'about the same' for row in spoken if abs(row.truth.weight_db) <= 3])}; "
        f"off by dB {quantiles([(row.said.weight_db - row.truth.weight_db) / 1000 for row in spoken])}"
    )
    two = [row for row in rows if row.said.weight in NOT]
    print(
        f"    one of two told: {share([row.said.weight in NOT for row in rows])}, "
        f"right {share([NOT[row.said.weight] != word_of(row.truth.weight_db) for row in two])}"
    )


def weight_errors(rows: Sequence[Row]) -> None:
    """By how many dB weights are heard amiss, told or not: what `appui.listen.judge` is given as its spreads."""
    for name, part in (
        ("from 250 ms", [row for row in rows if row.truth.length_s >= 0.25 and not row.truth.same_as]),
        ("shorter", [row for row in rows if row.truth.length_s < 0.25 and not row.truth.same_as]),
        ("on the pitch before", [row for row in rows if row.truth.same_as]),
    ):
        away = [row.said.weight_db - row.truth.weight_db for row in part if math.isfinite(row.said.weight_db)]
        if len(away) > 1:
            print(f"    weights amiss, {name}: by {np.mean(away):+.1f} dB, spread {np.std(away):.1f} (n {len(away)})")


def right_of(row: Row) -> bool:
    """Whether what was said of before and on is right."""
    return row.said.how == row.truth.how or (row.said.how == "not on" and row.truth.how == "before")


def clear_of(row: Row) -> bool:
    """Whether the two ways differ by more than 20 ms here."""
    return row.truth.length_s > 0.02


def word_of(weight_db: float) -> str:
    """The word for a weight."""
    return "heavier" if weight_db > 3 else "lighter" if weight_db < -3 else "about the same"


def trills(rows: Sequence[Row]) -> None:
    """Trills of eight notes and more."""
    long = [row for row in rows if row.truth.kind == "trill" and len(row.truth.trill_s) >= 8]
    heard = [(row, row.said.trill) for row in long if row.said.trill is not None]
    print("trills heard:", share([row.said.trill is not None for row in long]))
    speed = [abs(trill.rate / rate_of(row.truth) - 1) <= 0.1 for row, trill in heard]
    print("    speed within 10 %:", share(speed))
    first = [(row, trill) for row, trill in heard if trill.first_sure]
    print(
        "    first note:",
        share([first_of(row) == trill.first for row, trill in first]),
        "silent",
        share([not trill.first_sure for _, trill in heard]),
    )
    print("    number within 2:", share([abs(trill.count - len(row.truth.trill_s)) <= 2 for row, trill in heard]))
    print(
        "    ending:",
        share([(trill.ending == "termination" or bool(trill.printed_end)) == ends_low(row) for row, trill in heard]),
    )


def figures(rows: Sequence[Row]) -> None:
    """Turns, mordents and short trills: there or not, which notes, where they fall, how long they take."""
    if not rows:
        return
    played, none = ([row for row in rows if (row.truth.how == "none") == plain] for plain in (False, True))
    heard = [(row, row.said.figure) for row in played if row.said.figure is not None]
    print(
        f"figures: heard {share([row.said.figure is not None for row in played])}; "
        f"lost {share([row.said.how == 'left out' for row in played])}; "
        f"claimed though left out {share([row.said.figure is not None for row in none])}; "
        f"told as left out {share([row.said.how == 'left out' for row in none])}"
    )
    told = [(row, figure) for row, figure in heard if figure.sure]
    exact = [(row, figure) for row, figure in told if figure.near_sure and figure.first_sure]
    print(
        f"    form right {share([form_right(row, figure) for row, figure in told])}, "
        f"told of those heard {share([figure.sure for _, figure in heard])}; "
        f"every note right {share([list(figure.keys) == row.truth.trill_keys for row, figure in exact])}, "
        f"told {share([each.sure and each.near_sure and each.first_sure for _, each in heard])}"
    )
    other = [(row, figure) for row, figure in heard if is_other(row)]
    print(
        f"    of those otherwise than usual for the sign: told {share([figure.sure for _, figure in other])}, "
        f"right {share([form_right(row, figure) for row, figure in other if figure.sure])}"
    )
    spoken = [row for row, _ in heard if row.said.how != "played"]
    print(
        f"    before, on or after the beat: right {share([row.said.how == row.truth.how for row in spoken])}; "
        f"silent {share([row.said.how == 'played' for row, _ in heard])}"
    )
    for how in ("before", "on", "after"):
        part = [row for row in spoken if row.said.how == how]
        print(f"        said to be {how}: right {share([row.truth.how == how for row in part])}")
    lengths = [
        (row.said.length_s, length_of(row.truth))
        for row, figure in exact
        if row.said.how == row.truth.how and math.isfinite(row.said.length_s)
    ]
    print(f"    length within 25 %: {share([abs(said / true - 1) <= 0.25 for said, true in lengths])}")
    shares = [
        figure.at_share - (row.truth.trill_s[1] - row.truth.trill_s[0]) / (figure_note_s(row) or math.nan)
        for row, figure in heard
        if row.said.how == row.truth.how == "after" and math.isfinite(figure.at_share)
    ]
    print(f"    where late ones begin, off by hundredths of the note: {quantiles([each / 10 for each in shares])}")


def is_other(row: Row) -> bool:
    """Whether a figure was played that is not usual for its sign."""
    kind = row.said.place.sign.kind
    form = form_of(row.truth.trill_keys, kind)
    return form in forms_for(kind) and not is_usual(kind, form)


def form_right(row: Row, figure: FigureHeard) -> bool:
    """Whether the notes are higher and lower as told; a first note of which nothing is said does not count."""
    said, true = (form_of(keys, row.said.place.sign.kind) for keys in (figure.keys, row.truth.trill_keys))
    return said == true or (not figure.first_sure and said == true[1:])


def length_of(truth: Truth) -> float:
    """How long the notes of a figure took."""
    return laid(truth.trill_keys, truth.trill_s, truth.end_s).length_s


def figure_note_s(row: Row) -> float:
    """How long the main note of a figure is, at the pace of the take."""
    return row.said.place.decided.length_of_note_s * row.said.beat.pace


def rate_of(truth: Truth) -> float:
    """The speed of a trill as played."""
    lengths = np.diff(truth.trill_s)
    quick = lengths[lengths < 2 * np.median(lengths)]
    return 1 / float(quick.mean())


def first_of(row: Row) -> str:
    """The first note of a trill as played."""
    key = row.said.place.upper
    return "upper" if row.truth.trill_keys[0] >= key else "main"


def ends_low(row: Row) -> bool:
    """Whether a trill as played ends with a termination."""
    return row.truth.terminated or min(row.truth.trill_keys[-3:]) < min(row.truth.trill_keys[:4])


def calibration(rows: Sequence[Row]) -> None:
    """The chance given for on the beat, against how often it was."""
    for low in (0.0, 0.02, 0.15, 0.5, 0.85, 0.98):
        high = {0.0: 0.02, 0.02: 0.15, 0.15: 0.5, 0.5: 0.85, 0.85: 0.98, 0.98: 1.01}[low]
        part = [row for row in rows if low <= row.said.on < high]
        if part:
            mean = np.mean([row.said.on for row in part])
            print(f"    on the beat by {mean:.2f}: {share([row.truth.how == 'on' for row in part])}")


def main() -> None:
    """Make, listen, print."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("scores", nargs="+", help="a file, or FILE=A-B for some of its bars")
    parser.add_argument("--bars")
    parser.add_argument("--seeds", default="0-5")
    parser.add_argument("--soundfont", type=Path, action="append", help="of several each is taken for three seeds")
    parser.add_argument("--over", action="store_true")
    parser.add_argument("--full", action="store_true", help="a recording of all the players")
    parser.add_argument("--figures", action="store_true", help="turns, mordents and short trills drawn by chance too")
    parser.add_argument("--signs", type=int, help="write such signs over the score, by this chance")
    parser.add_argument("--slides", type=int, help="the same with slides only")
    parser.add_argument("--places", action="store_true", help="print every place")
    parser.add_argument("--memory", action="store_true", help="print how much memory hearing takes")
    arguments = parser.parse_args()
    if arguments.over and arguments.memory:
        parser.error("--memory hears takes without their track: leave out --over")
    first, _, last = arguments.seeds.partition("-")
    seeds = range(int(first), int(last or first) + 1)
    slides = arguments.slides is not None
    signs = arguments.slides if slides else arguments.signs
    way = Way(arguments.over, arguments.full, arguments.figures or signs is not None)
    rows = []
    for given in arguments.scores:
        file, _, bars = given.partition("=")
        with TemporaryDirectory() as folder:
            score = Path(file) if signs is None else with_signs(Path(file), signs, Path(folder), slides=slides)
            of = (score, bars or arguments.bars, seeds, arguments.soundfont or [None], way)
            for row in rows_of(*of, memory=arguments.memory):
                rows.append(row)
                if arguments.places:
                    print(told(row), flush=True)
    table(rows)
    if MEMORY_MB:
        print(f"memory, MB at most: {max(MEMORY_MB):.0f}")


def told(row: Row) -> str:
    """A place in a line, to look for what goes wrong."""
    said, truth, off = row.said, row.truth, row.bias_s
    small = [round(each - off, 3) for each in said.small_s]
    same = "=" if truth.same_as else ""
    return (
        f"{row.score} {row.seed} {truth.place} {truth.how}{same} {len(truth.small_s)} | {said.how} on {said.on:.2f} "
        f"ev {said.evidence:.0f} | beat {said.beat.at_s - off - truth.beat_s:+.3f} of {said.beat.spread_s:.3f} | "
        f"small {small} {[round(s, 3) for s in truth.small_s]} main {said.main_s - off:.3f} {truth.main_s:.3f} | "
        f"dB {said.weight_db:.1f} {truth.weight_db:.1f} | {said.trill} {len(truth.trill_s)} | "
        f"{said.figure} {truth.trill_keys} {[round(s, 3) for s in truth.trill_s]}"
    )


if __name__ == "__main__":
    main()
