"""Rules of the built-in styles, one a test, and what the loader refuses."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from appui.errors import StyleError, UsageError
from appui.exact import Fraction
from appui.style.reading import FAMILIES, Reading, parse_reading
from appui.style.table import parse_style, style_names


@pytest.mark.parametrize(
    ("style", "facts", "expected"),
    [
        # C.P.E. Bach 1753, 2.2 §11 (read): half of two equal parts, two thirds of three
        ("bach-1753", {}, "leaning 1/2"),
        ("bach-1753", {"three_parts": True, "main_q": Fraction(3)}, "leaning 2/3"),
        # 2.2 §13 (read): before short and repeated notes always short
        ("bach-1753", {"main_q": Fraction(1, 4)}, "short"),
        ("bach-1753", {"main_repeated": True, "main_q": Fraction(1)}, "short"),
        # 2.2 §14 (read): thirds, triplets, the pure octave with the bass
        ("bach-1753", {"fills_third": True, "character": "fast"}, "short"),
        ("bach-1753", {"fills_third": True}, "leaning 1/3"),
        ("bach-1753", {"triplet": True}, "short"),
        ("bach-1753", {"octave_with_bass": True}, "short"),
        # 2.2 §12 (read in part): before a rest the resolution goes into the rest
        ("bach-1753", {"before_rest": True, "into_rest": True}, "leaning 1"),
        # 2.1 §23-24 (read): several are struck with the bass too; a chord member is no exception
        ("bach-1753", {"count": 2}, "short"),
        ("bach-1753", {"member": "chord member", "leans": "no"}, "leaning 1/2"),
        # 2.3 §5, §7, §13 (read): from above, with termination, slower in slow pieces
        ("bach-1753", {"sign": "trill", "count": 0}, "trill from above with termination 10 notes a second"),
        ("bach-1753", {"sign": "trill", "count": 0, "chain": True}, "trill from above without termination"),
        # Clementi 1801, printed pairs (read)
        ("clementi-1801", {}, "leaning 1/2"),
        ("clementi-1801", {"three_parts": True, "main_q": Fraction(3)}, "leaning 2/3"),
        ("clementi-1801", {"count": 2}, "leaning 1/4"),
        ("clementi-1801", {"count": 3}, "leaning 1/4"),
        ("clementi-1801", {"value_q": Fraction(1, 4)}, "leaning 1/8"),
        ("clementi-1801", {"sign": "trill", "count": 0}, "trill from above with termination"),
        # the working rule: common practice, no source
        ("harmony", {}, "leaning 1/4"),
        ("harmony", {"value_q": Fraction(4)}, "leaning 1/2"),
        ("harmony", {"member": "chord member", "leans": "no"}, "before"),
        ("harmony", {"six_four": True, "member": "chord member"}, "leaning 1/4"),
        ("harmony", {"ends_trill": True, "count": 2}, "termination"),
        ("harmony", {"before_written_out": True, "leans": "no"}, "before"),
    ],
)
def test_a_rule(reading, style, facts, expected) -> None:
    """Each row above is one rule with its source."""
    assert expected == reading(style, **facts)


FREE = st.fixed_dictionaries(
    {
        "sign": st.sampled_from(["small notes", "after-notes", "trill", "turn", "fermata"]),
        "member": st.sampled_from(["chord member", "dissonance", "unknown"]),
        "leans": st.sampled_from(["yes", "no", "unknown"]),
        "count": st.integers(0, 9),
        "main_q": st.fractions(Fraction(1, 64), 8),
        "main_s": st.fractions(Fraction(1, 64), 8),
        **dict.fromkeys(("slashed", "fills_third", "tied_on", "before_rest", "three_parts"), st.booleans()),
    }
)


@given(st.sampled_from(style_names()), FREE)
def test_every_style_reads_every_situation(reading, style, facts) -> None:
    """There is always a rule, and its words are a reading."""
    words = reading(style, **facts)
    assert words == parse_reading(words).text


@given(st.sampled_from([f for f in FAMILIES.values() if f.sizes]), st.data())
def test_readings_are_read_back(family, data) -> None:
    """What `text` writes `parse_reading` reads."""
    sizes = {}
    for size in data.draw(st.lists(st.sampled_from(family.sizes), unique_by=lambda size: size.key)):
        values = st.sampled_from(sorted(size.phrases.values())) if size.phrases else st.fractions(size.low, size.high)
        sizes[size.key] = data.draw(values)
    one = Reading(family.name).with_sizes(**sizes)
    assert one == parse_reading(one.text)


HEAD = '[style]\ntitle = "Mine"\n'
LAST = '[[rule]]\nreading = "plain"\nwhy = "w"\ncite = "c"\nknown = "read"\n'


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("[style", r"is no valid TOML"),
        (LAST, r"has no \[style\] table"),
        (HEAD, r"does not end in a rule without conditions"),
        (HEAD + LAST.replace('"read"', '"sure"'), r"rule 1, line 3: known is 'sure'. Remedy: use one of read, memory"),
        (HEAD + LAST.replace("plain", "sideways"), r"rule 1, line 3: reading 'sideways' cannot be used"),
        (HEAD + LAST.replace("[[rule]]\n", "[[rule]]\nwhen = { mood = 1 }\n"), r"asks for 'mood', which is no fact"),
        (HEAD + LAST.replace("why", "because"), r"has a key 'because' no rule knows"),
    ],
)
def test_a_style_that_breaks_the_format_is_refused(text, said) -> None:
    """The message names the rule, its line and the remedy."""
    with pytest.raises(StyleError, match=said):
        parse_style(text, "my.toml")


@pytest.mark.parametrize("words", ["leaning 3/2", "leaning 1/0", "before sideways", "", "trill from above from above"])
def test_words_that_are_no_reading_are_refused(words) -> None:
    """Sizes out of bounds, unknown or given twice."""
    with pytest.raises(UsageError):
        parse_reading(words)
