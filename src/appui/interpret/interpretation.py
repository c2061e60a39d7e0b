"""One score as one player means to play it: signs, the reading taken for each, style, plan and tempo.

Another plan, tempo or style is another `Interpretation` over the same `Analysis`. Asking changes nothing.
The order in which things win is the player's ``--take``, the plan, the edition's playback attributes, the style.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property
from pathlib import Path
from typing import TYPE_CHECKING, Any

from appui.errors import PlaceError, UsageError
from appui.exact import Fraction
from appui.interpret.analysis import Analysis
from appui.interpret.holds import Hold, held_tempos, holds_of
from appui.interpret.printed import written_for
from appui.interpret.tempo import tempo_factor
from appui.interpret.wishes import Wishes
from appui.notations.read import read_score
from appui.realize.voice import Tempo
from appui.score.bars import play_order
from appui.score.model import Part, Score, TempoMark
from appui.score.movements import find_movement
from appui.score.nearest import full_place, nearest
from appui.score.repeats import Occurrence
from appui.score.signs import EMBELLISHMENT, Sign
from appui.score.solo import find_part
from appui.style.agreement import agree
from appui.style.choose import Choice, check_reading, choose
from appui.style.measured import year_of
from appui.style.reading import Reading
from appui.style.situation import Circumstances
from appui.style.table import Style, load_style

if TYPE_CHECKING:
    from appui.plan.embellishment import Embellishment
    from appui.plan.plan import Plan

__all__ = [
    "Interpretation",
    "choice_by",
    "holds_played",
    "in_solos",
    "interpret",
    "interpret_analysis",
    "offering",
    "ornament_tempo",
    "plan_notices",
    "readings_of",
]


def interpret(path: Path | str, wishes: Wishes | None = None) -> Interpretation:
    """Read a score and prepare it for a player; raises the errors of what it is given."""
    wishes, whole = _as_planned(wishes or Wishes()), read_score(path)
    if wishes.movement is not None:
        wishes = replace(wishes, movement=str(find_movement(whole, wishes.movement).number))
    score = written_for(Path(path), whole, wishes)
    return interpret_analysis(Analysis(_with_accompaniment(score, wishes)), wishes)


def _as_planned(wishes: Wishes) -> Wishes:
    """The wishes, and where nothing is said those that the plan remembers."""
    if wishes.plan is None:
        return wishes
    from appui.plan.plan import remembered

    kept: dict[str, Any] = remembered(wishes.plan)
    if "solo" in kept and wishes.solo is None:
        kept["solo"], *also = kept["solo"].split(" + ")
        kept["also"] = tuple(also)
    if "chart" in kept:
        kept["chart"] = Path(kept["chart"])
    nothing = Wishes()
    return replace(
        wishes, **{key: value for key, value in kept.items() if getattr(wishes, key) == getattr(nothing, key)}
    )


def interpret_analysis(analysis: Analysis, wishes: Wishes | None = None) -> Interpretation:
    """Prepare a score that has been read for a player; raises the errors of the wishes."""
    wishes = wishes or Wishes()
    found = Interpretation(analysis, wishes, _plan_of(analysis, wishes, wishes.plan))
    found.check()
    return found


def _plan_of(analysis: Analysis, wishes: Wishes, path: Path | None) -> Plan | None:
    """The player's plan, read and checked."""
    if path is None:
        return None
    from appui.plan.plan import read_plan

    return read_plan(path, analysis.score, analysis.signs, analysis.ground, wishes.movement)


def _with_accompaniment(score: Score, wishes: Wishes) -> Score:
    """The score with an accompaniment where it has figures, chord symbols or a chart, and none of its own."""
    if wishes.chart is None and not any(part.figures or part.chord_symbols for part in score.parts):
        return score
    from appui.accompany.add import accompanied, with_sounding_symbols
    from appui.accompany.chart import read_chart, with_chart

    chart = read_chart(wishes.chart, score) if wishes.chart is not None else None
    if wishes.pattern == "none":
        return with_chart(score, chart) if chart is not None else with_sounding_symbols(score)
    solo = find_part(score, wishes.solo) if wishes.solo else None
    return accompanied(score, pattern=wishes.pattern, chart=chart, solo=solo)


