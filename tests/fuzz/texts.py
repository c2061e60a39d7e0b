"""Mutants of a player's text files: plans, styles, charts, sets, cents, lists, exports of results.

Lines are dropped, doubled, swapped; a value, a word or a number in a line gives way to another of the same file or to
what a slip or ill will may write; a few bytes are spoiled. Most still are tables, so that they reach what reads them.
"""

from __future__ import annotations

import random
import re
from collections.abc import Callable
from dataclasses import replace
from functools import lru_cache
from importlib.resources import files
from pathlib import Path

from appui.accompany.propose import chart_text
from appui.drill.kinds import KINDS
from appui.drill.store import Row, rows_to_json
from appui.embellish.choose import propose
from appui.embellish.keep import plan_with
from appui.embellish.model import Wish
from appui.embellish.places import find_places
from appui.interpret.interpretation import Interpretation, interpret
from appui.plan.plan import music_text, plan_text
from appui.style.table import style_names
from tests.fuzz.mutants import Mutant

__all__ = ["FERRY", "SEEDS", "text_mutant"]

FERRY = Path(str(files("appui.demo").joinpath("ferry.musicxml")))
_SPOILT = (
    "", "0", "-1", "1", "7", "1/2", "3/0", "1e400", "nan", "inf", "9" * 30, "9" * 5_000, "0x10", "1979-05-27", "true",
    "[]", "{}", "[[[[1]]]]", '""', '"x"', "'", '"', "\\", "{tempo}", "{length}", "{", "}", "%", "100%..1%", "..",
    "../a", "/", "a/b", "#", "=", "\t", "\u202e", "é", "x" * 3_000, "leaning", "leaning 1/2", "leaning 400 ms",
    "before", "plain", "trill upper 4", "turn", ">= 1/2", "< 0", "yes", "V6/5", "i", "G7/B", "N6", "key",
    "key C major", "bar", "every 3 bars", "3+2+2", "solo=-12,click=off", "-P5", "M99", "a" * 40, "1-2", "2-1",
    "0-99", "oboe.4.1", "0.1.1", "x.y.z",
)  # fmt: skip
_SET = f"""score = "{FERRY}"
folder = "out"
solo = "oboe"
style = "harmony"
pattern = "loud-soft"
formats = ["mid"]
click = "beats"
count-in = 2
[[track]]
name = "a {{tempo}} {{mode}}"
bars = "1-2"
tempo = ["50%..100%", "72"]
steps = 3
times = 2
gap = 1
pan = 30
levels = "solo=-6,click=-3"
[[track]]
name = "b"
mode = "alternate"
bars = "4-5"
change = ["oboe.4.1=before"]
transpose = "-m3"
pitch = 415
tuning = "vallotti"
key-note = "D"
drone = "5"
repeats = false
[[track]]
name = "c"
mode = "echo"
click = "2+4,silent"
"""


@lru_cache
def _session() -> Interpretation:
    return interpret(FERRY)


def _plan() -> str:
    interpretation = _session()
    choices = [replace(interpretation.choices[sign.place], by="--take") for sign in interpretation.signs]
    return plan_text(interpretation.score, "harmony", choices) + music_text(interpretation.score, interpretation.signs)


def _embellished() -> str:
    interpretation, wish = _session(), Wish()
    found = [propose(interpretation, place, wish) for place in find_places(interpretation, wish)[0]]
    return plan_with(interpretation, found, {each.place.place: 1 for each in found if each.proposals})


def _rows() -> str:
    kinds = list(KINDS.values())[:3]
    moments = [f"2026-01-0{day}T12:00:00+00:00" for day in range(1, 10)]
    return rows_to_json([
        Row("Ada", f"s{n % 3}", n, moments[n % 9], kinds[n % 3].name, 2.0 + n % 3, kinds[n % 3].ladder.unit,
            n % 2, n % 3 % 2, 2 + n % 2)
        for n in range(12)
    ])  # fmt: skip


#  what it is, and texts to begin with
SEEDS: dict[str, Callable[[], tuple[str, ...]]] = {
    "plan": lambda: (_plan(), _embellished()),
    "style": lambda: tuple(
        files("appui.style").joinpath("tables", f"{name}.toml").read_text(encoding="utf-8")
        for name in style_names()
        if name != "measured"
    ),
    "chart": lambda: (
        chart_text(_session().score, _session().solo, toml=False),
        "key G minor\n1 i\n2.2+1/3 V6/5\n5 D7/F#\n8 viio7/V\n",
    ),
    "set": lambda: (_SET,),
    "cents": lambda: ("0\n90.2\n193.2\n294.1\n386.3\n498\n588.3\n696.6\n792.2\n889.7\n996.1\n1088.3\n", "0 # c\n" * 12),
    "export": lambda: (_rows(),),
}
_seeds = lru_cache(lambda kind: SEEDS[kind]())

Mutation = Callable[[random.Random, list[str]], None]


def _at(chance: random.Random, lines: list[str]) -> int:
    return chance.randrange(len(lines))


def _drop(chance: random.Random, lines: list[str]) -> None:
    if len(lines) > 1:
        del lines[_at(chance, lines)]


def _double(chance: random.Random, lines: list[str]) -> None:
    lines.insert(_at(chance, lines), chance.choice(lines))


def _swap(chance: random.Random, lines: list[str]) -> None:
    one, other = _at(chance, lines), _at(chance, lines)
    lines[one], lines[other] = lines[other], lines[one]


def _part(pattern: str) -> Mutation:
    """One thing in one line gives way to something spoilt, or to the like out of another line."""
    compiled = re.compile(pattern)

    def mutate(chance: random.Random, lines: list[str]) -> None:
        places = [(number, found.span()) for number, line in enumerate(lines) for found in compiled.finditer(line)]
        if not places:
            return
        number, (start, end) = chance.choice(places)
        other, (from_, to) = chance.choice(places)
        new = chance.choice((chance.choice(_SPOILT), lines[other][from_:to]))
        lines[number] = lines[number][:start] + new + lines[number][end:]

    return mutate


def _letter(chance: random.Random, lines: list[str]) -> None:
    number = _at(chance, lines)
    at = chance.randint(0, len(lines[number]))
    lines[number] = lines[number][:at] + chance.choice("\"'[]{}=.,#\\\0\r 0aé-/%<>") + lines[number][at:]


MUTATIONS: dict[str, Mutation] = {
    "drop": _drop,
    "double": _double,
    "swap": _swap,
    "value": _part(r'(?<== ).+|(?<=": ).+?(?=,?$)'),
    "quoted": _part(r'(?<=")[^"]*(?=")'),
    "word": _part(r"[\w%.+#/-]+"),
    "number": _part(r"\d+"),
    "letter": _letter,
}
_BYTES_ONE_IN = 15


def text_mutant(kind: str, seed: int) -> Mutant:
    """One mutant of a kind of text: one or two mutations."""
    chance = random.Random(f"{kind} {seed}")  # noqa: S311 - repeatable on purpose
    lines = chance.choice(_seeds(kind)).split("\n")
    names = chance.choices(sorted(MUTATIONS), k=chance.randint(1, 2))
    for name in names:
        MUTATIONS[name](chance, lines)
    data = "\n".join(lines).encode("utf-8", "surrogatepass")
    if chance.randrange(_BYTES_ONE_IN) == 0:
        at = chance.randrange(len(data))
        data, names = data[:at] + bytes([chance.randrange(256)]) + data[at + 1 :], [*names, "bytes"]
    return Mutant(data, (kind, *names))
