"""A style: one source's rules as a table, read from TOML and checked.

A rule is a row: `when` (facts of `appui.style.situation` and what they must be), `reading` (words of
`appui.style.reading`, in which ``{length}`` stands for the written value as a share of the main note, or the rule,
``{rule}`` for half or two thirds), `why`, `cite`, `known` (one of `KNOWN`), and `also`, other readings the source
allows there. Rows are tried in order, the first that matches wins.

A condition is a value (``member = "dissonance"``), a list of values any of which will do, or a comparison of a number
(``main_s = ">= 0.5"``).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cache
from importlib.resources import files
from itertools import chain, repeat
from pathlib import Path
from typing import Any, get_args

from appui.errors import StyleError, UsageError
from appui.exact import Fraction, fraction_of
from appui.score.words import Known, Profile
from appui.style.reading import parse_reading
from appui.style.rule import Rule, comparison_of, filled
from appui.style.situation import FACTS, WORDS, Situation
from appui.text import tables_of, text_of

__all__ = ["KNOWN", "PROFILES", "Style", "load_style", "style_names"]

KNOWN: tuple[Known, ...] = get_args(Known)
PROFILES: tuple[Profile, ...] = get_args(Profile)


@dataclass(frozen=True, slots=True)
class Style:
    """One source's rules. `weight_db` and `profile` shape its leaning notes.

    `silent` says which general rule fills its gaps; `inherited`
    are the rules of the style it falls back on, tried after its own, each saying whose it is.
    """

    name: str
    title: str
    year: int | None
    about: str
    silent: str
    weight_db: Fraction
    profile: Profile
    rules: tuple[Rule, ...]
    inherited: tuple[Rule, ...] = ()
    falls_back: str = ""

    def rule_for(self, situation: Situation) -> Rule:
        """The first row that matches; every style, or the one behind it, ends in a row that always does."""
        return next(rule for rule in (*self.rules, *self.inherited) if rule.matches(situation))


def style_names() -> tuple[str, ...]:
    """The styles that come with the tool, the default first."""
    names = sorted(
        entry.name.removesuffix(".toml")
        for entry in files("appui.style").joinpath("tables").iterdir()
        if entry.name.endswith(".toml")
    )
    return ("harmony", *(name for name in names if name != "harmony"))


def load_style(name: str) -> Style:
    """A style by name, or a player's own by path (``my.toml``); raises `StyleError` naming file, row and remedy."""
    if name in style_names():
        return _shipped(name)
    path = Path(name)
    if path.suffix != ".toml":
        raise StyleError(name, "is no style here", f"choose one of {', '.join(style_names())}, or name a .toml file")
    text = text_of(path, StyleError, "style", "check the path")
    # a player's own style keeps its path for a name, so that a plan that names it finds it again
    return replace(parse_style(text, str(path)), name=name)


@cache
def _shipped(name: str) -> Style:
    """A style that comes with the tool: read once, for whoever opens score after score."""
    text = files("appui.style").joinpath("tables", f"{name}.toml").read_text(encoding="utf-8")
    return parse_style(text, f"{name}.toml")


def parse_style(text: str, file: str) -> Style:
    """Read and check the text of a style."""
    data = tables_of(text, file, StyleError)
    head = data.get("style")
    if not isinstance(head, dict):
        raise StyleError(file, "has no [style] table", "begin it with [style] and a title")
    lines = [number for number, line in enumerate(text.splitlines(), 1) if line.strip().startswith("[[rule]]")]
    rows = enumerate(zip(_rows(data, file), chain(lines, repeat(1)), strict=False), 1)
    rules = tuple(_rule(row, file, f"rule {index}, line {line}") for index, (row, line) in rows)
    inherited = _inherited(head, file)
    if not inherited and (not rules or rules[-1].when):
        raise StyleError(
            file,
            "does not end in a rule without conditions",
            "add a last [[rule]] without `when`, for ornaments that no other rule fits, or name a style in falls_back",
        )
    return Style(
        Path(file).name.removesuffix(".toml"),
        _word(head, "title", file),
        head.get("year"),
        str(head.get("about", "")),
        str(head.get("silent", "")),
        _weight(head, file),
        _profile(head, file),
        rules,
        inherited,
        str(head.get("falls_back", "")),
    )


