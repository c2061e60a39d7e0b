"""`python -m appui` is the command line."""

from __future__ import annotations

from appui.cli.main import run

__all__: list[str] = []

run()
