"""The demo: a movement for oboe and strings, invented for it, and the maker of its scores.

Beside it two pieces without an accompaniment and a short Andante with fermatas to embellish.
"""

from __future__ import annotations

from pathlib import Path

__all__ = ["TELLING", "bare_andante", "demo_score", "figured_sonata", "lead_sheet"]

#  places to hear first: a small note printed alike, in the chord and foreign to it; a leaning note at a half close
TELLING = ("oboe.2.1", "oboe.20.1", "oboe.4.1")


def demo_score() -> Path:
    """The score's file, MusicXML, inside the installed package."""
    return Path(__file__).with_name("ferry.musicxml")


def bare_andante() -> Path:
    """A short Andante for flute and strings with two bare fermatas, MusicXML."""
    return Path(__file__).with_name("ford.musicxml")


def figured_sonata() -> Path:
    """A slow movement for flute and a figured bass, MusicXML."""
    return Path(__file__).with_name("weir.musicxml")


def lead_sheet() -> Path:
    """A song for clarinet with chord symbols and nothing else, MusicXML."""
    return Path(__file__).with_name("lantern.musicxml")
