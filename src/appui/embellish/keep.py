"""What is kept of proposals: heard beside the printed notes, written into a plan, told as data.

In a plan every proposal of a place is written; one at most is in force, the others stand behind ``#`` and are taken by
moving it.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Mapping, Sequence
from pathlib import Path
from typing import Any

from appui.compare.excerpts import Excerpt, compare
from appui.embellish.choose import Found
from appui.embellish.model import LeftAlone, Proposal
from appui.errors import UsageError
from appui.exact import Fraction
from appui.interpret.interpretation import Interpretation, offering
from appui.interpret.planned import plan_of
from appui.plan.embellishment import entry_text
from appui.plan.free_notes import notes_text
from appui.plan.plan import comment_text
from appui.score.signs import Sign
from appui.style.reading import Reading

__all__ = ["AS_PRINTED", "hear", "kept_of", "plan_with", "proposals_record"]

#  the name plain goes by among the proposals
AS_PRINTED = "as printed"
_ALL = "all"
_KEEP = re.compile(r"(?P<place>.+)=(?P<number>\d{1,3})")


def kept_of(found: Sequence[Found], words: Iterable[str], asked: Iterable[str]) -> dict[str, int]:
    """Which proposal, from 1, is kept at a place; 0 is as printed.

    `words` are ``PLACE=NUMBER``, ``all=NUMBER`` for every place that has it; of places `asked` for by name the first
    proposal is kept. Raises `UsageError`.
    """
    places = {each.place.place: each for each in found}
    kept = {name: 1 for name in asked if name in places and places[name].proposals}
    for text in words:
        match = _KEEP.fullmatch(text)
        if match is None:
            raise UsageError(f"{text!r} is not a place and the number of a proposal, as in oboe.12.3=2")
        if match["place"] == _ALL:
            kept |= {
                name: number for name, each in places.items() if (number := int(match["number"])) <= len(each.proposals)
            }
            continue
        one = places.get(match["place"])
        if one is None:
            raise UsageError(f"nothing is proposed at {match['place']}; the places are {', '.join(places) or 'none'}")
        if int(match["number"]) > len(one.proposals):
            raise UsageError(f"{match['place']} has {len(one.proposals)} proposals, not {match['number']}; 0 is plain")
        kept[match["place"]] = int(match["number"])
    return kept


def hear(
    interpretation: Interpretation,
    found: Sequence[Found],
    folder: Path,
    tempos: Sequence[str],
    *,
    suffix: str = ".wav",
    soundfont: Path | None = None,
    say: Callable[[str], None] = lambda words: None,
) -> list[Excerpt]:
    """Write each place as printed and in every proposal, with the accompaniment; returns the files written.

    Raises the errors of rendering and writing.
    """
    heard = [each for each in found if each.proposals]
    offered = offering(interpretation, [each.proposals[0].embellishment for each in heard])
    by_sign = {each.proposals[0].embellishment.sign.place: each for each in heard}

    def to_hear(at: Interpretation, sign: Sign) -> list[tuple[str, Reading]]:
        plain = next((words for words in at.choices[sign.place].alternatives if words != "embellished"), "plain")
        chosen = at.choices[sign.place].reading
        printed = at.reading(sign.place, plain) if chosen.free is not None else chosen
        own = enumerate(by_sign[sign.place].proposals, 1)
        return [(AS_PRINTED, printed), *((str(number), _reading(proposal)) for number, proposal in own)]

    signs = [each.proposals[0].embellishment.sign for each in heard]
    return compare(offered, folder, signs, tempos, to_hear=to_hear, suffix=suffix, soundfont=soundfont, say=say)


def _reading(proposal: Proposal) -> Reading:
    return Reading("embellished", free=proposal.embellishment.free._replace(second_time=False))


def plan_with(
    interpretation: Interpretation, found: Sequence[Found], kept: Mapping[str, int], path: Path = Path("plan.toml")
) -> str:
    """The interpretation's choices as a plan for the file at `path`, with the proposals under their places."""
    lines = ["# proposals: a line without # is played; at most one for each place"]
    already = {place.removesuffix(".free") for place in interpretation.embellishments}
    for each in found:
        if each.proposals:
            lines += ["", f"# {each.place.place}: {comment_text(each.place.why)}"]
        for number, proposal in enumerate(each.proposals, 1):
            entry = entry_text(each.place.place, proposal.embellishment.free)
            off = "" if kept.get(each.place.place) == number and each.place.place not in already else "# "
            lines += [f"# {number}: {comment_text(proposal.words)}", off + entry]
    of_solo = [sign for sign in interpretation.signs if sign.part == interpretation.solo.index]
    return plan_of(interpretation, of_solo, path, lines)


def proposals_record(
    interpretation: Interpretation, found: Sequence[Found], left: Sequence[LeftAlone]
) -> dict[str, Any]:
    """Places, proposals and what is left alone, ready for JSON; pitches as written, values as parts of a whole note."""
    return {
        "score": interpretation.score.title,
        "solo": interpretation.solo.name,
        "places": [
            {
                "id": each.place.place,
                "kind": each.place.kind,
                "why": each.place.why,
                "source": each.place.source,
                "second_time": each.place.repeated,
                "proposals": [_proposal_record(number, one) for number, one in enumerate(each.proposals, 1)],
                "none_because": each.why_none or None,
            }
            for each in found
        ],
        "left_alone": [{"id": each.place, "why": each.why} for each in left],
    }


def _proposal_record(number: int, proposal: Proposal) -> dict[str, Any]:
    free = proposal.embellishment.free
    return {
        "number": number,
        "words": proposal.words,
        "notes": notes_text(proposal.line),
        "replaces": str((free.span_q - free.held_q) / Fraction(4)),
        "score": proposal.score,
        "terms": proposal.terms,
    }
