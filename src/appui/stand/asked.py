"""What a request asks for, checked: words of a query or of a JSON body into tempos, tunings, bars and the like."""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import Any

from appui.embellish.manners import MANNERS
from appui.embellish.model import Wish
from appui.errors import UsageError
from appui.perform.model import Tuning
from appui.sound.tuning import make_tuning, pitch_hz
from appui.stand.heard import How

__all__ = ["a4_of", "embellish_wish", "how_of", "number_in", "practice_arguments", "text_in"]

_TEMPO = re.compile(r"\d{1,4}(?:\.\d{1,2})?%?(?:\.\.\d{1,4}(?:\.\d{1,2})?%)?")
_BARS = re.compile(r"[\w~.]{1,12}(?:-[\w~.]{1,12})?")
_MODES = ("along", "guide", "echo", "alternate")
_SUFFIXES = ("wav", "flac", "ogg", "mp3", "mid")
_LONGEST = 2000


def text_in(said: Mapping[str, Any], key: str, usual: str = "") -> str:
    """A text of a request; raises `UsageError` for anything else, or far too much of it."""
    value = said.get(key, usual)
    if value is None:
        return usual
    if not isinstance(value, str) or len(value) > _LONGEST or "\0" in value:
        raise UsageError(f"{key} has to be a text of up to {_LONGEST} letters")
    return value


def number_in(said: Mapping[str, Any], key: str, usual: float, low: float, high: float) -> float:
    """A number of a request within bounds; raises `UsageError`."""
    value = said.get(key, usual)
    try:
        number = float(value)
    except (TypeError, ValueError):
        raise UsageError(f"{key} has to be a number") from None
    if not low <= number <= high:
        raise UsageError(f"{key} has to be between {low:g} and {high:g}")
    return number


def how_of(said: Mapping[str, Any]) -> How:
    """How something is to sound; raises `UsageError`."""
    tempo = text_in(said, "tempo", "100%") or "100%"
    if not _TEMPO.fullmatch(tempo):
        raise UsageError(f"{tempo!r} is no tempo: write 60%, or 72 for beats a minute")
    program = said.get("program")
    return How(
        tempo=tempo,
        tuning=_tuning(said),
        interval=text_in(said, "transpose") or None,
        program=None if program in (None, "") else int(number_in(said, "program", 0, 0, 127)),
        strict=text_in(said, "strict") == "1",
    )


def a4_of(said: Mapping[str, Any]) -> float:
    """The pitch standard, A4 in Hz; raises `UsageError`."""
    return pitch_hz(text_in(said, "pitch") or "440")


def _tuning(said: Mapping[str, Any]) -> Tuning | None:
    name, pitch = text_in(said, "tuning") or "equal", a4_of(said)
    if "/" in name or "\\" in name or "." in name:
        raise UsageError("a tuning is chosen by its name here")
    return None if name == "equal" and pitch == 440.0 else make_tuning(pitch, name, text_in(said, "key") or "C")


def embellish_wish(said: Mapping[str, Any]) -> Wish:
    """How much is to be added and in which manner; raises `UsageError`."""
    how_much, manner = text_in(said, "how_much", "moderate"), text_in(said, "manner", "free")
    if how_much not in ("sparse", "moderate", "rich") or manner not in MANNERS:
        raise UsageError("there is no such way of embellishing")
    return Wish(how_much=how_much, manner=manner, seed=int(number_in(said, "seed", 1, 1, 10_000)))


def practice_arguments(said: Mapping[str, Any], score: str, plan: str | None) -> tuple[str, str, list[str]]:
    """A track to be made: what it is called in words, its file's name, and the words of `appui practice`."""
    bars, place, mode = text_in(said, "bars"), text_in(said, "place"), text_in(said, "mode", "along")
    tempo, suffix = text_in(said, "tempo", "100%"), text_in(said, "suffix", "flac")
    if mode not in _MODES or suffix not in _SUFFIXES or not _TEMPO.fullmatch(tempo):
        raise UsageError("there is no such track")
    if bars and not _BARS.fullmatch(bars):
        raise UsageError(f"{bars!r} are no bars: write 5-12")
    what = f"bars {bars}" if bars else f"the ornament at {place}" if place else "the whole"
    words = [
        f"--mode={mode}",
        f"--tempo={tempo}",
        f"--times={int(number_in(said, 'times', 1, 1, 200))}",
        f"--click={'beats' if said.get('click') else 'off'}",
        f"--count-in={int(number_in(said, 'count_in', 1, 0, 8))}",
    ]
    words += [f"--bars={bars}"] if bars else [f"--at={place}"] if place else []
    words += [f"--steps={int(number_in(said, 'steps', 6, 2, 50))}"] if ".." in tempo else []
    for key, option in (("pitch", "--pitch"), ("tuning", "--tuning"), ("transpose", "--transpose")):
        if value := text_in(said, key):
            words.append(f"{option}={value}")
    words += [f"--plan={plan}"] if plan else []
    name = re.sub(r"[^\w %~.-]+", "-", f"{what} {mode} {tempo}").strip()
    return f"track: {what}, {mode}, {tempo}", f"{name}.{suffix}", ["practice", score, "{out}", *words]