@dataclass(frozen=True, eq=False)
class Interpretation:
    """See the module's head. What is not given is worked out when first asked for.

    `plan` is the plan of the wishes, read. `offered` are embellishments beside those of the plan: their signs are
    there, and they are played where asked for.
    """

    analysis: Analysis
    wishes: Wishes = field(default_factory=Wishes)
    plan: Plan | None = None
    offered: tuple[Embellishment, ...] = ()

    def check(self) -> None:
        """Refuse wishes that cannot be met, before anything is written; raises their errors."""
        _ = self.solos, self.style, self.factor, self.wanted

    @property
    def score(self) -> Score:
        """The score."""
        return self.analysis.score

    @cached_property
    def solo(self) -> Part:
        """The solo part, named or guessed."""
        named = self.wishes.solo
        if named:
            return find_part(self.score, named)
        return self.analysis.guess.part

    @cached_property
    def solos(self) -> tuple[Part, ...]:
        """The solo part and others that are solos beside it; raises `PlaceError` for one that is not there."""
        named = (self.solo, *(find_part(self.score, each) for each in self.wishes.also))
        return tuple({part.index: part for part in named}.values())

    @cached_property
    def style(self) -> Style:
        """The style: named, else the plan's, else `harmony`."""
        return load_style(self.wishes.style or (self.plan.style if self.plan else None) or "harmony")

    @cached_property
    def factor(self) -> Fraction:
        """What the written tempo is multiplied by."""
        return tempo_factor(self.wishes.tempo, self.score)

    @cached_property
    def year(self) -> int:
        """The year the music is taken to be of: asked for, else from the file's creator; 0 where neither says."""
        return self.wishes.year or year_of(self.score.creators)

    @cached_property
    def embellishments(self) -> Mapping[str, Embellishment]:
        """Embellishments by the place of their sign: those offered, and the plan's over them."""
        return {one.sign.place: one for one in self.offered} | (self.plan.embellishments if self.plan else {})

    @cached_property
    def signs(self) -> tuple[Sign, ...]:
        """All signs of the score, and those that the plan's embellishments add, in order of part and time."""
        printed = self.analysis.signs
        added = [one.sign for one in self.embellishments.values() if one.sign not in printed]
        if not added:
            return printed
        return tuple(sorted((*printed, *added), key=lambda sign: (sign.part, sign.onset_q(self.score))))

    @cached_property
    def signs_by_part(self) -> Sequence[Sequence[Sign]]:
        """The signs of each part, by its index."""
        table: list[list[Sign]] = [[] for _ in self.score.parts]
        for sign in self.signs:
            table[sign.part].append(sign)
        return table

    @cached_property
    def _by_place(self) -> Mapping[str, Sign]:
        return {sign.place: sign for sign in self.signs}

    def sign_at(self, place: str) -> Sign:
        """The sign of a place name, without a part that of the solo; raises `PlaceError` naming the nearest."""
        found = self._by_place.get(place.strip()) or self._by_place.get(full_place(self.score, place, self.solo.index))
        if found is None:
            near = nearest(self.score, self.signs, place, self.solo.index)
            raise PlaceError(
                self.score.file, f"has no ornament at {place!r}; {near}", "take a place from `appui survey`"
            )
        return found

    @cached_property
    def wanted(self) -> Mapping[str, tuple[str, str]]:
        """What the player has decided, by place: the reading's words, and where they stand."""
        wanted = self.plan.wanted() if self.plan else {}
        for take in self.wishes.takes:
            place, words = _parse_take(self, take)
            wanted[place] = (words, "--take")
        return wanted

    @cached_property
    def choices(self) -> Mapping[str, Choice]:
        """The choice for every sign, by place."""
        return _choose_all(self)

    def reading(self, place: str, words: str) -> Reading:
        """Words as a reading of the sign at a place, sizes filled in; raises `UsageError` for words that are none."""
        sign = self.sign_at(place)
        found = _with_notes(self, sign, check_reading(words, sign, self.choices[sign.place].situation))
        # who asks for it wants to hear it, the first time too
        return replace(found, free=found.free._replace(second_time=False)) if found.free else found

    def held(self, changed: Mapping[str, Reading] | None = None) -> Score:
        """The score with its fermatas held."""
        # only a fermata played otherwise makes the others wait otherwise
        waits = any(self._by_place[place].kind == "fermata" for place in changed or {} if place in self._by_place)
        return _held(self, changed or {}) if waits else self._held_as_chosen

    @cached_property
    def _held_as_chosen(self) -> Score:
        return _held(self, {})

    def order(self, bars: str | None = None, *, repeats: bool = True) -> Sequence[Occurrence]:
        """The bars in the order they are played; see `appui.score.bars.play_order`."""
        return play_order(self.score, bars, repeats=repeats)

    def at_tempo(self, tempo: str | None) -> Interpretation:
        """The same at another practice tempo."""
        return replace(self, wishes=replace(self.wishes, tempo=tempo))

    def with_plan(self, plan: Path) -> Interpretation:
        """The same score with another plan; raises its errors."""
        wishes = replace(self.wishes, plan=plan)
        other = replace(self, wishes=wishes, plan=_plan_of(self.analysis, wishes, plan))
        other.check()
        return other


