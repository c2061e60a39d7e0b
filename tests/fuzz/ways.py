"""What is done with a mutant: the ways a file can take through the rooms, each ending in words for what became of it.

A way takes the file and a source of chance and returns ``result`` or the name of the error of ours it ended in;
whatever else leaves it is a finding. Where the room has laws of its own they are asked for: what `notate` writes is
read again and has the bars and the other parts of the score, a page holds no script but its own.
"""

from __future__ import annotations

import random
import re
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any
from unittest.mock import patch

from appui.accompany.chart import read_chart
from appui.compare.survey import select
from appui.drill.kinds import KINDS
from appui.drill.places import usable
from appui.drill.results import known_rows, result_of, results_of
from appui.drill.store import rows_from_json
from appui.drill.trial import Material, make_trial
from appui.embellish.choose import propose
from appui.embellish.keep import plan_with
from appui.embellish.model import Wish
from appui.embellish.places import find_places
from appui.errors import AppuiError, StoreError
from appui.interpret.interpretation import interpret
from appui.interpret.wishes import Wishes
from appui.musicxml.read.score import score_of
from appui.musicxml.read.source import parse_text
from appui.notate.output import notated, pages_of
from appui.notate.tree import KEEPS
from appui.page import sheets
from appui.page.build import make_page
from appui.perform.play import play
from appui.practice.plan import make_track
from appui.practice.track import whole_performance
from appui.practice.week import make_week, read_week
from appui.practice.words import wish_of
from appui.score.bars import bar_range
from appui.score.model import Score
from appui.sound.midi import midi_bytes
from appui.sound.tuning import read_cents
from appui.text import text_of
from tests.fuzz.laws import LawBrokenError, outcome, score_faults
from tests.fuzz.mutants import Mutant, corpus, mutant
from tests.fuzz.texts import FERRY, text_mutant

__all__ = ["WAYS", "Way"]

Way = Callable[[Path, random.Random], str]


def _refusable(work: Callable[[Path, random.Random], object]) -> Way:
    """An error of ours is a lawful end."""

    def way(path: Path, chance: random.Random) -> str:
        try:
            work(path, chance)
        except AppuiError as error:
            return type(error).__name__
        return "result"

    return way


# scores


def _notate(path: Path, chance: random.Random) -> None:
    interpretation = interpret(path, Wishes(pattern="none", slowing="natural"))
    keep = chance.choice(KEEPS)
    text, _ = notated(path, interpretation, keep, labels=chance.random() < 0.5)
    try:
        again = score_of(parse_text(text, "written.musicxml").root, "written.musicxml")
    except AppuiError as error:
        raise LawBrokenError(f"what was written cannot be read: {error}") from error
    if faults := [*score_faults(again), *_unlike(interpretation.score, again, interpretation.solo.index, keep)]:
        raise LawBrokenError("; ".join(faults[:3]))
    if chance.random() < 0.1:
        pages_of(text, path.name)


def _unlike(score: Score, again: Score, solo: int, keep: str) -> Iterator[str]:
    """What is otherwise in the score written than in the one read, but for the solo."""
    if [bar.length_q for bar in score.bars] != [bar.length_q for bar in again.bars]:
        yield "other bars"
    own = {solo} if keep == "replace" else {len(again.parts) - len(score.parts) and solo}
    others = [part for part in score.parts if part.index not in own | {solo}]
    added = len(again.parts) - len(score.parts)
    for part in others:
        found = again.parts[part.index + (added if part.index > solo else 0)]
        if _heard(part) != _heard(found):
            yield f"part {part.index} is otherwise"


def _heard(part: Any) -> list[tuple[Any, ...]]:
    return sorted(
        (event.onset_q, event.duration_q, tuple(str(note.sounding) for note in event.notes))
        for voice in part.voices
        for event in voice.events
        if event.notes
    )


@contextmanager
def _unheard() -> Iterator[None]:
    """Pages without their sound: it would take most of the time, and is the synthesizer's."""
    with (
        patch.object(sheets, "_render", lambda job, soundfont, file: 0.0),
        patch.object(sheets, "_coded", lambda file, gain: b"sound"),
    ):
        yield


def _page(path: Path, chance: random.Random) -> None:
    interpretation = interpret(path)
    signs = select(interpretation, all_parts=False, bars=None)
    output = path.with_name("page.html")
    with _unheard():
        make_page(
            interpretation,
            path,
            output,
            signs,
            bar_range(interpretation.score, None),
            ("100%",),
            styles=chance.choice([(), ("tuerk-1789",)]),
        )
    text = output.read_text(encoding="utf-8")
    scripts = re.findall(r"<script[^>]*>", text)
    if len(scripts) != text.count("</script>") or any("src" in each for each in scripts):
        raise LawBrokenError("a script that is not the page's")


