"""The conditions of a rule in a musician's words, for the digest of a source."""

from __future__ import annotations

from appui.style.rule import Rule

__all__ = ["FACT_WORDS", "condition_words"]

#  a fact that is true or false -> the words for each; any other fact -> words in which {} is what it is asked to be
FACT_WORDS: dict[str, str | tuple[str, str]] = {
    "sign": "{}",
    "count": "{} of them",
    "slashed": ("with a stroke through the stem that tells them apart", "without such a stroke"),
    "stroke": "a stroke that is {}",
    "value_q": "printed value in quarters: {}",
    "member": "its place in the chord {}",
    "leans": "by the harmony it leans: {}",
    "doubtful": ("the harmony doubtful", "the harmony sure"),
    "six_four": ("over a cadential six-four", "not over a cadential six-four"),
    "before_written_out": ("before a leaning note printed at full size", "before no printed leaning note"),
    "main_seventh": ("its note is the chord's seventh", "its note is not the chord's seventh"),
    "octave_with_bass": ("it makes a pure octave with the bass", "it makes no octave with the bass"),
    "beat": "on a beat that is {}",
    "triple": ("in triple time", "not in triple time"),
    "main_q": "its note in quarters: {}",
    "main_s": "its note in seconds: {}",
    "three_parts": ("before a note of three parts", "before a note of two parts"),
    "tied_on": ("its note is tied on", "its note is not tied on"),
    "before_rest": ("before a rest", "not before a rest"),
    "into_rest": ("its note may sound into the rest", "its note may not sound into the rest"),
    "long_place": ("where long ones stand", "not where long ones stand"),
    "syncopated": ("before a syncopated note", "not before a syncopated note"),
    "figure": "in the figure {}",
    "before": "before its note: {}",
    "repeats_before": ("it repeats the note before", "it does not repeat the note before"),
    "main_repeated": ("its note comes twice", "its note does not come twice"),
    "direction": "it lies {} its note",
    "steps": "steps to its note: {}",
    "semitones": "semitones to its note: {}",
    "fills_third": ("it fills a falling third", "it fills no falling third"),
    "main_staccato": ("before a staccato note", "not before a staccato note"),
    "triplet": ("in a triplet", "not in a triplet"),
    "run": ("in a run of equal short notes", "not in a run"),
    "next": "after its note: {}",
    "trilled": ("its note has a trill", "its note has no trill"),
    "turned": ("its note has a turn", "its note has no turn"),
    "ends_trill": ("the printed end of a trill", "not the end of a trill"),
    "slurred_back": ("slurred to the note before only", "not slurred to the note before only"),
    "prepared": ("after a small note from above", "without a small note before it"),
    "upper_before": ("after its own upper note", "not after its own upper note"),
    "upper_slurred": ("slurred to that upper note", "not slurred to that upper note"),
    "end_printed": ("its end is printed", "its end is not printed"),
    "anticipated": ("the next note is printed early", "the next note is not printed early"),
    "chain": ("in a chain of trills", "not in a chain of trills"),
    "spelled": ("spelled out in hidden notes", "not spelled out"),
    "character": "in a movement that is {}",
    "keyboard": ("at a keyboard", "not at a keyboard"),
    "fermata": ("under a fermata", "not under a fermata"),
    "dotted": ("on a dotted note", "not on a dotted note"),
    "on_small": ("over a small note", "not over a small note"),
    "long": ("printed long", "not printed long"),
    "approach": "its sign begins from {}",
    "departure": "its sign ends from {}",
    "arrow": "its arrow points {}",
    "free": ("printed unmeasured", "printed measured"),
    "shape": "its shape {}",
    "on_rest": ("over a rest", "not over a rest"),
    "year": "the year {}",
}
_COMPARED = {">=": "at least", "<=": "at most", ">": "more than", "<": "less than"}


def condition_words(rule: Rule) -> str:
    """Everything a rule asks for, the ornament first; ``any ornament`` where it does not say which."""
    asked = {"sign": "any ornament"} | dict(rule.when)
    return "; ".join(_words(name, condition) for name, condition in asked.items())


def _words(name: str, condition: object) -> str:
    words = FACT_WORDS[name]
    if isinstance(words, tuple):
        return words[0] if condition else words[1]
    several = condition if isinstance(condition, list) else [condition]
    return words.format(" or ".join(map(_value, several)))


def _value(value: object) -> str:
    sign, _, number = str(value).partition(" ")
    return f"{_COMPARED[sign]} {number}" if sign in _COMPARED else str(value)