def _inherited(head: Mapping[str, Any], file: str) -> tuple[Rule, ...]:
    """The rules of the style that `falls_back` names: one that comes with the tool and is not this one."""
    name = head.get("falls_back")
    if name is None:
        return ()
    others = [other for other in style_names() if f"{other}.toml" != file]
    if name not in others:
        raise StyleError(file, f"falls_back is {name!r}, no other style here", f"use one of {', '.join(others)}")
    behind = load_style(name)
    own = (replace(rule, why=_silent(rule.why)) for rule in behind.rules)
    return (*own, *behind.inherited)


def _silent(why: str) -> str:
    """A rule of another style, told by a source that has none for the place."""
    return why if why.startswith(_IS_SILENT) else f"{_IS_SILENT}; {why}"


_IS_SILENT = "this source is silent"


def _rows(data: Mapping[str, Any], file: str) -> Sequence[Any]:
    rows = data.get("rule", [])
    if not isinstance(rows, list):
        raise StyleError(file, "has a [rule] table where [[rule]] rows are expected", "write [[rule]] before each rule")
    return rows


def _word(table: Mapping[str, Any], key: str, file: str, place: str = "") -> str:
    value = table.get(key)
    if not isinstance(value, str) or not value:
        raise StyleError(file, f"lacks {key!r}", f'add {key} = "..."', place=place)
    return value


def _weight(head: Mapping[str, Any], file: str) -> Fraction:
    value = head.get("weight_db", 4)
    if isinstance(value, bool) or not isinstance(value, int | float) or not -12 <= value <= 24:
        raise StyleError(file, f"weight_db is {value!r}, not a number of dB from -12 to 24", "correct it")
    return fraction_of(str(value))


def _profile(head: Mapping[str, Any], file: str) -> Profile:
    value = head.get("profile", PROFILES[0])
    found = next((profile for profile in PROFILES if profile == value), None)
    if found is None:
        raise StyleError(file, f"profile is {value!r}", f"use one of {', '.join(PROFILES)}")
    return found


def _rule(row: Any, file: str, place: str) -> Rule:
    if not isinstance(row, dict):
        raise StyleError(file, "is not a table", "write [[rule]] before each rule", place=place)
    unknown = set(row) - {"when", "reading", "why", "cite", "known", "also"}
    if unknown:
        raise StyleError(
            file, f"has a key {min(unknown)!r} no rule knows", "use when, reading, why, cite, known, also", place=place
        )
    when = row.get("when", {})
    _check_when(when, file, place)
    reading = _word(row, "reading", file, place)
    also = row.get("also", [])
    if not isinstance(also, list) or not all(isinstance(words, str) for words in also):
        raise StyleError(file, "`also` is no list of ways of playing", 'write also = ["leaning 1/3"]', place=place)
    for words in (reading, *also):
        _check_reading(words, file, place)
    why, cite = _word(row, "why", file, place), _word(row, "cite", file, place)
    return Rule(when, reading, why, cite, _known(row, file, place), tuple(also))


def _known(row: Mapping[str, Any], file: str, place: str) -> Known:
    value = _word(row, "known", file, place)
    found = next((known for known in KNOWN if known == value), None)
    if found is None:
        raise StyleError(file, f"known is {value!r}", f"use one of {', '.join(KNOWN)}", place=place)
    return found


def _check_reading(words: str, file: str, place: str) -> None:
    try:
        parse_reading(filled(words, "1/2", "1/2"))
    except UsageError as error:
        raise StyleError(
            file, f"reading {words!r} cannot be used: {error}", "use the words `appui styles` lists", place=place
        ) from None


def _check_when(when: Any, file: str, place: str) -> None:
    if not isinstance(when, dict):
        raise StyleError(file, "`when` is not a table of facts", "write when = { fact = value }", place=place)
    for name, condition in when.items():
        if name not in FACTS:
            raise StyleError(
                file, f"asks for {name!r}, which is no fact", f"use one of {', '.join(FACTS)}", place=place
            )
        for one in condition if isinstance(condition, list) else [condition]:
            if name in WORDS and one not in WORDS[name]:
                raise StyleError(
                    file, f"{name} = {one!r} can never hold", f"use one of {', '.join(WORDS[name])}", place=place
                )
            wrong = isinstance(one, str) and one.startswith(("<", ">")) and comparison_of(one) is None
            if wrong or not isinstance(one, str | bool | int):
                raise StyleError(
                    file,
                    f"{name} = {one!r} is no condition",
                    'use a word, true/false, a whole number or a comparison such as ">= 0.5"',
                    place=place,
                )
