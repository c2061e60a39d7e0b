"""A turn, a mordent, a slide in words: its notes by name, where it falls, how quick; and how far from decided."""

from __future__ import annotations

import math
from collections.abc import Sequence

from appui.listen.figured import FigureHeard, laid
from appui.listen.figures import form_of
from appui.listen.judge import Heard
from appui.listen.line import Place
from appui.score.pitch import natural

__all__ = [
    "OTHER_S",
    "OTHER_SHARE",
    "decided_figure",
    "figure_differs",
    "figure_names",
    "figure_remarks",
    "figure_words",
    "length_words",
]

#  decided notes are named up to so many
_NAMED = 9
#  a length differs where it is further off than this share and these seconds; below a tenth of a second it is "about"
OTHER_SHARE, OTHER_S, _ABOUT_S = 0.3, 0.04, 0.1
#  shares of a note in words
_SHARES = {
    1 / 8: "soon after the note begins",
    1 / 4: "after about a quarter of the note",
    1 / 3: "after about a third of the note",
    1 / 2: "after about half of the note",
    2 / 3: "after about two thirds of the note",
    3 / 4: "after about three quarters of the note",
    7 / 8: "at the end of the note",
}
_WHERE = {"on": "from the beat", "before": "before the beat", "after": "late in the note"}


def figure_names(place: Place, keys: Sequence[int]) -> list[str]:
    """Keys around a main note, the last, by the names they are written with: ``D5 C5 B4 C5``."""
    assert place.written is not None
    main, names = place.written, []
    for key, step in zip(keys, form_of(keys, place.sign.kind), strict=True):
        letter = natural(main.diatonic + step)
        names.append(letter._replace(alter=main.midi + key - keys[-1] - letter.midi).pretty)
    return names


def decided_figure(place: Place) -> str:
    """What was decided, with its notes, where they fall and how long they take."""
    decided = place.decided
    if not 1 < len(decided.notes) <= _NAMED or not decided.starts_s:
        return decided.words
    *starts_s, end_s = decided.starts_s
    lies = laid(decided.notes, starts_s, end_s)
    where = _WHERE.get(decided.placement, "")
    if lies.first and decided.length_of_note_s:
        where = _late(starts_s[1] / decided.length_of_note_s)
    names = " ".join(figure_names(place, decided.notes))
    return f"{decided.words}: {', '.join(filter(None, (names, where, length_words(lies.length_s))))}"


def figure_words(heard: Heard) -> str:
    """What was played: which notes, where, how long they take together."""
    figure = heard.figure
    assert figure is not None
    told = [_notes(heard.place, figure)]
    if heard.how == "after" and math.isfinite(figure.at_share):
        told.append(_late(figure.at_share))
    elif heard.how in _WHERE:
        told.append(_WHERE[heard.how])
    if math.isfinite(heard.length_s):
        told.append(length_words(heard.length_s))
    sure = heard.confidence >= 0.97 or heard.how == "played"
    return ", ".join(told) + ("" if sure else " (fairly sure)")


def _notes(place: Place, figure: FigureHeard) -> str:
    if not figure.sure:
        return "quick notes, which ones cannot be told"
    # of a turn after its note it goes without saying that the note comes first
    name = figure.name.removesuffix(" from the main note") if math.isfinite(figure.at_share) else figure.name
    return f"{name}: {' '.join(figure_names(place, figure.keys))}" if figure.near_sure else name


def _late(share: float) -> str:
    near = min(_SHARES, key=lambda each: abs(each - share))
    return _SHARES[near]


def length_words(length_s: float) -> str:
    """A length as it is known: to 10 ms, below a tenth of a second "about"."""
    words = f"{round(length_s, 2) * 1000:.0f} ms"
    return f"about {words}" if length_s < _ABOUT_S else words


def figure_remarks(heard: Heard) -> list[str]:
    """What there is to remark on: what cannot be told, what is otherwise than decided."""
    figure, said = heard.figure, []
    if figure is None:
        return ["no quick notes are heard here"] if heard.how == "left out" else []
    if not figure.near_sure and figure.sure:
        said.append("whether its neighbours are a half or a whole tone away cannot be told")
    if not figure.first_sure:
        said.append("the note before it has the pitch its first may have: whether it begins with that cannot be told")
    if _other_notes(heard) and heard.place.decided.words != "plain":
        said.append("other notes than decided")
    elif _other_length(heard):
        slower = heard.length_s > _decided_s(heard.place) * heard.beat.pace
        said.append(f"{'slower' if slower else 'quicker'} than decided")
    return said


def figure_differs(heard: Heard) -> int:
    """How far what was played is from what was decided: 3 left out or elsewhere, 2 other notes, 1 the speed, 0 not."""
    decided = heard.place.decided
    wanted = "plain" if decided.words == "plain" else decided.placement
    played = "plain" if heard.how == "left out" else heard.how
    if "plain" in (played, wanted):
        return 3 * (played != wanted)
    if played not in ("played", wanted):
        return 3
    return 2 if _other_notes(heard) else int(_other_length(heard))


def _other_notes(heard: Heard) -> bool:
    figure, notes = heard.figure, heard.place.decided.notes
    if figure is None or not figure.sure or not figure.first_sure or len(notes) < 2:
        return False
    if math.isfinite(figure.at_share) != (heard.place.decided.placement == "after"):
        # elsewhere than decided, which is told already
        return False
    kind = heard.place.sign.kind
    return form_of(figure.keys, kind) != form_of(notes, kind) or (figure.near_sure and figure.keys != notes)


def _decided_s(place: Place) -> float:
    *starts_s, end_s = place.decided.starts_s
    return laid(place.decided.notes, starts_s, end_s).length_s


def _other_length(heard: Heard) -> bool:
    if len(heard.place.decided.notes) < 2 or not math.isfinite(heard.length_s):
        return False
    wanted_s = _decided_s(heard.place) * heard.beat.pace
    return abs(heard.length_s - wanted_s) > max(OTHER_SHARE * wanted_s, OTHER_S)
