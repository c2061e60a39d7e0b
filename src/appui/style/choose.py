"""Choosing a reading: the player's plan before the engraver's playback attributes before the style.

Playback attributes (MusicXML 4.0, read) are the engraver's explicit word: `steal-time-following` makes a leaning note
of that share of the main note, `steal-time-previous` a small note before the beat of that share of the note before,
`make-time` a leaning note of that length (time cannot be made: the next main note is never moved); trill-sound
attributes set the trill. A percentage on several small notes is taken as the run's, the first one given (the schema
does not say; its sister draft says run, read).
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from functools import lru_cache

from appui.errors import UsageError
from appui.exact import Fraction, fraction_of
from appui.harmony.model import DISSONANCE, MEMBER, Verdict
from appui.score.model import Score
from appui.score.signs import Sign
from appui.score.words import Known, Placement, ReadingName, SignKind
from appui.style.reading import FAMILIES, Reading, parse_reading
from appui.style.rule import Rule, filled
from appui.style.situation import Circumstances, Situation, situation_of
from appui.style.table import Style

__all__ = ["READINGS_FOR", "WITH_NEIGHBOUR", "Choice", "check_reading", "choose"]

_SCHEMA = "MusicXML 4.0, schema/musicxml.xsd"
#   kind             names of readings that make sense for it
READINGS_FOR: Mapping[SignKind, tuple[ReadingName, ...]] = {
    "small notes":            ("leaning", "before", "short", "termination", "spelled out", "plain"),
    "after-notes":            ("after", "spelled out", "plain"),
    "trill":                  ("trill", "turn", "spelled out", "plain"),
    "shake":                  ("trill", "turn", "spelled out", "plain"),
    "wavy line":              ("trill", "spelled out", "plain"),
    "short trill":            ("trill", "turn", "spelled out", "plain"),
    "turn":                   ("turn", "spelled out", "plain"),
    "turn after":             ("turn", "spelled out", "plain"),
    "inverted turn":          ("turn", "spelled out", "plain"),
    "inverted turn after":    ("turn", "spelled out", "plain"),
    "vertical turn":          ("turn", "spelled out", "plain"),
    "inverted vertical turn": ("turn", "spelled out", "plain"),
    "haydn ornament":         ("turn", "mordent", "trill", "spelled out", "plain"),
    "mordent":                ("mordent", "spelled out", "plain"),
    "slide":                  ("slide", "spelled out", "plain"),
    "tremolo":                ("tremolo", "plain"),
    "arpeggio":               ("arpeggio", "plain"),
    "no arpeggio":            ("plain",),
    "fermata":                ("hold", "embellished", "plain"),
    "embellishment":          ("embellished", "plain"),
    "breath mark":            ("pause", "plain"),
    "caesura":                ("pause", "plain"),
}  # fmt: skip
REALIZED = frozenset(READINGS_FOR)
#  signs that are played with the notes beside the printed one
WITH_NEIGHBOUR: frozenset[SignKind] = frozenset(
    kind for kind, names in READINGS_FOR.items() if {"trill", "turn", "mordent", "slide"} & {*names}
)


@dataclass(frozen=True, slots=True)
class Choice:
    """The reading taken for one sign, and why.

    `by`: ``style NAME``, ``plan FILE``, ``file`` (playback attributes) or ``--take``; `why` what decides, `harmony`
    what the harmony says of the small notes; `source` the citation, `known` how it is known; `alternatives` the other
    readings worth hearing here, in words that can be typed. `doubtful`: hear both. `like` is the place this one is
    played like, since the two belong together; empty for a place judged by itself.
    """

    place: str
    reading: Reading
    by: str
    why: str
    source: str
    known: Known
    alternatives: tuple[str, ...]
    situation: Situation
    harmony: str = ""
    by_harmony: bool = False
    doubtful: bool = False
    like: str = ""
    realized: bool = True

    @property
    def reason(self) -> str:
        """What decides first, then what else there is to say."""
        doubt = " (doubtful: hear both)" if self.doubtful else ""
        said = (self.harmony, self.why) if self.by_harmony else (self.why, self.harmony)
        return "; ".join(filter(None, said)) + doubt

    def __str__(self) -> str:
        return self.reading.text

    @property
    def placement(self) -> Placement:
        """``before``, ``on`` or ``after`` the beat."""
        return self.reading.placement


def choose(
    score: Score,
    sign: Sign,
    verdict: Verdict | None,
    style: Style,
    known: Circumstances,
    wanted: Mapping[str, tuple[str, str]] | None = None,
) -> Choice:
    """The choice for one sign; `wanted` holds the player's readings by place, as (words, whose).

    Raises `UsageError` for words that are no reading of this sign.
    """
    situation = situation_of(score, sign, verdict, known)
    wish = (wanted or {}).get(sign.place)
    if wish is None and _is_drum(sign, score):
        return _left_plain(sign, situation, style, "a note without a pitch has no neighbour to play: it stays plain")
    rule = style.rule_for(situation)
    by_style = _of_rule(rule, sign, situation)
    by_file = _of_file(sign)
    if wish is None and by_file is None and sign.kind not in REALIZED:
        printed = sign.ornament.text if sign.ornament else ""
        return _left_plain(
            sign, situation, style, f"an ornament of the edition's own ({printed}): the note is played plain"
        )
    taken: tuple[Reading, str, str, str, Known]
    if wish is not None:
        words, whose = wish
        reading = check_reading(words, sign, situation)
        taken = reading, whose, _decided(reading, by_style), whose, "read"
    elif by_file is not None:
        taken = by_file, "file", "the file itself asks for it, for playback", _SCHEMA, "read"
    else:
        taken = by_style, f"style {style.name}", _why(rule, by_style, situation), rule.cite, rule.known
    return Choice(
        sign.place,
        *taken,
        _alternatives(sign, taken[0], by_style, rule.also, situation),
        situation,
        harmony=_harmony(verdict, situation),
        by_harmony=wish is None and bool(rule.when.keys() & _OF_HARMONY),
        doubtful=wish is None and _is_doubtful(rule, situation),
    )


def _decided(reading: Reading, by_style: Reading) -> str:
    """What the player has chosen, beside what the rule says."""
    if reading.name == "embellished":
        return "you wrote notes of your own here"
    rule = "the rule would have it so too" if reading == by_style else f"the rule would have {by_style.text}"
    return f"you chose {reading.text}; {rule}"


def _is_doubtful(rule: Rule, situation: Situation) -> bool:
    """Whether what decides is open: the harmony where it is not sure, a stroke that pulls against it."""
    asked = rule.when.keys() & (_OF_HARMONY | {"slashed"})
    return bool(situation["doubtful"] and situation["count"] and asked)


#  facts that the harmony decides
_OF_HARMONY = frozenset({"leans", "member", "six_four", "octave_with_bass", "before_written_out", "main_seventh"})


def _is_drum(sign: Sign, score: Score) -> bool:
    """Whether the sign asks a note without a pitch for another pitch."""
    main = sign.main_note(score)
    return main is not None and main.unpitched and sign.ornament is not None and sign.kind in WITH_NEIGHBOUR


def _left_plain(sign: Sign, situation: Situation, style: Style, why: str) -> Choice:
    by = f"style {style.name}"
    return Choice(sign.place, Reading("plain"), by, why, "none", "common practice", (), situation, realized=False)


@lru_cache(maxsize=1024)
def _parsed(words: str) -> Reading:
    return parse_reading(words)


def _of_rule(rule: Rule, sign: Sign, situation: Situation) -> Reading:
    reading = _parsed(filled(rule.reading, situation.written_share, situation.rule_share))
    if reading.name not in READINGS_FOR.get(sign.kind, ("plain",)):
        return Reading("plain")
    return reading


def _harmony(verdict: Verdict | None, situation: Situation) -> str:
    """What the harmony says of small notes."""
    return verdict.words if verdict is not None and verdict.known and situation["count"] else ""


def _why(rule: Rule, reading: Reading, situation: Situation) -> str:
    """The rule's own words, and what pulls against it."""
    against = []
    if situation["stroke"] == "silent":
        against.append("the stroke through the stem tells nothing here, since nearly all small notes have one")
    if reading.name == "leaning" and situation["leans"] == "no" and not rule.when.keys() & _OF_HARMONY:
        against.append("it leans although it belongs to the chord")
    return "; ".join((rule.why, *against))


