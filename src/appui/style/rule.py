"""One rule of a style: the situations it holds in, and the reading it gives."""

from __future__ import annotations

import operator
import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

from appui.exact import Fraction, fraction_of
from appui.score.words import Known
from appui.style.situation import Fact, Situation

__all__ = ["Rule", "comparison_of", "filled"]

_COMPARISON = re.compile(r"(>=|<=|>|<)\s*([0-9]{1,9}(?:/0*[1-9][0-9]{0,8}|\.[0-9]{1,9})?)")
_OPERATORS: dict[str, Callable[[Any, Any], bool]] = {
    ">=": operator.ge,
    "<=": operator.le,
    ">": operator.gt,
    "<": operator.lt,
}


@dataclass(frozen=True, slots=True)
class Rule:
    """One row of a style."""

    when: Mapping[str, object]
    reading: str
    why: str
    cite: str
    known: Known
    also: tuple[str, ...] = ()

    def matches(self, situation: Situation) -> bool:
        """Whether every condition holds."""
        return all(_holds(condition, situation[name]) for name, condition in self.when.items())


@lru_cache(maxsize=1024)
def comparison_of(condition: str) -> tuple[Callable[[Any, Any], bool], Fraction] | None:
    """A comparison as an operator and a number; `None` for anything else."""
    match = _COMPARISON.fullmatch(condition)
    return (_OPERATORS[match.group(1)], fraction_of(match.group(2))) if match else None


def _holds(condition: object, fact: Fact) -> bool:
    if isinstance(condition, list):
        return any(_holds(one, fact) for one in condition)
    if isinstance(condition, str) and not isinstance(fact, str | bool):
        comparison = comparison_of(condition)
        return comparison is not None and comparison[0](fact, comparison[1])
    return (type(condition) is type(fact) and condition == fact) or (
        # yes and no are no numbers
        type(condition) is int and not isinstance(fact, bool | str) and fact == condition
    )


def filled(words: str, length: object, rule: object) -> str:
    """The words of a rule's reading with ``{length}`` and ``{rule}`` filled in; other braces stay and are no reading.

    Not `str.format`: a style may come from anybody, and that would let it look into objects or ask for a gigabyte.
    """
    return words.replace("{length}", str(length)).replace("{rule}", str(rule))
