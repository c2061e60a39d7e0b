"""A player's plan as text: what was decided, what the rules do behind #, and the wishes it is to remember."""

from __future__ import annotations

import os
from collections.abc import Sequence
from pathlib import Path

from appui.interpret.interpretation import Interpretation
from appui.plan.plan import music_text, plan_text
from appui.score.signs import Sign

__all__ = ["plan_of"]


def plan_of(player: Interpretation, signs: Sequence[Sign], path: Path, more: Sequence[str] = ()) -> str:
    """The plan of these signs, as it is to stand in the file at `path`; `more` are lines under its embellishments."""
    choices = [player.choices[sign.place] for sign in signs]
    lost = player.plan.lost if player.plan is not None else {}
    text = plan_text(player.score, player.style.name, choices, remembered=_remembered(player, path), lost=lost)
    if more:
        head = [] if "\n[embellishments]\n" in text else ["", "[embellishments]"]
        text += "\n".join([*head, *more]) + "\n"
    return text + music_text(player.score, signs)


def _remembered(player: Interpretation, path: Path) -> dict[str, str]:
    wishes = player.wishes
    chart = os.path.relpath(wishes.chart, path.parent) if wishes.chart is not None else ""
    strokes = "" if wishes.strokes == "by habit" else wishes.strokes
    said = {
        "solo": " + ".join(part.name for part in player.solos),
        "movement": wishes.movement or "",
        "chart": Path(chart).as_posix(),
        "strokes": strokes,
    }
    return {key: words for key, words in said.items() if words and words != "."}