def in_solos(interpretation: Interpretation, part: int) -> bool:
    """Whether a part, by index, is one of the solos."""
    return any(part == each.index for each in interpretation.solos)


def plan_notices(interpretation: Interpretation) -> tuple[tuple[str, str], ...]:
    """What became of the plan's places in a score that was corrected: pairs of a place and a sentence."""
    return interpretation.plan.notices if interpretation.plan is not None else ()


def offering(interpretation: Interpretation, offered: Iterable[Embellishment]) -> Interpretation:
    """The same with other embellishments offered beside those of the plan."""
    return replace(interpretation, offered=tuple(offered))


def choice_by(interpretation: Interpretation, sign: Sign, style: Style) -> Choice:
    """What another style chooses for a sign, whatever the player has decided."""
    score, tempo = interpretation.score, ornament_tempo(interpretation, interpretation.score.tempos)
    verdict = interpretation.analysis.verdict(sign)
    return choose(score, sign, verdict, style, _circumstances(interpretation, sign, tempo))


def readings_of(interpretation: Interpretation, changed: Mapping[str, Reading] | None = None) -> Mapping[str, Reading]:
    """The reading of every sign by place, some of them changed."""
    return {place: choice.reading for place, choice in interpretation.choices.items()} | dict(changed or {})


def holds_played(interpretation: Interpretation, changed: Mapping[str, Reading] | None = None) -> tuple[Hold, ...]:
    """The holds of the printed score, with some readings changed: those, and the player's own, go before others."""
    fermatas = (sign for sign in interpretation.signs if sign.kind == "fermata")
    first = interpretation.wanted.keys() | (changed or {}).keys()
    return holds_of(interpretation.score, fermatas, readings_of(interpretation, changed), first)


def _held(interpretation: Interpretation, changed: Mapping[str, Reading]) -> Score:
    score, holds = interpretation.score, holds_played(interpretation, changed)
    return replace(score, tempos=held_tempos(score.tempos, holds)) if holds else score


def _parse_take(interpretation: Interpretation, take: str) -> tuple[str, str]:
    """Place and words of a ``--take``; raises `UsageError` for what is no such thing."""
    place, equals, words = take.partition("=")
    if not equals or not words.strip():
        raise UsageError(f"--take {take!r} is not PLACE=WAY, such as oboe.12.3='leaning 1/2'")
    return interpretation.sign_at(place).place, words.strip()


