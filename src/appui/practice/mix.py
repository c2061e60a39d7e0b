"""Tracks as audio: every distinct sound rendered once, in parallel, then laid over one another.

A stem is one group of one passage at one tempo; whatever tracks and rounds it comes in, it is rendered once, known by
its notes. Clicks are rendered as single strokes, dry and in the middle, and placed to the sample. Levels and sides are
gains in the mix, so a solo can be taken away from a track exactly. Tracks are mixed block by block, twice: to measure,
and to write. What sounds alike in an earlier round of a WAV file is not mixed again but copied.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from concurrent.futures import Future, ThreadPoolExecutor
from dataclasses import replace
from hashlib import blake2b
from itertools import pairwise
from pathlib import Path
from typing import TYPE_CHECKING

from appui.perform.model import Performance, PerformedNote
from appui.practice.levels import balance
from appui.practice.track import Piece, Track
from appui.practice.windows import Placed, Reader, mixed, windows
from appui.sound.audio import Stem, render_stem
from appui.sound.files import whole_file
from appui.sound.fonts import Fonts
from appui.sound.formats import sound_file
from appui.sound.loudness import Again, Loudness, measure
from appui.sound.sections import workers
from appui.sound.synth import RATE
from appui.sound.wav import WavWriter

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

__all__ = ["Mixer", "name_of"]

STROKE_S = 0.4


class Mixer:
    """Renders and mixes the tracks of one set; `folder` is for its scratch files."""

    def __init__(self, folder: Path, soundfont: Path | str | None = None) -> None:
        self.folder, self.soundfont = folder, soundfont
        self.stems: dict[str, Stem] = {}

    def render(self, tracks: Iterable[Track], say: Callable[[str], None] = lambda words: None) -> None:
        """Render every distinct stem of these tracks that is not there yet."""
        with Fonts(self.soundfont) as fonts, ThreadPoolExecutor(workers()) as pool:
            futures: dict[str, Future[Stem]] = {}
            try:
                for track in tracks:
                    for piece in track.pieces:
                        for name, performance in _sounds(piece):
                            if name not in self.stems and name not in futures:
                                futures[name] = pool.submit(self._stem, name, performance, fonts)
                for count, (name, future) in enumerate(futures.items(), 1):
                    self.stems[name] = future.result()
                    say(f"rendered: {count} of {len(futures)} sounds")
            except BaseException:
                pool.shutdown(cancel_futures=True)
                raise

    def _stem(self, name: str, performance: Performance, fonts: Fonts) -> Stem:
        dry = all(part.percussion for part in performance.parts)
        with fonts.one() as font:
            stem = render_stem(performance, self.folder / name, font, reverb=not dry)
        return _centred(stem) if dry else stem

    def measure(self, track: Track, *, whole: bool = False) -> Loudness:
        """The loudness and true peak of a track before any gain.

        Rounds that come again are measured once unless the `whole` is asked for: a peak where the ringing of one meets
        the beginning of the next may be missed.
        """
        if whole:
            return measure(self.blocks(track), RATE)
        placed = self._placed(track)
        spans, again, start, skipped = [], [], 0, 0
        for loop in track.loops:
            first, stop, resume = (round(moment * RATE) for moment in (loop.start_s, loop.stop_s, loop.resume_s))
            spans.append((start, stop))
            again.append(Again(first - skipped, stop - skipped, loop.times))
            start, skipped = resume, skipped + resume - stop
        spans.append((start, _end(placed, track)))
        return measure(mixed(placed, spans), RATE, again)

    def write(self, track: Track, path: Path, gain_db: float, tags: Mapping[str, str], *, flushed: bool = True) -> int:
        """Write a track with a gain, whole or not at all (`flushed` as in `whole_file`); returns its frames."""
        import numpy as np

        placed = self._placed(track)
        frames, gain = _end(placed, track), np.float32(10 ** (gain_db / 20))
        starts = sorted({0, frames, *(min(round(moment * RATE), frames) for moment in track.round_s)})
        written: dict[object, int] = {}
        with (
            whole_file(path, flushed=flushed) as temporary,
            sound_file(temporary, path, RATE, frames, tags) as put,
            Reader() as reader,
        ):
            for window in windows(placed, list(pairwise(starts))):
                before = written.setdefault(window.content, window.start)
                if before != window.start and isinstance(put, WavWriter):
                    put.again(before, window.frames)
                else:
                    put(reader.mixed(window) * gain)
        return frames

    def blocks(self, track: Track) -> Iterator[NDArray[np.float32]]:
        """The track's samples before any gain, block by block."""
        placed = self._placed(track)
        return mixed(placed, [(0, _end(placed, track))])

    def _placed(self, track: Track) -> list[Placed]:
        placed: list[Placed] = []
        for piece in track.pieces:
            gain = 10 ** (track.level_db(piece.group) / 20)
            left, right = balance(piece.group, track.wish.pan)
            gains = (gain * left, gain * right)
            if piece.group == "click":
                for note in piece.performance.parts[0].notes:
                    stem = self.stems[_stroke_name(note)]
                    placed.append(Placed(stem, _frame(piece, note.onset_s), gains))
            else:
                stem = self.stems[name_of(piece.performance)]
                placed.append(Placed(stem, _frame(piece, 0.0), gains))
        return sorted(placed, key=lambda each: each.frame)


