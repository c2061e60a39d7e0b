"""What the layers of a score share while it is read, and what stands around a note."""

from __future__ import annotations

from dataclasses import dataclass, field, replace

from appui.exact import Fraction
from appui.mei.names import Element, ident
from appui.mei.staves import Staff, Staves
from appui.musicxml.read.numbers import Where
from appui.score.gather import Spot
from appui.score.model import Ornament
from appui.score.raw import RawEvent

__all__ = ["Around", "Page"]


@dataclass(frozen=True, slots=True)
class Around:
    """What the elements around a note say of it.

    `ratio` is that of its tuplets; `halved` whether it shares its printed value with another note; `tremolo` the
    strokes through its stem; `grace` of what kind its group of small notes is, `stroke` whether that has a stroke.
    """

    ratio: Fraction = Fraction(1)
    halved: bool = False
    tremolo: tuple[Ornament, ...] = ()
    grace: str = ""
    stroke: bool = False
    depth: int = 0

    def within(
        self,
        *,
        ratio: Fraction | None = None,
        halved: bool | None = None,
        tremolo: tuple[Ornament, ...] | None = None,
        grace: str | None = None,
        stroke: bool | None = None,
    ) -> Around:
        """The same with one more element around."""
        said = {"ratio": ratio, "halved": halved, "tremolo": tremolo, "grace": grace, "stroke": stroke}
        changes = {name: value for name, value in said.items() if value is not None}
        return replace(self, depth=self.depth + 1, **changes)  # type: ignore[arg-type]


@dataclass(slots=True)
class Page:
    """Where the reader stands, and where the notes that others point to have gone.

    `wanted` are the ids something points to; `spots` are the notes of these ids, `moments` their staff, bar and place
    in the bar. `spans` are the tuplets of a bar that are marked from note to note: ratio and last note, by the first
    one; `bar_rests` the rests of a bar that are as long as the bar will be. With `by_signature` the file leaves
    sounding accidentals out: key and bar say them; with `octaves_said` it says the octave of notes under an octave
    line.
    """

    where: Where
    staves: Staves
    wanted: frozenset[str] = frozenset()
    by_signature: bool = False
    octaves_said: bool = False
    spots: dict[str, Spot] = field(default_factory=dict)
    moments: dict[str, tuple[Staff, int, Fraction]] = field(default_factory=dict)
    spans: dict[str, tuple[Fraction, str]] = field(default_factory=dict)
    accidentals: dict[tuple[str, str, int], int | Fraction] = field(default_factory=dict)
    bar_rests: list[RawEvent] = field(default_factory=list)
    _shared: dict[Fraction, Fraction] = field(default_factory=dict)

    def share(self, value: Fraction) -> Fraction:
        """One object for one value: a long score has the same few many times."""
        return self._shared.setdefault(value, value)

    def notice(self, staff: Staff, node: Element, text: str) -> None:
        """Say something odd once a part."""
        staff.part.raw.notice(self.where.place(node.sourceline), text)

    def moment(self, node: Element, staff: Staff, bar: int, at_q: Fraction) -> None:
        """Remember where something is that others point to."""
        name = ident(node)
        if name in self.wanted:
            self.moments.setdefault(name, (staff, bar, at_q))

    def spot(self, node: Element, event: RawEvent, index: int | None) -> None:
        """Remember a full-size note or chord that others point to."""
        name = ident(node)
        if name in self.wanted:
            self.spots.setdefault(name, Spot(event, "", index))

    def small_spot(self, node: Element) -> list[Spot]:
        """A place to remember a small note in that others point to; none where nobody does."""
        name = ident(node)
        return [self.spots.setdefault(name, Spot())] if name in self.wanted else []
