"""The flow of the rooms, checked on the source: who imports whom, what a module offers, what a start loads.

The checker is a few pure functions over a folder; each is shown to catch a planted fault in a small made-up tree.
"""

from __future__ import annotations

import ast
import re
import subprocess
import sys
from collections.abc import Callable, Iterator
from importlib.util import find_spec
from pathlib import Path

import pytest

SOURCE = Path(__file__).parent.parent / "src" / "appui"
ROOMS = (
    "score",
    "musicxml",
    "harmony",
    "mei",
    "abc",
    "notations",
    "accompany",
    "style",
    "plan",
    "realize",
    "interpret",
    "perform",
    "sound",
    "practice",
    "compare",
    "embellish",
    "drill",
    "notate",
    "page",
    "listen",
    "batch",
    "stand",
    "demo",
    "manual",
    "cli",
)
EVERYWHERE = {"cache", "errors", "exact", "given", "scratch", "text", "__version__"}
#  in realize two modules write what all families share, one collects the families; the families know the two only
CONTRACT, COLLECTORS = {"contract", "quick"}, {"voice", "__init__"}
HEAVY = {"fluidsynth", "mido", "music21", "numpy", "pretty_midi", "rich", "scipy", "soundfile", "verovio"}


def modules(source: Path) -> Iterator[tuple[tuple[str, ...], ast.Module]]:
    """Every module as its path below the package, without suffix, and its syntax tree."""
    for file in sorted(source.rglob("*.py")):
        yield file.relative_to(source).with_suffix("").parts, ast.parse(file.read_text(encoding="utf-8"))


def imported(tree: ast.Module) -> Iterator[tuple[str, ...]]:
    """What a module imports from this package, at any depth of its code, as paths below the package.

    A relative import, against the style, is `..`.
    """
    for node in ast.walk(tree):
        if isinstance(node, ast.Import):
            names = [alias.name for alias in node.names]
        elif isinstance(node, ast.ImportFrom) and node.level:
            yield ("..",)
            continue
        elif isinstance(node, ast.ImportFrom):
            # `from appui.realize import trill` brings a module, `from appui.realize.trill import trill` a name of one
            names = [f"{node.module}.{alias.name}" for alias in node.names]
        else:
            continue
        for name in names:
            parts = tuple(name.split("."))
            if parts[0] == "appui":
                yield parts[1:]


def flow_faults(source: Path) -> list[str]:
    """Imports against the flow: of a later room, of the demo outside cli, of anything by `errors`, relative ones.

    The demo is what the tool is tried on, so it knows nothing of it but how MusicXML is written.
    """
    return [
        f"{'/'.join(module)} imports {'.'.join(target)}"
        for module, tree in modules(source)
        for target in imported(tree)
        if not _may(module, target)
    ]


def _may(module: tuple[str, ...], target: tuple[str, ...]) -> bool:
    if not target or target == ("..",):
        return False
    here, there = module[0], target[0]
    if here == "demo" and target[:2] == ("musicxml", "write"):
        return True
    if here in EVERYWHERE or here == "demo":
        return there in EVERYWHERE or there == here
    if there in EVERYWHERE or len(module) == 1:
        return True
    if there == "demo":
        return here == "cli"
    return there in ROOMS and ROOMS.index(there) <= ROOMS.index(here)


def sibling_faults(source: Path) -> list[str]:
    """Families of ornaments that import anything of realize but the contract and what is shared with it."""
    return [
        f"{'/'.join(module)} imports {'.'.join(target)}"
        for module, tree in modules(source)
        if module[0] == "realize" and module[-1] not in COLLECTORS
        for target in imported(tree)
        if target[:1] == ("realize",) and (len(target) < 2 or target[1] not in CONTRACT)
    ]


