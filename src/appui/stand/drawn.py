"""Pictures of a piece, drawn in a process of its own and kept.

To engrave a movement takes seconds and forks, which a server full of threads must not do; so one helper process does
it for all. What it has drawn is kept in the cache under what it was drawn from: the score, the notes the plan adds, and
the code. If the process dies of an odd score, the next request starts a new one.
"""

from __future__ import annotations

import json
import os
from collections.abc import Callable, Sequence
from concurrent.futures import ProcessPoolExecutor
from concurrent.futures.process import BrokenProcessPool
from dataclasses import replace
from multiprocessing import get_context, parent_process
from multiprocessing.connection import wait
from pathlib import Path
from threading import Lock, Thread
from typing import Any

from appui.cache import code_key, fetch, keep, key_of
from appui.compare.survey import select
from appui.errors import ScoreError
from appui.interpret.interpretation import Interpretation, interpret
from appui.musicxml.write.build import remove
from appui.practice.levels import lowest_part
from appui.score.signs import EMBELLISHMENT
from appui.stand.desk import LISTENING, Opened

__all__ = ["STAND_WIDTHS", "Drawer"]

_ROOMS = ("score", "musicxml", "harmony", "notate", "page", "stand", "interpret", "style")
#  widths of a line on the music stand, in the engraver's units: the same staff on a narrower or a wider screen
STAND_WIDTHS = range(700, 3001, 100)
#  of letters there, in drawing units: beside a staff of 720
_STAND_LETTERS = 560
#  a chord is named on the music stand where it is at least so likely
_NAMED = 0.6


class Drawer:
    """Asks the helper process for pictures; for several threads. `close` it at the end."""

    def __init__(self) -> None:
        self._lock = Lock()
        self._pool: ProcessPoolExecutor | None = None

    def close(self) -> None:
        """End the helper process."""
        with self._lock:
            if self._pool is not None:
                self._pool.shutdown(cancel_futures=True)
                self._pool = None

    def reading(self, opened: Opened, *, alone: bool) -> dict[str, Any]:
        """The score with its verdicts lettered in, all parts or the solo `alone`."""
        return self._drawn(opened, _draw_reading, alone)

    def stand(self, opened: Opened, width: int) -> dict[str, Any]:
        """The solo over the bass, large, with the chords named, in lines of a width of `STAND_WIDTHS`."""
        return self._drawn(opened, _draw_stand, width)

    def written(self, opened: Opened, place: str, words: Sequence[str]) -> dict[str, Any]:
        """Ways of playing an ornament written out, and the bar as printed under ``""``."""
        return self._drawn(opened, _draw_written, (place, tuple(words)))

    def line(self, opened: Opened, place: str, entries: Sequence[str]) -> dict[str, Any]:
        """An ornament's bar with each of some embellishments, as lines of a plan, in it."""
        return self._drawn(opened, _draw_entries, (place, tuple(entries)))

    def _drawn(self, opened: Opened, draw: Callable[..., dict[str, Any]], how: object) -> dict[str, Any]:
        entry, player = opened.entry, opened.interpretation
        own = sorted(f"{place} {one.free!r}" for place, one in player.embellishments.items())
        solo = tuple(part.name for part in player.solos)
        said = repr((draw.__name__, how, own, solo, player.wishes.movement, player.wishes.style, player.style.name))
        # a decision changes what is written out, not what is printed
        more = opened.version if draw in (_draw_written, _draw_entries) else ""
        key = key_of(
            [code_key(*_ROOMS), entry.path.name.encode(), player.score.sha256.encode(), said.encode(), more.encode()]
        )
        if (kept := fetch("drawn", key)) is not None:
            drawn: dict[str, Any] = json.loads(kept)
            return drawn
        plan = entry.plan if entry.plan.exists() and not opened.fault else None
        made = self._ask(draw, str(entry.path), str(plan) if plan else None, how)
        keep("drawn", key, json.dumps(made).encode())
        return made

    def _ask(self, draw: Callable[..., dict[str, Any]], *said: object) -> dict[str, Any]:
        with self._lock:
            if self._pool is None:
                self._pool = ProcessPoolExecutor(1, mp_context=get_context("spawn"), initializer=_end_with_parent)
            pool = self._pool
        try:
            return pool.submit(draw, *said).result()
        except BrokenProcessPool:
            with self._lock:
                if self._pool is pool:
                    self._pool = None
            raise ScoreError(
                Path(str(said[0])).name, "brings the engraver down", "export the score again, or leave odd bars out"
            ) from None


def _end_with_parent() -> None:
    """End this process when the stand's own is gone, however it went: nothing else would wake it."""
    parent = parent_process()
    if parent is not None:
        Thread(target=_wait_for, args=(parent.sentinel,), daemon=True).start()


def _wait_for(sentinel: int) -> None:
    wait([sentinel])
    os._exit(0)


def _player(path: str, plan: str | None) -> Interpretation:
    return interpret(Path(path), replace(LISTENING, plan=Path(plan) if plan else None))


