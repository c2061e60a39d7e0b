"""A drill for a class: numbered audio files from easy to hard, a sheet to mark answers on, and the key with reasons.

Sheet and key are HTML to be printed; `key.csv` is the key for a program. The levels stand evenly on the ladder, from
its top to three quarters of the way down. The same seed makes the same files.
"""

from __future__ import annotations

import csv
import html
import io
from collections.abc import Callable, Sequence
from pathlib import Path

from appui.drill.answers import CATCH
from appui.drill.kinds import Kind
from appui.drill.sound import hear, opened_font, write_heard
from appui.drill.trial import Material, Trial, answers_of, make_trial
from appui.sound.files import make_folder, write_whole

__all__ = ["make_sheet"]

_LOWEST_SHARE = 0.75
_STYLE = (
    "body{font:16px/1.5 serif;max-width:46em;margin:2em auto;padding:0 1em;color:#111;background:#fff}"
    "table{border-collapse:collapse;width:100%}th,td{border-bottom:1px solid #999;padding:.35em .5em;text-align:left;"
    "vertical-align:top}td.box::before{content:'\\2610\\00a0'}tr{break-inside:avoid}h1{font-size:1.4em}"
    ".name{margin:1.5em 0}"
)


def make_sheet(
    kind: Kind,
    material: Material,
    folder: Path,
    seed: str,
    count: int,
    *,
    soundfont: Path | None = None,
    say: Callable[[str], None] = lambda words: None,
) -> list[Trial]:
    """Write the files into a folder and return the trials; raises the errors of rendering and writing."""
    make_folder(folder)
    answers, trials = answers_of(kind, seed, count), []
    with opened_font(soundfont) as font:
        for number, answer in enumerate(answers):
            level = kind.ladder.level(round(kind.ladder.rungs * _LOWEST_SHARE * number / max(count - 1, 1)))
            trial = make_trial(kind, material, seed, number, level, answer)
            write_heard(hear(trial, font), folder / _file(number))
            trials.append(trial)
            say(_file(number))
    write_whole(folder / "answers.html", _answers(kind, count).encode())
    write_whole(folder / "key.html", _key(kind, trials).encode())
    write_whole(folder / "key.csv", _csv(trials).encode())
    return trials


def _file(number: int) -> str:
    return f"{number + 1:02}.wav"


def _answers(kind: Kind, count: int) -> str:
    boxes = "".join(f'<td class="box">{html.escape(answer)}</td>' for answer in kind.answers)
    rows = "".join(f"<tr><td>{number + 1}</td>{boxes}</tr>" for number in range(count))
    twice = " Each file plays the phrase twice." if kind.intervals == 2 else ""
    name = '<p class="name">Name: ______________________________ &nbsp; Date: ____________</p>'
    intro = f"<p>Mark one answer for every file.{twice} They get harder. Not sure: guess.</p>"
    return _page(kind.question, f"{name}{intro}<table>{rows}</table>")


def _key(kind: Kind, trials: Sequence[Trial]) -> str:
    rows = "".join(
        f"<tr><td>{trial.number + 1}</td><td>{html.escape(_right(trial))}</td>"
        f"<td>{html.escape(kind.ladder.words(trial.level))}</td><td>{html.escape(trial.why)}</td></tr>"
        for trial in trials
    )
    head = f"<tr><th></th><th>right</th><th>{html.escape(kind.ladder.of)}</th><th>why</th></tr>"
    return _page(f"Key: {kind.question}", f"<table>{head}{rows}</table>")


def _right(trial: Trial) -> str:
    return "equal: no answer is right" if trial.answer == CATCH else trial.kind.answers[trial.answer]


def _csv(trials: Sequence[Trial]) -> str:
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(("file", "kind", "right", "level", "unit", "music"))
    for trial in trials:
        ladder = trial.kind.ladder
        row = (_file(trial.number), trial.kind.name, _right(trial), f"{trial.level:.4g}", ladder.unit, trial.origin)
        writer.writerow(row)
    return out.getvalue()


def _page(title: str, body: str) -> str:
    return (
        f'<!DOCTYPE html>\n<html lang="en"><head><meta charset="utf-8"><title>{html.escape(title)}</title>'
        f"<style>{_STYLE}</style></head><body><h1>{html.escape(title)}</h1>{body}</body></html>\n"
    )
