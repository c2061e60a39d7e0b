"""The verdict on a sign: what `judge` finds, and whether the note it stands before leans itself."""

from __future__ import annotations

from dataclasses import replace

from appui.harmony.analyse import Harmony
from appui.harmony.judge import judged
from appui.harmony.model import Verdict
from appui.harmony.written_out import written_out_at
from appui.score.signs import Sign

__all__ = ["verdict_of"]

_BEFORE_WRITTEN_OUT = "before a note that leans itself"


def verdict_of(harmony: Harmony, sign: Sign) -> Verdict:
    """What the harmony says of a sign.

    Where its main note is itself a leaning note printed at full size, the stress is there and not before it.
    """
    verdict = judged(harmony, sign)
    if not any(verdict.leans) or written_out_at(harmony.score, harmony, sign) is None:
        return verdict
    words = f"{verdict.words}, {_BEFORE_WRITTEN_OUT}"
    return replace(verdict, leans=(False,) * len(verdict.leans), words=words, before_written_out=True)
