"""A take over a track of ours: where the track lies in the take, the track taken out of it, and the track's own times.

The delay is where the two are most alike by their phases alone (generalized cross-correlation with phase transform:
Knapp and Carter 1976, memory); the loudspeaker and room between track and microphone are one response, found from the
mean of cross-spectra over the whole take, and what the track becomes by it is subtracted. With headphones nothing of
the track is in the take: then where it lies is taken from the player's own notes, and everything is "relative to your
habit".
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

from appui.errors import SoundError
from appui.listen.frames import FRAME_S, RATE
from appui.listen.line import Line, Step
from appui.listen.take import Take, load
from appui.practice.tag import TrackTimes, times_in

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Samples = NDArray[np.float32]

__all__ = ["Backing", "Found", "delay_by_notes", "delay_of", "led_line", "open_backing", "rounds_in", "without"]

#  the delay is looked for in so much of the take and the track
_LOOKED_S = 180
#  a track is in the take where half of it foretells so much of the other half
_HEARD = 0.5
#  the response between track and microphone, and the pieces it is found from
_RESPONSE, _PIECE = 4096, 16384
#  so much of the response lies before the delay that was found
_BEFORE = 128


@dataclass(frozen=True, slots=True)
class Backing:
    """A track: its samples at the rate of takes, and its times."""

    file: str
    samples: Samples
    times: TrackTimes


@dataclass(frozen=True, slots=True)
class Found:
    """A track in a take: how much later than in its own file it is heard (s), `None` where it is not surely heard.

    `share` is how surely: about 1 where it is there, about 0 where it is not. `likeliest_s` is where it lies if it is
    there at all.
    """

    delay_s: float | None
    share: float
    likeliest_s: float


def open_backing(path: Path) -> Backing:
    """A track and what it tells of itself; raises `SoundError` for a file that is none of ours."""
    import soundfile

    samples = load(path)
    with soundfile.SoundFile(path) as file:
        times = times_in(file.comment or "")
    if times is None:
        raise SoundError(
            path,
            "does not say when its bars are played",
            "make it again with `appui practice`, in the written key and with a round for you",
        )
    return Backing(str(path), samples, times)


def led_line(line: Line, times: TrackTimes, round_s: float) -> Line:
    """The line with the times of a track, seconds from the beginning of the round; nothing in it breaks the beat.

    What was decided takes as much longer as the track is slower than the score.
    """
    steps = tuple(
        step._replace(nominal_s=times.seconds(round_s, step.onset_q) - round_s, stretch=0) for step in line.steps
    )
    places = []
    for place in line.places:
        pace = _pace(line.steps, steps, place.step)
        places.append(place._replace(decided=place.decided.slower(pace), pace=pace))
    return replace(line, steps=steps, places=tuple(places))


def _pace(written: Sequence[Step], led: Sequence[Step], number: int) -> float:
    """How many times as long a step takes in a track as in the score, from the steps on both sides of it."""
    first, last = max(number - 1, 0), min(number + 1, len(written) - 1)
    score_s = written[last].nominal_s - written[first].nominal_s
    return (led[last].nominal_s - led[first].nominal_s) / score_s if score_s > 0 else 1.0


def delay_of(take: Samples, track: Samples) -> Found:
    """How much later the track is heard in the take than it stands in its file; less than 0 where it began before."""
    import numpy as np
    from scipy.fft import irfft, next_fast_len, rfft

    take, track = take[: _LOOKED_S * RATE], track[: _LOOKED_S * RATE]
    size = next_fast_len(len(take) + len(track), real=True)
    cross = rfft(take, size) * np.conj(rfft(track, size))
    # what is soft in both is noise, and would count as much as the rest
    strength = np.abs(cross)
    weighted = cross / (strength + 1e-3 * strength.max() + 1e-12)
    alike = irfft(weighted, size)
    at = int(np.argmax(alike))
    delay = at if at < len(take) else at - size
    share = _heard_share(take, _placed(track, delay - _BEFORE, len(take)))
    return Found(delay / RATE if share > _HEARD else None, share, delay / RATE)


def _heard_share(take: Samples, placed: Samples) -> float:
    """How much of what half of the take foretells of the track is there in the other half: 1 all, 0 chance.

    A solo in time with a track is like it in many ways, but not by one response from beginning to end.
    """
    import numpy as np

    pieces = range(0, max(len(take) - _PIECE, 1), _PIECE)
    response = np.fft.rfft(_response(take, placed, pieces[::2]), _PIECE)
    both = own = 0.0
    for start in pieces[1::2]:
        foretold = np.fft.irfft(np.fft.rfft(_piece(placed, start)) * response)[_RESPONSE:]
        both += float(foretold @ _piece(take, start)[_RESPONSE:])
        own += float(foretold @ foretold)
    return both / own if own else 0.0


def without(take: Samples, track: Samples, delay_s: float) -> Samples:
    """The take with the track taken out of it, as far as one response between them tells."""
    import numpy as np
    from scipy.signal import oaconvolve

    placed = _placed(track, round(delay_s * RATE) - _BEFORE, len(take))
    response = _response(take, placed, range(0, max(len(take) - _PIECE, 1), _PIECE // 2))
    return np.asarray(take - oaconvolve(placed, response)[: len(take)], np.float32)


def _placed(track: Samples, at: int, length: int) -> Samples:
    """The track as it lies in the take, silence around it."""
    import numpy as np

    out = np.zeros(length, np.float32)
    first, last = max(at, 0), min(at + len(track), length)
    if last > first:
        out[first:last] = track[first - at : last - at]
    return out


def _response(take: Samples, placed: Samples, starts: Sequence[int]) -> NDArray[np.float64]:
    """What lies between track and microphone, from mean cross-spectra over pieces that begin at `starts`."""
    import numpy as np

    window = np.hanning(_PIECE)
    cross, power = np.zeros(_PIECE // 2 + 1, complex), np.zeros(_PIECE // 2 + 1)
    for start in starts:
        one = np.fft.rfft(window * _piece(placed, start))
        other = np.fft.rfft(window * _piece(take, start))
        cross += other * np.conj(one)
        power += np.abs(one) ** 2
    response = np.fft.irfft(cross / (power + 1e-4 * power.max() + 1e-12))[:_RESPONSE]
    response[-_RESPONSE // 4 :] *= np.linspace(1, 0, _RESPONSE // 4)
    return np.asarray(response)


def _piece(samples: Samples, start: int) -> Samples:
    import numpy as np

    found = samples[start : start + _PIECE]
    return found if len(found) == _PIECE else np.pad(found, (0, _PIECE - len(found)))


def delay_by_notes(take: Take, times: TrackTimes, line: Line) -> float:
    """The delay of a track that is not heard in the take: where the player's strokes fit its times best."""
    import numpy as np
    from scipy.fft import irfft, next_fast_len, rfft

    at = [times.seconds(round_s, step.onset_q) for round_s in times.rounds_s for step in line.steps]
    frames = np.round(np.array(at) / FRAME_S).astype(int)
    expected = np.zeros(int(frames.max()) + 1)
    expected[frames] = 1.0
    size = next_fast_len(len(expected) + len(take.rise), real=True)
    near = np.exp(-0.5 * (np.arange(-20, 21) / 6) ** 2)
    strokes = np.convolve(take.rise, near, "same")
    alike = irfft(rfft(strokes, size) * np.conj(rfft(expected, size)), size)
    best = int(np.argmax(alike))
    return (best if best < len(take.rise) else best - size) * FRAME_S


def rounds_in(times: TrackTimes, delay_s: float, length_s: float, lasts_s: float) -> list[float]:
    """The rounds of a track that lie in a take for the most part."""
    return [at for at in times.rounds_s if at + delay_s > -1 and at + delay_s + 0.8 * lasts_s < length_s]
