"""What is pressed is what is meant, the keyboard is never lost, and play, tempo and repeat are always in reach."""

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

Visit = Any
Open = Callable[..., Visit]
#  by number, a sign that can be played otherwise: bar 10, F5 before E flat
TWO_WAYS = 5
SIZES = {
    "telephone": (390, 844),
    "telephone on its side": (844, 390),
    "tablet": (820, 1180),
    "tablet on its side": (1180, 820),
    "desk": (1440, 900),
}


@pytest.fixture(scope="module", name="seen")
def _seen(crowded: Path, visits: Open) -> Visit:
    """One window for all tests of this file."""
    return visits(crowded)


@pytest.fixture(autouse=True)
def _afresh(seen: Visit) -> None:
    """Every test begins at the top of a page in which nothing is open."""
    seen.page.set_viewport_size({"width": 1280, "height": 900})
    seen.page.evaluate("opened >= 0 && closeSign(); player.loop = false; forgetChoices(); scrollTo(0, 0)")


def focused(seen: Visit) -> str:
    """The name of the control that has the keyboard, or its tag."""
    return str(seen.page.evaluate("document.activeElement.dataset.key ?? document.activeElement.tagName"))


@pytest.mark.parametrize("size", ["telephone", "desk"])
def test_a_press_on_a_word_or_a_note_opens_that_sign(seen: Visit, size: str) -> None:
    """However close the next one stands: every word, and every small note or drawn sign, at its middle."""
    width, height = SIZES[size]
    seen.page.set_viewport_size({"width": width, "height": height})
    wrong = seen.page.evaluate(
        """() => {
          if (layoutThatFits() !== layout) layOut();
          drawAll();
          const wrong = [];
          const frames = [...document.querySelectorAll('#score > .system')];
          for (const frame of frames) for (const {index, boxes} of targets.get(frame)) {
            for (const box of boxes) {
              frame.scrollIntoView({behavior: 'instant', block: 'start'});
              const matrix = rootOf(frame).getScreenCTM();
              const at = new DOMPoint(box.x + box.width / 2, box.y + box.height / 2).matrixTransform(matrix);
              const hit = document.elementFromPoint(at.x, at.y);
              hit?.dispatchEvent(new MouseEvent('click', {bubbles: true, detail: 1, clientX: at.x, clientY: at.y}));
              if (opened !== index) wrong.push([index, opened]);
              closeSign();
            }
          }
          return wrong;
        }"""
    )
    assert [] == wrong


@pytest.mark.parametrize("size", list(SIZES))
def test_play_tempo_and_repeat_are_in_sight(seen: Visit, size: str) -> None:
    """At every size, with a sign open, and big enough for a finger; the sign itself is in sight as well."""
    width, height = SIZES[size]
    seen.page.set_viewport_size({"width": width, "height": height})
    for index in (9, 3):
        seen.page.evaluate(f"leadOn({index})")
        for control in (".listen", "#tempo", ".transport input[type=checkbox]"):
            box = seen.page.locator(f"#panel {control}").bounding_box()
            assert 0 <= box["x"]
            assert box["x"] + box["width"] <= width
            assert box["y"] + box["height"] <= height
            assert seen.page.evaluate(
                "([x, y, control]) => !!document.elementFromPoint(x, y).closest(control + ', label')",
                [box["x"] + box["width"] / 2, box["y"] + box["height"] / 2, control],
            )
        seen_in(seen, index, height)


def seen_in(seen: Visit, index: int, height: int) -> None:
    """A sign is in the window and the panel does not cover it."""
    box, panel = seen.sign(index).bounding_box(), seen.page.locator("#panel").bounding_box()
    assert 0 <= box["y"]
    assert box["y"] + box["height"] <= height
    covered = box["x"] + box["width"] > panel["x"] and box["y"] + box["height"] > panel["y"]
    assert not covered


def test_a_telephone_on_its_side_plays(seen: Visit) -> None:
    """A press on the control that is in sight is heard."""
    seen.page.set_viewport_size({"width": 844, "height": 390})
    seen.sign(4).click()
    seen.page.locator(".listen").click()
    seen.until("() => player.what && player.what.sign === 4")
    assert "Stop" == seen.page.locator(".listen").text_content()
    seen.page.locator(".listen").click()
    assert seen.sounds() is None


