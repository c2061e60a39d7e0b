"""From plain words, as typed or as written in a set file, to a wish.

Tempos are one, several, or a ladder from a slow to a full one in equal steps.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from typing import Any

from appui.errors import UsageError
from appui.exact import Fraction, fraction_of
from appui.practice.click import parse_click
from appui.practice.interval import parse_interval
from appui.practice.levels import parse_levels
from appui.practice.place import ORNAMENT
from appui.practice.wish import NO_CLICK, Wish, check_wish
from appui.sound.tuning import make_tuning, pitch_hz

__all__ = ["KEYS", "MOST_STEPS", "check_steps", "file_name", "ladder", "split_by_name", "tempos_of", "wish_of"]

#  key: the kinds of value it takes
KEYS: dict[str, tuple[type, ...]] = {
    "mode": (str,),
    "movement": (str, int),
    "at": (str,),
    "without": (str, list),
    "bars": (str, int),
    "tempo": (str, int, list),
    "steps": (int,),
    "times": (int,),
    "count-in": (int,),
    "click": (str,),
    "gap": (int,),
    "pan": (int, float),
    "levels": (str,),
    "pitch": (int, float),
    "tuning": (str,),
    "key-note": (str,),
    "transpose": (str,),
    "repeats": (bool,),
    "drone": (str, int),
    "change": (str, list),
    "cue": (str,),
    "rests": (int,),
}
MOST_STEPS = 50
_LADDER = re.compile(r"\s*(\d{1,4}(?:\.\d{1,3})?)\s*(%?)\s*\.\.\s*(\d{1,4}(?:\.\d{1,3})?)\s*(%?)\s*")
_BRACES = "{tempo}, {bars}, {mode}, {movement}, {place} and {without}"
#  no number of a wish comes near it
_FAR = 1_000_000


def check_steps(tempo: object) -> None:
    """Raises `UsageError` where steps are named for tempos of which none is a ladder."""
    if not any(".." in str(each) for each in (tempo if isinstance(tempo, list) else [tempo])):
        raise UsageError("steps are for a ladder of tempos; write one, such as 50%..100%")


def tempos_of(words: Iterable[str], steps: int | None = None) -> tuple[str, ...]:
    """The tempos asked for, ladders drawn out; ``100%`` where none is. Raises `UsageError`."""
    found: list[str] = []
    for word in words:
        found += ladder(word, 6 if steps is None else steps) if ".." in word else [word.strip()]
    return tuple(found) or ("100%",)


def ladder(word: str, steps: int) -> list[str]:
    """Draw a ladder out.

    >>> ladder("50%..100%", 3)
    ['50%', '75%', '100%']
    """
    match = _LADDER.fullmatch(word)
    if not match or match.group(2) != match.group(4):
        raise UsageError(f"tempo {word!r} is no ladder such as 50%..100% or 60..96, both ends of one kind")
    if not 2 <= steps <= MOST_STEPS:
        raise UsageError(f"{steps} steps are no ladder; name 2 to {MOST_STEPS}")
    low, high = fraction_of(match.group(1)), fraction_of(match.group(3))
    if low == high:
        raise UsageError(f"tempo {word!r} ends where it begins; name two tempos, or one without ..")
    return [_written(low + (high - low) * step / (steps - 1)) + match.group(2) for step in range(steps)]


def _written(number: Fraction) -> str:
    return f"{float(number):.3f}".rstrip("0").rstrip(".")


def wish_of(words: Mapping[str, Any]) -> Wish:
    """The wish these words make, by `KEYS`; what is missing or `None` is as usual. Raises `UsageError`."""
    said = {key: value for key, value in words.items() if value is not None}
    unknown = sorted(set(said) - set(KEYS))
    if unknown:
        raise UsageError(f"a practice track knows no {unknown[0]!r}; it knows {', '.join(KEYS)}")
    for key, value in said.items():
        if not isinstance(value, KEYS[key]) or (isinstance(value, bool) and bool not in KEYS[key]):
            kinds = " or ".join({"str": "text", "int": "a whole number", "float": "a number", "list": "a list",
                                 "bool": "true or false"}[kind.__name__] for kind in KEYS[key])  # fmt: skip
            raise UsageError(f"{key} = {value!r}: expected {kinds}")
        if isinstance(value, int | float) and not abs(value) <= _FAR:
            raise UsageError(f"{key} is a number beyond any meaning here: expected a small one")
    if "at" in said:
        said = {key: value for key, value in ORNAMENT.items() if key != "steps" or "tempo" not in said} | said
    tempo = said.get("tempo", ())
    wish = Wish(
        mode=said.get("mode", "along"),
        movement=None if said.get("movement") is None else str(said["movement"]),
        at=said.get("at"),
        without=tuple(_texts(said.get("without", ()))),
        bars=None if said.get("bars") is None else str(said["bars"]),
        tempos=tempos_of(_texts(tempo), said.get("steps")),
        times=said.get("times", 1),
        count_in=said.get("count-in", 1),
        click=parse_click(said["click"]) if "click" in said else NO_CLICK,
        gap=said.get("gap", 0),
        pan=float(said.get("pan", 0)),
        levels=parse_levels(said.get("levels", "")),
        tuning=_tuning(said),
        interval=parse_interval(said.get("transpose")),
        repeats=said.get("repeats", True),
        drone=str(said["drone"]) if "drone" in said else None,
        changes=tuple(_texts(said.get("change", ()))),
        cue=said.get("cue"),
        rests=said.get("rests"),
    )
    check_wish(wish)
    return wish


def _texts(value: Any) -> list[str]:
    return [str(each) for each in value] if isinstance(value, list | tuple) else [str(value)]


def _tuning(said: Mapping[str, Any]) -> Any:
    if not {"pitch", "tuning"} & set(said):
        if "key-note" in said:
            raise UsageError("a key note needs a tuning to stand in it; name one with tuning, such as vallotti")
        return None
    return make_tuning(pitch_hz(said.get("pitch", 440)), said.get("tuning", "equal"), said.get("key-note", "C"))


def split_by_name(name: str, wish: Wish, solos: Sequence[str] = ()) -> Sequence[tuple[str, Wish]]:
    """One track, or with ``{tempo}`` in its name one for every tempo; names filled in.

    With ``{without}`` one without each of several solos, and one without them all.
    """
    wishes = [wish]
    if "{tempo}" in name:
        wishes = [replace(wish, tempos=(tempo,)) for tempo in wish.tempos]
    if "{without}" in name and not wish.without:
        own = dict.fromkeys([*((solo,) for solo in solos), tuple(solos)])
        wishes = [replace(each, without=without) for each in wishes for without in own]
    return [(file_name(name, each), each) for each in wishes]


def file_name(name: str, wish: Wish) -> str:
    """A name with ``{tempo}``, ``{bars}`` and ``{mode}`` filled in; raises `UsageError` for other braces."""
    first, last = wish.tempos[0], wish.tempos[-1]
    tempo = (first if first == last else f"{first} to {last}").replace("%", " percent")
    filled = name
    told = {"tempo": tempo, "bars": wish.bars or "all", "mode": wish.mode, "movement": wish.movement or "all"}
    # a beat may be 3+1/2, which is no name of a file
    told |= {"place": (wish.at or "all").replace("/", " of "), "without": " and ".join(wish.without) or "solo"}
    for key, text in told.items():
        filled = filled.replace(f"{{{key}}}", text)
    if "{" in filled or "}" in filled:
        raise UsageError(f"the name {name!r} may hold {_BRACES}, no other braces")
    return filled
