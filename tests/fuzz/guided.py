"""Fuzzing guided by coverage: inputs that reach new code are kept and mutated further (atheris, libFuzzer).

    pip install -e '.[fuzz]'
    python -m tests.fuzz.guided score FOLDER -max_total_time=600 -rss_limit_mb=1000 -timeout=10

The first word is what is fuzzed (`TARGETS`); FOLDER keeps the inputs found, and starts with two bars of scores and
tables of ours; the rest are libFuzzer's own options. It stops at the first finding and writes it to ``crash-…``.
Scores stay XML mostly: half of their mutations are those of `mutants`, the others libFuzzer's of bytes.
"""

from __future__ import annotations

import io
import os
import random
import sys
import tempfile
import zipfile
from collections.abc import Callable
from contextlib import suppress
from importlib.resources import files
from pathlib import Path
from typing import Any

os.environ["APPUI_CACHE"] = "off"

import atheris
from lxml import etree

with atheris.instrument_imports(include=["appui", "tomllib", "zipfile"]):
    from appui.accompany.chart import read_chart
    from appui.errors import AppuiError
    from appui.musicxml.read.score import read_score
    from appui.musicxml.read.source import load
    from appui.plan.plan import read_plan
    from appui.practice.week import read_week
    from appui.score.signs import find_signs
    from appui.sound.soundfont import programs, soundfont_path
    from appui.sound.tuning import read_cents
    from appui.style.table import load_style, style_names
    from tests.fuzz.laws import outcome
    from tests.fuzz.mutants import MUTATIONS, SEEDLINGS
    from tests.fuzz.texts import SEEDS
    from tests.fuzz.ways import WAYS

_SCORE = read_score(Path(str(files("appui.demo").joinpath("ferry.musicxml"))))
_SIGNS = find_signs(_SCORE)
_PLAN = f'[score]\nsha256 = "{_SCORE.sha256}"\nstyle = "harmony"\n[readings]\n"oboe.12.1" = "leaning 1/2"\n'
_CHART = "key G minor\n1 i\n2.3+1/2 V6/5\n5 D7/F#\n"
_CONTAINER = "<container><rootfiles><rootfile full-path='a/score.xml'/></rootfiles></container>"
_SET = 'score = "a"\n[[track]]\nname = "a {tempo}"\nbars = ["1-2"]\ntempo = "50%..100%"\nsteps = 3\nclick = "beats"\n'


def _refusable(read: Callable[[Path], object]) -> Callable[[Path], None]:
    def target(path: Path) -> None:
        with suppress(AppuiError):
            read(path)

    return target


def _styles() -> list[bytes]:
    return [files("appui.style").joinpath("tables", f"{name}.toml").read_bytes() for name in style_names()]


def _packed() -> list[bytes]:
    """Archives with a container and without."""
    score = SEEDLINGS[1].read_bytes()[:3_000]
    found = [SEEDLINGS[0].read_bytes()]
    for names in (("score.xml",), ("META-INF/container.xml", "a/score.xml")):
        stream = io.BytesIO()
        with zipfile.ZipFile(stream, "w", zipfile.ZIP_DEFLATED) as archive:
            for name in names:
                archive.writestr(name, _CONTAINER if "META" in name else score)
        found.append(stream.getvalue())
    return found


def _soundfonts() -> list[bytes]:
    """The default one without its samples."""
    whole = soundfont_path().read_bytes()
    first, last = whole.index(b"LIST", 12), whole.rindex(b"LIST")
    second = whole.index(b"LIST", first + 4)
    body = b"sfbk" + whole[first:second] + b"LIST\x04\0\0\0sdta" + whole[last:]
    return [b"RIFF" + len(body).to_bytes(4, "little") + body]


def _scores() -> list[bytes]:
    """The first bars of two parts, without their layout: whole scores take fifty times as long and reach no more."""
    return [etree.tostring(_small(load(path).root)) for path in SEEDLINGS]


def _small(root: Any) -> Any:
    for part in root.findall("part")[2:]:
        root.remove(part)
    for part in root.iterfind("part"):
        for measure in part.findall("measure")[2:]:
            part.remove(measure)
    kept = {part.get("id") for part in root.iterfind("part")}
    listed = root.find("part-list")
    for child in [each for each in listed if each.get("id") not in kept]:
        listed.remove(child)
    for child in [each for each in root if each.tag in ("work", "identification", "defaults", "credit")]:
        root.remove(child)
    return root


def _spoilt(data: bytes, most: int, seed: int) -> bytes:
    """A mutation that leaves XML what it is, where it is any, else one of bytes."""
    chance = random.Random(seed)  # noqa: S311 - repeatable on purpose
    if chance.random() < 0.5:
        with suppress(etree.XMLSyntaxError, ValueError, IndexError):
            root = etree.fromstring(data)
            for _ in range(chance.randint(1, 3)):
                MUTATIONS[chance.choice(sorted(MUTATIONS))](chance, list(root.iter("*")))
            spoilt = etree.tostring(root, encoding="utf-8")
            if len(spoilt) <= most:
                return bytes(spoilt)
    return bytes(atheris.Mutate(data, most))


#  what is fuzzed: the name its file has, what is done with it, what to begin with
TARGETS: dict[str, tuple[str, Callable[[Path], object], Callable[[], list[bytes]]]] = {
    "score": ("a.musicxml", lambda path: outcome(path, random.Random(0)), _scores),  # noqa: S311 - repeatable on purpose
    "plan": ("a.toml", _refusable(lambda path: read_plan(path, _SCORE, _SIGNS)), lambda: [_PLAN.encode()]),
    "style": ("a.toml", _refusable(lambda path: load_style(str(path))), _styles),
    "chart": (
        "a.txt",
        _refusable(lambda path: read_chart(path, _SCORE)),
        lambda: [b"key G minor\n1 i\n2.3+1/2 V6/5\n5 D7/F#"],
    ),
    "set": ("a.toml", _refusable(read_week), lambda: [_SET.encode()]),
    "cents": ("a.txt", _refusable(read_cents), lambda: [b"0\n100.5 # c\n" * 6]),
    "mxl": ("a.mxl", _refusable(load), _packed),
    "export": (
        "a.json",
        lambda path: WAYS["export"][2](path, random.Random(0)),  # noqa: S311
        lambda: [SEEDS["export"]()[0].encode()],
    ),
    "soundfont": ("a.sf2", _refusable(programs), _soundfonts),
}


def main() -> None:
    """As the module's head says."""
    if len(sys.argv) < 3 or sys.argv[1] not in TARGETS:
        sys.exit(f"usage: guided.py {{{','.join(TARGETS)}}} FOLDER [libFuzzer's options]")
    name, target, seeds = TARGETS[sys.argv[1]]
    kept = Path(sys.argv[2])
    kept.mkdir(parents=True, exist_ok=True)
    for number, data in enumerate(seeds()):
        (kept / f"seed-{number}").write_bytes(data)
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / name

        def one(data: bytes) -> None:
            path.write_bytes(data)
            target(path)

        mutator = {"custom_mutator": _spoilt} if target is TARGETS["score"][1] else {}
        atheris.Setup([sys.argv[0], *sys.argv[2:]], one, **mutator)
        atheris.Fuzz()


if __name__ == "__main__":
    main()
