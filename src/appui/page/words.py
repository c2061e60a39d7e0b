"""What the page says of a sign in a word or a line: beside the note, in the table, above the evidence."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable
from typing import Any

from appui.harmony.model import DISSONANCE, MEMBER, Verdict
from appui.interpret.interpretation import Interpretation
from appui.score.signs import Sign
from appui.style.choose import READINGS_FOR, Choice
from appui.style.reading import FAMILIES, Reading, Size

__all__ = [
    "GROUPS",
    "group_of",
    "harmony_rows",
    "makers",
    "mark_of",
    "pretty",
    "pretty_pitch",
    "printed",
    "reading_words",
    "verdict_line",
]

#  what the table is filtered by, and the readings in each
GROUPS = {"leaning": ("leaning",), "before": ("before",)}
#  reading -> the word beside the note, a verb where the note does something
_MARKS: dict[str, str] = {
    "leaning": "leans",
    "before": "before",
    "short": "short",
    "after": "after",
    "termination": "ends trill",
    "hold": "held",
    "plain": "plain",
}
_NO_MAKERS = ("date", "title", "credit")
_ADDRESS = re.compile(r"https?:|www\.|@")
_TRILLS = {"upper": "from above", "main": "from the note", "below": "from below", "lower": "from below"}


def _trill(reading: Reading) -> str:
    return _TRILLS.get(str(reading.get("start")), "trill")


def _turn(reading: Reading) -> str:
    return "turn after" if reading.get("where") == "after" else "turn"


_BY_SIZE: dict[str, Callable[[Reading], str]] = {"trill": _trill, "turn": _turn}


def mark_of(reading: Reading) -> str:
    """The word printed beside the note.

    >>> mark_of(Reading("leaning"))
    'leans'
    """
    by_size = _BY_SIZE.get(reading.name)
    return by_size(reading) if by_size else _MARKS.get(reading.name, reading.name)


def group_of(reading: Reading) -> str:
    """What the table is filtered by: ``leaning``, ``before`` or ``other``."""
    return next((group for group, names in GROUPS.items() if reading.name in names), "other")


def verdict_line(sign: Sign, verdict: Verdict | None, choice: Choice) -> str:
    """The verdict in a line, such as ``leans: dissonant fourth`` or ``before: belongs to the chord``."""
    if not sign.small:
        return choice.reading.text
    return f"{mark_of(choice.reading)}: {_standing(verdict)}"


def _standing(verdict: Verdict | None) -> str:
    if verdict is None or not verdict.known or not verdict.members:
        return "no harmony to judge by"
    if verdict.leans[0] and verdict.members[0] == MEMBER:
        return "in a cadential six-four"
    if verdict.members[0] == DISSONANCE:
        interval = verdict.bass_interval.removeprefix("an ").removeprefix("a ")
        return f"dissonant {interval}" if interval else "dissonance"
    return "belongs to the chord"


def harmony_rows(verdict: Verdict | None) -> tuple[str, ...]:
    """What is written under the beat, a row each: the chord, then the figure with its degree.

    The degree carries the figure (``V6/5``), so the figure stands alone only where there is no degree.
    """
    if verdict is None or not verdict.known:
        return ()
    return tuple(filter(None, (pretty(verdict.label), verdict.roman or verdict.figure)))


def makers(creators: Iterable[tuple[str, str]]) -> list[str]:
    """Who made a score: the composer first, then others with what they did; addresses on the net are nobody's name."""
    named = [(kind, name) for kind, name in creators if kind not in _NO_MAKERS and not _ADDRESS.search(name)]
    named.sort(key=lambda maker: maker[0] != "composer")
    return [name if kind in ("composer", "") else f"{name} ({kind})" for kind, name in named]


def pretty_pitch(name: str) -> str:
    """A pitch's name with flats and sharps as printed, such as ``B♭3`` for ``Bb3``."""
    return name[:1] + pretty(name[1:])


def pretty(label: str) -> str:
    """A chord's name with flats and sharps as printed."""
    return label.replace("b", "♭").replace("#", "♯")


def printed(interpretation: Interpretation, sign: Sign) -> str:
    """What stands in print, in written pitch."""
    note = sign.main_note(interpretation.score)
    main = note.written.pretty if note else "a rest"
    if not sign.small:
        return f"{sign.kind} on {main}"
    small = " ".join("+".join(pitch.pretty for pitch in one.written) for one in sign.small)
    stroke = ", with a stroke through the stem" if sign.slashed else ""
    return f"{main}, then {small}" if sign.kind == "after-notes" else f"{small} before {main}{stroke}"


def reading_words() -> dict[str, Any]:
    """For a page that reads plans: the sizes of each family of readings, and the families for each kind of sign."""
    return {
        "families": {name: [_size_words(size) for size in family.sizes] for name, family in FAMILIES.items()},
        "fitting": {kind: list(names) for kind, names in READINGS_FOR.items()},
    }


def _size_words(size: Size) -> dict[str, Any]:
    return {
        "phrases": list(size.phrases or ()),
        "pattern": size.pattern,
        "unit": size.unit,
        "low": float(size.low),
        "high": float(size.high),
    }
