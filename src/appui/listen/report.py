"""What was played beside what was decided, in words and as data: what differs first.

Words are for a player at the stand; the numbers of `record` are for programs. Nothing is a mark: where a length or a
weight cannot be told it is left out, and where a place cannot be told the reason stands there. Times are against the
pulse of the take itself, not a clock.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from typing import NamedTuple

from appui.listen.figure_words import (
    OTHER_S,
    OTHER_SHARE,
    decided_figure,
    figure_differs,
    figure_remarks,
    figure_words,
    length_words,
)
from appui.listen.judge import EVEN_DB, Heard
from appui.listen.line import Place
from appui.listen.listen import Report
from appui.listen.trilled import TrillHeard
from appui.text import counted

__all__ = ["CANNOT_KNOW", "Told", "differs", "records_csv", "side_by_side", "summary", "told", "told_at"]

CANNOT_KNOW = (
    "A measured fact, not a mark: against the pulse of this take, not a clock. Your teacher, the edition and your ear "
    "decide."
)
#  a weight decided and one heard that cannot be the same
_OPPOSITE = {
    ("heavier", "lighter"),
    ("heavier", "not heavier"),
    ("lighter", "heavier"),
    ("lighter", "not lighter"),
}
#  a small note so short is played at its own speed, whatever the tempo
_QUICK_S = 0.15


class Told(NamedTuple):
    """One place in words: printed, decided, played, what follows from it; `differs` 0 (as decided) to 3 (most)."""

    place: str
    printed: str
    decided: str
    played: str
    remark: str
    differs: int
    at_s: float


def told(report: Report) -> list[Told]:
    """Every place in words, what differs first, what cannot be told last."""
    rows = [told_at(each) for each in report.places]
    return sorted(rows, key=lambda row: (-row.differs, row.at_s))


def told_at(heard: Heard) -> Told:
    """One place in words."""
    place = heard.place
    return Told(
        place.name,
        _printed(place),
        _decided(place),
        _played(heard),
        _remark(heard),
        differs(heard),
        heard.beat.at_s if math.isfinite(heard.beat.at_s) else math.inf,
    )


def _printed(place: Place) -> str:
    count = len(place.small)
    if not count:
        return place.sign.kind
    names = " ".join(max(each.written, key=lambda pitch: pitch.midi).pretty for each in place.sign.small)
    return f"{'small note' if count == 1 else f'{count} small notes'} {names}"


def _decided(place: Place) -> str:
    decided = place.decided
    if place.written is not None:
        return decided_figure(place)
    if not place.small or not decided.length_s:
        return decided.words
    ms = length_words(decided.length_s)
    return f"{decided.words}: {_WHERE[decided.placement]}, {ms}{_comma(_weight_word(decided.weight_db))}"


_WHERE = {"before": "before the beat", "on": "on the beat", "after": "after the beat"}


def _comma(word: str) -> str:
    return f", {word}" if word else ""


def _weight_word(weight_db: float | None) -> str:
    if weight_db is None or math.isnan(weight_db):
        return ""
    return "heavier" if weight_db > EVEN_DB else "lighter" if weight_db < -EVEN_DB else "about the same weight"


def _played(heard: Heard) -> str:
    if heard.how == "cannot tell":
        return "cannot tell"
    if heard.how == "left out":
        return "left out"
    if heard.trill is not None:
        return _trill_words(heard.trill)
    if heard.figure is not None:
        return figure_words(heard)
    if heard.how == "not on":
        return "not on the beat: before it, or left out"
    words = _WHERE[heard.how]
    if math.isfinite(heard.length_s):
        words += f", {length_words(heard.length_s)}"
    words += _comma(f"{heard.weight} weight" if heard.weight == "about the same" else heard.weight)
    return words + (" (fairly sure)" if heard.confidence < 0.97 else "")


def _trill_words(trill: TrillHeard) -> str:
    begin = f"begins on the {trill.first} note" if trill.first_sure else "its first note cannot be told"
    return f"trill: {begin}, {trill.count} notes, {trill.rate:.0f} a second, {_ending_words(trill)}"


def _ending_words(trill: TrillHeard) -> str:
    if trill.printed_end is not None:
        return f"the printed notes at its end {'heard' if trill.printed_end else 'not heard'}"
    return "with termination" if trill.ending == "termination" else "without termination"


def _remark(heard: Heard) -> str:
    said = list(heard.why)
    if heard.how == "on" and heard.small_s and abs(heard.lead_s) > 0.005:
        side = "before" if heard.lead_s > 0 else "after"
        said.append(f"{1000 * abs(heard.lead_s):.0f} ms {side} the beat: on it, as far as can be told")
    decided = heard.place.decided
    if heard.place.written is not None and heard.trill is None:
        return "; ".join([*said, *figure_remarks(heard)])
    if heard.trill is not None and not heard.trill.first_sure:
        said.append("the note before it has the pitch of its first")
    if heard.how == "left out" and heard.place.small:
        said.append("no small note is heard here")
    if heard.how in ("before", "on") and math.isfinite(heard.length_s) and _other_length(heard) and decided.length_s:
        said.append(f"{'longer' if heard.length_s > decided.length_s else 'shorter'} than decided")
    return "; ".join(said)


def _other_length(heard: Heard) -> bool:
    """Whether the small notes took longer or shorter than decided.

    Where a track is slower than the score, short ones may be as quick as at its own tempo: both are played.
    """
    wanted = heard.place.decided.length_s * heard.beat.pace
    give = max(OTHER_SHARE * wanted, OTHER_S)
    least = wanted / max(heard.place.pace, 1.0) if wanted / heard.place.pace < _QUICK_S else wanted
    return not least - give <= heard.length_s <= wanted + give


def differs(heard: Heard) -> int:
    """How far what was played is from what was decided: 3 the placement, 2 the length, 1 the weight, 0 not.

    -1 where it cannot be told.
    """
    decided = heard.place.decided
    if heard.how == "cannot tell":
        return -1
    if heard.trill is not None:
        return 2 * _other_trill(heard.trill, heard.place)
    if heard.place.written is not None:
        return figure_differs(heard)
    played = {"before": "before", "on": "on", "not on": "before", "left out": "plain"}.get(heard.how, "")
    wanted = "plain" if decided.words == "plain" else decided.placement
    if played != wanted:
        return 3
    if math.isfinite(heard.length_s) and decided.length_s and heard.how in ("before", "on") and _other_length(heard):
        return 2
    opposite = (_weight_word(decided.weight_db), heard.weight) in _OPPOSITE
    return int(opposite)


def _other_trill(trill: TrillHeard, place: Place) -> bool:
    """Whether a trill began on another note than decided, or ended otherwise."""
    notes, words = place.decided.notes, place.decided.words
    if not words.startswith("trill") or not notes:
        return False
    upper = notes[0] >= place.upper
    other_first = trill.first_sure and (trill.first == "upper") != upper
    if trill.printed_end is not None:
        return other_first or not trill.printed_end
    return other_first or ("with termination" in words and trill.ending == "plain")


def summary(report: Report) -> str:
    """The take in a sentence."""
    rows = [differs(heard) for heard in report.places]
    if not rows:
        return "No ornament in these bars that can be listened for: small notes, trills, turns, mordents, slides."
    counts = [f"{sum(row > 0 for row in rows)} otherwise than decided", f"{rows.count(0)} as decided"]
    silent = rows.count(-1)
    return (
        f"{counted(len(rows), 'place')}: {', '.join(counts)}" + (f", {silent} cannot be told" if silent else "") + "."
    )


def side_by_side(reports: Sequence[Report]) -> list[tuple[str, str, str, list[str]]]:
    """How several takes play each place: its name, what is printed and decided, then a short word a take."""
    rows = []
    for name, printed, decided, cells in _rows(reports):
        words = [
            ", ".join(filter(None, (how, f"{ms} ms" if ms else "", weight)))
            for how, ms, weight in zip(cells[::3], cells[1::3], cells[2::3], strict=True)
        ]
        rows.append((name, printed, decided, words))
    return rows


def records_csv(reports: Sequence[Report]) -> str:
    """How several takes play each place: a row a place, three columns a take (how, ms, weight)."""
    import csv
    import io

    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    heads = [f"{report.file}: {what}" for report in reports for what in ("how", "ms", "weight")]
    writer.writerow(["place", "printed", "decided", *heads])
    for name, printed, decided, cells in _rows(reports):
        writer.writerow([name, printed, decided, *cells])
    return out.getvalue()


def _rows(reports: Sequence[Report]) -> Iterable[tuple[str, str, str, list[str]]]:
    names = dict.fromkeys(heard.place.name for report in reports for heard in report.places)
    by_name = [{heard.place.name: heard for heard in report.places} for report in reports]
    for name in names:
        place = next(each[name].place for each in by_name if name in each)
        cells = [cell for each in by_name for cell in _cells(each.get(name))]
        yield name, _printed(place), place.decided.words, cells


def _cells(heard: Heard | None) -> tuple[str, str, str]:
    if heard is None:
        return "not in these bars", "", ""
    if heard.trill is not None:
        return _trill_words(heard.trill), "", ""
    told = heard.how in ("before", "on") or heard.figure is not None
    length = f"{1000 * heard.length_s:.0f}" if math.isfinite(heard.length_s) and told else ""
    return heard.how if heard.figure is None else figure_words(heard), length, heard.weight
