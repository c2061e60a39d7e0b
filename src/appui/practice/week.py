"""A set: a whole week's tracks from one TOML file.

score = "ferry.musicxml"      # paths are from the set file's folder
solo = "oboe"                 # also: style, plan, embellish, harmony, pattern, hold, slowing, soundfont
folder = "week"
formats = ["flac", "mid"]
pitch = 415                   # every key of a track may stand here for all of them
tuning = "vallotti"

[[track]]
name = "opening {tempo}"      # {tempo} in a name: a file for each tempo
movement = 2                  # of a file with several; words over it will do: "adagio"
bars = "1-8"
tempo = "50%..100%"
steps = 6
times = 4

[[track]]
name = "echo {bars}"
bars = ["1-4", "5-8"]         # a list of bars: a track for each
mode = "echo"

[[track]]
name = "{place}"              # {place} in a name: a file for each ornament
at = ["12.3", "20.1"]
"""

from __future__ import annotations

import difflib
from collections.abc import Iterator, Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass
from functools import partial
from hashlib import blake2b, file_digest
from itertools import product
from pathlib import Path
from typing import TYPE_CHECKING, Any
from unicodedata import category

from appui import __version__
from appui.errors import PlanError, UsageError
from appui.exact import Fraction, fraction_of
from appui.interpret.wishes import Shape, Slowing, Timing
from appui.practice.deliver import Done, Job, Say, deliver
from appui.practice.track import Track
from appui.practice.wish import Wish
from appui.practice.words import KEYS, check_steps, file_name, split_by_name, wish_of
from appui.text import tables_of, text_of

if TYPE_CHECKING:
    from appui.practice.plan import Tempos

__all__ = ["Week", "digest_of", "make_week", "read_week", "words_for"]

#  number at the head: the least and the most it may be
_NUMBERS = {"hold": (1, 20), "slow-trills": (2, 20)}
FORMATS = ("mid", "wav", "flac", "ogg", "mp3")
_TEXTS = (
    "score",
    "solo",
    "style",
    "plan",
    "embellish",
    "harmony",
    "pattern",
    "slowing",
    "shape",
    "time",
    "soundfont",
    "folder",
)
#  texts that say one of two things
_EITHER = {"slowing": ("scaled", "natural"), "shape": ("plain", "shaped"), "time": ("strict", "shaped")}
_HEAD = (*_TEXTS, "formats", "hold", "slow-trills")
_FILES = ("plan", "embellish", "harmony", "soundfont")
_REMEDY = "see `appui practice --help` for a set file"


@dataclass(frozen=True, slots=True)
class Week:
    """A set file read: where things are, and its tracks by name (without suffix), in order."""

    file: Path
    score: Path
    folder: Path
    formats: tuple[str, ...]
    tracks: tuple[tuple[str, Wish], ...]
    solos: tuple[str, ...] = ()
    style: str | None = None
    plan: Path | None = None
    embellish: Path | None = None
    harmony: Path | None = None
    soundfont: Path | None = None
    pattern: str = "held"
    slowing: Slowing = "scaled"
    slow_trills: Fraction | None = None
    hold: Fraction | None = None
    shape: Shape = "shaped"
    time: Timing = "strict"

    def outputs(self, name: str) -> tuple[Path, ...]:
        """The files of a track."""
        return tuple(self.folder / f"{name}.{suffix}" for suffix in self.formats)


def read_week(path: Path) -> Week:
    """Read a set file; raises `PlanError` naming the track and what is wrong there."""
    table = tables_of(text_of(path, PlanError, "set file", "name a TOML file"), path, PlanError)
    tracks = table.pop("track", None)
    if not isinstance(tracks, list) or not tracks or not all(isinstance(each, dict) for each in tracks):
        raise PlanError(path, "has no [[track]]", "add at least one, with a name")
    _check_keys(path, "head", table, (*_HEAD, *KEYS))
    common = {key: value for key, value in table.items() if key in KEYS}
    solos = _listed(table.get("solo"))
    made = [pair for number, track in enumerate(tracks, 1) for pair in _tracks(path, number, common, track, solos)]
    _check_names(path, [name for name, _ in made])
    return _week(path, table, tuple(made))