def ornament_tempo(interpretation: Interpretation, tempos: Sequence[TempoMark]) -> Tempo:
    """The tempo that lengths in milliseconds are reckoned at: the practice tempo where slowing is natural."""
    natural = interpretation.factor if interpretation.wishes.slowing == "natural" else Fraction(1)
    return Tempo(tuple((mark.onset_q, mark.qpm * natural) for mark in tempos))


def _choose_all(interpretation: Interpretation) -> dict[str, Choice]:
    """The choice for every sign, by place; raises `UsageError` for words that are no reading of their sign."""
    tempo = ornament_tempo(interpretation, interpretation.score.tempos)
    choices = {sign.place: _choose(interpretation, sign, tempo) for sign in interpretation.signs}
    analysis = interpretation.analysis
    return agree(analysis.score, analysis.print, interpretation.signs, choices, analysis.verdict)


def _circumstances(interpretation: Interpretation, sign: Sign, tempo: Tempo) -> Circumstances:
    analysis = interpretation.analysis
    return Circumstances(
        qpm=tempo.at(sign.onset_q(analysis.score)),
        year=interpretation.year,
        habits=analysis.print.of(sign) if sign.small else None,
        strokes=interpretation.wishes.strokes,
        rest_holds=analysis.rest_holds(sign) if sign.small else None,
    )


def _choose(interpretation: Interpretation, sign: Sign, tempo: Tempo) -> Choice:
    verdict, known = interpretation.analysis.verdict(sign), _circumstances(interpretation, sign, tempo)
    choice = choose(interpretation.score, sign, verdict, interpretation.style, known, _wanted(interpretation, sign))
    reading, also = _with_notes(interpretation, sign, choice.reading), _also_worth_hearing(interpretation, sign, choice)
    return _held_as_asked(interpretation, replace(choice, reading=reading, alternatives=also))


def _wanted(interpretation: Interpretation, sign: Sign) -> Mapping[str, tuple[str, str]]:
    """What the player has decided; an embellishment that is only offered is not played unless asked for."""
    if (
        sign.kind != EMBELLISHMENT
        or sign.place not in interpretation.embellishments
        or sign.place in interpretation.wanted
    ):
        return interpretation.wanted
    return {**interpretation.wanted, sign.place: ("plain", "offered")}


def _held_as_asked(interpretation: Interpretation, choice: Choice) -> Choice:
    """A fermata's hold as long as asked for; the longer and shorter shapes keep their proportion to the plain one."""
    hold = interpretation.wishes.hold
    if hold is None or choice.reading.name != "hold" or not choice.by.startswith("style"):
        return choice
    times = 1 + (choice.reading.fraction("times", Fraction(2)) - 1) * (hold - 1)
    return replace(choice, reading=choice.reading.with_sizes(times=times), by="--hold")


def _with_notes(interpretation: Interpretation, sign: Sign, reading: Reading) -> Reading:
    """The reading, an embellished one with its notes; raises `UsageError` where there are none."""
    if reading.name != "embellished":
        return reading
    found = interpretation.embellishments.get(sign.place)
    if found is None:
        raise UsageError(
            f"{sign.place} has no notes to be embellished with; write them under [embellishments] in a plan"
        )
    return replace(reading, free=found.free)


def _also_worth_hearing(interpretation: Interpretation, sign: Sign, choice: Choice) -> tuple[str, ...]:
    """The other readings worth hearing: against an embellishment the plain notes, and the other way round."""
    if sign.place not in interpretation.embellishments:
        return choice.alternatives
    also = tuple(words for words in choice.alternatives if words != "embellished")
    if choice.reading.name == "embellished":
        return also or ("plain",)
    return ("embellished", *also)