def offer_faults(source: Path) -> list[str]:
    """Modules with code but no `__all__`, and names in an `__all__` that the module does not define."""
    faults = []
    for module, tree in modules(source):
        names = [name for node in tree.body for name in _bound(node)]
        if tree.body and "__all__" not in names:
            faults.append(f"{'/'.join(module)} has no __all__")
        faults += [
            f"{'/'.join(module)} offers {name}, which it does not define"
            for name in _offered(tree)
            if name not in names
        ]
    return faults


def _bound(node: ast.stmt) -> list[str]:
    """The names a statement at the top of a module binds."""
    match node:
        case (
            ast.FunctionDef(name=name)
            | ast.AsyncFunctionDef(name=name)
            | ast.ClassDef(name=name)
            | ast.AnnAssign(target=ast.Name(id=name))
        ):
            return [name]
        case ast.Assign(targets=targets):
            return [inner.id for target in targets for inner in ast.walk(target) if isinstance(inner, ast.Name)]
        case ast.If(test=ast.Name(id="TYPE_CHECKING"), body=body):
            # names that a module loads when they are asked for
            return [name for inner in body for name in _bound(inner)]
        case ast.Import(names=aliases) | ast.ImportFrom(names=aliases):
            return [alias.asname or alias.name.split(".")[0] for alias in aliases]
    return []


def _offered(tree: ast.Module) -> list[str]:
    for node in tree.body:
        if "__all__" in _bound(node) and isinstance(node, ast.Assign | ast.AnnAssign):
            elements = node.value.elts if isinstance(node.value, ast.List | ast.Tuple) else []
            return [str(element.value) for element in elements if isinstance(element, ast.Constant)]
    return []


def unknown_rooms(source: Path) -> list[str]:
    """Folders with code that the order of the rooms does not name."""
    return sorted({module[0] for module, _ in modules(source) if len(module) > 1} - set(ROOMS))


def heavy_loaded(code: str) -> set[str]:
    """Which heavy libraries are loaded after running some code in a fresh interpreter."""
    script = f"{code}\nimport sys\nprint('LOADED', *sorted(set(sys.modules) & {HEAVY!r}))"
    result = subprocess.run([sys.executable, "-c", script], capture_output=True, text=True, check=True)
    last = result.stdout.splitlines()[-1].split()
    assert last[0] == "LOADED"
    return set(last[1:])


def test_rooms_import_only_from_rooms_before_them() -> None:
    """The flow goes one way, and everyone may know the errors."""
    assert [] == flow_faults(SOURCE)


def test_families_of_ornaments_do_not_know_one_another() -> None:
    """To add an ornament is to add one file: the others need not change."""
    assert [] == sibling_faults(SOURCE)


def test_every_module_says_what_it_offers() -> None:
    """`__all__` is there, and each name in it is real."""
    assert [] == offer_faults(SOURCE)


def test_the_order_names_every_room() -> None:
    """No folder escapes the check above by being new."""
    assert [] == unknown_rooms(SOURCE)


def test_the_page_for_developers_tells_the_same_order() -> None:
    """Who reads the chain there reads the one that holds."""
    text = (SOURCE.parents[1] / "DEVELOPERS.md").read_text(encoding="utf-8")
    chain = re.search(r"^    score ->(?:.*\n)(?:    .*\n)+", text, re.MULTILINE)
    assert chain is not None
    assert [*ROOMS] == re.findall(r"\w+", chain[0])


def test_the_source_is_there() -> None:
    """A checker that looks at nothing finds nothing wrong."""
    assert len(ROOMS) / 2 < len({module[0] for module, _ in modules(SOURCE) if len(module) > 1})


def test_importing_the_package_loads_nothing_heavy() -> None:
    """A start pays only for what it uses."""
    assert set() == heavy_loaded("import appui")


@pytest.mark.skipif(not (SOURCE / "cli" / "main.py").exists(), reason="the command line is not there yet")
def test_help_loads_nothing_heavy() -> None:
    """`appui --help` answers at once."""
    assert find_spec("click") is not None
    assert set() == heavy_loaded(
        "import sys\nsys.argv = ['appui', '--help']\n"
        "from appui.cli.main import main\n"
        "try:\n    main()\n"
        "except SystemExit as end:\n    assert not end.code, end.code"
    )


