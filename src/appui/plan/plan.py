"""The player's plan: readings by place for one score, in a TOML file made by the tool and edited by hand.

    [score]
    title = "..."
    file = "..."
    sha256 = "..."
    style = "harmony"

    [readings]
    "oboe.12.3" = "leaning 1/2"    # why

    [embellishments]
    "oboe.14.1" = { over = "1/4", notes = "C5:1/8 Bb4:1/16 A4:1/16" }

The hash says which score the plan is for; a line that no longer fits is refused with its number.
"""

from __future__ import annotations

import difflib
import json
import re
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from appui.errors import PlanError, UsageError
from appui.harmony.ground import Ground
from appui.plan.embellishment import Embellishment, read_embellishments, section_text
from appui.score.model import Score
from appui.score.signs import Sign
from appui.style.choose import READINGS_FOR, Choice
from appui.style.reading import parse_reading
from appui.text import tables_of, text_of

__all__ = ["Plan", "comment_text", "plan_text", "read_plan"]


@dataclass(frozen=True, slots=True)
class Plan:
    """A read plan: its file's name, the style it names (or `None`), and readings in words by place.

    `embellishments` go by the place of their sign, which for one in time only the plan has.
    """

    file: str
    style: str | None
    readings: dict[str, str]
    embellishments: dict[str, Embellishment] = field(default_factory=dict)

    def wanted(self) -> dict[str, tuple[str, str]]:
        """Readings as `appui.style.choose` takes them."""
        words = self.readings | dict.fromkeys(self.embellishments, "embellished")
        return {place: (each, f"plan {self.file}") for place, each in words.items()}


def plan_text(score: Score, style: str, choices: Iterable[Choice]) -> str:
    """The text of a plan with these choices, each with its reason above it."""
    lines = [
        f"# A plan for {comment_text(score.title)}: change a reading by hand; `appui survey` lists what else there is.",
        "",
        "[score]",
        f"title = {_quoted(score.title)}",
        f"file = {_quoted(score.file)}",
        f'sha256 = "{score.sha256}"',
        f"style = {json.dumps(style, ensure_ascii=False)}",
        "",
        "[readings]",
    ]
    kept = list(choices)
    for choice in kept:
        if choice.realized and choice.reading.free is None:
            also = f" Also: {'; '.join(choice.alternatives)}." if choice.alternatives else ""
            lines += [
                f"# {comment_text(choice.reason)} ({comment_text(choice.source)}).{also}",
                f"{json.dumps(choice.place, ensure_ascii=False)} = {json.dumps(choice.reading.text)}",
            ]
    free = [(c.place.removesuffix(".free"), c.reading.free) for c in kept if c.reading.free is not None]
    return "\n".join(lines) + "\n" + (section_text(free) if free else "")


def _quoted(text: str) -> str:
    """A TOML string: JSON's, and DEL, which TOML does not allow bare."""
    return json.dumps(text, ensure_ascii=False).replace("\x7f", "\\u007f")


def comment_text(text: str) -> str:
    """Text that may stand behind a # in a plan: on one line, whatever was in it."""
    return re.sub(r"[\x00-\x1f\x7f]+", " ", text)


def read_plan(
    path: Path, score: Score, signs: Sequence[Sign], ground: Callable[[int, int], Ground] | None = None
) -> Plan:
    """Read and check a plan; raises `PlanError` naming the line and the remedy.

    `ground` gives the harmony under a voice (part and voice index), to check embellishments by.
    """
    name = str(path)
    text = text_of(path, PlanError, "plan", "check the file", "make one with `appui survey SCORE --plan-out FILE`")
    data = tables_of(text, name, PlanError)
    head, readings = data.get("score"), data.get("readings", {})
    if not isinstance(head, dict) or not isinstance(readings, dict):
        raise PlanError(
            name, "lacks its [score] or [readings] table", "make a plan with `appui survey SCORE --plan-out FILE`"
        )
    _check_score(head, score, name)
    by_place = {sign.place: sign for sign in signs}
    free = read_embellishments(
        data.get("embellishments", {}), lambda place: _line(text, place, "embellishments"), path, score, signs, ground
    )
    for place, words in readings.items():
        if place not in free:
            _check_line(place, words, by_place, name, _line(text, place))
    style = head.get("style")
    return Plan(path.name, style if isinstance(style, str) and style else None, dict(readings), free)


def _check_score(head: dict[str, Any], score: Score, name: str) -> None:
    if head.get("sha256") != score.sha256:
        raise PlanError(
            name,
            f"is for another score ({head.get('title') or head.get('file') or 'unnamed'}), or this one has changed; "
            f"the score given is {score.title} ({score.file})",
            "make a new plan with `appui survey SCORE --plan-out FILE` and copy the readings over",
        )


def _check_line(place: str, words: Any, by_place: dict[str, Sign], name: str, where: str) -> None:
    sign = by_place.get(place)
    if sign is None:
        near = difflib.get_close_matches(place, by_place, 1, 0)
        raise PlanError(
            name,
            f"there is no sign at {place!r}" + (f"; the nearest is {near[0]}" if near else ""),
            "correct the place or leave the line out",
            place=where,
        )
    if not isinstance(words, str):
        raise PlanError(
            name, f"the reading of {place} is not text", 'write it in quotes, as "leaning 1/2"', place=where
        )
    try:
        reading = parse_reading(words)
    except UsageError as error:
        raise PlanError(name, str(error), "use words that `appui survey` lists", place=where) from None
    if reading.name == "embellished":
        raise PlanError(
            name, f"{place} is to be embellished, but has no notes", "write them under [embellishments]", place=where
        )
    if reading.name not in READINGS_FOR.get(sign.kind, ("plain",)):
        raise PlanError(
            name,
            f"{words!r} is no reading of {sign.kind}",
            f"use one of {', '.join(READINGS_FOR.get(sign.kind, ('plain',)))}",
            place=where,
        )


def _line(text: str, place: str, table: str = "readings") -> str:
    names, inside = (json.dumps(place, ensure_ascii=False), f"'{place}'", place), ""
    for number, line in enumerate(text.splitlines(), 1):
        if head := re.match(r"\s*\[\s*(\w+)", line):
            inside = head[1]
        if inside == table and line.partition("=")[0].strip().partition(".notes")[0] in names:
            return f"line {number}"
    return f"[{table}]"