def test_the_open_sign_stays_in_sight_when_the_telephone_is_turned(seen: Visit) -> None:
    """Upright and on its side the score is engraved otherwise; the panel and the sign stay."""
    for size in ("telephone", "telephone on its side", "tablet", "telephone"):
        width, height = SIZES[size]
        seen.page.set_viewport_size({"width": width, "height": height})
        if size == "telephone":
            seen.page.evaluate("openSign(12)")
        seen.page.wait_for_timeout(80)
        assert 12 == seen.page.evaluate("opened")
        assert seen.page.evaluate("layout") == ("wide" if size == "tablet" else "narrow")
        seen_in(seen, 12, height)


def test_next_leads_from_sign_to_sign_and_keeps_the_keyboard(seen: Visit) -> None:
    """By Enter on one control from the first to the last; there the control stays and does nothing."""
    seen.page.set_viewport_size({"width": 390, "height": 844})
    last = seen.page.evaluate("record.signs.length - 1")
    seen.page.evaluate("openSign(0)")
    seen.page.locator('[data-key="next"]').focus()
    for index in range(1, last + 1):
        seen.page.keyboard.press("Enter")
        assert (index, "next") == (seen.page.evaluate("opened"), focused(seen))
        seen_in(seen, index, 844)
    seen.page.keyboard.press("Enter")
    assert (last, "next") == (seen.page.evaluate("opened"), focused(seen))


def test_the_first_sign_opened_by_key_gives_the_keyboard_to_play(seen: Visit) -> None:
    """And Escape gives it back to the sign, wherever the page has been moved to."""
    seen.sign(0).focus()
    seen.page.keyboard.press("Enter")
    assert "listen" == focused(seen)
    seen.page.evaluate("scrollTo(0, 100000)")
    seen.page.keyboard.press("Escape")
    assert "0" == seen.page.evaluate("document.activeElement.dataset.sign")


def test_blind_listening_goes_by_keyboard(seen: Visit) -> None:
    """Enter answers, asks once more and comes back to the list: the keyboard never leaves the panel."""
    seen.sign(TWO_WAYS).click()
    seen.page.locator('[data-key="blind"]').focus()
    seen.page.keyboard.press("Enter")
    assert "play-A" == focused(seen)
    for key in ("is-B", "once-more"):
        seen.page.locator(f'[data-key="{key}"]').focus()
        seen.page.keyboard.press("Enter")
        assert {"is-B": "once-more", "once-more": "play-A"}[key] == focused(seen)
        assert TWO_WAYS == seen.page.evaluate("blind.sign")
    seen.page.locator('[data-key="blind-end"]').focus()
    seen.page.keyboard.press("Enter")
    assert ("blind", -1) == (focused(seen), seen.page.evaluate("blind.sign"))


def test_blind_listening_shows_no_verdict(seen: Visit) -> None:
    """Neither the panel nor the word at the sign nor its colour nor its label tells the choice."""
    seen.sign(TWO_WAYS).click()
    word = seen.page.locator(f"#{seen.page.evaluate(f'record.signs[{TWO_WAYS}].picture.word')} text")
    told = word.text_content()
    seen.page.locator('[data-key="blind"]').click()
    assert 0 == seen.page.locator("#panel .verdict, #panel details, #panel input[type=radio]").count()
    assert "A or B" == word.text_content()
    assert seen.sign(TWO_WAYS).get_attribute("aria-label").endswith("listening blind")
    assert 0 == seen.page.locator(f"[data-group]:has(> #{word.evaluate('e => e.parentNode.id')})").count()
    seen.page.get_by_text("Back to the list").click()
    assert told == word.text_content()
    assert 1 == seen.page.locator("#panel .verdict").count()


def test_the_panel_says_who_chose(seen: Visit) -> None:
    """After another choice: what the player chose, and what the rule would have; nothing of it before."""
    seen.sign(TWO_WAYS).click()
    words = seen.page.evaluate(f"record.signs[{TWO_WAYS}].readings.map(reading => reading.words)")
    assert 0 == seen.page.locator(".own").count()
    seen.page.locator('[data-key="choice-1"]').check()
    assert "choice-1" == focused(seen)
    assert f"You chose {words[1]}; the rule would have {words[0]}." == seen.page.locator(".own").text_content()
    seen.page.locator('[data-key="choice-0"]').check()
    assert 0 == seen.page.locator(".own").count()


