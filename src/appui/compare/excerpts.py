"""Comparing readings: for each place short excerpts that differ in nothing but the sign.

An excerpt is one bar of approach, the bars the sign takes up, and the bar after them. The accompaniment is rendered
once a place and tempo, again for a reading that makes the others wait, and each reading's solo laid over it; all files
of a comparison share one gain. A last file plays the readings one after another, a bar of clicks before each.
"""

from __future__ import annotations

import json
import re
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from appui.errors import UsageError
from appui.interpret.hearing import heard_as, worth_hearing
from appui.interpret.interpretation import Interpretation, choice_by
from appui.perform.excerpt import chain, clicks, led_in
from appui.perform.model import Performance
from appui.perform.perform import only
from appui.perform.play import play
from appui.score.repeats import once
from appui.score.signs import Sign
from appui.scratch import scratch
from appui.sound.files import make_folder, write_whole
from appui.style.reading import Reading
from appui.style.table import load_style

__all__ = ["Excerpt", "ToHear", "compare", "places_that_teach", "places_to_compare"]


@dataclass(frozen=True, slots=True)
class Excerpt:
    """One file of a comparison.

    The sign's place, the reading in words (or ``one after another``), the tempo, the file's path in the folder.
    """

    place: str
    reading: str
    tempo: str
    file: str


Progress = Callable[[str], None]
#  what is to be heard at a sign, in order: the name each reading goes by, and the reading
ToHear = Callable[[Interpretation, Sign], Sequence[tuple[str, Reading]]]


def places_to_compare(interpretation: Interpretation, wanted: Sequence[str]) -> list[Sign]:
    """The signs named, or every small note of the solo that has a real alternative."""
    if wanted:
        return [interpretation.sign_at(place) for place in wanted]
    return [
        sign
        for sign in interpretation.signs
        if sign.part == interpretation.solo.index and sign.kind == "small notes" and worth_hearing(interpretation, sign)
    ]


def places_that_teach(interpretation: Interpretation) -> list[Sign]:
    """Three places of the solo to begin with: one that leans and one before the beat, both sure, and the least sure."""
    small = [
        s
        for s in interpretation.signs
        if s.part == interpretation.solo.index and s.kind == "small notes" and len(s.small) == 1
    ]

    def sure(sign: Sign) -> float:
        verdict = interpretation.analysis.verdict(sign)
        return verdict.confidence if verdict is not None else 0.0

    def surest(reading: str) -> list[Sign]:
        return sorted(
            (s for s in small if interpretation.choices[s.place].reading.name == reading), key=sure, reverse=True
        )[:1]

    taken = surest("leaning") + surest("before")
    taken += sorted((s for s in small if s not in taken), key=sure)[:1]
    return sorted(taken, key=lambda sign: sign.onset_q(interpretation.score))


def readings_of(interpretation: Interpretation, sign: Sign, styles: Sequence[str]) -> list[str]:
    """The readings to hear at a place, no two of which sound the same: of several styles, or the choice and others."""
    choice = interpretation.choices[sign.place]
    if len(styles) > 1:
        chosen = [choice_by(interpretation, sign, load_style(name)).reading.text for name in styles]
        return list(dict.fromkeys(heard_as(interpretation, sign, chosen).values()))
    return [choice.reading.text, *worth_hearing(interpretation, sign)][:3]


def _usual(styles: Sequence[str]) -> ToHear:
    return lambda interpretation, sign: [
        (words, interpretation.reading(sign.place, words)) for words in readings_of(interpretation, sign, styles)
    ]


def compare(
    interpretation: Interpretation,
    folder: Path,
    signs: Sequence[Sign],
    tempos: Sequence[str],
    *,
    styles: Sequence[str] = (),
    to_hear: ToHear | None = None,
    suffix: str = ".wav",
    soundfont: Path | None = None,
    say: Progress = lambda words: None,
) -> list[Excerpt]:
    """Write the comparison into a folder; returns what was written, in order.

    `to_hear` says what is heard at a sign, by default its readings under `styles`. Raises the errors of rendering and
    writing.
    """
    make_folder(folder)
    heard = to_hear or _usual(styles)
    planned = [_Planned.of(interpretation, sign, tempo, heard) for sign in signs for tempo in tempos]
    written = (
        _write_midi(planned, folder, say) if suffix == ".mid" else _write_audio(planned, folder, suffix, soundfont, say)
    )
    write_whole(
        folder / "index.json",
        (json.dumps(_index(interpretation, signs, written), ensure_ascii=False, indent=1) + "\n").encode(),
    )
    return written


