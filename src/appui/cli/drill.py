"""The command `drill`: ear training at the terminal, as a page, or as a sheet for a class."""

from __future__ import annotations

import secrets
import sys
import uuid
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Protocol

import click

from appui.cli.options import SOLO, SOUNDFONT, TEMPO, options
from appui.cli.practice import CAUTION
from appui.errors import OutputError, SoundError, StoreError, UsageError
from appui.exact import Fraction

if TYPE_CHECKING:
    from appui.drill.kinds import Kind
    from appui.drill.sitting import Sitting
    from appui.drill.sound import Heard
    from appui.drill.store import Row, Store
    from appui.drill.trial import Material, Trial
    from appui.sound.synth import Font

__all__ = ["PLAYER", "STORE", "drill"]

PLAYER = click.option("--player", metavar="NAME", default="me", show_default=True, help="Whose ears.")
STORE = click.option(
    "--store",
    type=click.Path(path_type=Path),
    metavar="FILE",
    help="The file the results are kept in.  [default: in your data folder]",
)
FOLDER = Path("appui-drill")
TRIALS, ON_SHEET = 50, 12
LONGEST_NAME = 60
_EPILOG = (
    "Kinds: lean-or-pass, heavier, longer, member-or-dissonance, which-reading, trill-start; left out, the one drilled "
    "least lately. Without SCORE the phrases are invented, in all keys. Example: appui drill heavier --trials 40; "
    f"appui drill lean-or-pass sonata.musicxml --solo oboe.  {CAUTION}"
)


@click.command(epilog=_EPILOG)
@click.argument("words", nargs=-1, metavar="[KIND] [SCORE...]")
@click.option("--from", "source", type=click.Choice(["demo"]), help="The demo's places instead of invented phrases.")
@click.option(
    "--trials",
    type=click.IntRange(1, 500),
    metavar="N",
    help=f"At most so many.  [default: {TRIALS}; {ON_SHEET} for a sheet]",
)
@options(TEMPO, SOLO, PLAYER)
@click.option("--seed", metavar="S", help="Chance to begin from: the same seed asks the same.")
@click.option(
    "--down",
    type=click.IntRange(2, 3),
    default=3,
    show_default=True,
    help="Right answers in a row before it gets harder: 3 settles at 79 % right, 2 at 71 %.",
)
@click.option("--page", type=click.Path(path_type=Path), metavar="OUT.html", help="Write the drill as a page instead.")
@click.option(
    "--sheet", type=click.Path(path_type=Path), metavar="FOLDER", help="Write files, an answer sheet and a key instead."
)
@options(STORE, SOUNDFONT)
@click.option("--driver", metavar="NAME", help="A sound driver of FluidSynth's, such as alsa.  [default: the system's]")
def drill(
    words: tuple[str, ...],
    source: str | None,
    trials: int | None,
    tempo: str | None,
    solo: str | None,
    player: str,
    seed: str | None,
    down: int,
    page: Path | None,
    sheet: Path | None,
    store: Path | None,
    soundfont: Path | None,
    driver: str | None,
) -> None:
    """Train the ear: does it lean or pass, how heavy, how long, does it belong. Gets harder as you succeed.

    Keys: 1, 2, 3 answer, r plays again, q stops; what was answered is kept.
    """
    from appui.drill.kinds import KINDS
    from appui.drill.sitting import Sitting
    from appui.drill.store import Store

    if page is not None and sheet is not None:
        raise UsageError("--page and --sheet exclude one another: give them one after the other")
    if not 0 < len(player.strip()) <= LONGEST_NAME:
        raise UsageError(f"--player {player!r:.80} is no name: give one of up to {LONGEST_NAME} letters")
    name, scores = _told(words)
    if page is not None or sheet is not None:
        kind = KINDS[name or next(iter(KINDS))]
        made = _material(kind, scores, source, tempo, solo)
        _write(kind, made, page, sheet, seed or "1", trials=trials, down=down, soundfont=soundfont)
        return
    with Store.open(store) as kept:
        kind = KINDS[name or _least_lately(kept, player)]
        material = _material(kind, scores, source, tempo, solo)
        seed = seed or secrets.token_hex(4)
        sitting = Sitting(kind, material, player, uuid.uuid4().hex, seed, down, trials or TRIALS)
        click.echo(f"{CAUTION}\n", err=True)
        _hold(sitting, kept, soundfont, driver)


