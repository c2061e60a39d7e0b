"""The demo: a slow movement for oboe and strings, invented for it, and its maker."""

from __future__ import annotations

from pathlib import Path

__all__ = ["demo_score"]


def demo_score() -> Path:
    """The score's file, MusicXML, inside the installed package."""
    return Path(__file__).with_name("ferry.musicxml")
