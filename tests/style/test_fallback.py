"""Sources of which little is read: their own rules first, then those of the style they fall back on."""

import pytest

from appui.errors import StyleError
from appui.style.situation import FACTS, Situation
from appui.style.table import load_style, parse_style

HEAD = '[style]\ntitle = "Mine"\n'
LAST = '[[rule]]\nreading = "plain"\nwhy = "w"\ncite = "c"\nknown = "read"\n'
TRILL = {"sign": "trill", "count": 0}


@pytest.mark.parametrize(
    ("style", "facts", "expected"),
    [
        # Couperin 1716, pp. 22-24 (memory): coulé with the harmony; a long trill dwells, beats and stops
        ("couperin-1716", {"fills_third": True}, "short"),
        ("couperin-1716", TRILL, "trill from above dwelling 1/4 accelerating with a stop without termination"),
        # J.S. Bach 1720 (memory): the accent takes half; the trillo is D C D C
        ("bach-js-1720", {}, "leaning 1/2"),
        ("bach-js-1720", TRILL, "trill from above without termination"),
        # Tartini c. 1750 (memory): long ones half or two thirds, passing ones in falling thirds
        ("tartini-1750", {"fills_third": True}, "before"),
        ("tartini-1750", {"three_parts": True}, "leaning 2/3"),
        # Geminiani 1751, Ex. XVIII no. 3 (memory): more than half
        ("geminiani-1751", {}, "leaning 2/3"),
        # Agricola 1757 (memory): the French manner between falling thirds
        ("agricola-1757", {"fills_third": True}, "before"),
        # Türk 1789, III §27-29 (read): after-notes in the time of the note before
        ("tuerk-1789", {"slurred_back": True, "count": 2}, "before"),
        # Türk 1789, III §25 (read): shorter where the rule would make a harmonic fault
        ("tuerk-1789", {"octave_with_bass": True}, "short"),
        # Türk 1789, III.3 §15-21 (memory): the whole value before a rest or a tie; else printed value or rule
        ("tuerk-1789", {"before_rest": True, "into_rest": True}, "leaning 1"),
        ("tuerk-1789", {}, "leaning 1/4"),
        # Hummel 1828 and Spohr 1832 begin on the main note (Grove's Dictionary vol. 3, p. 480, read for Hummel)
        ("hummel-1828", TRILL, "trill from the main note without termination"),
        ("hummel-1828", {"slashed": True}, "short"),
        ("spohr-1832", TRILL, "trill from the main note with termination"),
        # no style of its own rule makes a leaning note of the printed end of a trill
        ("spohr-1832", {"ends_trill": True}, "termination"),
        ("hummel-1828", {"ends_trill": True}, "termination"),
    ],
)
def test_a_rule_of_a_source(reading, style: str, facts: dict[str, bool], expected: str) -> None:
    """Each row above is one rule with its source."""
    assert expected == reading(style, **facts)


def test_a_borrowed_rule_says_so(plain) -> None:
    """Where Marpurg has no rule the reason names whose it is, and cites that source."""
    rule = load_style("marpurg-1755").rule_for(Situation(plain | {"count": 2}))
    assert rule.why.startswith("this source is silent; ")
    assert rule.cite.startswith("C.P.E. Bach 1753")


@pytest.mark.parametrize("name", ["nowhere", "my", 3])
def test_falling_back_on_nothing_is_refused(name: object) -> None:
    """A style falls back on one that comes with the tool."""
    text = f"{HEAD}falls_back = {name!r}\n".replace("'", '"') + LAST
    with pytest.raises(StyleError, match=f"falls_back is {name!r}, no other style here"):
        parse_style(text, "my.toml")


def test_a_style_cannot_fall_back_on_itself() -> None:
    """Otherwise loading would not end."""
    with pytest.raises(StyleError, match="falls_back is 'harmony', no other style here"):
        parse_style(f'{HEAD}falls_back = "harmony"\n' + LAST, "harmony.toml")


def test_a_word_no_fact_can_have_is_refused() -> None:
    """A slip of the pen is an error with its line, not a rule that never fits."""
    text = HEAD + LAST.replace("[[rule]]\n", '[[rule]]\nwhen = { member = "dissonence" }\n') + LAST
    with pytest.raises(StyleError, match=r"line 3: member = 'dissonence' can never hold. Remedy: use one of chord"):
        parse_style(text, "my.toml")


def test_facts_of_words_are_facts() -> None:
    """The table of words names no fact that is not there."""
    from appui.style.situation import WORDS

    assert set() == set(WORDS) - set(FACTS)
