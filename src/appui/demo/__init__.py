"""The demo: a slow movement for oboe and strings, invented for it, two pieces without an accompaniment, their maker."""

from __future__ import annotations

from pathlib import Path

__all__ = ["demo_score", "figured_sonata", "lead_sheet"]


def demo_score() -> Path:
    """The score's file, MusicXML, inside the installed package."""
    return Path(__file__).with_name("ferry.musicxml")


def figured_sonata() -> Path:
    """A slow movement for flute and a figured bass, MusicXML."""
    return Path(__file__).with_name("weir.musicxml")


def lead_sheet() -> Path:
    """A song for clarinet with chord symbols and nothing else, MusicXML."""
    return Path(__file__).with_name("lantern.musicxml")