def _told(words: tuple[str, ...]) -> tuple[str | None, list[Path]]:
    """The kind, if one is named, and the scores."""
    from appui.drill.kinds import KINDS

    if words and words[0] in KINDS:
        return words[0], [Path(word) for word in words[1:]]
    if words and not Path(words[0]).exists():
        raise UsageError(f"{words[0]!r} is neither a file nor a kind of drill; kinds are {', '.join(KINDS)}")
    return None, [Path(word) for word in words]


def _least_lately(kept: Store, player: str) -> str:
    from appui.drill.kinds import KINDS

    last = {row.kind: place for place, row in enumerate(kept.rows(player))}
    return min(KINDS, key=lambda name: last.get(name, -1))


def _material(kind: Kind, scores: list[Path], source: str | None, tempo: str | None, solo: str | None) -> Material:
    from appui.cli.show import working
    from appui.demo import demo_score
    from appui.drill.invent import ROWS, invented
    from appui.drill.places import usable
    from appui.drill.trial import Material
    from appui.interpret.interpretation import interpret
    from appui.interpret.tempo import tempo_factor
    from appui.interpret.wishes import Wishes

    scores = [demo_score(), *scores] if source == "demo" else scores
    if not scores:
        factor = tempo_factor(tempo, invented(ROWS[0], ("G4", "C5", "E5"), 0).score) if tempo else Fraction(1)
        return Material((), factor)
    with working("reading"):
        interpretations = [interpret(score, Wishes(solo=solo, tempo=tempo)) for score in scores]
        found = tuple(phrase for interpretation in interpretations for phrase in usable(interpretation, kind))
    material = Material(found)
    for lack in material.lacks(kind):
        click.echo(f"note: no place there {lack}: invented phrases stand in", err=True)
    return material


def _write(
    kind: Kind,
    material: Material,
    page: Path | None,
    sheet: Path | None,
    seed: str,
    *,
    trials: int | None,
    down: int,
    soundfont: Path | None,
) -> None:
    from appui.cli.show import progress
    from appui.drill.page import make_page
    from appui.drill.sheet import make_sheet

    if page is not None:
        most = trials or TRIALS
        size = make_page(kind, material, page, seed, trials=most, down=down, soundfont=soundfont, say=progress())
        click.echo(f"{page}  {kind.name}, {size / 1e6:.1f} MB")
    if sheet is not None:
        count = trials or ON_SHEET
        make_sheet(kind, material, sheet, seed, count, soundfont=soundfont, say=progress(count))
        click.echo(f"{sheet}  {kind.name}: {count} files, answers.html to mark, key.html with the reasons")


# at the terminal


class _Ear(Protocol):
    """How trials reach the player, and answers come back."""

    def hear(self, trial: Trial, heard: Heard, name: str) -> str | None:
        """Let a trial be heard; an answer given meanwhile."""

    def key(self) -> str:
        """The next key the player presses."""

    def goes_on(self, trial: Trial, heard: Heard) -> bool:
        """Wait until the player has read and heard enough of a trial; false to stop."""


