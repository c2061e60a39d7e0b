"""Mutants that once ended in something else, each by its way and seed: now a refusal that says why, or a result."""

from __future__ import annotations

import random
from pathlib import Path

import pytest
from laws import guarded
from ways import WAYS

#  the way, the seed, what it showed
FINDINGS = (
    ("notate", 200039, "a score without a part list"),
    ("notate", 300324, "divisions so fine that what was written could not be read again"),
    ("notate", 301872, "the same in an ossia"),
    ("page", 500019, "the engraver ended by a wrong address"),
    ("page", 500130, "the same"),
)


@pytest.mark.parametrize(("way", "seed"), [finding[:2] for finding in FINDINGS])
def test_what_was_found_is_mended(way: str, seed: int, tmp_path: Path) -> None:
    """As long as the corpus and the maker of mutants are the same, the same files."""
    name, make, do = WAYS[way]
    (tmp_path / name).write_bytes(make(seed).data)
    assert guarded(tmp_path / name, random.Random(seed), do) in ("result", "ScoreError")  # noqa: S311
