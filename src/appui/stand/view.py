"""What the views of the stand are told, as plain data."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from appui.compare.survey import movement_records
from appui.errors import AppuiError
from appui.exact import Fraction
from appui.interpret.interpretation import Interpretation, choice_by
from appui.page.record import page_record, readings_at
from appui.page.staves import Staves
from appui.page.words import group_of, makers, mark_of, verdict_line
from appui.score.signs import Sign, bar_names
from appui.stand.desk import Desk, Opened, by_the_rules
from appui.stand.heard import RATE
from appui.stand.shelf import Entry, Shelf
from appui.style.table import load_style

__all__ = ["bars_record", "piece_record", "reading_record", "shelf_record", "sign_record"]

Pictures = Mapping[str, tuple[tuple[str, ...], tuple[str, ...], str]]
_AROUND = 1


def shelf_record(shelf: Shelf, desk: Desk) -> list[dict[str, Any]]:
    """The pieces there are; of one that cannot be read, why."""
    last = shelf.last()
    return [_shelf_row(entry, desk) | {"last": last.get(entry.id)} for entry in shelf.entries()]


def _shelf_row(entry: Entry, desk: Desk) -> dict[str, Any]:
    row: dict[str, Any] = {"id": entry.id, "file": entry.path.name, "own": entry.own}
    try:
        return row | piece_record(desk.open(entry))
    except AppuiError as error:
        return row | {"title": entry.path.name, "fault": str(error)}
    except MemoryError:
        return row | {"title": entry.path.name, "fault": "needs more memory than there is"}


def piece_record(opened: Opened) -> dict[str, Any]:
    """A piece in a few words: its solo, its ornaments, what is undecided, the first verdict."""
    player, signs = opened.interpretation, opened.ornaments()
    score = player.score
    decided = [sign.place for sign in signs if player.choices[sign.place].by.startswith("plan")]
    first = next((sign for sign in signs if sign.small), None)
    return {
        "id": opened.entry.id,
        "title": score.title,
        "creators": makers(score.creators),
        "version": opened.version,
        "solo": " and ".join(part.name for part in player.solos),
        "parts": [part.name for part in score.parts],
        "guessed": player.wishes.solo is None,
        "style": player.style.name,
        "bars": len(score.bars),
        "ornaments": len(signs),
        "decided": len(decided),
        "doubtful": sum(_doubtful(player, sign) and sign.place not in decided for sign in signs),
        "first": _said(player, first) if first is not None else "",
        "plan": opened.entry.plan.name if opened.entry.plan.exists() else "",
        "planFault": opened.fault,
        "qpm": float(score.tempos[0].qpm),
        "beat": float(score.tempos[0].qpm / score.bars[0].meter.beat_q),
        "movements": movement_records(player),
    }


def _said(player: Interpretation, sign: Sign) -> str:
    verdict = verdict_line(sign, player.analysis.verdict(sign), player.choices[sign.place])
    return f"bar {_bar_number(player, sign)}: {verdict}"


def _bar_number(player: Interpretation, sign: Sign) -> str:
    return player.score.bars[sign.main(player.score).bar].number


def _doubtful(player: Interpretation, sign: Sign) -> bool:
    verdict = player.analysis.verdict(sign)
    return bool(verdict is not None and sign.small and verdict.known and verdict.doubtful)


def reading_record(opened: Opened, pictures: Pictures) -> dict[str, Any]:
    """The data of the page, for sound that is made when it is asked for: every ornament is a passage of its own."""
    return _record(opened, opened.ornaments(), pictures) | {"piece": piece_record(opened)}


def sign_record(opened: Opened, place: str, pictures: Pictures) -> tuple[int, dict[str, Any]]:
    """The number of one ornament and what the page is told of it; raises `PlaceError`."""
    sign = opened.interpretation.sign_at(place)
    number = opened.ornaments().index(sign)
    told: dict[str, Any] = _record(opened, [sign], pictures, number)["signs"][0]
    return number, told


def _record(opened: Opened, signs: Sequence[Sign], pictures: Pictures, first: int = 0) -> dict[str, Any]:
    """The page's data for some ornaments, of which the first has a number among all."""
    player = opened.interpretation
    named = {sign.place: pictures.get(sign.place) or ((), (), "") for sign in signs}
    readings = {sign.place: readings_at(player, sign, ()) for sign in signs if player.choices[sign.place].realized}
    record = page_record(player, signs, (), [("100%", Fraction(1))], [], named, readings, (), Staves({}, {}))
    record["sound"]["rate"] = RATE
    record["passages"] = [_passage(player, sign) for sign in signs]
    ruled = by_the_rules(player)
    for number, (sign, told) in enumerate(zip(signs, record["signs"], strict=True), first):
        _live(player, ruled, sign, told, number)
    return record


def _passage(player: Interpretation, sign: Sign) -> dict[str, Any]:
    bars, bar = player.score.bars, sign.main(player.score).bar
    first, last = max(bar - _AROUND, 0), min(bar + _AROUND, len(bars) - 1)
    return {
        "first": bars[first].number,
        "last": bars[last].number,
        "barIndex": first,
        "starts_s": [float(each) for each in range(last - first + 1)],
        "from_s": 0.0,
        "to_s": float(last - first + 1),
        "lead_s": 0.0,
    }


def _live(player: Interpretation, ruled: Interpretation, sign: Sign, told: dict[str, Any], number: int) -> None:
    """Give an ornament its passage, and what the rules alone would have."""
    rule = ruled.choices.get(sign.place)
    told["now"] = player.choices[sign.place].reading.text
    told["today"] = _today(player, sign)
    told["rule"] = rule.reading.text if rule is not None else ""
    told["ruleWhy"] = rule.reason if rule is not None else ""
    if not player.choices[sign.place].realized:
        return
    told["passage"] = number
    told["excerpt"] = {"from_s": 0.0, "to_s": 1.0, "lead_s": 0.0}
    known = {each["words"] for each in told["readings"]}
    if rule is not None and rule.realized and rule.reading.text not in known:
        told["readings"].append(
            {"words": rule.reading.text, "mark": mark_of(rule.reading), "group": group_of(rule.reading), "whose": [],
             "heard": True, "written": ""}
        )  # fmt: skip
    for reading in told["readings"]:
        reading["passage"] = number


def bars_record(player: Interpretation) -> list[dict[str, Any]]:
    """The bars by index: their names, as ranges name them, and how many quarters each lasts."""
    names = bar_names(player.score)
    return [
        {"name": names[bar.index], "number": bar.number, "length_q": float(bar.length_q)} for bar in player.score.bars
    ]


def _today(player: Interpretation, sign: Sign) -> str:
    """What pianists of today do at such an ornament, where it was measured."""
    choice, verdict = choice_by(player, sign, load_style("measured")), player.analysis.verdict(sign)
    if choice.known != "measured":
        return ""
    told = choice.reason.replace(f"; {verdict.words}", "") if verdict is not None else choice.reason
    return f"{told} [{choice.source}]"
