"""Ear training in the browser: sittings of `appui.drill`, with the piece's own places first."""

from __future__ import annotations

import secrets
import uuid
from collections import OrderedDict
from dataclasses import dataclass
from pathlib import Path
from threading import Lock
from typing import Any

from appui.drill.chart import chart
from appui.drill.kinds import KINDS
from appui.drill.places import usable
from appui.drill.results import best_before, result_of, results_of, said
from appui.drill.sitting import Sitting
from appui.drill.sound import hear
from appui.drill.store import Store
from appui.drill.trial import Material, Trial
from appui.errors import PlaceError, StoreError, UsageError
from appui.interpret.interpretation import Interpretation
from appui.sound.fonts import Fonts
from appui.sound.formats import wave_bytes

__all__ = ["Ear", "kinds_record"]

_MOST = 20
_RATE = 32_000
_LONGEST_NAME = 60


def kinds_record() -> list[dict[str, Any]]:
    """The kinds of drill, with what each asks."""
    return [{"name": kind.name, "question": kind.question, "answers": list(kind.answers)} for kind in KINDS.values()]


@dataclass
class _Sitting:
    sitting: Sitting
    trial: Trial | None
    sounds: tuple[bytes, ...] = ()


class Ear:
    """The sittings that are going on. Answers are kept in the same file `appui drill` keeps them in."""

    def __init__(self, store: Path | None = None) -> None:
        self.store = store
        self._fonts = Fonts(None)
        self._lock = Lock()
        self._sittings: OrderedDict[str, _Sitting] = OrderedDict()

    def close(self) -> None:
        """Give the synthesizers back."""
        self._fonts.__exit__()

    def begin(self, kind: str, player: Interpretation | None, name: str, trials: int) -> dict[str, Any]:
        """Begin a sitting, on a piece's own places where it has some; raises `UsageError` for no such kind."""
        if kind not in KINDS:
            raise UsageError(f"there is no drill {kind!r}; there are {', '.join(KINDS)}")
        if not (0 < len(name.strip()) <= _LONGEST_NAME and name.isprintable()):
            raise UsageError(f"give a name of up to {_LONGEST_NAME} letters")
        material, told = _material(kind, player)
        number = uuid.uuid4().hex
        made = Sitting(KINDS[kind], material, name, number, secrets.token_hex(4), 3, max(1, min(trials, 200)))
        with self._lock:
            self._sittings[number] = _Sitting(made, None)
            while len(self._sittings) > _MOST:
                self._sittings.popitem(last=False)
        return {"sitting": number, "told": told, **self._next(number)}

    def _next(self, number: str) -> dict[str, Any]:
        held = self._held(number)
        trial = held.trial = held.sitting.next()
        held.sounds = ()
        kind = held.sitting.kind
        record = {
            "question": kind.question,
            "answers": list(kind.answers),
            "asked": len(held.sitting.rows),
            "of": held.sitting.trials,
        }
        if trial is None:
            return record | {"done": True, "said": self._said(held.sitting)}
        with self._fonts.one() as font:
            heard = hear(trial, font, rate=_RATE)
        held.sounds = tuple(wave_bytes(sound, _RATE) for sound in heard.sounds)
        return record | {"done": False, "level": kind.ladder.words(trial.level), "intervals": len(held.sounds)}

    def sound(self, number: str, interval: int) -> bytes:
        """One interval of the trial that is asked now, as a WAV file."""
        held = self._held(number)
        if not 0 <= interval < len(held.sounds):
            raise PlaceError("ear", "this trial has no such interval", "go on with the next")
        return held.sounds[interval]

    def answer(self, number: str, given: int) -> dict[str, Any]:
        """Take an answer, from 0: whether it was right, why, and the next trial."""
        held = self._held(number)
        trial = held.trial
        if trial is None:
            raise UsageError("this sitting is over")
        if not 0 <= given < len(held.sitting.kind.answers):
            raise UsageError("there is no such answer")
        row = held.sitting.take(trial, given)
        warned = ""
        try:
            with Store.open(self.store) as kept:
                kept.add(row)
        except StoreError as error:
            warned = f"not kept: {error}"
        told = {"right": row.right, "equal": row.catch, "answer": trial.answer, "why": trial.why, "warned": warned}
        return told | {"next": self._next(number)}

    def progress(self, name: str | None) -> dict[str, Any]:
        """The curves of the thresholds, as a picture, and who has answered."""
        with Store.open(self.store) as kept:
            return {"svg": chart(results_of(kept.rows(name))), "players": kept.players()}

    def _said(self, sitting: Sitting) -> list[str]:
        if not sitting.rows:
            return ["Nothing was answered."]
        result = result_of(sitting.rows)
        with Store.open(self.store) as kept:
            before = best_before(results_of(kept.rows(sitting.player, sitting.kind.name)), result)
        return said(result, before)

    def _held(self, number: str) -> _Sitting:
        with self._lock:
            if number not in self._sittings:
                raise PlaceError("ear", "this sitting is over", "begin another")
            return self._sittings[number]


def _material(kind: str, player: Interpretation | None) -> tuple[Material, list[str]]:
    """The phrases, and what is said of them."""
    if player is None:
        return Material(), ["on invented phrases"]
    try:
        material = Material(tuple(usable(player, KINDS[kind])))
    except PlaceError:
        return Material(), ["this piece has no place for it: on invented phrases"]
    lacks = [f"no place there {lack}: invented phrases stand in" for lack in material.lacks(KINDS[kind])]
    return material, lacks or ["on this piece's own places, moved through the keys"]