def _week(path: Path, table: Mapping[str, Any], tracks: tuple[tuple[str, Wish], ...]) -> Week:
    texts = {key: table[key] for key in _TEXTS if key in table}
    solos = texts.pop("solo", None)
    if solos is not None and not all(isinstance(each, str) for each in _listed(solos)):
        raise PlanError(path, f"solo = {solos!r}: expected text, or a list of it", "put it in quotes")
    for key, value in texts.items():
        if not isinstance(value, str):
            raise PlanError(path, f"{key} = {value!r}: expected text", "put it in quotes")
    if "score" not in texts:
        raise PlanError(path, "names no score", 'write score = "FILE" at its head')
    formats = table.get("formats", ["flac"])
    if not isinstance(formats, list) or not formats or not set(map(str, formats)) <= set(FORMATS):
        raise PlanError(path, f"formats = {formats!r}: expected a list of {', '.join(FORMATS)}", _REMEDY)
    base = path.parent
    paths = {key: base / texts[key] for key in _FILES if key in texts}
    folder = base / texts.get("folder", path.stem)
    names: dict[str, Any] = {key: texts[key] for key in ("pattern", *_EITHER) if key in texts}
    for key, (one, other) in _EITHER.items():
        if names.get(key, one) not in (one, other):
            raise PlanError(path, f"{key} = {names[key]!r}: expected {one} or {other}", _REMEDY)
    names["solos"] = tuple(_listed(solos))
    if "style" in texts:
        names["style"] = _beside(base, texts["style"])
    hold, slow_trills = (_between(path, key, table.get(key), *span) for key, span in _NUMBERS.items())
    names["slow_trills"] = slow_trills
    return Week(path, base / texts["score"], folder, tuple(dict.fromkeys(formats)), tracks, hold=hold, **names, **paths)


def _listed(value: Any) -> list[Any]:
    """A list, or one thing as a list of it; nothing as an empty one."""
    return value if isinstance(value, list) else [] if value is None else [value]


def _beside(base: Path, words: str) -> str:
    """A name, or the path of a file that lies beside the set file."""
    return str(base / words) if (base / words).is_file() else words


def _between(path: Path, key: str, value: Any, low: int, high: int) -> Fraction | None:
    if value is None:
        return None
    if isinstance(value, bool) or not isinstance(value, int | float) or not low <= value <= high:
        raise PlanError(path, f"{key} = {value!r}: expected a number from {low} to {high}", "write 2, or leave it out")
    return fraction_of(str(value))


def _tracks(
    path: Path, number: int, common: Mapping[str, Any], own: Mapping[str, Any], solos: Sequence[str]
) -> Iterator[tuple[str, Wish]]:
    place, words = f"track {number}", {**common, **own}
    name = words.pop("name", None)
    if not isinstance(name, str) or not name.strip():
        raise PlanError(path, f"name = {name!r}: every track has a name", "write one in quotes", place=place)
    if set(name) & set('/\\:*?"<>|') or name.startswith(".") or any(category(letter)[0] == "C" for letter in name):
        raise PlanError(path, f"{name!r} cannot be a file name everywhere", 'leave out / \\ : * ? " < > |', place=place)
    _check_keys(path, place, words, tuple(KEYS))
    bars = words.get("bars")
    if isinstance(words.get("tuning"), str):
        words["tuning"] = _beside(path.parent, words["tuning"])
    try:
        if "steps" in own and ("at" not in words or "tempo" in words):
            # steps in the head are for those tracks that have a ladder, as those of one ornament
            check_steps(words.get("tempo"))
        for at, each in product(_listed(words.get("at")) or [None], bars if isinstance(bars, list) else [bars]):
            yield from split_by_name(name, wish_of(words | {"bars": each, "at": at}), solos)
    except UsageError as error:
        raise PlanError(path, str(error), "mend it there", place=f"{place} ({name})") from None


def _check_keys(path: Path, place: str, table: Mapping[str, Any], known: tuple[str, ...]) -> None:
    for key in table:
        if key not in known:
            near = difflib.get_close_matches(key, known, 1)
            raise PlanError(
                path, f"does not know the key {key!r}", f"write {near[0]}" if near else f"use {', '.join(known)}",
                place=place,
            )  # fmt: skip


