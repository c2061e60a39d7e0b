"""What the page says of a sign in a word or a line."""

import pytest

from appui.interpret.interpretation import Interpretation
from appui.page.words import group_of, harmony_rows, mark_of, printed, verdict_line
from appui.style.reading import parse_reading


@pytest.mark.parametrize(
    ("words", "mark", "group"),
    [
        ("leaning 1/2", "leans", "leaning"),
        ("before", "before", "before"),
        ("short", "short", "other"),
        ("trill from above with termination", "from above", "other"),
        ("trill from the main note", "from the note", "other"),
        ("turn after the note", "turn after", "other"),
        ("mordent single", "mordent", "other"),
    ],
)
def test_the_word_beside_the_note(words: str, mark: str, group: str) -> None:
    """A verb where the note does something, and what the list is filtered by."""
    reading = parse_reading(words)
    assert (mark, group) == (mark_of(reading), group_of(reading))


@pytest.mark.parametrize(
    ("place", "line", "rows", "print_"),
    [
        ("oboe.4.1", "leans: dissonant fourth", ("D", "V"), "G5 before F♯5"),
        ("oboe.2.1", "before: belongs to the chord", ("D7/F♯", "V6/5"), "D6 before C6"),
        ("oboe.21.1", "short: dissonant sixth", ("E♭", "VI"), "C6 before B♭5, with a stroke through the stem"),
        ("oboe.22.2", "trill from above with termination", ("D7", "V7"), "trill on A5"),
        ("oboe.7.2.2", "after: dissonant fourth", ("F7", "V7"), "C6, then B♭5 C6"),
    ],
)
def test_the_line_and_the_harmony(
    interpretation: Interpretation, place: str, line: str, rows: tuple[str, ...], print_: str
) -> None:
    """As the harmony room judges the demo, whose chords were composed."""
    sign = interpretation.sign_at(place)
    verdict = interpretation.analysis.verdict(sign)
    assert line == verdict_line(sign, verdict, interpretation.choices[place])
    assert rows == harmony_rows(verdict)
    assert print_ == printed(interpretation, sign)


def test_without_harmony_it_says_so(interpretation: Interpretation) -> None:
    """No verdict is no reason to say one."""
    sign = interpretation.sign_at("oboe.4.1")
    assert "leans: no harmony to judge by" == verdict_line(sign, None, interpretation.choices["oboe.4.1"])
    assert () == harmony_rows(None)
