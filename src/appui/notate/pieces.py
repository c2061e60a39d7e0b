"""What a printed note becomes: pieces whose values can be printed, each with the tones that sound in it."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

from appui.exact import Fraction
from appui.notate.values import Piece, divide, is_printable, look_of, values_across
from appui.realize.contract import Tone
from appui.score.model import Bar, Event, Part
from appui.score.pitch import Pitch
from appui.style.free import Free

__all__ = ["Beats", "Written", "free_pieces", "pieces_of", "unit_of"]

# durations that a file has rounded to its divisions are this near to their printed value
_SLIP = Fraction(1, 20)


@dataclass(frozen=True, slots=True)
class Written:
    """One piece of a slot as it is to be written.

    `piece` its values; `tones` what sounds in it, with the written pitch of each; `starts`, `stops` which of them begin
    and end here. `early_q`, `late_q`: how far the exact onset and end lie after the written ones.
    """

    piece: Piece
    tones: tuple[Tone, ...]
    pitches: tuple[Pitch, ...]
    starts: tuple[bool, ...]
    stops: tuple[bool, ...]
    early_q: Fraction
    late_q: Fraction


def free_pieces(part: Part, event: Event, tones: Sequence[Tone], free: Free) -> Iterable[Written]:
    """What is free of the bar with the values of the plan, a trill in the time of its own note."""
    if event.tuplet != 1:
        raise ValueError("held within a tuplet")

    def own_q(moment_q: Fraction) -> Fraction:
        late_q = moment_q - event.onset_q - free.lead_q
        return moment_q if late_q <= 0 else event.onset_q + free.lead_q + late_q * free.times

    moved = [
        tone._replace(onset_q=own_q(tone.onset_q), duration_q=own_q(tone.end_q) - own_q(tone.onset_q)) for tone in tones
    ]
    #  levels and slurs go by the moments of the performance
    performed = {id(own): tone for own, tone in zip(moved, tones, strict=True)}
    at_q = event.onset_q
    for note in free.written.notes:
        end_q = at_q + note.value_q
        inside = [tone for tone in moved if tone.onset_q < end_q and tone.end_q > at_q]
        for piece in pieces_of(part, event._replace(onset_q=at_q, duration_q=note.value_q), inside, Fraction(1), None):
            yield replace(piece, tones=tuple(performed[id(tone)] for tone in piece.tones))
        at_q = end_q


def unit_of(event: Event) -> Fraction:
    """How long a printed quarter note lasts: by the tuplet, or by the printed value where a duration is rounded off."""
    look_q = event.duration_q / event.tuplet
    if is_printable(look_q) or event.type_name is None:
        return event.tuplet
    printed_q = look_of(event.type_name, event.dots)
    return event.duration_q / printed_q if abs(look_q / printed_q - 1) < _SLIP else event.tuplet


class Beats:
    """The beats of a bar, to cut tied values at."""

    def __init__(self, bar: Bar) -> None:
        self.start_q, self.beat_q = bar.onset_q - bar.lead_q, bar.meter.beat_q

    def cut(self, at_q: Fraction, piece: Piece) -> Piece:
        """The piece with values that show the beats, where one value does not do."""
        if len(piece.values) == 1 or piece.tuplet is not None:
            return piece
        return piece._replace(values=values_across(at_q - self.start_q, piece.length_q, self.beat_q))


def pieces_of(
    part: Part, event: Event, tones: Sequence[Tone], unit_q: Fraction, beats: Beats | None
) -> Iterable[Written]:
    """The pieces of a printed note whose tones are these, cut at the beats where values are tied; see `Written`."""
    moments = {event.onset_q, event.end_q}
    for tone in tones:
        moments |= {moment for moment in (tone.onset_q, tone.end_q) if event.onset_q < moment < event.end_q}
    edges = sorted(moments)
    # as it looks in print: a note of a triplet as the eighth it is written as
    lengths = [(end - start) / unit_q for start, end in pairwise(edges)]
    shares = {tone.role for tone in tones} <= {"lean", "release"}
    transposition = part.transposition_at(event.onset_q)
    at_q = event.onset_q
    for (start, end), piece in zip(pairwise(edges), divide(lengths, exact=shares), strict=True):
        here = tuple(
            sorted((t for t in tones if t.onset_q < end and t.end_q > start), key=lambda tone: tone.pitch.midi)
        )
        next_q = at_q + piece.length_q * unit_q
        yield Written(
            beats.cut(at_q, piece) if beats else piece,
            here,
            tuple(transposition.written(tone.pitch) for tone in here),
            tuple(tone.onset_q >= start and not tone.tied_back for tone in here),
            tuple(tone.end_q <= end and not tone.tied_on for tone in here),
            start - at_q,
            end - next_q,
        )
        at_q = next_q
