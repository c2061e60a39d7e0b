"""A take recorded in the browser, heard by `appui.listen`: what was played beside what was decided."""

from __future__ import annotations

from typing import Any

from appui.errors import SoundError
from appui.interpret.interpretation import Interpretation
from appui.listen.listen import Wanted, listen
from appui.listen.records import record
from appui.listen.report import CANNOT_KNOW, summary, told
from appui.scratch import scratch

__all__ = ["LARGEST_BYTES", "heard"]

#  ten minutes of one channel at 48 kHz, 16 bit
LARGEST_BYTES = 60_000_000


def heard(player: Interpretation, take: bytes, bars: str, a4_hz: float) -> dict[str, Any]:
    """The report of a take, a WAV file of the solo alone over some bars; raises `SoundError`, `PlaceError`.

    Nothing of it is kept.
    """
    if not take.startswith(b"RIFF"):
        raise SoundError("the take", "is no WAV file", "record it again")
    with scratch() as folder:
        path = folder / "take.wav"
        path.write_bytes(take)
        report = listen(player, path, Wanted(bars or None, a4_hz))
    rows = [
        {"place": row.place, "printed": row.printed, "decided": row.decided, "played": row.played, "remark": row.remark}
        for row in told(report)
    ]
    return record(report) | {"summary": summary(report), "cannot_know": CANNOT_KNOW, "rows": rows}