def check_reading(words: str, sign: Sign, situation: Situation) -> Reading:
    """A player's words as a reading of this sign; sizes left open in a leaning note come from the rule.

    Raises `UsageError` where the words are no reading of such a sign.
    """
    reading = parse_reading(words)
    fitting = READINGS_FOR.get(sign.kind, ("plain",))
    if reading.name not in fitting:
        raise UsageError(f"{words!r} is no way to play {sign.kind} ({sign.place}); these are: {', '.join(fitting)}")
    if reading.name == "leaning" and reading.get("share") is None:
        return reading.with_sizes(share=situation.written_share)
    return reading


def _alternatives(
    sign: Sign, reading: Reading, by_style: Reading, also: tuple[str, ...], situation: Situation
) -> tuple[str, ...]:
    others = (_parsed(filled(words, situation.written_share, situation.rule_share)).text for words in also)
    candidates = [by_style.text, *others, *_CANDIDATES.get(sign.kind, _no_candidates)(situation)]
    if situation["spelled"]:
        candidates.insert(1, "spelled out")
    return tuple(words for words in dict.fromkeys(candidates) if words not in (reading.text, "plain"))


def _no_candidates(situation: Situation) -> tuple[str, ...]:
    return ()


def _small_candidates(situation: Situation) -> tuple[str, ...]:
    shares = dict.fromkeys((situation.rule_share, situation.written_share))
    leaning = tuple(f"leaning {share}" for share in shares)
    passing = ("before",) if situation["before"] != "start" else ()
    end = ("termination",) if situation["ends_trill"] else ()
    if situation["member"] == DISSONANCE:
        return (*leaning, *passing, "short", *end)
    return (*passing, "short", *leaning, *end) if situation["member"] == MEMBER else (*leaning, *passing, "short", *end)