def _check_names(path: Path, names: list[str]) -> None:
    seen: set[str] = set()
    for name in names:
        # file systems that do not tell capitals apart are common
        if name.casefold() in seen:
            raise PlanError(
                path,
                f"two tracks are named {name!r}",
                "name them apart; {tempo}, {bars}, {place} and the like can help",
            )
        seen.add(name.casefold())


def make_week(week: Week, *, say: Say = lambda words: None) -> list[Done]:
    """Write the tracks of a set that are not up to date; returns all. Raises the errors of its parts."""
    from appui.sound.files import make_folder

    make_folder(week.folder)
    prepared = _Prepared(week)
    head = digest_of(week)
    jobs = [
        Job(
            partial(prepared.track, name, wish),
            week.outputs(name),
            blake2b(f"{head} {name} {wish!r}".encode(), digest_size=16).hexdigest(),
            name,
            words_for(wish, week.style, week.plan, week.embellish),
        )
        for name, wish in week.tracks
    ]
    return deliver(jobs, week.soundfont, index=week.folder / "index.json", say=say)


def digest_of(week: Week) -> str:
    """What all tracks of a set depend on: the contents of its files, the SoundFont, the version of this program."""
    from appui.sound.soundfont import soundfont_path

    told = blake2b(digest_size=16)
    for path in (week.score, week.plan, week.embellish, week.harmony, Path(week.style) if week.style else None):
        told.update(_content(path))
    font = soundfont_path(week.soundfont)
    words = (
        *week.solos,
        week.style,
        week.pattern,
        week.slowing,
        week.slow_trills,
        week.hold,
        week.shape,
        week.time,
        font,
        font.stat().st_size,
        __version__,
    )
    told.update(" ".join(map(str, words)).encode())
    return told.hexdigest()


def _content(path: Path | None) -> bytes:
    """A digest of a file; of one that cannot be read none: whoever opens it next says why."""
    with suppress(OSError):
        if path is not None and path.is_file() and path.stat().st_size:
            with path.open("rb") as stream:
                return file_digest(stream, "sha256").digest()
    return b"-"


class _Prepared:
    """The interpretations of a set, a movement's each opened when its first track is to be made."""

    def __init__(self, week: Week) -> None:
        self.week = week
        self._sessions: dict[str | None, tuple[Tempos, Tempos | None]] = {}

    def track(self, name: str, wish: Wish) -> Track:
        from appui.practice.plan import make_track

        interpretation, again = self.interpretations(wish.movement)
        try:
            return make_track(interpretation, wish, title=name, again=again)
        except UsageError as error:
            raise PlanError(self.week.file, str(error), "mend it there", place=f"track {name}") from None

    def interpretations(self, movement: str | None) -> tuple[Tempos, Tempos | None]:
        """The score, or a movement of it, with the plan, and with the second one."""
        from appui.interpret.interpretation import interpret
        from appui.interpret.wishes import Wishes
        from appui.practice.plan import Tempos

        if movement not in self._sessions:
            week = self.week
            wishes = Wishes(
                solo=week.solos[0] if week.solos else None,
                also=week.solos[1:],
                slowing=week.slowing,
                slow_trills=week.slow_trills,
                style=week.style,
                plan=week.plan,
                chart=week.harmony,
                pattern=week.pattern,
                hold=week.hold,
                movement=movement,
                shape=week.shape,
                time=week.time,
            )
            interpretation = interpret(week.score, wishes)
            other = Tempos(interpretation.with_plan(week.embellish)) if week.embellish else None
            self._sessions[movement] = Tempos(interpretation), other
        return self._sessions[movement]


def words_for(wish: Wish, style: str | None, plan: Path | None, again: Path | None = None) -> str:
    """A track told in a line, for tags and the index; `again` is the second plan."""
    parts = [
        f"movement {wish.movement}" if wish.movement else "",
        f"at {wish.at}" if wish.at else f"bars {wish.bars or 'all'}",
        f"without {' and '.join(wish.without)}" if wish.without else "",
        f"tempo {file_name('{tempo}', wish)}",
        wish.mode,
        f"style {style or 'harmony'}",
        f"plan {plan.name}" if plan else "",
        f"then plan {again.name}" if again else "",
        wish.tuning.name if wish.tuning else "",
    ]
    return ", ".join(filter(None, parts))