@dataclass(frozen=True, slots=True)
class _Planned:
    """One place at one tempo: its readings and their performances."""

    interpretation: Interpretation
    sign: Sign
    tempo: str
    readings: tuple[tuple[str, Reading], ...]

    @classmethod
    def of(cls, interpretation: Interpretation, sign: Sign, tempo: str, to_hear: ToHear) -> _Planned:
        at = interpretation.at_tempo(tempo)
        readings = tuple(to_hear(at, sign))
        if not readings:
            raise UsageError(f"{sign.place} is an ornament of the edition's own: there is no way of playing it to hear")
        return cls(at, sign, tempo, readings)

    @property
    def last_bar(self) -> int:
        """The index of the last bar that a reading takes up."""
        at = self.interpretation.score
        last = max((reading.free.last for _, reading in self.readings if reading.free), default=self.sign.event)
        return at.parts[self.sign.part].voices[self.sign.voice].events[last].bar

    def performances(self) -> list[Performance]:
        """One performance a reading; all start at the same moment before the bar."""
        at = self.interpretation
        bar = self.sign.main(at.score).bar
        order = once(at.score.bars, max(bar - 1, 0), min(self.last_bar + 1, len(at.score.bars) - 1))
        made = [play(at, order, {self.sign.place: reading}) for _, reading in self.readings]
        latest = max(p.lead_q for p in made)
        return [p if p.lead_q == latest else led_in(p, latest) for p in made]

    def sequence(self, performances: Sequence[Performance]) -> Performance:
        """The readings one after another, clicks before each."""
        bar = self.interpretation.score.bars[self.sign.main(self.interpretation.score).bar]
        beat = clicks(bar.meter, performances[0].tempos[0].qpm)
        return chain(
            [p for performance in performances for p in (beat, performance)], f"{self.sign.place}: one after another"
        )

    @property
    def stem(self) -> str:
        return f"{_safe(self.sign.place)}/{_safe(self.tempo.replace('%', ' percent'))}"

    def name(self, reading: str) -> str:
        return f"{self.stem} {_safe(reading)}"


def _safe(text: str) -> str:
    return re.sub(r"[^\w.+ -]+", "-", text.replace("/", " of "), flags=re.UNICODE).strip(" .-") or "x"


def _excerpts(planned: _Planned, suffix: str) -> Iterator[Excerpt]:
    for reading, _ in planned.readings:
        yield Excerpt(planned.sign.place, reading, planned.tempo, planned.name(reading) + suffix)
    yield Excerpt(planned.sign.place, "one after another", planned.tempo, planned.name("one after another") + suffix)


def _write_midi(planned: Sequence[_Planned], folder: Path, say: Progress) -> list[Excerpt]:
    from appui.sound.midi import write_midi

    written: list[Excerpt] = []
    for plan in planned:
        say(f"{plan.sign.place} at {plan.tempo}")
        make_folder((folder / plan.stem).parent)
        made = plan.performances()
        for excerpt, performance in zip(_excerpts(plan, ".mid"), [*made, plan.sequence(made)], strict=True):
            write_midi(performance, folder / excerpt.file)
            written.append(excerpt)
    return written


def _write_audio(
    planned: Sequence[_Planned], folder: Path, suffix: str, soundfont: Path | None, say: Progress
) -> list[Excerpt]:
    from appui.sound import audio

    audio.check_suffix(Path("x" + suffix))
    mixes: list[tuple[Excerpt, list[audio.Stem]]] = []
    with scratch() as own:
        for number, plan in enumerate(planned):
            say(f"{plan.sign.place} at {plan.tempo}")
            made = plan.performances()
            whole = _Renderer(own, str(number), soundfont)
            others = [only(p, solo=False) for p in made]
            bases = {i: whole.stem(f"accompaniment{i}", p) for i, p in enumerate(others) if others.index(p) == i}
            mixed = [
                [bases[others.index(others[i])], whole.stem(f"solo{i}", only(p, solo=True))] for i, p in enumerate(made)
            ]
            mixed.append([whole.stem("sequence", plan.sequence(made))])
            mixes += zip(_excerpts(plan, suffix), mixed, strict=True)
        gain_db = audio.common_gain_db((audio.peak_of(stems) for _, stems in mixes), lossy=suffix in (".ogg", ".mp3"))
        for excerpt, stems in mixes:
            make_folder((folder / excerpt.file).parent)
            audio.write_stems(stems, folder / excerpt.file, gain_db)
    return [excerpt for excerpt, _ in mixes]


class _Renderer:
    """Renders the stems of one place and tempo into scratch files."""

    def __init__(self, scratch: Path, name: str, soundfont: Path | None) -> None:
        self.scratch, self.name, self.soundfont = scratch, name, soundfont

    def stem(self, what: str, performance: Performance) -> Any:
        from appui.sound import audio

        return audio.render_stem(performance, self.scratch / f"{self.name}-{what}", self.soundfont)


def _index(interpretation: Interpretation, signs: Sequence[Sign], written: Sequence[Excerpt]) -> dict[str, Any]:
    places = []
    for sign in signs:
        choice, verdict = interpretation.choices[sign.place], interpretation.analysis.verdict(sign)
        files = [{"reading": e.reading, "tempo": e.tempo, "file": e.file} for e in written if e.place == sign.place]
        places.append(
            {
                "id": sign.place,
                "chosen": choice.reading.text,
                "by": choice.by,
                "reason": choice.reason,
                "harmony": verdict.label if verdict is not None and verdict.known else None,
                "files": files,
            }
        )
    return {"score": interpretation.score.title, "solo": interpretation.solo.name, "places": places}
