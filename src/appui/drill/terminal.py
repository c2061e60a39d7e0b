"""A session of ear training at the terminal: trials through the sound card or as files, answers by keys or lines.

What is asked and said goes to standard error; what was heard in the end, to standard output.
"""

from __future__ import annotations

import sys
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import replace
from pathlib import Path
from typing import Protocol

from appui.drill.results import best_before, result_of, results_of, said
from appui.drill.sitting import Sitting
from appui.drill.sound import Heard, hear, one_after_another, opened_font, write_heard
from appui.drill.store import Row, Store, rows_to_json
from appui.drill.trial import Trial
from appui.errors import OutputError, SoundError, StoreError
from appui.sound.files import new_folder, write_whole
from appui.sound.keyboard import keyboard
from appui.sound.live import open_card, play
from appui.sound.synth import Font

__all__ = ["hold_sitting"]

#  each session has a folder of its own in it, so that two at once do not hear one another's trials
FOLDER = Path("appui-drill")


def _say(words: str = "", end: str = "\n") -> None:
    print(words, end=end, file=sys.stderr, flush=True)


class _Ear(Protocol):
    """How trials reach the player, and answers come back."""

    def hear(self, trial: Trial, heard: Heard, name: str) -> str | None:
        """Let a trial be heard; an answer given meanwhile."""

    def key(self) -> str:
        """The next key the player presses."""

    def goes_on(self, trial: Trial, heard: Heard) -> bool:
        """Wait until the player has read and heard enough of a trial; false to stop."""


def hold_sitting(sitting: Sitting, kept: Store, soundfont: Path | None, driver: str | None) -> None:
    """The whole sitting, and what it has shown."""
    kind = sitting.kind
    _say(f"{kind.name}: {kind.question}")
    _say("   ".join(f"{n} {words}" for n, words in enumerate(kind.answers, 1)) + "   r again   q stop")
    with opened_font(soundfont) as font, _ear(sitting, font, soundfont, driver) as ear:
        while (trial := sitting.next()) is not None:
            heard = hear(trial, font)
            given = _ask(trial, heard, ear)
            if given is None:
                break
            row = sitting.take(trial, given)
            _keep(kept, row)
            _tell(trial, row, font, ear)
            if not ear.goes_on(trial, heard):
                break
    _close(sitting, kept)


def _ask(trial: Trial, heard: Heard, ear: _Ear) -> int | None:
    """The answer to a trial, from 0; `None` to stop."""
    name = f"trial-{trial.number + 1:03}"
    _say(f"\n{trial.number + 1}. {trial.kind.ladder.words(trial.level)}: ", end="")
    pressed = ear.hear(trial, heard, name)
    keys = [str(number) for number in range(1, len(trial.kind.answers) + 1)]
    while True:
        pressed = pressed or ear.key()
        if pressed in keys:
            _say(pressed)
            return keys.index(pressed)
        if pressed == "q":
            _say("q")
            return None
        again = pressed == "r"
        if not again and pressed.strip():
            _say(f"(keys: {', '.join(keys)}, r, q) ", end="")
        pressed = ear.hear(trial, heard, name) if again else None


def _tell(trial: Trial, row: Row, font: Font, ear: _Ear) -> None:
    """Whether it was right, and why; what was missed is heard again."""
    if not row.catch:
        _say("   right. " if row.right else "   no. ", end="")
    _say(trial.why)
    if not row.right and not row.catch:
        missed = replace(trial, intervals=(trial.intervals[trial.answer],)) if len(trial.intervals) > 1 else trial
        _say("   once more: ", end="")
        ear.hear(missed, hear(missed, font), f"trial-{trial.number + 1:03} again")
        _say("")


def _keep(kept: Store, row: Row) -> None:
    try:
        kept.add(row)
    except StoreError as error:
        _say(f"   not kept yet: {error} The answer waits and is tried again.")