def _trill_candidates(situation: Situation) -> tuple[str, ...]:
    end = "without termination" if situation["end_printed"] else "with termination"
    return (
        f"trill from above {end}",
        f"trill from the main note {end}",
        "trill from above half",
        "trill from above without termination",
    )


def _turn_candidates(situation: Situation) -> tuple[str, ...]:
    other = "turn on the note" if str(situation["sign"]).endswith("after") else "turn after the note"
    shape = " inverted" if "inverted" in str(situation["sign"]) else ""
    own = "turn after the note" if other == "turn on the note" else "turn on the note"
    return (f"{own}{shape}", f"{other}{shape}", f"{own}{shape} with the lower note raised")


def _words(*words: str) -> Callable[[Situation], tuple[str, ...]]:
    return lambda situation: words


_SHORT_TRILL = _words(
    "trill from the main note half without termination",
    "trill from above half without termination",
    "trill from above with termination",
    "turn on the note",
)
_CANDIDATES: dict[str, Callable[[Situation], tuple[str, ...]]] = {
    "small notes": _small_candidates,
    "after-notes": _words("after"),
    "trill": _trill_candidates,
    "wavy line": _trill_candidates,
    "short trill": _SHORT_TRILL,
    "shake": _SHORT_TRILL,
    **dict.fromkeys((kind for kind in READINGS_FOR if "turn" in kind), _turn_candidates),
    "haydn ornament": _words("turn on the note", "mordent single", "trill from above half without termination"),
    "mordent": _words("mordent single", "mordent double", "mordent single with the lower note raised"),
    "slide": _words("slide of two notes", "slide of three notes"),
    "tremolo": _words("tremolo measured", "tremolo unmeasured"),
    "arpeggio": _words("arpeggio upwards", "arpeggio downwards"),
    "fermata": _words("hold 1.5 times as long", "hold 2 times as long", "hold 3 times as long"),
    "breath mark": _words("pause 150 ms", "pause 300 ms"),
    "caesura": _words("pause 350 ms", "pause 600 ms"),
}


def _of_file(sign: Sign) -> Reading | None:
    if sign.small and sign.kind == "small notes":
        return _stolen(sign)
    family = _SOUNDING.get(sign.kind)
    return _trill_sound(sign, family) if family is not None and sign.ornament is not None else None


