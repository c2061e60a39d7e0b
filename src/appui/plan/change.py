r"""One decision changed in the text of a plan; every other line stays as the player has it.

>>> text = '[readings]\n# why\n#"oboe.2.1" = "before"\n'
>>> print(decided(text, "oboe.2.1", "leaning 1/2"), end="")
[readings]
# why
"oboe.2.1" = "leaning 1/2"
>>> print(undecided(decided(text, "oboe.2.1", "leaning 1/2"), "oboe.2.1", "before"), end="")
[readings]
# why
#"oboe.2.1" = "before"
"""

from __future__ import annotations

import json
import re

__all__ = ["decided", "embellished", "undecided", "unembellished"]

_READINGS, _EMBELLISHMENTS = "readings", "embellishments"
_TABLE = re.compile(r"\s*\[\s*([\w.-]+)\s*\]")
_KEY = re.compile(r"""\s*(#?)\s*("(?:[^"\\]|\\.)*"|'[^']*'|[\w-]+)\s*=""")


def decided(text: str, place: str, words: str) -> str:
    """The plan with a way of playing decided at a place, in the words `appui survey` lists."""
    return _with_line(text, _READINGS, place, f"{_quoted(place)} = {_quoted(words)}")


def undecided(text: str, place: str, rule: str) -> str:
    """The plan with a place left to the rules, which would play it as `rule`; that stands behind #."""
    lines = text.split("\n")
    return (
        _with_line(text, _READINGS, place, f"#{_quoted(place)} = {_quoted(rule)}")
        if _at(lines, _READINGS, place, off=False)
        else text
    )


def embellished(text: str, place: str, entry: str) -> str:
    """The plan with an embellishment at a place; `entry` is its line, as `plan.embellishment.entry_text` writes it."""
    return _with_line(text, _EMBELLISHMENTS, place, entry)


def unembellished(text: str, place: str) -> str:
    """The plan without the embellishment at a place: its line stays there behind #, to be taken again."""
    lines = text.split("\n")
    for number in _at(lines, _EMBELLISHMENTS, place, off=False):
        lines[number] = f"# {lines[number].lstrip()}"
    return "\n".join(lines)


def _with_line(text: str, table: str, place: str, line: str) -> str:
    """The text with one line for a place in a table: in place of the one there, of one behind #, or at the end."""
    lines = text.split("\n")
    found = _at(lines, table, place, off=False) or _at(lines, table, place, off=True)[-1:]
    if found:
        lines[found[0]] = line
        for number in reversed(found[1:]):
            del lines[number]
        return "\n".join(lines)
    end = _end_of(lines, table)
    if end is None:
        before = _end_of(lines, _READINGS) or len(lines)
        return "\n".join([*lines[:before], "", f"[{table}]", line, *lines[before:]])
    return "\n".join([*lines[:end], line, *lines[end:]])


def _at(lines: list[str], table: str, place: str, *, off: bool) -> list[int]:
    """The lines for a place in a table: those in force, or those behind #."""
    found, inside = [], ""
    for number, line in enumerate(lines):
        if head := _TABLE.match(line):
            inside = head[1]
        elif inside == table and (key := _KEY.match(line)) and (key[1] == "#") is off and _unquoted(key[2]) == place:
            found.append(number)
    return found


def _end_of(lines: list[str], table: str) -> int | None:
    """Where a line may be added to a table: after its last line that says something; `None` where there is none."""
    inside, end = "", None
    for number, line in enumerate(lines):
        if head := _TABLE.match(line):
            inside = head[1]
            end = number + 1 if inside == table else end
        elif inside == table and _KEY.match(line):
            end = number + 1
    return end


def _quoted(text: str) -> str:
    """A TOML string: JSON's, and DEL, which TOML does not allow bare."""
    return json.dumps(text, ensure_ascii=False).replace("\x7f", "\\u007f")


def _unquoted(word: str) -> str:
    if word.startswith("'"):
        return word[1:-1]
    if not word.startswith('"'):
        return word
    try:
        said = json.loads(word)
    except ValueError:
        return word
    return said if isinstance(said, str) else word