def _draw_reading(path: str, plan: str | None, alone: bool) -> dict[str, Any]:
    from appui.page.build import engrave_signs
    from appui.page.marked import mark_score

    player = _player(path, plan)
    signs = select(player, all_parts=False, bars=None)
    marked = mark_score(Path(path), [sign for sign in signs if sign.kind == EMBELLISHMENT], player)
    if alone:
        marked = replace(marked, text=_with_parts(marked.text, [part.index for part in player.solos]))
    layouts, pictures = engrave_signs(player, signs, marked, (0, len(player.score.bars) - 1))
    return {
        "layouts": {
            name: {
                "systems": layout.systems,
                "places": layout.places,
                "shapes": layout.shapes,
                "font": layout.font,
            }
            for name, layout in layouts.items()
        },
        "pictures": {place: [list(small), list(glyphs), main] for place, (small, glyphs, main) in pictures.items()},
    }


def _with_parts(text: str, kept: Sequence[int]) -> str:
    """MusicXML with some of its parts only, by index."""
    from lxml import etree

    root = etree.fromstring(text.encode(), etree.XMLParser(resolve_entities=False, no_network=True, huge_tree=True))
    parts = root.findall("part")
    gone = {part.get("id") for index, part in enumerate(parts) if index not in kept}
    for node in (*root.findall("part"), *root.findall("part-list/score-part")):
        if node.get("id") in gone:
            remove(node)
    for group in root.findall("part-list/part-group"):
        remove(group)
    return str(etree.tostring(root, encoding="unicode"))


def _draw_stand(path: str, plan: str | None, width: int) -> dict[str, Any]:
    from appui.page.engrave import Engraver
    from appui.page.lettering import Label
    from appui.page.marked import Marked, mark_score
    from appui.page.words import mark_of

    player = _player(path, plan)
    signs = select(player, all_parts=False, bars=None)
    marked: Marked = mark_score(Path(path), [sign for sign in signs if sign.kind == EMBELLISHMENT], player)
    kept = sorted({*(part.index for part in player.solos), *_bass_of(player)})
    engraver = Engraver(
        replace(marked, text=_with_parts(marked.text, kept)), player.score.file, 0, len(player.score.bars) - 1
    )
    labels = [*_chord_labels(player, marked)]
    for number, sign in enumerate(signs):
        choice = player.choices[sign.place]
        if choice.realized:
            notes = marked.notes[sign.place]
            word = mark_of(choice.reading)
            labels.append(Label(f"word-{number}", word, (*notes.small, notes.main), (), notes.main))
    names = engraver.bars | {f"word-{number}" for number in range(len(signs))}
    layout = engraver.lay_out(width, names, labels, _STAND_LETTERS)
    return {"systems": layout.systems, "shapes": layout.shapes, "font": layout.font}


def _bass_of(player: Interpretation) -> list[int]:
    """The part that is the bass: the lowest of those that are no solo."""
    found = lowest_part(player.score, {part.index for part in player.solos})
    return [found.index] if found is not None else []


def _chord_labels(player: Interpretation, marked: Any) -> Any:
    """The chords as they change, named under the first note of the solo or the bass that begins with them."""
    from appui.page.lettering import Label
    from appui.page.words import pretty

    events = _drawn_notes(player, marked)
    before = ""
    for onset_q, name in sorted(events.items()):
        named, chance = player.analysis.harmony.chord_at(onset_q)
        label = named.label
        if chance >= _NAMED and label != before:
            yield Label(f"chord-{name}", "", (name,), (pretty(label),), name)
            before = label


def _drawn_notes(player: Interpretation, marked: Any) -> dict[Any, str]:
    """By moment, on beats, a drawn note of the bass or of the solo."""
    found: dict[Any, str] = {}
    for index in (*(part.index for part in player.solos), *_bass_of(player)):
        for voice in marked.score.parts[index].voices:
            for event in voice.events:
                bar = marked.score.bars[event.bar]
                on_beat = (event.onset_q - bar.onset_q + bar.lead_q) % bar.meter.beat_q == 0
                names = marked.names.get(event.line, ())
                if event.notes and on_beat and names:
                    found[event.onset_q] = names[0]
    return found


def _draw_written(path: str, plan: str | None, how: tuple[str, tuple[str, ...]]) -> dict[str, Any]:
    from appui.page.staves import written_staves

    place, words = how
    player = _player(path, plan)
    staves = written_staves(player, Path(path), {place: words}, lambda said: None)
    return {
        "pictures": {each: picture for (_, each), picture in staves.pictures.items()},
        "short": {each: picture for (_, each), picture in staves.short.items()},
        "shapes": sorted(staves.shapes.items()),
    }


def _draw_entries(path: str, plan: str | None, how: tuple[str, tuple[str, ...]]) -> dict[str, Any]:
    from appui.page.staves import written_staves
    from appui.stand.embellishing import embellishment_of, with_embellishment

    place, entries = how
    player = _player(path, plan)
    pictures: dict[str, str] = {}
    shapes: dict[str, str] = {}
    for entry in entries:
        one = embellishment_of(player, place, entry)
        offered = with_embellishment(player, one)
        staves = written_staves(offered, Path(path), {one.sign.place: ("embellished",)}, lambda said: None)
        pictures |= {entry if each else each: picture for (_, each), picture in staves.pictures.items()}
        shapes |= staves.shapes
    return {"pictures": pictures, "shapes": sorted(shapes.items())}
