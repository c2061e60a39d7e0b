"""Every example in a docstring is run, and gives what it says."""

import doctest
from importlib import import_module
from pathlib import Path

import pytest

SOURCE = Path(__file__).parents[1] / "src"
MODULES = [
    ".".join(file.relative_to(SOURCE).with_suffix("").parts)
    for file in sorted(SOURCE.rglob("*.py"))
    if ">>> " in file.read_text(encoding="utf-8")
]


@pytest.mark.parametrize("module", MODULES)
def test_examples_of_docstrings(module: str) -> None:
    """What a docstring shows is what comes out."""
    done = doctest.testmod(import_module(module.removesuffix(".__init__")))
    assert done.attempted > 0
    assert 0 == done.failed


def test_there_are_docstrings_with_examples() -> None:
    """An empty list would make the test above pass with nothing looked at."""
    assert len(MODULES) > 20
