"""What a running stand has: the shelf, the pieces opened, sound, pictures, work, and the limits of each."""

from __future__ import annotations

from dataclasses import dataclass, field

import anyio

from appui.stand.desk import Desk, Opened
from appui.stand.drawn import Drawer
from appui.stand.ear import Ear
from appui.stand.heard import Engine
from appui.stand.jobs import Jobs
from appui.stand.shelf import Shelf

__all__ = ["Stand"]

#  how much is made at a time, so that the stand goes on answering
_SOUNDS, _WORKS = 3, 6


@dataclass
class Stand:
    """See the module's head. `waiting` is how many presses wait for sound now."""

    shelf: Shelf
    desk: Desk = field(default_factory=Desk)
    engine: Engine = field(default_factory=Engine)
    drawer: Drawer = field(default_factory=Drawer)
    ear: Ear = field(default_factory=Ear)
    jobs: Jobs = field(init=False)
    waiting: int = 0

    def __post_init__(self) -> None:
        self.jobs = Jobs(self.shelf.folder / "made")
        self.sounding = anyio.CapacityLimiter(_SOUNDS)
        self.working = anyio.CapacityLimiter(_WORKS)

    def close(self) -> None:
        """Stop everything."""
        self.jobs.close()
        self.engine.close()
        self.drawer.close()
        self.ear.close()

    def open(self, piece: str) -> Opened:
        """A piece by its number; raises `PlaceError`, and the errors of reading it."""
        return self.desk.open(self.shelf.entry(piece))
