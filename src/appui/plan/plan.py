"""The player's plan: readings by place for one score, in a TOML file made by the tool and edited by hand.

    [score]
    title = "..."
    file = "..."
    sha256 = "..."
    style = "harmony"

    solo = "Oboe"                  # also movement, chart and strokes, where they were asked for

    [readings]
    # why the rules play it so
    #"oboe.12.1" = "before"
    "oboe.12.3" = "leaning 1/2"

    [embellishments]
    "oboe.14.1" = { over = "1/4", notes = "C5:1/8 Bb4:1/16 A4:1/16" }

    [music]
    "oboe.12.3" = "small notes|D5|C5|E5 D5 C5|B4 A4 G4"

A plan holds what the player has decided. What the rules choose stands behind # and stays theirs, with its reason and
source, until the # is taken away.

The hash says which score the plan was made for. In another, a corrected one or one movement of it, places are found
again by their music (`plan.matching`), and what moved, changed or is gone is told; a line that does not fit is refused
with its number.
"""

from __future__ import annotations

import json
import re
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from appui.errors import PlanError, UsageError
from appui.harmony.ground import Ground
from appui.plan.embellishment import Embellishment, plain_notes, read_embellishments, section_text
from appui.plan.matching import Found, enough, match_places, music_of
from appui.score.model import Score
from appui.score.nearest import nearest
from appui.score.signs import EMBELLISHMENT, Sign
from appui.style.choose import READINGS_FOR, Choice
from appui.style.reading import parse_reading
from appui.text import tables_of, text_of

__all__ = ["REMEMBERED", "Plan", "comment_text", "music_text", "plan_text", "read_plan", "remembered"]

#  wishes that a plan keeps, beside the style
REMEMBERED = ("solo", "movement", "chart", "strokes")
_LISTED = 20


@dataclass(frozen=True, slots=True)
class Plan:
    """A read plan: its file's name, the style it names (or `None`), and readings in words by place.

    `embellishments` go by the place of their sign, which for one in time only the plan has. `moved` tells what was
    decided at places found again by their music, `lost` has readings, by the plan's own place, whose sign is gone.
    """

    file: str
    style: str | None
    readings: dict[str, str]
    embellishments: dict[str, Embellishment] = field(default_factory=dict)
    moved: tuple[Found, ...] = ()
    lost: dict[str, str] = field(default_factory=dict)

    @property
    def notices(self) -> tuple[tuple[str, str], ...]:
        """What became of decisions whose place is not as it was: pairs of the place in the plan and a sentence."""
        told = [(each.old, each.words) for each in self.moved if each.words]
        if len(told) <= _LISTED:
            return tuple(told)
        gone = sum(each.new is None for each in self.moved)
        more = f"{len(told) - _LISTED} more places have moved, changed or gone; {gone} of all are gone"
        return (*told[:_LISTED], (self.file, more))

    def wanted(self) -> dict[str, tuple[str, str]]:
        """Readings as `appui.style.choose` takes them."""
        words = self.readings | dict.fromkeys(self.embellishments, "embellished")
        return {place: (each, f"plan {self.file}") for place, each in words.items()}


def plan_text(
    score: Score,
    style: str,
    choices: Iterable[Choice],
    *,
    remembered: Mapping[str, str] | None = None,
    lost: Mapping[str, str] | None = None,
) -> str:
    """The text of a plan with these choices, each with its reason above it, those of the rules behind #.

    `remembered` are other wishes, such as ``solo``; `lost` what was decided for signs that are gone, kept as remarks.
    """
    lines = [
        f"# A plan for {comment_text(score.title)}.",
        "# What the rules choose stands behind #. To decide yourself, take the # away and write the way you want;",
        "# `appui survey` lists what there is.",
        "",
        "[score]",
        f"title = {_quoted(score.title)}",
        f"file = {_quoted(score.file)}",
        f'sha256 = "{score.sha256}"',
        f"style = {json.dumps(style, ensure_ascii=False)}",
        *(f"{name} = {_quoted(words)}" for name, words in (remembered or {}).items()),
        "",
        "[readings]",
    ]
    kept = list(choices)
    for choice in kept:
        if choice.realized and choice.reading.free is None:
            also = f" Also: {'; '.join(choice.alternatives)}." if choice.alternatives else ""
            lines += [
                f"# {comment_text(choice.reason)} ({comment_text(choice.source)}).{also}",
                f"{'' if _decided(choice) else '#'}{_quoted(choice.place)} = {json.dumps(choice.reading.text)}",
            ]
    lines += [
        f"# has no place here: {comment_text(place)} = {comment_text(words)}" for place, words in (lost or {}).items()
    ]
    free = [(c.place.removesuffix(".free"), c.reading.free) for c in kept if c.reading.free is not None]
    return "\n".join(lines) + "\n" + (section_text(free) if free else "")


def _decided(choice: Choice) -> bool:
    """Whether the player has decided it."""
    return choice.by.startswith(("plan", "--take"))


def music_text(score: Score, signs: Iterable[Sign]) -> str:
    """The end of a plan: the music around each of its places, to find them again."""
    rows = [(sign.place, music_of(score, sign)) for sign in signs]
    if not rows:
        return ""
    head = ["", "# what stands at each place, to find it again in a corrected score: not to be edited", "[music]"]
    return "\n".join([*head, *(f"{_quoted(place)} = {_quoted(music)}" for place, music in rows)]) + "\n"


def _quoted(text: str) -> str:
    """A TOML string: JSON's, and DEL, which TOML does not allow bare."""
    return json.dumps(text, ensure_ascii=False).replace("\x7f", "\\u007f")