def test_a_heavy_import_is_seen() -> None:
    """The check above catches a planted one."""
    assert {"numpy"} == heavy_loaded("import numpy")


@pytest.mark.parametrize(
    ("check", "file", "text", "fault"),
    [
        (
            flow_faults,
            "score/read.py",
            "from appui.harmony.model import Verdict",
            "score/read imports harmony.model.Verdict",
        ),
        (flow_faults, "score/read.py", "def f():\n    import appui.cli", "score/read imports cli"),
        (flow_faults, "score/read.py", "from appui import cli", "score/read imports cli"),
        (flow_faults, "score/read.py", "from .. import cli", "score/read imports .."),
        (flow_faults, "sound/midi.py", "from appui.demo import compose", "sound/midi imports demo.compose"),
        (
            flow_faults,
            "demo/compose.py",
            "from appui.score.pitch import Pitch",
            "demo/compose imports score.pitch.Pitch",
        ),
        (
            flow_faults,
            "demo/compose.py",
            "from appui.musicxml.read.note import NOTE_VALUES",
            "demo/compose imports musicxml.read.note.NOTE_VALUES",
        ),
        (
            flow_faults,
            "musicxml/write/note.py",
            "from appui.notate.values import Value",
            "musicxml/write/note imports notate.values.Value",
        ),
        (flow_faults, "errors.py", "from appui.score.pitch import Pitch", "errors imports score.pitch.Pitch"),
        (flow_faults, "score/read.py", "import appui.novel", "score/read imports novel"),
        (
            sibling_faults,
            "realize/turn.py",
            "from appui.realize.trill import trill",
            "realize/turn imports realize.trill.trill",
        ),
        (sibling_faults, "realize/turn.py", "from appui.realize import trill", "realize/turn imports realize.trill"),
        (offer_faults, "score/read.py", "def read(): ...", "score/read has no __all__"),
        (offer_faults, "score/read.py", "__all__ = ['gone']", "score/read offers gone, which it does not define"),
        (unknown_rooms, "attic/box.py", "__all__ = []", "attic"),
    ],
)
def test_the_checker_catches_a_planted_fault(
    tmp_path: Path,
    check: Callable[[Path], list[str]],
    file: str,
    text: str,
    fault: str,
) -> None:
    """Each law has its counter-example."""
    (tmp_path / file).parent.mkdir(parents=True, exist_ok=True)
    (tmp_path / file).write_text(text, encoding="utf-8")
    assert [fault] == check(tmp_path)


@pytest.mark.parametrize(
    ("check", "file", "text"),
    [
        (
            flow_faults,
            "harmony/segment.py",
            "from appui.score.model import Score\nfrom appui.errors import ScoreError\nimport numpy",
        ),
        (flow_faults, "score/read.py", "from appui import __version__"),
        (flow_faults, "demo/compose.py", "from appui.musicxml.write.build import add"),
        (flow_faults, "cli/main.py", "from appui.demo import compose\nfrom appui.notate.write import write"),
        (
            sibling_faults,
            "realize/turn.py",
            "from appui.realize.contract import Cut\nfrom appui.score.model import Note",
        ),
        (sibling_faults, "realize/voice.py", "from appui.realize.trill import trill"),
        (offer_faults, "score/read.py", "__all__ = ['read', 'A', 'B']\nA: int = 1\nB = 2\ndef read(): ..."),
        (offer_faults, "score/__init__.py", ""),
    ],
)
def test_the_checker_lets_the_lawful_pass(
    tmp_path: Path, check: Callable[[Path], list[str]], file: str, text: str
) -> None:
    """What the design allows is no fault."""
    (tmp_path / file).parent.mkdir(parents=True, exist_ok=True)
    (tmp_path / file).write_text(text, encoding="utf-8")
    assert [] == check(tmp_path)