def _wish(chance: random.Random) -> dict[str, Any]:
    """Some wishes, most of them lawful."""
    choices: dict[str, tuple[Any, ...]] = {
        "mode": ("along", "guide", "echo", "alternate"),
        "tempo": (["50%..100%"], ["72"], ["100%", "30%"]),
        "times": (1, 2, 5),
        "count-in": (0, 1, 8),
        "click": ("beats", "bar", "subdivided", "3+2", "beats,silent"),
        "gap": (0, 1, 8),
        "drone": ("1", "5", "Bb2"),
        "transpose": ("M2", "-m3", "-12", "A4"),
        "repeats": (True, False),
        "bars": ("1-2", "2", "1-4"),
        "pitch": (415,),
    }
    return {key: chance.choice(values) for key, values in choices.items() if chance.random() < 0.4}


def _practice(path: Path, chance: random.Random) -> None:
    interpretation = interpret(path)
    track = make_track(interpretation, wish_of(_wish(chance)), title="a")
    performance = whole_performance(track)
    late = [note for part in performance.parts for note in part.notes if note.onset_s < 0 or note.duration_s <= 0]
    if late:
        raise LawBrokenError(f"a note at {late[0].onset_s} s that lasts {late[0].duration_s} s")
    midi_bytes(performance)


def _embellish(path: Path, chance: random.Random) -> None:
    interpretation, wish = interpret(path), Wish(count=2, seed=chance.randrange(9))
    found = [propose(interpretation, place, wish) for place in find_places(interpretation, wish)[0]]
    kept = {each.place.place: 1 for each in found if each.proposals}
    plan = path.with_name("plan.toml")
    plan.write_text(plan_with(interpretation, found, kept), encoding="utf-8")
    try:
        embellished = interpret(path, Wishes(plan=plan))
    except AppuiError as error:
        raise LawBrokenError(f"the plan cannot be read: {error}") from error
    midi_bytes(play(embellished, embellished.order(None, repeats=True)))


def _drill(path: Path, chance: random.Random) -> None:
    interpretation = interpret(path)
    refused: AppuiError | None = None
    for kind in KINDS.values():
        try:
            material = Material(tuple(usable(interpretation, kind)))
        except AppuiError as error:
            refused = error
            continue
        material.lacks(kind)
        for number in range(3):
            level = kind.ladder.level(chance.randrange(kind.ladder.rungs + 1))
            trial = make_trial(kind, material, "a", number, level, chance.randrange(len(kind.answers)))
            for performance in trial.intervals:
                midi_bytes(performance)
    if refused is not None:
        raise refused


# texts


def _plan(path: Path, chance: random.Random) -> None:
    interpretation = interpret(FERRY, Wishes(plan=path))
    midi_bytes(play(interpretation, interpretation.order(None, repeats=False)))


def _style(path: Path, chance: random.Random) -> None:
    interpretation = interpret(FERRY, Wishes(style=str(path), year=chance.choice((None, 1760))))
    midi_bytes(play(interpretation, interpretation.order(None, repeats=False)))


def _chart(path: Path, chance: random.Random) -> None:
    read_chart(path, interpret(FERRY).score)
    interpretation = interpret(FERRY, Wishes(chart=path))
    midi_bytes(play(interpretation, interpretation.order(None, repeats=False)))


def _set(path: Path, chance: random.Random) -> None:
    week = read_week(path)
    # where a mutant would write elsewhere, or render for long, it is only read
    if week.folder.resolve().parent != path.parent.resolve() or path.read_bytes().count(b"mid") != 1:
        return
    if sum(len(wish.tempos) * wish.times for _, wish in week.tracks) < 60:
        make_week(week)


def _export(path: Path, chance: random.Random) -> None:
    rows = known_rows(rows_from_json(text_of(path, StoreError, "file of results", ""), path), path)
    results_of(rows)
    if rows:
        result_of([row for row in rows if row.kind == rows[0].kind])


def _score_mutant(seed: int) -> Mutant:
    return mutant(seed, corpus())


#  a way's name: the file's, how a mutant is made, what is done with it
WAYS: dict[str, tuple[str, Callable[[int], Mutant], Way]] = {
    "midi": ("mutant.musicxml", _score_mutant, outcome),
    "notate": ("mutant.musicxml", _score_mutant, _refusable(_notate)),
    "page": ("mutant.musicxml", _score_mutant, _refusable(_page)),
    "practice": ("mutant.musicxml", _score_mutant, _refusable(_practice)),
    "embellish": ("mutant.musicxml", _score_mutant, _refusable(_embellish)),
    "drill": ("mutant.musicxml", _score_mutant, _refusable(_drill)),
    "plan": ("mutant.toml", lambda seed: text_mutant("plan", seed), _refusable(_plan)),
    "style": ("mutant.toml", lambda seed: text_mutant("style", seed), _refusable(_style)),
    "chart": ("mutant.txt", lambda seed: text_mutant("chart", seed), _refusable(_chart)),
    "set": ("mutant.toml", lambda seed: text_mutant("set", seed), _refusable(_set)),
    "cents": ("mutant.txt", lambda seed: text_mutant("cents", seed), _refusable(lambda path, chance: read_cents(path))),
    "export": ("mutant.json", lambda seed: text_mutant("export", seed), _refusable(_export)),
}
