"""One score prepared by one player.

Signs found, harmony read, readings chosen, ready to be performed whole or in excerpts.

The order in which things win is the player's ``--take``, the plan, the edition's playback attributes, the style.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property
from pathlib import Path
from typing import TYPE_CHECKING

from appui.errors import PlaceError, ScoreError, UsageError
from appui.exact import Fraction
from appui.perform.holds import Hold, held_tempos, holds_of, let_go, silences_of
from appui.perform.levels import LevelCurve
from appui.perform.model import Performance
from appui.perform.perform import Take, perform
from appui.perform.tempo import tempo_factor
from appui.realize.contract import Tone
from appui.realize.voice import Manner, Tempo, realize_part
from appui.score.model import Part, Score, TempoMark
from appui.score.pitch import Pitch
from appui.score.read import read_score
from appui.score.repeats import Occurrence, once, unfold
from appui.score.signs import EMBELLISHMENT, Sign, bar_names, find_signs
from appui.score.solo import find_part, guess_solo
from appui.style.choose import Choice, check_reading, choose
from appui.style.practice import year_of
from appui.style.reading import Reading
from appui.style.table import Style, load_style

if TYPE_CHECKING:
    from appui.harmony.analyse import Harmony
    from appui.harmony.model import Verdict
    from appui.harmony.written_out import WrittenOut
    from appui.style.embellishment import Embellishment
    from appui.style.ground import Ground
    from appui.style.plan import Plan

__all__ = ["LONGEST_Q", "SLOWINGS", "Session", "Wishes"]

SLOWINGS = ("scaled", "natural")
#  what a MIDI file holds at its most
LONGEST_Q = 279_620


@dataclass(frozen=True, slots=True)
class Wishes:
    """What the player asks for. `takes` are ``PLACE=READING``; `weight_db` overrides the style's weight.

    `hold` is how many times its length a plain fermata lasts; `year` when the music is from. `chart` is a file of
    chords where the score has none; `pattern` how an accompaniment made from chords is played, ``none`` for no
    accompaniment but what is printed. `written_out_db` is the weight of leaning notes printed as full-size notes.
    """

    solo: str | None = None
    style: str | None = None
    plan: Path | None = None
    takes: tuple[str, ...] = ()
    tempo: str | None = None
    slowing: str = "scaled"
    weight_db: Fraction | None = None
    hold: Fraction | None = None
    year: int | None = None
    chart: Path | None = None
    pattern: str = "held"
    written_out_db: Fraction | None = None


def _with_accompaniment(score: Score, wishes: Wishes) -> Score:
    """The score with an accompaniment where it has figures, chord symbols or a chart, and none of its own."""
    if wishes.chart is None and not any(part.figures or part.chord_symbols for part in score.parts):
        return score
    from appui.accompany.add import accompanied
    from appui.accompany.chart import read_chart, with_chart

    chart = read_chart(wishes.chart, score) if wishes.chart is not None else None
    if wishes.pattern == "none":
        return with_chart(score, chart) if chart is not None else score
    solo = find_part(score, wishes.solo) if wishes.solo else None
    return accompanied(score, pattern=wishes.pattern, chart=chart, solo=solo)


@dataclass
class Session:
    """See the module's head. Everything is computed when first asked for.

    `offered` are embellishments beside those of the plan: their signs are there, and they are played where asked for.
    """

    score: Score
    wishes: Wishes = field(default_factory=Wishes)
    offered: tuple[Embellishment, ...] = ()

    @classmethod
    def open(cls, path: Path | str, wishes: Wishes | None = None) -> Session:
        """Read a score and prepare it; raises the errors of what it is given."""
        wishes = wishes or Wishes()
        session = cls(_with_accompaniment(read_score(path), wishes), wishes)
        session.check()
        return session

    def check(self) -> None:
        """Refuse wishes that cannot be met, before anything is written."""
        if self.wishes.slowing not in SLOWINGS:
            raise UsageError(f"slowing {self.wishes.slowing!r} is not one of {', '.join(SLOWINGS)}")
        _ = self.solo, self.style, self.factor, self._wanted

    @cached_property
    def printed_signs(self) -> tuple[Sign, ...]:
        """All signs of the score."""
        return find_signs(self.score)

    @cached_property
    def signs(self) -> tuple[Sign, ...]:
        """All signs of the score, and those that the plan's embellishments add, in order of part and time."""
        added = [one.sign for one in self.embellishments.values() if one.sign not in self.printed_signs]
        if not added:
            return self.printed_signs
        return tuple(sorted((*self.printed_signs, *added), key=lambda sign: (sign.part, sign.onset_q(self.score))))

    @cached_property
    def embellishments(self) -> dict[str, Embellishment]:
        """Embellishments by the place of their sign: those offered, and the plan's over them."""
        return {one.sign.place: one for one in self.offered} | (self.plan.embellishments if self.plan else {})

    def ground(self, part: int, voice: int) -> Ground:
        """The harmony under one voice."""
        from appui.style.ground import Ground

        if (part, voice) not in self._grounds:
            self._grounds[part, voice] = Ground(self.score, self.harmony, part, voice)
        return self._grounds[part, voice]

    @cached_property
    def _grounds(self) -> dict[tuple[int, int], Ground]:
        return {}

    @cached_property
    def solo(self) -> Part:
        """The solo part, named or guessed."""
        return (
            find_part(self.score, self.wishes.solo) if self.wishes.solo else guess_solo(self.score, self.printed_signs)
        )

    @cached_property
    def plan(self) -> Plan | None:
        """The player's plan, read and checked."""
        if self.wishes.plan is None:
            return None
        from appui.style.plan import read_plan

        return read_plan(self.wishes.plan, self.score, self.printed_signs, self.ground)

    @cached_property
    def style(self) -> Style:
        """The style: named, else the plan's, else `harmony`."""
        return load_style(self.wishes.style or (self.plan.style if self.plan else None) or "harmony")

    @cached_property
    def factor(self) -> Fraction:
        """What the written tempo is multiplied by."""
        return tempo_factor(self.wishes.tempo, self.score)

    @cached_property
    def harmony(self) -> Harmony:
        """The harmony of the score."""
        from appui.harmony.analyse import analyse

        return analyse(self.score)

    @cached_property
    def _wanted(self) -> dict[str, tuple[str, str]]:
        wanted = self.plan.wanted() if self.plan else {}
        for take in self.wishes.takes:
            place, words = self._parse_take(take)
            wanted[place] = (words, "--take")
        return wanted

    def _parse_take(self, take: str) -> tuple[str, str]:
        place, equals, words = take.partition("=")
        if not equals or not words.strip():
            raise UsageError(f"--take {take!r} is not PLACE=READING, such as oboe.12.3='leaning 1/2'")
        self.sign_at(place.strip())
        return place.strip(), words.strip()

    def sign_at(self, place: str) -> Sign:
        """The sign of a place name; raises `PlaceError` naming the nearest."""
        found = self._by_place.get(place)
        if found is None:
            import difflib

            near = difflib.get_close_matches(place, self._by_place, 3, 0)
            listed = f"; near it: {', '.join(near)}" if near else "; the score has no signs"
            raise PlaceError(self.score.file, f"has no sign at {place!r}{listed}", "take a place from `appui survey`")
        return found

    @cached_property
    def _by_place(self) -> dict[str, Sign]:
        return {sign.place: sign for sign in self.signs}

    def _steps(self, tempos: Sequence[TempoMark]) -> tuple[tuple[Fraction, Fraction], ...]:
        natural = self.factor if self.wishes.slowing == "natural" else Fraction(1)
        return tuple((mark.onset_q, mark.qpm * natural) for mark in tempos)

    @cached_property
    def choices(self) -> dict[str, Choice]:
        """The choice for every sign, by place."""
        tempo = Tempo(self._steps(self.score.tempos))
        return {sign.place: self._choose(sign, self.style, tempo) for sign in self.signs}

    def choice_by(self, sign: Sign, style: Style) -> Choice:
        """What another style chooses for a sign, whatever the player has decided."""
        tempo = Tempo(self._steps(self.score.tempos)).at(sign.onset_q(self.score))
        return choose(self.score, sign, self.verdict(sign), style, tempo, None, self.year)

    def _choose(self, sign: Sign, style: Style, tempo: Tempo) -> Choice:
        qpm = tempo.at(sign.onset_q(self.score))
        wanted = self._wanted
        if sign.place in self.embellishments and sign.place not in wanted:
            wanted = wanted | ({sign.place: ("plain", "offered")} if sign.kind == EMBELLISHMENT else {})
        choice = choose(self.score, sign, self.verdict(sign), style, qpm, wanted, self.year)
        choice = replace(choice, reading=self._with_notes(sign, choice.reading), alternatives=self._also(sign, choice))
        hold = self.wishes.hold
        if hold is None or choice.reading.name != "hold" or not choice.by.startswith("style"):
            return choice
        # the setting is for the plain fermata; the longer and shorter shapes keep their proportion to it
        times = 1 + (choice.reading.fraction("times", Fraction(2)) - 1) * (hold - 1)
        return replace(choice, reading=choice.reading.with_sizes(times=times), by="--hold")

    @cached_property
    def year(self) -> int:
        """The year the music is taken to be of: asked for, else from the file's creator; 0 where neither says."""
        return self.wishes.year or year_of(self.score.creators)

    def held(self, changed: Mapping[str, Reading] | None = None) -> Score:
        """The score with its fermatas held."""
        return self._held(changed) if changed else self._held_as_chosen

    @cached_property
    def _held_as_chosen(self) -> Score:
        return self._held({})

    def holds(self, changed: Mapping[str, Reading] | None = None) -> tuple[Hold, ...]:
        """The holds of the printed score, with some readings changed: those, and the player's own, go before others."""
        changed = changed or {}
        readings = {place: choice.reading for place, choice in self.choices.items()} | dict(changed)
        decided = self._wanted.keys() | changed.keys()
        return holds_of(self.score, (s for s in self.signs if s.kind == "fermata"), readings, decided)

    def _held(self, changed: Mapping[str, Reading]) -> Score:
        holds = self.holds(changed)
        return replace(self.score, tempos=held_tempos(self.score.tempos, holds)) if holds else self.score

    def verdict(self, sign: Sign) -> Verdict | None:
        """What the harmony says of a sign; `None` for signs the harmony has no say in."""
        return self._verdicts[sign.place] if sign.place in self._verdicts else self._judge(sign)

    @cached_property
    def _verdicts(self) -> dict[str, Verdict]:
        return {}

    def _judge(self, sign: Sign) -> Verdict | None:
        if sign.main_note(self.score) is None or sign.kind in ("fermata", "breath mark", "caesura", EMBELLISHMENT):
            return None
        found = self._verdicts[sign.place] = self.harmony.verdict(sign)
        return found

    def _with_notes(self, sign: Sign, reading: Reading) -> Reading:
        """The reading, an embellished one with its notes; raises `UsageError` where there are none."""
        if reading.name != "embellished":
            return reading
        found = self.embellishments.get(sign.place)
        if found is None:
            raise UsageError(
                f"{sign.place} has no notes to be embellished with; write them under [embellishments] in a plan"
            )
        return replace(reading, free=found.free)

    def _also(self, sign: Sign, choice: Choice) -> tuple[str, ...]:
        """The other readings worth hearing: against an embellishment the plain notes, and the other way round."""
        if sign.place not in self.embellishments:
            return choice.alternatives
        also = tuple(words for words in choice.alternatives if words != "embellished")
        if choice.reading.name == "embellished":
            return also or ("plain",)
        return ("embellished", *also)

    def reading(self, place: str, words: str) -> Reading:
        """Words as a reading of the sign at a place, sizes filled in."""
        sign = self.sign_at(place)
        found = self._with_notes(sign, check_reading(words, sign, self.choices[place].situation))
        # who asks for it wants to hear it, the first time too
        return replace(found, free=found.free._replace(second_time=False)) if found.free else found

    # performing

    def bars(self, wanted: str | None) -> tuple[int, int]:
        """First and last bar index (inclusive) of a range such as ``5-12``, by printed numbers; all bars for `None`."""
        if wanted is None:
            return 0, len(self.score.bars) - 1
        names = bar_names(self.score)
        match = re.fullmatch(r"\s*([^-\s]+)\s*(?:-\s*([^-\s]+)\s*)?", wanted)
        if not match:
            raise UsageError(f"bars {wanted!r} is neither a bar such as 5 nor a range such as 5-12")
        first, last = match.group(1), match.group(2) or match.group(1)
        for name in (first, last):
            if name not in names:
                raise PlaceError(
                    self.score.file,
                    f"has no bar {name!r}; its bars are {names[0]} to {names[-1]}",
                    "name bars as they are printed",
                )
        low, high = names.index(first), names.index(last)
        if low > high:
            raise PlaceError(
                self.score.file, f"bars {wanted}: bar {first} comes after bar {last}", f"write {last}-{first}"
            )
        return low, high

    def order(self, bars: str | None, *, repeats: bool) -> tuple[Occurrence, ...]:
        """The bars in the order they are played: a range once, as printed; the whole with its repeats or without."""
        if bars is not None:
            return once(self.score.bars, *self.bars(bars))
        return unfold(self.score.bars) if repeats else once(self.score.bars)

    def tones(
        self,
        order: Sequence[Occurrence],
        changed: Mapping[str, Reading] | None = None,
        parts: Sequence[int] | None = None,
    ) -> dict[int, list[Tone]]:
        """The tones of the parts, with some readings changed by place.

        Raises `ScoreError` for more than `LONGEST_Q` quarters.
        """
        self._check_length(order)
        readings = {place: choice.reading for place, choice in self.choices.items()} | dict(changed or {})
        tempo, weight = Tempo(self._steps(self.held(changed).tempos)), self.wishes.weight_db
        manner = Manner(self.style.weight_db if weight is None else weight, self.style.profile)
        first = self.score.bars[order[0].bar]
        lead_q = first.meter.beat_q if first.index else first.lead_q
        silences = silences_of(self.score, (s for s in self.signs if s.kind == "fermata"), readings)
        tones: dict[int, list[Tone]] = {}
        for index in range(len(self.score.parts)) if parts is None else parts:
            done = realize_part(
                self.score, index, self._signs_of[index], readings, order, tempo, manner=manner, lead_q=lead_q
            )
            tones[index] = let_go(self._weighed(index, done.tones), index, silences, order, self.score)
            self.notices.update(dict.fromkeys(done.notices))
        return tones

    def _check_length(self, order: Sequence[Occurrence]) -> None:
        """Before anything is made of a knot of repeats."""
        length_q = order[-1].onset_q + self.score.bars[order[-1].bar].length_q
        if length_q > LONGEST_Q:
            raise ScoreError(
                self.score.file,
                f"plays {round(length_q):,} quarter notes, more than a file holds ({LONGEST_Q:,})",
                "take fewer bars, or leave out the repeats",
            )

    @cached_property
    def written_out(self) -> tuple[WrittenOut, ...]:
        """The leaning notes that are printed as full-size notes."""
        from appui.harmony.written_out import written_out

        return written_out(self.score, self.harmony)

    def _weighed(self, part: int, tones: list[Tone]) -> list[Tone]:
        """The tones with the weight asked for on written-out leaning notes and their releases."""
        weight_db = self.wishes.written_out_db
        if weight_db is None:
            return tones
        levels: dict[int, tuple[Pitch, Fraction]] = {}
        for found in self.written_out:
            if found.part == part:
                events = self.score.parts[part].voices[found.voice].events
                levels[id(events[found.event])] = (found.pitch, weight_db / 2)
                levels.setdefault(id(events[found.resolution]), (found.target, -weight_db / 2))
        return [
            tone._replace(level_db=tone.level_db + level[1])
            if tone.role in ("plain", "main") and (level := levels.get(id(tone.event))) and tone.pitch == level[0]
            else tone
            for tone in tones
        ]

    @cached_property
    def notices(self) -> dict[tuple[str, str], None]:
        """What had to be said while realizing: (place, words), in order."""
        return {}

    @cached_property
    def _signs_of(self) -> list[list[Sign]]:
        table: list[list[Sign]] = [[] for _ in self.score.parts]
        for sign in self.signs:
            table[sign.part].append(sign)
        return table

    def perform(
        self,
        order: Sequence[Occurrence],
        changed: Mapping[str, Reading] | None = None,
        parts: Sequence[int] | None = None,
        *,
        factor: Fraction | None = None,
    ) -> Performance:
        """A performance of these bars and parts (all by default), with some readings changed."""
        tones = self.tones(order, changed, parts)
        words = {place: choice.reading.text for place, choice in self.choices.items() if choice.realized}
        words |= {place: reading.text for place, reading in (changed or {}).items()}
        wanted = self.factor if factor is None else factor
        return perform(Take(self.held(changed), order, tones, wanted, self.solo.index, words, curves=self._curves))

    @cached_property
    def _curves(self) -> dict[int, LevelCurve]:
        return {}

    def at_tempo(self, tempo: str | None) -> Session:
        """The same session at another practice tempo; what is known of the score is kept."""
        other = Session(self.score, replace(self.wishes, tempo=tempo), self.offered)
        return self._handing_on(other, *_OF_SCORE, "style", "plan", "signs", "embellishments")

    def offering(self, offered: Iterable[Embellishment]) -> Session:
        """The same session with other embellishments offered beside those of the plan."""
        return self._handing_on(Session(self.score, self.wishes, tuple(offered)), *_OF_SCORE, "style", "plan")

    def with_plan(self, plan: Path) -> Session:
        """The same score prepared with another plan; raises its errors."""
        other = Session(self.score, replace(self.wishes, plan=plan), self.offered)
        self._handing_on(other, *_OF_SCORE).check()
        return other

    def _handing_on(self, other: Session, *names: str) -> Session:
        """Give another session what this one has already found out."""
        other.__dict__.update({name: self.__dict__[name] for name in names if name in self.__dict__})
        return other


#  what is found once for a score and its solo, whatever is wished of them
_OF_SCORE = ("printed_signs", "solo", "harmony", "_grounds", "_verdicts", "_curves")
