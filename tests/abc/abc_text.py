"""ABC in few words: `music("c2 d2")` is a piece in C, 4/4, the unit an eighth, with this music."""

from __future__ import annotations

from appui.abc.score import score_of_abc
from appui.score.model import Event, Score

__all__ = ["HEAD", "events", "music", "names", "piece"]

HEAD = "X:1\nT:A piece\nM:4/4\nL:1/8\nK:{}\n"


def piece(text: str) -> Score:
    """A text as our reader gives it."""
    return score_of_abc(text, "page.abc")


def music(text: str, key: str = "C") -> Score:
    """The score of some lines of music; the first is line 6 of the file."""
    return piece(HEAD.format(key) + text + "\n")


def events(found: Score, part: int = 0, voice: int = 0) -> tuple[Event, ...]:
    """The events of a voice."""
    return found.parts[part].voices[voice].events


def names(found: Score, part: int = 0) -> list[str]:
    """The written pitches of a part, in order."""
    return [note.written.name for event in events(found, part) for note in event.notes]
