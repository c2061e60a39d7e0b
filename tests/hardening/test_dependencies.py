"""What the package rests on is named, and within bounds: a new major version of another project is taken on purpose."""

from __future__ import annotations

import ast
import re
import sys
import tomllib
from collections.abc import Iterable, Iterator
from importlib.metadata import packages_distributions, requires
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
PROJECT = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
LISTS = {"dependencies": PROJECT["dependencies"], **PROJECT["optional-dependencies"]}
_BOUNDED = re.compile(r"[A-Za-z0-9_.-]+(\[[a-z,]+\])?>=\d[\d.]*,<\d[\d.]*")


def _name(requirement: str) -> str:
    return re.split(r"[^A-Za-z0-9_.-]", requirement)[0].lower().replace("_", "-")


@pytest.mark.parametrize("requirement", [one for wanted in LISTS.values() for one in wanted])
def test_every_dependency_has_both_bounds(requirement: str) -> None:
    """From the oldest version that works to below the first that may not."""
    assert _BOUNDED.fullmatch(requirement)


def _statements(nodes: Iterable[ast.AST]) -> Iterator[ast.AST]:
    """Statements at any depth; expressions, which hold no imports, are most of a tree."""
    for node in nodes:
        yield node
        for name in ("body", "orelse", "finalbody", "handlers", "cases"):
            yield from _statements(getattr(node, name, ()))


def _imported() -> Iterator[str]:
    """The top names of all modules the source imports, at any depth of its code."""
    for file in (ROOT / "src").rglob("*.py"):
        for node in _statements(ast.parse(file.read_text(encoding="utf-8")).body):
            if isinstance(node, ast.Import):
                yield from (alias.name.split(".")[0] for alias in node.names)
            elif isinstance(node, ast.ImportFrom) and node.module:
                yield node.module.split(".")[0]


def test_what_the_source_imports_is_named() -> None:
    """No import rests on what another package happens to bring along; Dask and a sound card come with extras."""
    distributions = packages_distributions()
    foreign = set(_imported()) - set(sys.stdlib_module_names) - {"appui"}
    named = {_name(one) for one in (*LISTS["dependencies"], *LISTS["dask"], *LISTS["record"])}
    assert [] == [
        module
        for module in sorted(foreign)
        if not named & {name.lower().replace("_", "-") for name in distributions.get(module, [module])}
    ]


def test_the_installation_is_of_this_project() -> None:
    """The bounds above are those pip was given."""
    assert {_name(one) for one in requires("appui") or [] if "extra ==" not in one} <= {
        _name(one) for one in LISTS["dependencies"]
    }
