"""Everything the page knows, as plain data: the signs with their readings, the passages, the pictures, the sheets.

Times named `_s` without a tempo are seconds at the written tempo; at a practice tempo they are divided by its factor.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from itertools import pairwise
from typing import Any

from appui.compare.excerpts import readings_of
from appui.compare.survey import ornament_record
from appui.exact import Fraction, fraction_of
from appui.interpret.hearing import heard_as
from appui.interpret.interpretation import Interpretation, choice_by
from appui.page.lettering import Label
from appui.page.passages import RING_S, Heard, Passage, Span
from appui.page.sheets import HEAD_S, MP3_RATE, TICK_S, Sheet
from appui.page.staves import PRINTED, Staves
from appui.page.words import (
    group_of,
    harmony_rows,
    makers,
    mark_of,
    pretty,
    pretty_pitch,
    printed,
    reading_words,
    verdict_line,
)  # fmt: skip
from appui.plan.embellishment import entry_text
from appui.plan.matching import music_of
from appui.score.model import Bar
from appui.score.movements import movement_of, movements
from appui.score.signs import Sign, beat_name
from appui.style.table import load_style

__all__ = ["Picture", "labels_of", "page_record", "readings_at"]

#  names of the drawn parts of a sign: its small notes, its other signs, its main note
Picture = tuple[tuple[str, ...], tuple[str, ...], str]
_READINGS = 3
_KNOWN = {"read": "read in a copy", "memory": "from memory", "common practice": ""}


def readings_at(interpretation: Interpretation, sign: Sign, styles: Sequence[str]) -> list[str]:
    """The readings to be heard at a sign, no two alike: the chosen one, the styles', others up to three."""
    choice = interpretation.choices[sign.place]
    named = [choice.reading.text, *(readings_of(interpretation, sign, styles) if len(styles) > 1 else ())]
    ways = heard_as(interpretation, sign, [*named, *choice.alternatives])
    kept = list(dict.fromkeys(ways[words] for words in named))
    more = [words for words in choice.alternatives if ways[words] == words and words not in kept]
    return kept + more[: max(_READINGS - len(kept), 0)]


def _whose(interpretation: Interpretation, sign: Sign, styles: Sequence[str]) -> dict[str, list[str]]:
    """By reading, the styles that would have it; where theirs sounds like another one before it, that one."""
    if len(styles) < 2:
        return {}
    by_style = {name: choice_by(interpretation, sign, load_style(name)).reading.text for name in styles}
    ways = heard_as(interpretation, sign, [interpretation.choices[sign.place].reading.text, *by_style.values()])
    return {words: [name for name, own in by_style.items() if ways[own] == words] for words in ways.values()}


def labels_of(
    interpretation: Interpretation, signs: Sequence[Sign], pictures: Mapping[str, Picture]
) -> Iterator[Label]:
    """What is lettered into the picture at each sign."""
    for number, sign in enumerate(signs):
        (small, drawn, main), verdict = pictures[sign.place], interpretation.analysis.verdict(sign)
        word = mark_of(interpretation.choices[sign.place].reading) + (
            "?" if verdict is not None and verdict.doubtful else ""
        )
        yield Label(f"word-{number}", word, (*small, *drawn, main), harmony_rows(verdict), _beat(sign, small, main))


def _beat(sign: Sign, small: Sequence[str], main: str) -> str:
    """What the harmony stands under: after-notes have the harmony they lead into, so it stands under themselves."""
    return small[0] if sign.kind == "after-notes" and small else main


def page_record(
    interpretation: Interpretation,
    signs: Sequence[Sign],
    passages: Sequence[Passage],
    tempos: Sequence[tuple[str, Fraction]],
    groups: Sequence[tuple[Sheet, ...]],
    pictures: Mapping[str, Picture],
    readings: Mapping[str, Sequence[str]],
    styles: Sequence[str],
    staves: Staves,
) -> dict[str, Any]:
    """The page's data. `pictures` has by sign the names of its small notes, its other drawn parts, and its main note.

    `readings` are what is heard at each sign that sounds; `groups` are the sheets of each passage at each tempo, tempo
    after tempo in each passage.
    """
    score = interpretation.score
    heard = [Heard(interpretation.at_tempo(None), passage) for passage in passages]
    passage_of = {
        (sign.place, passage.words): number for number, passage in enumerate(passages) for sign in passage.signs
    }
    first = score.tempos[0]
    return {
        "title": score.title,
        "file": score.file,
        "sha256": score.sha256,
        "creators": makers(score.creators),
        "solo": interpretation.solo.name,
        "movement": interpretation.wishes.movement or "",
        "style": interpretation.style.name,
        "plan": interpretation.plan.file if interpretation.plan else "",
        "beat": {"per_minute": float(first.qpm / score.bars[0].meter.beat_q), "origin": first.origin},
        **reading_words(),
        "tempos": [{"name": name, "factor": float(factor)} for name, factor in tempos],
        "sound": {"rate": MP3_RATE, "head_s": HEAD_S, "tick_s": TICK_S, "ring_s": RING_S},
        "signs": [
            _sign_record(
                interpretation,
                sign,
                heard,
                passage_of,
                (pictures[sign.place], f"word-{number}"),
                readings.get(sign.place, [interpretation.choices[sign.place].reading.text]),
                styles,
                staves,
            )
            for number, sign in enumerate(signs)
        ],
        "passages": [_passage_record(interpretation, each) for each in heard],
        "sheets": list(_sheet_records(signs, len(tempos), groups)),
    }