def test_no_line_goes_through_a_word(seen: Visit) -> None:
    """Nor does a word stand on another one, in any layout."""
    for size in ("telephone", "desk"):
        width, height = SIZES[size]
        seen.page.set_viewport_size({"width": width, "height": height})
        faults = seen.page.evaluate(
            """() => {
              if (layoutThatFits() !== layout) layOut();
              drawAll();
              const meet = (a, b) => a.left < b.right && b.left < a.right && a.top < b.bottom && b.top < a.bottom;
              const faults = [];
              for (const frame of document.querySelectorAll('#score > .system')) {
                const words = [...frame.querySelectorAll('.word')];
                for (const one of words) for (const other of words) {
                  if (one === other) continue;
                  const box = other.querySelector('text').getBoundingClientRect();
                  const parts = [...one.children].map(part => part.getBoundingClientRect());
                  if (parts.some(part => meet(part, box))) faults.push(other.textContent);
                }
              }
              return faults;
            }"""
        )
        assert [] == faults


def test_no_number_of_a_bar_stands_on_a_note(seen: Visit) -> None:
    """Heads, stems, beams and slurs stay clear of it."""
    found = seen.page.evaluate(
        """() => {
          drawAll();
          let numbers = 0;
          const faults = [];
          for (const frame of document.querySelectorAll('#score > .system')) {
            const points = [];
            for (const part of frame.querySelectorAll('.notehead use, .flag use, .accid use')) {
              const b = part.getBoundingClientRect();
              const shares = [0, 0.5, 1];
              points.push(...shares.flatMap(x => shares.map(y => [b.x + x * b.width, b.y + y * b.height])));
            }
            for (const part of frame.querySelectorAll('.slur path, .stem path, .beam > polygon')) {
              const matrix = part.getScreenCTM();
              const length = part.getTotalLength();
              for (let i = 0; i <= 40; i += 1) {
                const at = part.getPointAtLength(length * i / 40).matrixTransform(matrix);
                points.push([at.x, at.y]);
              }
            }
            for (const text of frame.querySelectorAll('.mNum text')) {
              const b = text.getBoundingClientRect();
              numbers += 1;
              // a line of text is higher than its figures
              const low = b.bottom - 0.2 * b.height;
              const within = ([x, y]) => x > b.left && x < b.right && y > b.top && y < low;
              if (points.some(within)) faults.push(text.textContent);
            }
          }
          return [numbers, faults];
        }"""
    )
    assert [24, []] == found


def test_a_chord_that_goes_on_is_named_once_in_a_bar(seen: Visit) -> None:
    """The trill of bar 7 and its two last notes have one chord, and one name of it."""
    names = seen.page.evaluate(
        "drawAll() ?? [...document.querySelectorAll('#score > .system')].flatMap(frame => "
        "[...frame.querySelectorAll('.harmony')].map(one => one.textContent))"
    )
    assert 1 == names.count("F7V7")


def sure_figures(seen: Visit) -> list[int]:
    """How sure the list is of each harmony, in per cent, 0 where it says nothing."""
    texts = seen.page.locator('td[data-name="Sure"]').all_text_contents()
    return [int(text.split(" ")[0]) if text else 0 for text in texts]


def test_the_list_is_sorted_on_a_telephone(seen: Visit) -> None:
    """Where the heads of the columns have no room there is a choice of what to sort by, and of the direction."""
    seen.page.set_viewport_size({"width": 390, "height": 844})
    assert not seen.page.locator("thead").is_visible()
    seen.page.get_by_label("Sorted by").select_option("Sure")
    figures = sure_figures(seen)
    assert sorted(figures) == figures
    seen.page.locator("#sort-way").click()
    assert "sort-way" == seen.page.evaluate("document.activeElement.id")
    figures = sure_figures(seen)
    assert sorted(figures, reverse=True) == figures
    seen.page.set_viewport_size({"width": 1280, "height": 900})
    assert not seen.page.get_by_label("Sorted by").is_visible()
