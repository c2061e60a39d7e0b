"""Opened pieces: a score as the player means to play it, read again when the score or the plan changes on the disk.

The plan file is the truth. A decision made in the browser is written into it at once, one line of it; an edit by hand
is seen at the next look. While a plan cannot be read, the last one that could goes on, the fault is told, and nothing
is written into the file.
"""

from __future__ import annotations

from collections import OrderedDict
from dataclasses import dataclass, replace
from hashlib import sha256
from pathlib import Path
from threading import RLock

from appui.compare.survey import select
from appui.errors import AppuiError, InputError, PlanError, UsageError
from appui.interpret.interpretation import Interpretation, interpret
from appui.interpret.planned import plan_of
from appui.interpret.wishes import Wishes
from appui.plan.change import decided, embellished, undecided, unembellished
from appui.plan.plan import remembered
from appui.score.signs import Sign
from appui.sound.files import whole_file, write_whole
from appui.stand.shelf import Entry
from appui.text import text_of

__all__ = ["LISTENING", "Desk", "Opened", "by_the_rules"]

_KEPT = 10
#: how a piece is heard
LISTENING = Wishes(shape="shaped", time="shaped")


@dataclass(frozen=True)
class Opened:
    """A piece as it stands: `version` is another after every change, `fault` says why its plan is not followed."""

    entry: Entry
    interpretation: Interpretation
    version: str
    fault: str = ""

    def ornaments(self) -> list[Sign]:
        """The ornaments of the solo, in order."""
        return select(self.interpretation, all_parts=False, bars=None)


class Desk:
    """The pieces that were opened last, for several threads."""

    def __init__(self) -> None:
        self._lock = RLock()
        self._opened: OrderedDict[str, tuple[tuple[object, ...], Opened]] = OrderedDict()

    @property
    def count(self) -> int:
        """How many pieces are kept open."""
        return len(self._opened)

    def open(self, entry: Entry) -> Opened:
        """The piece as it is now; raises the errors of reading a score."""
        state = (_stamp(entry.path), _stamp(entry.plan))
        with self._lock:
            known = self._opened.get(entry.id)
            if known is not None and known[0] == state:
                self._opened.move_to_end(entry.id)
                return known[1]
            opened = _open(entry, known[1] if known is not None and known[0][0] == state[0] else None)
            self._opened[entry.id] = state, opened
            self._opened.move_to_end(entry.id)
            while len(self._opened) > _KEPT:
                self._opened.popitem(last=False)
            return opened

    def decide(self, entry: Entry, place: str, words: str | None) -> Opened:
        """Keep how an ornament is played, or with `None` leave it to the rules again, in the plan on the disk.

        Raises `UsageError` for words that are no way of playing it, `PlaceError`, `PlanError` for a plan that cannot be
        read, `OutputError`.
        """
        with self._lock:
            opened, player, sign = self._to_change(entry, place)
            text = _plan_text(opened)
            if words is None:
                rule = by_the_rules(player).choices.get(sign.place)
                text = undecided(text, sign.place, rule.reading.text if rule is not None else "plain")
            else:
                text = decided(text, sign.place, player.reading(sign.place, words).text)
            return self._write(entry, text)

    def embellish(self, entry: Entry, place: str, line: str | None) -> Opened:
        """Keep an embellishment, as a line of a plan, or with `None` none; raises as `decide` does."""
        with self._lock:
            opened = self.open(entry)
            _check_plan(opened)
            own = {one.place for one in opened.interpretation.embellishments.values()}
            if line is None and place not in own:
                raise UsageError(f"there is no embellishment at {place or 'no place'} to take away")
            text = _plan_text(opened)
            return self._write(entry, unembellished(text, place) if line is None else embellished(text, place, line))

    def choose_solo(self, entry: Entry, solo: str | None, style: str | None) -> Opened:
        """Make a plan that names another solo part or style, where there is no plan yet; raises `UsageError` else."""
        with self._lock:
            opened = self.open(entry)
            if not (solo or style):
                raise UsageError("name a solo part, or a style")
            if entry.plan.exists():
                raise UsageError(f"{entry.plan.name} says solo and style already: change its first lines by hand")
            wishes = replace(LISTENING, solo=solo or None, style=style or None)
            player = interpret(entry.path, wishes)
            player.check()
            return self._write(entry, _text_of(replace(opened, interpretation=player)))

    def _to_change(self, entry: Entry, place: str) -> tuple[Opened, Interpretation, Sign]:
        opened = self.open(entry)
        _check_plan(opened)
        return opened, opened.interpretation, opened.interpretation.sign_at(place)

    def _write(self, entry: Entry, text: str) -> Opened:
        """Write the plan, if it can be read again; else leave it as it was and raise `PlanError`."""
        trial = entry.plan.with_name(f".{entry.plan.name}")
        try:
            write_whole(trial, text.encode())
            try:
                _ = _read(entry, trial, self.open(entry).interpretation)
            except InputError as error:
                raise type(error)(entry.plan.name, error.problem, error.remedy, place=error.place) from None
        finally:
            trial.unlink(missing_ok=True)
        # the plan was read for this: what it says is all in the new text
        with whole_file(entry.plan, given=True) as passing:
            passing.write_bytes(text.encode())
        return self.open(entry)