def _centred(stem: Stem) -> Stem:
    """A stroke the same on both sides: drum kits seat their instruments left and right, a beat belongs to both ears."""
    import numpy as np

    samples = np.fromfile(stem.file, np.float32, count=2 * stem.frames).reshape(-1, 2)
    middle = np.repeat(samples.mean(axis=1, keepdims=True), 2, axis=1)
    # the file may be the cache's own under another name: a new one takes its place
    stem.file.unlink()
    middle.tofile(stem.file)
    return replace(stem, peak=float(abs(middle).max(initial=0.0)))


def _sounds(piece: Piece) -> Iterator[tuple[str, Performance]]:
    """What has to be rendered for a piece: itself, or its single strokes."""
    if piece.group != "click":
        yield name_of(piece.performance), piece.performance
        return
    for note in piece.performance.parts[0].notes:
        yield _stroke_name(note), _stroke(piece.performance, note)


def _stroke_name(note: PerformedNote) -> str:
    return f"click-{note.key}-{note.velocity}"


def _stroke(clicks: Performance, note: PerformedNote) -> Performance:
    alone = replace(clicks.parts[0], notes=(note._replace(onset_q=note.onset_q * 0, onset_s=0.0),))
    return replace(clicks, parts=(alone,), length_s=STROKE_S)


def name_of(performance: Performance) -> str:
    """A name for what is heard: the same sounds, the same name."""
    told = hash_of(
        performance.length_s,
        performance.tuning,
        performance.raw_samples,
        *(
            (part.program, part.percussion, part.volume, part.pan, part.controls, _heard(part.notes))
            for part in performance.parts
        ),
    )
    return f"stem-{told}"


def _heard(notes: Iterable[PerformedNote]) -> list[tuple[float, float, int, int]]:
    return [(note.onset_s, note.duration_s, note.key, note.velocity) for note in notes]


def hash_of(*things: object) -> str:
    """A short name of values by what they are."""
    return blake2b(repr(things).encode(), digest_size=12).hexdigest()


def _end(placed: Sequence[Placed], track: Track) -> int:
    return max([each.frame + each.stem.frames for each in placed] + [round(track.length_s * RATE)])


def _frame(piece: Piece, after_s: float) -> int:
    """Where something in a piece falls: counted from its round's first frame, so that rounds are alike to the frame."""
    return round(piece.round_s * RATE) + round((piece.onset_s - piece.round_s + after_s) * RATE)
