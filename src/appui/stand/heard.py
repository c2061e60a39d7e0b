"""Sound made when it is asked for: an ornament in one of its ways of playing, or bars to practise with.

What is handed out is a WAV file of two channels, the accompaniment on the left and the solo on the right, both in the
middle of the stage: the browser mixes them. The accompaniment of a passage is kept for the other ways of playing, so
only the solo has to be sounded again. Everything has one gain; a sound that would be louder than full scale with it
is softer as a whole.
"""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Mapping
from concurrent.futures import ThreadPoolExecutor
from contextlib import suppress
from dataclasses import dataclass, replace
from threading import Lock
from typing import TYPE_CHECKING

from appui.errors import AppuiError, UsageError
from appui.exact import Fraction
from appui.interpret.interpretation import Interpretation
from appui.perform.excerpt import later
from appui.perform.model import Performance, Tuning
from appui.perform.perform import only
from appui.practice.click import ClickPattern
from appui.practice.interval import parse_interval
from appui.practice.mix import name_of
from appui.practice.passage import Passage, perform_passage
from appui.score.signs import Sign, bar_names
from appui.sound.fonts import Fonts
from appui.sound.formats import wave_bytes
from appui.sound.synth import render_blocks

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Samples = NDArray[np.float32]

__all__ = ["LONGEST_S", "RATE", "Engine", "How", "Sound", "Timeline"]

RATE = 32_000
LONGEST_S = 600.0
#  one gain for everything, so that nothing jumps: an orchestra at its loudest stays below full scale with it
_GAIN = 10 ** (-6 / 20)
_FULL = 0.98
_KEPT = 24
_TEMPOS = 6
#  after the last bar what sounds dies away
_RING_S = 0.8
_BEFORE_S = 0.15


@dataclass(frozen=True, slots=True)
class How:
    """How something is to sound: the tempo as typed (``60%``, ``72``), tuning, transposition, a MIDI program."""

    tempo: str = "100%"
    tuning: Tuning | None = None
    interval: str | None = None
    program: int | None = None
    strict: bool = False


@dataclass(frozen=True, slots=True)
class Timeline:
    """Moments of a sound in seconds from its start: the first printed beat, the end of the last bar, clicks and bars.

    `clicks` are (moment, rank), rank 0 for a bar's first beat, 1 for others, 2 for parts of a beat; `bars` are
    (moment, index of the bar in the score). `count` are the clicks of a bar counted in before it, with what is
    missing of an upbeat's bar; they last `count_s`. `early`: small notes sound before the first beat.
    """

    lead_s: float
    body_s: float
    clicks: tuple[tuple[float, int], ...] = ()
    bars: tuple[tuple[float, int], ...] = ()
    qpm: float = 0.0
    count: tuple[tuple[float, int], ...] = ()
    count_s: float = 0.0
    early: bool = False


@dataclass(frozen=True, slots=True)
class Sound:
    """A WAV file and where its beats lie."""

    wav: bytes
    timeline: Timeline