def _hold(sitting: Sitting, kept: Store, soundfont: Path | None, driver: str | None) -> None:
    """The whole sitting, and what it has shown."""
    from appui.drill.sound import hear, opened_font

    kind = sitting.kind
    click.echo(f"{kind.name}: {kind.question}", err=True)
    click.echo("   ".join(f"{n} {words}" for n, words in enumerate(kind.answers, 1)) + "   r again   q stop", err=True)
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
    click.echo(f"\n{trial.number + 1}. {trial.kind.ladder.words(trial.level)}: ", nl=False, err=True)
    pressed = ear.hear(trial, heard, name)
    keys = [str(number) for number in range(1, len(trial.kind.answers) + 1)]
    while True:
        pressed = pressed or ear.key()
        if pressed in keys:
            click.echo(pressed, err=True)
            return keys.index(pressed)
        if pressed == "q":
            click.echo("q", err=True)
            return None
        again = pressed == "r"
        if not again and pressed.strip():
            click.echo(f"(keys: {', '.join(keys)}, r, q) ", nl=False, err=True)
        pressed = ear.hear(trial, heard, name) if again else None


def _tell(trial: Trial, row: Row, font: Font, ear: _Ear) -> None:
    """Whether it was right, and why; what was missed is heard again."""
    from dataclasses import replace

    from appui.drill.sound import hear

    if not row.catch:
        click.echo("   right. " if row.right else "   no. ", nl=False, err=True)
    click.echo(trial.why, err=True)
    if not row.right and not row.catch:
        missed = replace(trial, intervals=(trial.intervals[trial.answer],)) if len(trial.intervals) > 1 else trial
        click.echo("   once more: ", nl=False, err=True)
        ear.hear(missed, hear(missed, font), f"trial-{trial.number + 1:03} again")
        click.echo("", err=True)


def _keep(kept: Store, row: Row) -> None:
    try:
        kept.add(row)
    except StoreError as error:
        click.echo(f"   not kept yet: {error} The answer waits and is tried again.", err=True)


def _close(sitting: Sitting, kept: Store) -> None:
    """Say what was heard; rows the database would not take go to a file."""
    from appui.drill.results import best_before, result_of, results_of, said
    from appui.drill.store import rows_to_json
    from appui.sound.files import write_whole

    if not sitting.rows:
        click.echo("nothing answered, nothing kept")
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
            click.echo(f"{error}\nThe answers are in {path}: `appui progress --import {path}` takes them in.", err=True)
        except OutputError:
            click.echo(f"{error}\nThe answers, to be saved and taken in with `appui progress --import FILE`:", err=True)
            click.echo(text)
    click.echo("")
    for line in said(result, best_before(earlier, result)):
        click.echo(line)


@contextmanager
def _ear(sitting: Sitting, font: Font, soundfont: Path | None, driver: str | None) -> Iterator[_Ear]:
    """The sound card and keys where there are any; else files and lines."""
    from appui.cli.play import keyboard
    from appui.sound.live import open_card

    trial = sitting.next()
    try:
        if trial is not None:
            with open_card(trial.intervals[0], soundfont, driver=driver):
                pass
        card = True
    except SoundError as error:
        click.echo(
            f"{error.file}: {error.problem}. So every trial is written as a file: play it, then answer.", err=True
        )
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
        import time

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
        from appui.drill.sound import one_after_another
        from appui.sound.live import open_card, play

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
        click.echo("   any key goes on, r plays it again, q stops", err=True)
        pressed = self.key()
        while pressed == "r":
            pressed = self.hear(trial, heard, "") or self.key()
        return pressed != "q"


class _Files:
    """Trials as files to be played with whatever plays files."""

    def __init__(self, asked: _Asked) -> None:
        self.asked = asked

    def hear(self, trial: Trial, heard: Heard, name: str) -> str | None:
        """Write it and say where."""
        from appui.drill.sound import write_heard
        from appui.sound.files import make_folder

        make_folder(FOLDER)
        path = FOLDER / f"{name}.wav"
        write_heard(heard, path)
        click.echo(f"{path} ", nl=False, err=True)
        return None

    def key(self) -> str:
        """The next key."""
        return self.asked.wait()

    def goes_on(self, trial: Trial, heard: Heard) -> bool:
        """At once: files are played when the player likes."""
        return True