def by_the_rules(player: Interpretation) -> Interpretation:
    """The piece as the rules alone have it, in the player's style."""
    if player.plan is None:
        return player
    return replace(
        player, plan=None, wishes=replace(player.wishes, plan=None, style=player.wishes.style or player.plan.style)
    )


def _open(entry: Entry, before: Opened | None) -> Opened:
    fault = ""
    plan = entry.plan if entry.plan.exists() else None
    known = before.interpretation if before is not None else None
    try:
        player = _read(entry, plan, known)
    except PlanError as error:
        fault = str(error)
        player = known or _read(entry, None, None)
    version = sha256(repr((_stamp(entry.path), _stamp(entry.plan), fault)).encode()).hexdigest()[:16]
    return Opened(entry, player, version, fault)


def _read(entry: Entry, plan: Path | None, known: Interpretation | None) -> Interpretation:
    """The piece with a plan; what is known of the same score is not found again. Raises `PlanError`, `ScoreError`."""
    if known is not None and plan is not None and _asks_alike(plan, known):
        player = known.with_plan(plan)
    elif known is not None and plan is None and known.plan is None:
        return known
    else:
        player = interpret(entry.path, replace(LISTENING, plan=plan))
    try:
        player.check()
        _ = player.choices
    except AppuiError as error:
        if plan is None or isinstance(error, PlanError):
            raise
        raise PlanError(entry.plan.name, str(error).rstrip("."), "mend the line in the file") from None
    return player


def _asks_alike(plan: Path, known: Interpretation) -> bool:
    """Whether a plan asks for the solo, movement, chart and strokes a piece is known with."""
    said, wishes = remembered(plan), known.wishes
    solos = " + ".join(part.name for part in known.solos)
    chart = str(wishes.chart) if wishes.chart is not None else None
    alike = (said.get("movement"), said.get("chart"), said.get("strokes", "by habit"))
    return said.get("solo", solos) == solos and alike == (wishes.movement, chart, wishes.strokes)


def _check_plan(opened: Opened) -> None:
    if opened.fault:
        raise PlanError(opened.entry.plan.name, "cannot be read now, so nothing is written into it", opened.fault)


def _plan_text(opened: Opened) -> str:
    path = opened.entry.plan
    return text_of(path, PlanError, "plan", "check the file", "") if path.exists() else _text_of(opened)


def _text_of(opened: Opened) -> str:
    return plan_of(opened.interpretation, opened.ornaments(), opened.entry.plan)


def _stamp(path: Path) -> tuple[int, int] | None:
    try:
        found = path.stat()
    except OSError:
        return None
    return found.st_mtime_ns, found.st_size
