"""The tables of what was measured in performances: named terms, each with its size, unit, words and source."""

from __future__ import annotations

import tomllib
from importlib.resources import files
from typing import Any

__all__ = ["terms_in"]


def terms_in(name: str) -> dict[str, dict[str, Any]]:
    """The terms of a table beside this file (``levels.toml``, ``timing.toml``), by name."""
    text = (files("appui.perform") / name).read_text(encoding="utf-8")
    terms: dict[str, dict[str, Any]] = tomllib.loads(text)["terms"]
    return terms
