"""What a player asks of one practice track, checked before anything is computed."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, field

from appui.errors import UsageError
from appui.perform.model import Tuning
from appui.practice.click import ClickPattern
from appui.practice.drone import BASS
from appui.practice.levels import GROUPS, OFF
from appui.score.pitch import Transposition

__all__ = ["GUIDE_DB", "MODES", "Wish", "check_wish"]

MODES = ("along", "guide", "echo", "alternate")
#  how much softer the solo is in a guide track where nothing is said and both are in the middle
GUIDE_DB = -12.0
_TIMES, _BARS, _RESTS = (1, 200), (0, 8), (1, 100)
CUES = ("bars", "beats", "none")
NO_CLICK, AS_WRITTEN = ClickPattern("off"), Transposition()
DEGREES = "1 2 3 4 5 6 7".split()
_NOTE = re.compile(r"[A-G](#|b)?[1-6]?")


@dataclass(frozen=True, slots=True)
class Wish:
    """One track: which movement and bars in which mode at which tempos, how often, and how it is to sound.

    `tempos` go up one after another in one track; `levels` are dB by group; `pan` is 0 to 100; `drone` a degree of the
    key 1 to 7, a note, or ``bass``: what the bass has; `changes` (``PLACE`` or ``PLACE=READING``) what alternates. `at`
    is one ornament to be practised, in place of bars; `without` are the solos that the player plays, all where none is
    named. `cue` counts back in after a hold: ``bars``, ``beats`` or ``none``; left out, beats where there is a click.
    `rests`: longer rests of the solo are cut to so many bars, which are counted.
    """

    mode: str = "along"
    movement: str | None = None
    at: str | None = None
    without: tuple[str, ...] = ()
    bars: str | None = None
    tempos: tuple[str, ...] = ("100%",)
    times: int = 1
    count_in: int = 1
    click: ClickPattern = NO_CLICK
    gap: int = 0
    pan: float = 0.0
    levels: Mapping[str, float] = field(default_factory=dict)
    tuning: Tuning | None = None
    interval: Transposition = AS_WRITTEN
    repeats: bool = True
    drone: str | None = None
    changes: tuple[str, ...] = ()
    cue: str | None = None
    rests: int | None = None

    @property
    def solo_db(self) -> float:
        """The level of the solo."""
        usual = GUIDE_DB if self.mode == "guide" and not self.pan else 0.0
        return self.levels.get("solo", usual)


def check_wish(wish: Wish) -> None:
    """Raises `UsageError` for what cannot be meant."""
    if wish.mode not in MODES:
        raise UsageError(f"mode {wish.mode!r} is none of {', '.join(MODES)}")
    _check_range("times", wish.times, *_TIMES)
    _check_range("count-in", wish.count_in, *_BARS)
    _check_range("gap", wish.gap, *_BARS)
    if not 0 <= wish.pan <= 100:
        raise UsageError(f"pan {wish.pan:g} is not a spread from 0 (all in the middle) to 100 (wholly apart)")
    if wish.changes and wish.mode != "alternate":
        raise UsageError(f"change {wish.changes[0]!r} is for the mode alternate, not {wish.mode}")
    if wish.cue not in (None, *CUES):
        raise UsageError(f"cue {wish.cue!r} is none of {', '.join(CUES)}")
    if wish.rests is not None:
        _check_range("rests", wish.rests, *_RESTS)
    if wish.at is not None and wish.bars is not None:
        raise UsageError(f"at {wish.at!r} finds its own bars; leave out bars {wish.bars!r}, or at")
    if wish.drone not in (None, BASS, *DEGREES) and not _NOTE.fullmatch(wish.drone or ""):
        raise UsageError(
            f"drone {wish.drone!r} is neither a degree of the key, 1 to 7, a note such as D or Bb3, nor bass"
        )
    if _is_silent(wish):
        raise UsageError("nothing would sound: the levels have everything off; leave one of them on")


def _is_silent(wish: Wish) -> bool:
    """Whether all that could sound is turned off; a part with a level of its own may sound in any case."""
    can_sound = ["accompaniment", *(name for name in wish.levels if name not in GROUPS)]
    can_sound += ["solo"] if wish.mode != "along" else []
    can_sound += ["click"] if wish.click != NO_CLICK else []
    can_sound += ["drone"] if wish.drone is not None else []
    return all(wish.levels.get(group) == OFF for group in can_sound)


def _check_range(name: str, number: int, low: int, high: int) -> None:
    if not low <= number <= high:
        raise UsageError(f"{name} {number} is outside {low} to {high}")