def _close(sitting: Sitting, kept: Store) -> None:
    """Say what was heard; rows the database would not take go to a file."""
    if not sitting.rows:
        print("nothing answered, nothing kept")
        return
    result = result_of(sitting.rows)
    try:
        kept.take(kept.waiting)
        earlier = results_of(kept.rows(sitting.player, sitting.kind.name))
    except StoreError as error:
        earlier = []
        text, path = rows_to_json(sitting.rows), Path(f"appui-drill-{sitting.name[:8]}.json")
        try:
            write_whole(path, text.encode())
            _say(f"{error}\nThe answers are in {path}: `appui progress --import {path}` takes them in.")
        except OutputError:
            _say(f"{error}\nThe answers, to be saved and taken in with `appui progress --import FILE`:")
            print(text)
    print()
    for line in said(result, best_before(earlier, result)):
        print(line)


@contextmanager
def _ear(sitting: Sitting, font: Font, soundfont: Path | None, driver: str | None) -> Iterator[_Ear]:
    """The sound card and keys where there are any; else files and lines."""
    trial = sitting.next()
    try:
        if trial is not None:
            with open_card(trial.intervals[0], soundfont, driver=driver):
                pass
        card = True
    except SoundError as error:
        _say(f"{error.file}: {error.problem}. So every trial is written as a file: play it, then answer.")
        card = False
    with keyboard() as key:
        asked = _Keys(key) if sys.stdin.isatty() else _Lines()
        yield _Card(asked, soundfont, driver) if card else _Files(asked)


class _Asked(Protocol):
    """Where keys come from."""

    def now(self) -> str | None:
        """A key pressed since the last call."""

    def wait(self) -> str:
        """The next key."""


class _Keys:
    """Keys of a terminal, each at once."""

    def __init__(self, key: Callable[[], str | None]) -> None:
        self.now = key

    def wait(self) -> str:
        """The next key; Ctrl-C stops as q does."""
        try:
            while (pressed := self.now()) is None:
                time.sleep(0.01)
        except KeyboardInterrupt:
            return "q"
        return pressed


class _Lines:
    """Lines of an input that is no terminal; its end stops."""

    def now(self) -> str | None:
        """Never: a line is only read when it is waited for."""
        return None

    def wait(self) -> str:
        """The next line."""
        line = sys.stdin.readline()
        return line.strip()[:1] or " " if line else "q"


class _Card:
    """Trials through the sound card; they may be answered before they end."""

    def __init__(self, asked: _Asked, soundfont: Path | None, driver: str | None) -> None:
        self.asked, self.soundfont, self.driver = asked, soundfont, driver

    def hear(self, trial: Trial, heard: Heard, name: str) -> str | None:
        """Play it to the end or to a key."""
        performance = one_after_another(trial, heard)
        pressed: list[str] = []

        def key() -> str | None:
            now = self.asked.now()
            if now is not None and now != "r" and now.strip():
                pressed.append(now)
                return "q"
            return now if now == "r" else None

        with open_card(performance, self.soundfont, driver=self.driver) as card:
            play(performance, card, key)
        return pressed[0] if pressed else None

    def key(self) -> str:
        """The next key."""
        return self.asked.wait()

    def goes_on(self, trial: Trial, heard: Heard) -> bool:
        """By any key; r plays the trial again, now that its answer is known."""
        _say("   any key goes on, r plays it again, q stops")
        pressed = self.key()
        while pressed == "r":
            pressed = self.hear(trial, heard, "") or self.key()
        return pressed != "q"


class _Files:
    """Trials as files to be played with whatever plays files."""

    def __init__(self, asked: _Asked) -> None:
        self.asked, self.folder = asked, new_folder(FOLDER)

    def hear(self, trial: Trial, heard: Heard, name: str) -> str | None:
        """Write it and say where."""
        path = self.folder / f"{name}.wav"
        write_heard(heard, path)
        _say(f"{path} ", end="")
        return None

    def key(self) -> str:
        """The next key."""
        return self.asked.wait()

    def goes_on(self, trial: Trial, heard: Heard) -> bool:
        """At once: files are played when the player likes."""
        return True
