"""The drill as one HTML file: every level rendered beforehand, so that the staircase can run in the browser.

Nothing is fetched: sounds, program and data are in the file, and a Content-Security-Policy forbids every request. At
each level a few phrases (`A_LEVEL`) stand ready in all their answers; which comes when is chance in the browser. Sounds
are MP3, mono, since every browser decodes it; a coder smears over some milliseconds, so gaps below about 10 ms are
harder to hear on the page than at the terminal.
"""

from __future__ import annotations

import base64
import hashlib
import html
import json
from collections.abc import Callable
from dataclasses import dataclass
from importlib.resources import files
from io import BytesIO
from pathlib import Path
from typing import TYPE_CHECKING, Any

from appui.drill.kinds import Kind
from appui.drill.sound import hear, opened_font
from appui.drill.staircase import STEPS, Staircase
from appui.drill.store import FORMAT, VERSION
from appui.drill.trial import CATCH_AMONG, Material, Trial, make_trial
from appui.drill.words import EQUAL, explained
from appui.errors import UsageError
from appui.sound.files import check_place, write_whole
from appui.text import filled

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    from appui.sound.synth import Font

__all__ = ["A_LEVEL", "make_page"]

A_LEVEL = 3
_RATE = 24_000
#  0 best, 1 smallest
_COMPRESSION = 0.4


@dataclass(frozen=True)
class _Item:
    """One phrase at one level: what stands in the record, and its clips as MP3."""

    record: dict[str, Any]
    clips: tuple[bytes, ...]


def make_page(
    kind: Kind,
    material: Material,
    output: Path,
    seed: str,
    *,
    trials: int = 50,
    down: int = 3,
    a_level: int = A_LEVEL,
    soundfont: Path | None = None,
    say: Callable[[str], None] = lambda words: None,
) -> int:
    """Write the page and return its size in bytes; raises the errors of rendering and writing."""
    if output.suffix.lower() not in (".html", ".htm"):
        raise UsageError(f"{output} ends in {output.suffix or 'no suffix'}; a page ends in .html")
    check_place(output)
    items: list[_Item] = []
    with opened_font(soundfont) as font:
        for rung in range(kind.ladder.rungs + 1):
            say(f"level {kind.ladder.words(kind.ladder.level(rung))}")
            items += [_item(kind, material, seed, rung, rung * a_level + each, font) for each in range(a_level)]
    text = _page(kind, items, seed, trials=trials, down=down)
    write_whole(output, text.encode())
    return len(text.encode())


def _item(kind: Kind, material: Material, seed: str, rung: int, number: int, font: Font) -> _Item:
    level = kind.ladder.level(rung)
    answers = range(len(kind.answers)) if kind.intervals == 1 else [0]
    made = [make_trial(kind, material, seed, number, level, answer) for answer in answers]
    whys = [trial.why for trial in made]
    if kind.intervals == 2:
        whys = [explained(kind, made[0].setting, level, answer) for answer in range(len(kind.answers))]
    clips = tuple(clip for trial in made for clip in _clips(trial, font))
    return _Item({"rung": rung, "origin": made[0].origin, "why": whys}, clips)


def _clips(trial: Trial, font: Font) -> list[bytes]:
    heard = hear(trial, font, rate=_RATE)
    return [_coded(sound.mean(1)) for sound in heard.sounds]


def _coded(sound: NDArray[np.float32]) -> bytes:
    import soundfile

    stream = BytesIO()
    with soundfile.SoundFile(
        stream, "w", _RATE, 1, "MPEG_LAYER_III", format="MP3", compression_level=_COMPRESSION, bitrate_mode="VARIABLE"
    ) as out:
        out.write(sound)
    return stream.getvalue()


def _record(kind: Kind, items: list[_Item], seed: str, *, trials: int, down: int) -> dict[str, Any]:
    ladder, at, records = kind.ladder, 0, []
    for item in items:
        records.append({**item.record, "clips": list(range(at, at + len(item.clips)))})
        at += len(item.clips)
    return {
        "format": FORMAT,
        "version": VERSION,
        "kind": kind.name,
        "answers": list(kind.answers),
        "intervals": kind.intervals,
        "unit": ladder.unit,
        "of": ladder.of,
        "start": ladder.start,
        "a_halving": ladder.a_halving,
        "levels": list(ladder.levels),
        "words": [ladder.words(level) for level in ladder.levels],
        "down": down,
        "reversals": Staircase(0).reversals,
        "steps": list(STEPS),
        "catch_among": CATCH_AMONG,
        "trials": trials,
        "seed": seed,
        "equal": EQUAL,
        "about": f"It gets harder as you succeed, for at most {trials} trials. Not sure: guess.",
        "items": records,
    }


def _page(kind: Kind, items: list[_Item], seed: str, *, trials: int, down: int) -> str:
    web = files("appui.drill") / "web"
    script = (web / "drill.js").read_text(encoding="utf-8")
    clips = [clip for item in items for clip in item.clips]
    digest = base64.b64encode(hashlib.sha256(script.encode()).digest()).decode()
    parts = {
        "TITLE": html.escape(kind.question),
        "POLICY": f"default-src 'none'; script-src 'sha256-{digest}'; style-src 'unsafe-inline'; base-uri 'none'; "
        "form-action 'none'",
        "STYLE": (web / "drill.css").read_text(encoding="utf-8"),
        "RECORD": _for_script(_record(kind, items, seed, trials=trials, down=down)),
        "SOUNDS": "\n".join(
            f'<script type="text/plain" id="sound-{number}">{base64.b64encode(clip).decode()}</script>'
            for number, clip in enumerate(clips)
        ),
        "SCRIPT": script,
    }
    frame = (web / "drill.html").read_text(encoding="utf-8")
    return "".join(filled(frame, {name: [part] for name, part in parts.items()}))


def _for_script(value: Any) -> str:
    """JSON that may stand inside a `script` element: no ``<``, ``>`` or ``&`` in it."""
    text = json.dumps(value, ensure_ascii=False, separators=(",", ":"))
    return text.replace("<", "\\u003c").replace(">", "\\u003e").replace("&", "\\u0026")
