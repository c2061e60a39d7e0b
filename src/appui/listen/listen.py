"""One chain from a score and a take to what was played: load, find the line, hear the places, judge them."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import partial
from itertools import groupby
from pathlib import Path
from typing import TYPE_CHECKING, TypeVar

from appui.errors import SoundError
from appui.interpret.interpretation import Interpretation
from appui.listen.align import Aligned, Span, align
from appui.listen.backing import Backing, delay_by_notes, delay_of, led_line, rounds_in, without
from appui.listen.frames import FRAME_S, RATE
from appui.listen.heard import HeardLine
from appui.listen.judge import Heard, judge
from appui.listen.line import Line, line_of
from appui.listen.midi_take import hear_midi, pressed_in
from appui.listen.others import Recording, points_of_others
from appui.listen.places import hear
from appui.listen.separate import WITH_OTHERS, others_in, solo_in
from appui.listen.take import Take, load, take_of
from appui.score.repeats import Occurrence

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

__all__ = ["MIDI", "Report", "Wanted", "listen", "listen_over", "listen_samples", "over_track"]

MIDI = (".mid", ".midi")
#  a take of whose notes fewer fit is of something else
_SAME_PIECE = 0.55
#  so many notes in a row that do not fit are told; so much sound outside the bars is
_ODD_NOTES, _ODD_S, _ODD_FIT = 3, 2.5, 0.35


@dataclass(frozen=True, slots=True)
class Wanted:
    """What is asked: which bars, at what pitch the take is (A4, Hz), whether it is said that only the solo plays."""

    bars: str | None = None
    a4_hz: float = 440.0
    solo_alone: bool = False


@dataclass(frozen=True, slots=True)
class Report:
    """What was heard in one take; `samples` are those of a sound file, `None` for a MIDI file.

    Of a take over a track each round is one: its seconds count from `from_s` of the file.
    """

    file: str
    line: Line
    heard: HeardLine
    places: tuple[Heard, ...]
    notices: tuple[str, ...] = ()
    samples: NDArray[np.float32] | None = None
    from_s: float = 0.0


def listen(interpretation: Interpretation, path: Path, wanted: Wanted) -> Report:
    """Hear a take, a sound or MIDI file; raises `SoundError` for one that cannot be used, or is of something else."""
    if path.suffix.lower() in MIDI:
        found = [_best(interpretation, wanted, partial(hear_midi, notes=notes)) for notes in pressed_in(path)]
        # of several channels the one that plays the solo
        line, (aligned, heard) = max(found, key=lambda each: _fit(each[1][0]))
        if _fit(aligned) < _SAME_PIECE:
            raise _other_piece(path, line, aligned)
        return Report(str(path), line, heard, tuple(judge(line, heard)), (*line.notices, *_odd(line, aligned)))
    return listen_samples(interpretation, load(path), path, wanted)


def listen_samples(
    interpretation: Interpretation, samples: NDArray[np.float32], file: object, wanted: Wanted
) -> Report:
    """The same for samples at `appui.listen.frames.RATE`."""
    take, said = take_of(samples, file, wanted.a4_hz), []
    played = None if wanted.solo_alone else others_in(interpretation, _orders(interpretation, wanted), take)
    if played is None:
        line, (aligned, _) = _best(interpretation, wanted, lambda line: (align(line, take), None))
    else:
        a4_hz, said = take.a4_hz, [WITH_OTHERS]
        # the frames of all the players are many, and no longer needed
        del take
        line, take = played.line, solo_in(played, samples, a4_hz, file)
        aligned = align(line, take, played.span)
    if _fit(aligned) < _SAME_PIECE:
        raise _other_piece(file, line, aligned, solo_alone=wanted.solo_alone)
    heard = hear(line, take, aligned)
    others = points_of_others(line, heard, played.slices, Recording(samples, take.a4_hz)) if played else ()
    notices = (*said, *line.notices, *_odd(line, aligned), *_outside(aligned, take))
    return Report(str(file), line, heard, tuple(judge(line, heard, others=others)), notices, samples)


def listen_over(interpretation: Interpretation, path: Path, backing: Backing, wanted: Wanted) -> list[Report]:
    """Hear a take over a track, round by round; raises the errors of `listen`."""
    if path.suffix.lower() in MIDI:
        raise SoundError(path, "is a MIDI file, in which no track can be heard", "leave out --backing")
    return over_track(interpretation, load(path), backing, path, wanted)


def over_track(
    interpretation: Interpretation, samples: NDArray[np.float32], backing: Backing, file: object, wanted: Wanted
) -> list[Report]:
    """The same for samples at `appui.listen.frames.RATE`."""
    order = interpretation.order(backing.times.bars, repeats=backing.times.repeats)
    line = line_of(interpretation, order)
    found = delay_of(samples, backing.samples)
    heard_at = partial(_over, line, backing, file, wanted)
    if found.delay_s is not None:
        return heard_at(without(samples, backing.samples, found.delay_s), found.delay_s, _LOUDSPEAKER)
    by_notes_s = delay_by_notes(take_of(samples, file, wanted.a4_hz), backing.times, line)
    try:
        return heard_at(samples, by_notes_s, _HEADPHONES)
    except SoundError as refused:
        # the player's strokes may agree with the track in many places, so perhaps it is heard after all, very softly
        try:
            return heard_at(without(samples, backing.samples, found.likeliest_s), found.likeliest_s, _LOUDSPEAKER)
        except SoundError:
            raise refused from None


def _over(
    line: Line, backing: Backing, file: object, wanted: Wanted, samples: NDArray[np.float32], delay_s: float, said: str
) -> list[Report]:
    """The rounds of a take in which the track lies so much later than in its own file."""
    times = backing.times
    lasts_s = times.seconds(times.rounds_s[0], line.steps[-1].onset_q) - times.rounds_s[0]
    rounds = rounds_in(times, delay_s, len(samples) / RATE, lasts_s)
    if not rounds:
        raise SoundError(file, f"holds no whole round of {backing.file}", "record the track from beginning to end")
    return [
        _round(
            led_line(line, times, at),
            samples,
            at + delay_s,
            f"{file}, round {number}" if rounds[1:] else file,
            said,
            wanted,
        )
        for number, at in enumerate(rounds, 1)
    ]


_HEADPHONES = "the track is not heard in the take (headphones): beats are relative to your habit of being early or late"
_LOUDSPEAKER = "the track is heard in the take, and was taken out of it; beats are the track's"
_AROUND_S = 1.5


def _round(
    line: Line, samples: NDArray[np.float32], begins_s: float, file: object, said: str, wanted: Wanted
) -> Report:
    """One round: the part of the take it lies in, heard by itself."""
    from_s = max(begins_s - _AROUND_S, 0.0)
    last = line.steps[-1]
    until_s = begins_s + last.nominal_s + float(last.length_q) + _AROUND_S
    part = samples[round(from_s * RATE) : round(until_s * RATE)]
    take = take_of(part, file, wanted.a4_hz)
    aligned = align(line, take, Span.led(line, begins_s - from_s))
    if _fit(aligned) < _SAME_PIECE:
        raise _other_piece(file, line, aligned)
    heard = hear(line, take, aligned)
    notices = (said, *line.notices, *_odd(line, aligned))
    return Report(str(file), line, heard, tuple(judge(line, heard, led=True)), notices, part, from_s)


Other = TypeVar("Other")


def _best(
    interpretation: Interpretation, wanted: Wanted, find: Callable[[Line], tuple[Aligned, Other]]
) -> tuple[Line, tuple[Aligned, Other]]:
    """The line as it was played, repeats taken or not, whichever fits better."""
    lines = [line_of(interpretation, order) for order in _orders(interpretation, wanted)]
    if not lines[0].steps:
        raise SoundError(interpretation.score.file, "has no notes of the solo in these bars", "name other bars")
    found = [(line, find(line)) for line in lines]
    return max(found, key=lambda each: each[1][0].score)


def _orders(interpretation: Interpretation, wanted: Wanted) -> list[Sequence[Occurrence]]:
    """The bars in order, without repeats, and with them where there are any."""
    orders = [interpretation.order(wanted.bars, repeats=False)]
    if wanted.bars is None and len(whole := interpretation.order(None, repeats=True)) > len(orders[0]):
        orders.append(whole)
    return orders


def _fit(aligned: Aligned) -> float:
    return sum(aligned.fit) / len(aligned.fit) if aligned.fit else 0.0


def _other_piece(file: object, line: Line, aligned: Aligned, *, solo_alone: bool = False) -> SoundError:
    remedy = "name the bars that were played with --bars, the part with --solo"
    return SoundError(
        file,
        f"does not sound like these bars: {100 * _fit(aligned):.0f} % of what is heard fits the notes",
        remedy
        + "; leave out --solo-alone where others play" * solo_alone
        + "; of the solo's chords only the highest notes are looked for" * bool(line.notices),
    )


def _odd(line: Line, aligned: Aligned) -> list[str]:
    """Stretches in which what is heard does not fit the score, by their bars."""
    said = []
    numbered = enumerate(aligned.fit)
    for odd, group in groupby(numbered, key=lambda each: each[1] < _ODD_FIT):
        numbers = [number for number, _ in group]
        if odd and len(numbers) >= _ODD_NOTES:
            first, last = line.steps[numbers[0]].bar, line.steps[numbers[-1]].bar
            bars = f"bar {first}" if first == last else f"bars {first} to {last}"
            said.append(f"{bars}: other notes than printed, or skipped; nothing is said of ornaments there")
    return said


def _outside(aligned: Aligned, take: Take) -> list[str]:
    """Sound before the first and after the last note of the bars."""
    import numpy as np

    loud = take.level_db > np.quantile(take.level_db, 0.9) - 20
    first, last = aligned.found[0].start, aligned.found[-1].end
    before_s, after_s = (float(part.sum()) * FRAME_S for part in (loud[:first], loud[last:]))
    said = []
    if before_s > _ODD_S:
        said.append(f"{first * FRAME_S:.1f} s are left out at the beginning: a false start, or other bars")
    if after_s > _ODD_S:
        said.append(f"what comes after {last * FRAME_S:.1f} s is left out: a second take, or other bars")
    return said