def _stolen(sign: Sign) -> Reading | None:
    for note in sign.small:
        if note.steal_following:
            return Reading("leaning").with_sizes(share=note.steal_following / 100)
        if note.steal_previous:
            return Reading("before").with_sizes(share=note.steal_previous / 100)
        if note.make_time_q is not None and note.make_time_q > 0:
            return Reading("leaning").with_sizes(made=note.make_time_q)
    return None


#   kind          the reading its trill-sound attributes belong to, with what the sign itself says
_SOUNDING: dict[str, Reading] = {
    "trill": Reading("trill"),
    "shake": Reading("trill"),
    "wavy line": Reading("trill"),
    "short trill": Reading("trill"),
    "haydn ornament": Reading("turn").with_sizes(where="on", shape="upright"),
    "mordent": Reading("mordent"),
    "turn": Reading("turn").with_sizes(where="on", shape="upright"),
    "vertical turn": Reading("turn").with_sizes(where="on", shape="upright"),
    "turn after": Reading("turn").with_sizes(where="after", shape="upright"),
    "inverted turn": Reading("turn").with_sizes(where="on", shape="inverted"),
    "inverted vertical turn": Reading("turn").with_sizes(where="on", shape="inverted"),
    "inverted turn after": Reading("turn").with_sizes(where="after", shape="inverted"),
}
#  MusicXML 4.0, trill-sound (read): the schema gives mordents, both kinds, defaults of their own
_DEFAULTS: dict[bool, dict[str, str | Fraction]] = {
    False: {"start": "upper", "beats": Fraction(4), "second": Fraction(25), "last": Fraction(75)},
    True: {"start": "main", "beats": Fraction(3), "second": Fraction(12), "last": Fraction(24)},
}


def _trill_sound(sign: Sign, family: Reading) -> Reading | None:
    """The trill-sound attributes as sizes; `None` where none of them is printed."""
    assert sign.ornament is not None
    printed = {name: sign.ornament.get(name) for name in _SOUND_SIZES if sign.ornament.get(name)}
    if not printed:
        return None
    sizes: dict[str, str | Fraction] = {}
    for name, value in printed.items():
        key, read = _SOUND_SIZES[name]
        found = read(str(value))
        if found is not None:
            sizes[key] = found
    if family.name != "trill" or sizes.keys() & {"beats", "second", "last"}:
        sizes = _DEFAULTS[sign.kind in ("mordent", "short trill")] | sizes
    elif sizes.get("turn") in ("whole", "half"):
        sizes["termination"] = "yes"
    if family.name == "turn":
        sizes["start"] = "main" if sizes.get("start") == "main" else "auxiliary"
    elif family.name == "mordent":
        sizes["start"] = "main" if sizes.get("start") != "below" else "lower"
    if family.name != "trill":
        # a turn or mordent of a few notes has nothing to quicken
        sizes.pop("shape", None)
    known = {size.key for size in FAMILIES[family.name].sizes}
    return family.with_sizes(**(dict(family.sizes) | {key: value for key, value in sizes.items() if key in known}))


def _one_of(*words: str) -> Callable[[str], str | None]:
    return lambda value: value if value in words else None


#  not whatever a Fraction can be made from: the text 1e999999999 would be a number that fills the memory
_DECIMAL = re.compile(r"[0-9]{1,9}(?:\.[0-9]{1,9})?")


def _percent(value: str) -> Fraction | None:
    number = fraction_of(value) if _DECIMAL.fullmatch(value) else None
    return number if number is not None and number <= 100 else None


def _beats(value: str) -> Fraction | None:
    number = fraction_of(value) if _DECIMAL.fullmatch(value) else None
    return Fraction(int(number)) if number is not None and 2 <= number <= 500 else None


#  MusicXML 4.0 attribute (read) -> our size and how its value is read; a value out of range says nothing
_SOUND_SIZES: dict[str, tuple[str, Callable[[str], str | Fraction | None]]] = {
    "start-note": ("start", _one_of("upper", "main", "below")),
    "trill-step": ("step", _one_of("whole", "half", "unison")),
    "two-note-turn": ("turn", _one_of("whole", "half", "none")),
    "accelerate": ("shape", lambda v: "accelerating" if v == "yes" else None),
    "beats": ("beats", _beats),
    "second-beat": ("second", _percent),
    "last-beat": ("last", _percent),
}