def comment_text(text: str) -> str:
    """Text that may stand behind a # in a plan: on one line, whatever was in it."""
    return re.sub(r"[\x00-\x1f\x7f]+", " ", text)


def read_plan(
    path: Path,
    score: Score,
    signs: Sequence[Sign],
    ground: Callable[[int, int], Ground] | None = None,
    movement: str | None = None,
) -> Plan:
    """Read and check a plan; raises `PlanError` naming the line and the remedy.

    `ground` gives the harmony under a voice (part and voice index), to check embellishments by. `movement` is the
    number of the one movement that the score is, where it is one of several.
    """
    name, text, data = str(path), *_tables(path)
    head, readings = data["score"], data["readings"]
    again = _found_again(data, score, signs, name, movement)
    own, lost = _notes_now(data.get("embellishments", {}), again)
    where = {each.new.removesuffix(".free"): each.old.removesuffix(".free") for each in again.values() if each.new}
    free = read_embellishments(
        own,
        lambda place: _line(text, where.get(place, place), "embellishments"),
        path,
        score,
        signs,
        ground,
    )
    by_place = {sign.place: sign for sign in signs}
    lost |= {place: str(words) for place, words in readings.items() if place in again and again[place].new is None}
    kept = {_now(place, again): words for place, words in readings.items() if place not in lost}
    for place, words in kept.items():
        if place not in free:
            _check_line(score, place, words, by_place, name, _line(text, where.get(place, place)))
    style = head.get("style")
    decided = (*readings, *(place for place in again if place.endswith(".free")))
    corrected = head.get("sha256") != score.sha256
    moved = tuple(again[place] for place in decided if place in again and corrected)
    return Plan(path.name, style if isinstance(style, str) and style else None, kept, free, moved, lost)


def remembered(path: Path) -> dict[str, str]:
    """What a plan says of the whole: ``solo``, ``movement``, ``chart``, ``strokes``, as far as it does.

    A chart's path is taken from the plan's folder. Raises `PlanError`.
    """
    head = _tables(path)[1]["score"]
    said = {key: head[key] for key in REMEMBERED if head.get(key) not in (None, "")}
    for key, words in said.items():
        if not isinstance(words, str):
            raise PlanError(path, f"{key} = {words!r}: expected text", "put it in quotes", place="[score]")
    return {key: str(path.parent / words) if key == "chart" else words for key, words in said.items()}


def _tables(path: Path) -> tuple[str, dict[str, Any]]:
    """The text of a plan and its tables; raises `PlanError` where one that is needed is not there."""
    text = text_of(path, PlanError, "plan", "check the file", "make one with `appui survey SCORE --plan-out FILE`")
    data = tables_of(text, str(path), PlanError)
    if not isinstance(data.get("score"), dict) or not isinstance(data.setdefault("readings", {}), dict):
        raise PlanError(
            str(path), "lacks its [score] or [readings] table", "make a plan with `appui survey SCORE --plan-out FILE`"
        )
    return text, data


def _now(place: str, again: Mapping[str, Found]) -> str:
    return (again[place].new or place) if place in again else place


def _notes_now(own: Any, again: Mapping[str, Found]) -> tuple[Any, dict[str, str]]:
    """The table of embellishments with their places as they are now, and those whose note is gone, by its old place.

    The note of an embellishment has a sign of its own, or a fermata.
    """
    if not again or not isinstance(own, dict):
        return own, {}
    here, lost = {}, {}
    for place, entry in own.items():
        found = again.get(f"{place}.free") or again.get(place) or Found(place, place)
        if found.new is None:
            lost[f"{place}.free"] = str(entry.get("notes", "embellished") if isinstance(entry, dict) else entry)
        else:
            here[found.new.removesuffix(".free")] = entry
    return here, lost


def _found_again(
    data: dict[str, Any], score: Score, signs: Sequence[Sign], name: str, movement: str | None
) -> dict[str, Found]:
    """Where the plan's places are in a score that is not the one it was made for; empty where it is that one.

    Raises `PlanError` where it is other music.
    """
    head, music = data["score"], data.get("music")
    if head.get("sha256") == score.sha256 and (head.get("movement") or None) == movement:
        return {}
    if isinstance(music, dict) and all(isinstance(text, str) for text in music.values()):
        own = [] if not any(text.startswith(f"{EMBELLISHMENT}|") for text in music.values()) else plain_notes(score)
        again = match_places(music, score, [*signs, *own])
        # of the same file it is another movement, or all of them: what is not here stands elsewhere
        if head.get("sha256") == score.sha256 or enough(again, signs):
            return again
    raise PlanError(
        name,
        f"is for another score ({head.get('title') or head.get('file') or 'unnamed'}), or this one has changed; "
        f"the score given is {score.title} ({score.file})",
        "make a new plan with `appui survey SCORE --plan-out FILE` and copy your decisions over",
    )


def _check_line(score: Score, place: str, words: Any, by_place: dict[str, Sign], name: str, where: str) -> None:
    sign = by_place.get(place)
    if sign is None:
        raise PlanError(
            name,
            f"there is no ornament at {place!r}; {nearest(score, list(by_place.values()), place, 0)}",
            "correct the place or leave the line out",
            place=where,
        )
    if not isinstance(words, str):
        raise PlanError(
            name, f"what stands for {place} is not text", 'write it in quotes, as "leaning 1/2"', place=where
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
            f"{words!r} is no way to play {sign.kind}",
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
