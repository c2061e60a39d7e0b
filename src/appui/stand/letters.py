"""What comes back from a pupil: the answers a page has saved, laid beside one's own.

    {"format": "appui answers", "version": 1, "score": SHA-256, "title": ..., "name": ..., "choices": {PLACE: WORDS},
     "blind": [{"place": PLACE, "right": true}, ...]}

They may come from anybody and are read within limits.
"""

from __future__ import annotations

from typing import Any

from appui.errors import InputError, UsageError
from appui.interpret.interpretation import Interpretation
from appui.page.letter import list_of, object_of, texts_of
from appui.stand.desk import Opened

__all__ = ["ANSWERS", "compared"]

ANSWERS = "appui answers"
_MOST = 2000
_REMEDY = "take the file the page has saved"


def compared(opened: Opened, text: str) -> dict[str, Any]:
    """A pupil's answers beside the player's own, disagreements first; raises `InputError`, `UsageError`."""
    said, player = object_of(text, "the answers"), opened.interpretation
    if said.get("format") != ANSWERS:
        raise InputError("the answers", "are no file a page has given back", _REMEDY)
    if said.get("score") != player.score.sha256:
        title = str(said.get("title") or "another piece")[:200]
        raise UsageError(f"these answers are for another score ({title}): open that piece, then take them in there")
    choices = texts_of(said.get("choices"), "the answers")
    rows = [_row(player, sign.place, choices[sign.place]) for sign in opened.ornaments() if sign.place in choices]
    blind = [each for each in list_of(said.get("blind")) if isinstance(each, dict)][:_MOST]
    known = {sign.place for sign in opened.ornaments()}
    return {
        "name": str(said.get("name") or "the pupil")[:80],
        "rows": sorted(rows, key=lambda row: bool(row["alike"])),
        "alike": sum(row["alike"] for row in rows),
        "blind": {"right": sum(each.get("right") is True for each in blind), "of": len(blind)},
        "unknown": sum(place not in known for place in choices),
    }


def _row(player: Interpretation, place: str, words: str) -> dict[str, Any]:
    choice = player.choices[place]
    sign = player.sign_at(place)
    try:
        theirs = player.reading(place, words).text
    except UsageError:
        theirs = words
    return {
        "place": place,
        "bar": player.score.bars[sign.main(player.score).bar].number,
        "kind": sign.kind,
        "mine": choice.reading.text,
        "theirs": theirs,
        "alike": theirs == choice.reading.text,
        "why": choice.reason,
    }