def _sign_record(
    interpretation: Interpretation,
    sign: Sign,
    heard: Sequence[Heard],
    passage_of: Mapping[tuple[str, str | None], int],
    drawing: tuple[Picture, str],
    readings: Sequence[str],
    styles: Sequence[str],
    staves: Staves,
) -> dict[str, Any]:
    told, choice = ornament_record(interpretation, sign), interpretation.choices[sign.place]
    verdict = interpretation.analysis.verdict(sign)
    event, bar = sign.main(interpretation.score), interpretation.score.bars[sign.main(interpretation.score).bar]
    passage = passage_of.get((sign.place, None))
    (small, drawn, main), word = drawing
    whose = _whose(interpretation, sign, styles) if choice.realized else {}
    return {
        "place": sign.place,
        "bar": told["bar"],
        "movement": _movement(interpretation, bar),
        "barIndex": bar.index,
        "beat": beat_name(bar, event.onset_q - bar.onset_q),
        "perMinute": float(interpretation.score.tempo_at(event.onset_q).qpm / bar.meter.beat_q),
        "kind": sign.kind,
        "music": music_of(interpretation.score, sign),
        "small": bool(sign.small),
        "printed": printed(interpretation, sign),
        "verdict": verdict_line(sign, verdict, choice),
        "doubtful": bool(verdict is not None and sign.small and verdict.known and verdict.doubtful),
        "harmony": _harmony_record(interpretation, told, sign),
        "reason": _without_verdict(choice.reason, verdict.words if verdict is not None else ""),
        "source": choice.source,
        "known": "" if choice.source == choice.by else _KNOWN.get(choice.known, choice.known),
        "by": choice.by,
        "readings": [
            _reading_record(interpretation, sign, words)
            | {
                "whose": whose.get(words, []),
                **_staves_record(staves, sign.place, words),
                "passage": passage_of.get((sign.place, words), passage),
            }
            for words in readings
        ],
        "asPrinted": staves.pictures.get((sign.place, PRINTED), ""),
        "picture": {"small": small, "drawn": drawn, "main": main, "word": word},
        "passage": passage,
        "embellishment": _entry(interpretation, sign),
        "excerpt": _span_record(heard[passage].excerpt(sign, readings)) if passage is not None else None,
    }


def _movement(interpretation: Interpretation, bar: Bar) -> str:
    """The name of the movement, for a bar whose number comes more than once in a score of several movements."""
    bars, found = interpretation.score.bars, movements(interpretation.score)
    twice = sum(other.number == bar.number for other in bars) > 1
    return movement_of(found, bar.index).name if twice and len(found) > 1 else ""


def _entry(interpretation: Interpretation, sign: Sign) -> str:
    """The line of a plan that holds the player's own notes at a sign, empty where there are none."""
    found = interpretation.embellishments.get(sign.place)
    return entry_text(found.place, found.free) if found is not None else ""


def _without_verdict(reason: str, words: str) -> str:
    return reason.replace(f"{words}; ", "", 1) if words else reason


def _staves_record(staves: Staves, place: str, words: str) -> dict[str, str]:
    """A reading as it is written out: shorthand where there is one, then the exact notes too."""
    exact, short = staves.pictures.get((place, words), ""), staves.short.get((place, words), "")
    return {"written": short or exact, "exact": exact if short else ""}


def _span_record(span: Span) -> dict[str, float]:
    return {key: round(seconds, 5) for key, seconds in span._asdict().items()}


def _harmony_record(interpretation: Interpretation, told: Mapping[str, Any], sign: Sign) -> dict[str, Any] | None:
    harmony = told["harmony"]
    if harmony is None:
        return None
    score = interpretation.score
    return {
        "chord": pretty(harmony["label"]),
        "figure": harmony["figure"],
        "roman": harmony["roman"],
        "key": harmony["key"],
        "words": harmony["words"] if sign.small else "",
        "confidence": round(harmony["confidence"], 3),
        "runnerUp": pretty(harmony["runner_up"]),
        "evidence": [
            f"{one['part']}: {pretty_pitch(one['pitch'])}, {_moment(score, one['start_q'])}"
            for one in told["evidence"][:12]
        ],
    }


def _moment(score: Any, onset_q: str) -> str:
    at_q = fraction_of(onset_q)
    bar = score.bar_at(at_q)
    return f"bar {bar.number}, beat {beat_name(bar, at_q - bar.onset_q)}"


def _reading_record(interpretation: Interpretation, sign: Sign, words: str) -> dict[str, Any]:
    reading = interpretation.reading(sign.place, words) if interpretation.choices[sign.place].realized else None
    return {
        "words": words,
        "mark": mark_of(reading) if reading else "plain",
        "group": group_of(reading) if reading else "other",
        "heard": True,
    }


def _passage_record(interpretation: Interpretation, heard: Heard) -> dict[str, Any]:
    bars = interpretation.score.bars
    first, last = heard.passage.first, heard.passage.last
    starts = heard.bar_starts()
    assert all(one < other for one, other in pairwise(starts))
    return {
        "first": bars[first].number,
        "last": bars[last].number,
        "barIndex": first,
        "starts_s": [round(start, 5) for start in starts],
        **_span_record(heard.span(first, last)),
    }


def _sheet_records(signs: Sequence[Sign], tempos: int, groups: Sequence[tuple[Sheet, ...]]) -> Iterator[dict[str, Any]]:
    numbers = {sign.place: number for number, sign in enumerate(signs)}
    key = 0
    for index, group in enumerate(groups):
        passage, tempo = divmod(index, tempos)
        for sheet in group:
            yield {
                "key": key,
                "passage": passage,
                "tempo": tempo,
                "role": sheet.role,
                "placed": [
                    [numbers[one.place], one.reading, *(round(s, 5) for s in (one.start_s, one.end_s, one.at_s))]
                    for one in sheet.placed
                ],
            }
            key += 1
