"""Choices stay in the browser until they are forgotten; a plan is taken whole or refused with the line."""

import re
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from appui.score.words import ReadingName
from appui.style.choose import READINGS_FOR
from appui.style.reading import FAMILIES

Visit = Any
Open = Callable[..., Visit]
LEANS = 2


@pytest.fixture(scope="module", name="seen")
def _seen(page_file: Path, visits: Open) -> Visit:
    """One window for all tests of this file."""
    return visits(page_file)


@pytest.fixture(autouse=True)
def _afresh(seen: Visit) -> None:
    seen.page.evaluate("forgetChoices()")


def test_choices_survive_a_reload(seen: Visit) -> None:
    """They are on the page again, in the score, the panel and the list, and marked as the player's."""
    seen.page.evaluate(f"choose({LEANS}, 1)")
    seen.page.reload()
    seen.page.wait_for_selector(".system.drawn")
    assert [0, 0, 1, 0, 0, 0] == seen.page.evaluate("choices")
    assert "before*" == seen.page.locator(f"#word-{LEANS}").text_content()
    assert "1 of 6 decisions changed, kept in this browser" in seen.page.locator("#plan-said").text_content()
    seen.page.evaluate(f"openSign({LEANS})")
    assert "You chose before" in seen.page.locator(".own").text_content()


def test_choices_are_forgotten_on_demand_alone(seen: Visit) -> None:
    """It is asked first; then the rules have it again, after a reload too."""
    seen.page.evaluate(f"choose({LEANS}, 1)")
    answers = iter(["dismiss", "accept"])
    seen.page.on("dialog", lambda dialog: getattr(dialog, next(answers))())
    seen.page.locator("#plan-forget").click()
    assert 1 == seen.page.evaluate(f"choices[{LEANS}]")
    seen.page.locator("#plan-forget").click()
    assert 0 == seen.page.evaluate(f"choices[{LEANS}]")
    seen.page.reload()
    assert [0] * 6 == seen.page.evaluate("choices")


def test_another_score_s_choices_are_another_s(seen: Visit) -> None:
    """What is kept goes by the score's digest and the solo."""
    assert seen.page.evaluate("KEPT.includes(record.sha256) && KEPT.endsWith(record.solo)")


@pytest.mark.parametrize(
    ("line", "told"),
    [
        ('"oboe.4.1" = "sideways"', "no way to play this small notes; these are: .*leaning"),
        ('"oboe.4.1" = "trill from above"', "no way to play this small notes"),
        ('"oboe.4.1" = "leaning 7/2"', r"7/2 is outside 0 to 1 \(share of the main note\)"),
        ('"oboe.4.1" = "leaning 1/2 loudly"', "“loudly” is no size of it"),
        ('"oboe.4.1" = "before\\noboe"', "no size"),
        ('"oboe.4.1" = "leaning 1/2 1/3"', "given twice"),
        ('"oboe.4.1" = "leaning 1/0"', "outside"),
    ],
)
def test_nonsense_in_a_plan_is_refused_with_its_line(seen: Visit, line: str, told: str) -> None:
    """What is wrong, on which line, and what to do; nothing of the plan is taken."""
    text = seen.page.evaluate("planText()")
    number = text[: text.index("[readings]")].count("\n") + 2
    nonsense = re.sub(r'#?"oboe.4.1" = .*\n', "", text, count=1).replace("[readings]\n", f"[readings]\n{line}\n")
    other = re.sub('#?"oboe.2.1" = .*\n', '"oboe.2.1" = "short"\n', nonsense, count=1)
    said = seen.page.evaluate(
        "text => { try { takePlan(text, 'mine.toml'); return ''; } catch (e) { return e.message; } }", other
    )
    assert said.startswith(f"line {number}, oboe.4.1 = ")
    assert re.search(told, said)
    assert said.endswith("correct the line or take it out")
    assert [0] * 6 == seen.page.evaluate("choices")


@pytest.mark.parametrize(
    ("more", "told"),
    [
        ("[reading]\n", r"line \d+: \[reading\] is no part of a plan"),
        ("[readings]\n", r"line \d+: \[readings\] stands there twice"),
        ('"oboe.2.1" = "short"\n"oboe.2.1" = "before"\n', r"line \d+: oboe.2.1 stands there twice"),
    ],
)
def test_a_plan_of_other_shape_is_refused(seen: Visit, more: str, told: str) -> None:
    """A table that is none, or twice; a place that is decided twice."""
    text = seen.page.evaluate("planText()")
    wrong = (
        re.sub('#?"oboe.2.1" = .*\n', "", text, count=1).replace("\n[music]", f"\n{more}[music]")
        if more[0] == "["
        else text
    )
    if more[0] != "[":
        wrong = re.sub('#?"oboe.2.1" = .*\n', more, text, count=1)
    said = seen.page.evaluate(
        "text => { try { takePlan(text, 'mine.toml'); return ''; } catch (e) { return e.message; } }", wrong
    )
    assert re.match(told, said)


def test_the_page_knows_every_way_of_playing_the_commands_know(seen: Visit) -> None:
    """What a family can say is said to be right: each of its phrases, each of its numbers at both ends."""
    name: ReadingName
    for name, family in FAMILIES.items():
        kind = next((kind for kind, names in READINGS_FOR.items() if name in names), None)
        if kind is None:
            continue
        words: list[str] = [name]
        for size in family.sizes:
            ends = [size.pattern.format(f"{end:g}") for end in (float(size.low), float(size.high))]
            words += [f"{name} {each}" for each in (size.phrases or ends)]
        for each in words:
            assert "" == seen.page.evaluate("([kind, words]) => wrongWords({kind}, words)", [kind, each]), each
