"""Reading a piece in ABC into a `Score`: as a player types a solo, or as collections of tunes have it.

ABC is read by this room itself and not by a library: the readers there are lay several voices end to end, leave out
endings and tempos, and pass over what they do not know, where a slip of the typing needs an error with its place.

Source: the ABC standard 2.1 (memory).
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from pathlib import Path

from appui.abc.place import Cursor
from appui.abc.tune import Tune
from appui.abc.voice import Voice
from appui.errors import ScoreError
from appui.exact import Fraction
from appui.score.assemble import assemble
from appui.score.figured_bass import figures_in_texts
from appui.score.model import Notice, Score
from appui.score.pitch import Transposition
from appui.score.raw import RawPart

__all__ = ["MAX_TEXT", "example", "is_abc", "score_of_abc"]

MAX_TEXT = 20_000_000
_FIRST = re.compile(rb"(?:\xef\xbb\xbf)?\s*(?:%abc|(?:%[^\n]*\n\s*)*X:\s*\d)")
_NUMBER = re.compile(r"X:\s*\d")
_COMMENT = re.compile(r"(?<!\\)%.*")
_ODD_BARS = 5


def is_abc(data: bytes) -> bool:
    """Whether a text begins as ABC does: with ``%abc`` or a line ``X:1``."""
    return bool(_FIRST.match(data[:5_000]))


def score_of_abc(text: str, file: str, sha256: str = "") -> Score:
    """The score of an ABC text; raises `ScoreError` naming file, line, column, cause and remedy."""
    if len(text) > MAX_TEXT:
        raise ScoreError(file, f"is larger than {MAX_TEXT // 1_000_000} MB", "save the one piece you want")
    pieces = sum(bool(_NUMBER.match(line)) for line in text.splitlines())
    if pieces > 1:
        raise ScoreError(file, f"holds {pieces} pieces", "save the one you want in a file of its own")
    tune = Tune(file)
    notices = list(_read(tune, text, file))
    voices = tune.finish()
    if not voices:
        raise ScoreError(file, "holds no notes", "write them below the line K:")
    raws = [_part(voice, index, tune) for index, voice in enumerate(voices)]
    bar_numbers(raws)
    notices += _odd_bars(voices)
    return assemble(
        raws,
        title=next(filter(None, tune.titles), "") or Path(file).stem,
        file=file,
        sha256=sha256,
        creators=tuple(("composer", name) for name in tune.composers if name),
        notices=tuple(notices),
    )


def _read(tune: Tune, text: str, file: str) -> Iterator[Notice]:
    blank = False
    for number, line in enumerate(text.splitlines(), 1):
        if line.startswith(("%%", "I:")):
            tune.directive(line[2:])
            continue
        plain = _COMMENT.sub("", line).replace("\\%", "%").rstrip()
        if not plain.strip():
            blank = blank or (tune.began and bool(tune.voices) and not line.strip())
            continue
        if blank:
            blank = False
            if not re.match(r"[A-Za-z]:", plain) and "|" not in plain:
                yield Notice(f"line {number}", "text after a blank line, which ends a piece in ABC: left out")
                return
            yield Notice(f"line {number}", "a blank line ends a piece in ABC: read on after it all the same")
        tune.line(Cursor(file, number, plain))


def _part(voice: Voice, index: int, tune: Tune) -> RawPart:
    part = voice.finish()
    part.id = f"P{index + 1}"
    part.keys.insert(0, (0, Fraction(0), *tune.signature))
    if voice.first_clef.transposition != Transposition():
        part.transpositions.insert(0, (0, Fraction(0), voice.first_clef.transposition))
    if not part.figures:
        part.figures = figures_in_texts(part.texts)
    return part


def bar_numbers(raws: Sequence[RawPart]) -> None:
    """Number the bars as they are counted in print: a pickup is 0, the rest of a bar cut by a repeat no new one."""
    count = 0
    short_q = Fraction(0)  # of the bar before, what it has of a full one, where it is not full
    for index in range(max(len(raw.bars) for raw in raws)):
        here = [raw.bars[index] for raw in raws if index < len(raw.bars)]
        content_q = max(bar.content_q for bar in here)
        meter = next((bar.meter for bar in here if bar.meter is not None), None)
        full_q = meter.bar_q if meter is not None else content_q
        pickup = index == 0 and content_q < full_q
        goes_on = bool(short_q) and content_q < full_q and short_q + content_q <= full_q
        count += not (pickup or goes_on)
        short_q = content_q if content_q < full_q and not (pickup or goes_on) else Fraction(0)
        for bar in here:
            bar.number, bar.implicit = str(count), pickup or goes_on


def _odd_bars(voices: Sequence[Voice]) -> Iterator[Notice]:
    """Bars with too much or too little in them, between plain barlines: most likely slips of the typing."""
    found: list[Notice] = []
    for voice in voices:
        for index, bar in enumerate(voice.part.bars):
            plain = voice.ends[index][1] and (index == 0 or voice.ends[index - 1][1])
            if bar.meter is None or bar.content_q == bar.meter.bar_q or (index and not plain) or bar.implicit:
                continue
            if index == len(voice.part.bars) - 1:
                continue
            has, wants = (bar_q * bar.meter.beat_type / 4 for bar_q in (bar.content_q, bar.meter.bar_q))
            text = f"bar {bar.number} has {has} beats of 1/{bar.meter.beat_type} where its meter has {wants}: check it"
            found.append(Notice(f"part {voice.part.name}, line {voice.ends[index][0]}", text))
    yield from found[:_ODD_BARS]
    if len(found) > _ODD_BARS:
        yield Notice("", f"{len(found) - _ODD_BARS} more bars are longer or shorter than their meter")


def example() -> str:
    """A piece in ABC with remarks that say how it is typed; ``THIS_FILE`` stands for the name it is given."""
    return (Path(__file__).parent / "example.abc").read_text(encoding="utf-8")