class Engine:
    """Makes sound for several threads; `close` it at the end."""

    def __init__(self) -> None:
        self._fonts = Fonts(None)
        self._pool = ThreadPoolExecutor(2, "sound")
        self._lock = Lock()
        self._kept: OrderedDict[object, Samples] = OrderedDict()
        self._players: OrderedDict[object, tuple[Interpretation, Interpretation]] = OrderedDict()

    def close(self) -> None:
        """Give the synthesizers back."""
        self._pool.shutdown(cancel_futures=True)
        self._fonts.__exit__()

    def warm(self, player: Interpretation) -> None:
        """Make what the first press would have to wait for: the synthesizers, and what is found once in a score."""
        with suppress(AppuiError):
            self.bars(player, bar_names(player.score)[0], {}, How())

    def ornament(self, player: Interpretation, sign: Sign, words: str, how: How, bars: int = 1) -> Sound:
        """An ornament in a way of playing, with so many bars before its own and after it.

        Raises `UsageError` for words that are no way of playing it.
        """
        last = len(player.score.bars) - 1
        bar = sign.main(player.score).bar
        names = bar_names(player.score)
        first, end = max(bar - bars, 0), min(bar + bars, last)
        return self.bars(player, f"{names[first]}-{names[end]}", {sign.place: words}, how)

    def bars(self, player: Interpretation, bars: str | None, readings: Mapping[str, str], how: How) -> Sound:
        """Some bars, once; raises `PlaceError`, `UsageError`, `SoundError`."""
        at = self._at(player, how)
        changed = {at.sign_at(place).place: at.reading(place, words) for place, words in readings.items()}
        interval = parse_interval(how.interval)
        passage = perform_passage(at, bars, repeats=False, changed=changed, tuning=how.tuning, interval=interval)
        if passage.body_s > LONGEST_S:
            raise UsageError(f"{passage.body_s / 60:.0f} minutes are more than is played at once: name some bars")
        return self._sounded(passage, how)

    def _at(self, player: Interpretation, how: How) -> Interpretation:
        """The player at a tempo; the last few are kept, since all their choices are made once."""
        if how.tempo == "100%" and not how.strict:
            return player
        key = (id(player), how.tempo, how.strict)
        with self._lock:
            known = self._players.get(key)
        # the number of an object may come again for another one
        if known is not None and known[0] is player:
            return known[1]
        at = player.at_tempo(how.tempo)
        if how.strict:
            at = replace(at, wishes=replace(at.wishes, time="strict"))
        at.check()
        with self._lock:
            self._players[key] = player, at
            while len(self._players) > _TEMPOS:
                self._players.popitem(last=False)
        return at

    def _sounded(self, passage: Passage, how: How) -> Sound:
        lead_s = max(passage.lead_s, _BEFORE_S)
        moved = later(passage.performance, Fraction(0), lead_s - passage.lead_s)
        moved = replace(moved, tempos=passage.performance.tempos)
        frames = round((lead_s + passage.body_s + _RING_S) * RATE)
        others = self._pool.submit(self._others, only(moved, solo=False), frames)
        solo = self._rendered(_with_program(only(moved, solo=True), how.program), frames)
        return Sound(_wav(others.result(), solo), _timeline(passage, lead_s))

    def _others(self, performance: Performance, frames: int) -> Samples:
        """The accompaniment, kept for the next way of playing."""
        name = name_of(performance), frames
        with self._lock:
            if name in self._kept:
                self._kept.move_to_end(name)
                return self._kept[name]
        made = self._rendered(performance, frames)
        with self._lock:
            self._kept[name] = made
            while len(self._kept) > _KEPT or sum(each.nbytes for each in self._kept.values()) > 80_000_000:
                self._kept.popitem(last=False)
                if len(self._kept) <= 1:
                    break
        return made

    def _rendered(self, performance: Performance, frames: int) -> Samples:
        import numpy as np

        sound = np.zeros(frames, np.float32)
        if not any(part.notes for part in performance.parts):
            return sound
        at = 0
        with self._fonts.one() as font:
            for block in render_blocks(performance, font, sample_rate=RATE):
                here = block.mean(1, dtype=np.float32)[: frames - at]
                sound[at : at + len(here)] = here
                at += len(here)
                if at >= frames:
                    break
        fall = min(round(0.3 * RATE), frames)
        sound[-fall:] *= np.linspace(1, 0, fall, dtype=np.float32)
        return sound


def _with_program(performance: Performance, program: int | None) -> Performance:
    if program is None:
        return performance
    return replace(performance, parts=tuple(replace(part, program=program) for part in performance.parts))


def _timeline(passage: Passage, lead_s: float) -> Timeline:
    clicks = passage.clicks(ClickPattern(), bars_before=0, goes_on=True)
    count, count_q = passage.count_in(1, ClickPattern())
    pace = float(60 / passage.qpm)
    return Timeline(
        lead_s=round(lead_s, 5),
        body_s=round(passage.body_s, 5),
        clicks=tuple(sorted((round(lead_s + passage.seconds(each.offset_q), 5), each.rank) for each in clicks)),
        bars=tuple((round(lead_s + passage.seconds(each.onset_q), 5), each.bar) for each in passage.order),
        qpm=float(passage.qpm),
        early=passage.lead_q > 0,
        count=tuple((round(float(each.offset_q) * pace, 5), each.rank) for each in count),
        count_s=round(float(count_q) * pace, 5),
    )


def _wav(left: Samples, right: Samples) -> bytes:
    import numpy as np

    both = np.stack([left, right], axis=1) * _GAIN
    # nothing is ever clipped: where both together would be too loud, this one sound is softer
    peak = float(np.abs(both.sum(1)).max(initial=0.0))
    if peak > _FULL:
        both *= _FULL / peak
    return wave_bytes(both, RATE)
