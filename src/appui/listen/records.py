"""What was heard in a take as data, for programs."""

from __future__ import annotations

import math
from typing import Any

from appui.listen.figure_words import figure_names
from appui.listen.judge import Heard
from appui.listen.listen import Report
from appui.listen.report import told_at
from appui.listen.trilled import TrillHeard

__all__ = ["record"]


def record(report: Report) -> dict[str, Any]:
    """One take as data. Seconds from `from_s` of the file on; what is not known is null."""
    heard = report.heard
    return {
        "take": report.file,
        "from_s": round(report.from_s, 3),
        "length_s": _number(heard.length_s),
        "a4_hz": round(heard.a4_hz, 1),
        "notes_that_fit": round(sum(heard.fit) / max(len(heard.fit), 1), 3),
        "notices": list(report.notices),
        "places": [_place_record(each) for each in report.places],
    }


def _place_record(heard: Heard) -> dict[str, Any]:
    row, decided = told_at(heard), heard.place.decided
    return {
        "place": heard.place.sign.place,
        "turn": heard.place.turn,
        "printed": row.printed,
        "decided": {
            "reading": decided.words,
            "placement": decided.placement,
            "length_s": _number(decided.length_s) if decided.length_s else None,
            "weight_db": _number(decided.weight_db),
        },
        "played": {
            "how": heard.how,
            "confidence": round(heard.confidence, 3),
            "on_the_beat": round(heard.on, 3),
            "beat_s": _number(heard.beat.at_s),
            "beat_known_to_s": _number(heard.beat.spread_s),
            "small_s": [_number(at) for at in heard.small_s],
            "main_s": _number(heard.main_s),
            "length_s": _number(heard.length_s),
            "weight": heard.weight or None,
            "weight_db": _number(heard.weight_db),
            "trill": _trill_record(heard.trill),
            "figure": _figure_record(heard),
        },
        "words": row.played,
        "remark": row.remark,
        "differs": row.differs,
    }


def _trill_record(trill: TrillHeard | None) -> dict[str, Any] | None:
    if trill is None:
        return None
    return {
        "notes_a_second": round(trill.rate, 2),
        "first": trill.first if trill.first_sure else None,
        "notes": trill.count,
        "ending": trill.ending,
        "printed_end_heard": trill.printed_end,
    }


def _figure_record(heard: Heard) -> dict[str, Any] | None:
    figure = heard.figure
    if figure is None:
        return None
    return {
        "name": figure.name if figure.sure else None,
        "notes": figure_names(heard.place, figure.keys) if figure.sure and figure.near_sure else None,
        "begins_sure": figure.first_sure,
        "starts_s": [_number(at) for at in figure.starts_s],
        "at_share_of_note": _number(figure.at_share),
    }


def _number(value: float | None) -> float | None:
    return round(value, 4) if value is not None and math.isfinite(value) else None
