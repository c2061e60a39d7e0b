"""The page in a real browser, as a player meets it."""

import re
import tomllib
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner

import appui.page.build
from appui.cli.main import cli
from appui.demo import bare_andante
from appui.interpret.interpretation import interpret
from appui.interpret.wishes import Wishes
from tests.page.conftest import two_movements

Visit = Any
Open = Callable[..., Visit]
Make = Callable[..., Path]
AXE = Path(__file__).parent / "axe" / "axe.min.js"
#  the demo's signs in bars 1 to 6, by number: bar 4 has G5 before F sharp 5, leaning; bar 2 D6 before C6, passing
LEANS, PASSES = 2, 0


@pytest.fixture(scope="module")
def seen(page_file: Path, visits: Open) -> Visit:
    """One open page for tests that only look."""
    return visits(page_file)


def test_every_sign_can_be_pressed_and_says_what_it_is(seen: Visit) -> None:
    """A spot a sign, with a role, a label in words and a place in the order of the keyboard."""
    spots = seen.page.locator(".spot")
    assert 6 == spots.count()
    assert ["button"] * 6 == spots.evaluate_all("all => all.map(one => one.getAttribute('role'))")
    assert [0] * 6 == spots.evaluate_all("all => all.map(one => one.tabIndex)")
    assert "bar 4, beat 1: G5 before F♯5; leans: dissonant fourth" == seen.sign(LEANS).get_attribute("aria-label")


def test_the_verdict_is_told_without_colour(seen: Visit) -> None:
    """A word stands over every sign, the harmony under its beat."""
    words = seen.page.locator(".word text").all_text_contents()
    assert 6 == len(words)
    assert {"leans", "before", "short"} == set(words)
    harmony = seen.page.locator(".harmony").all_text_contents()
    assert "D7/F♯V6/5" in harmony


def test_a_press_opens_the_reasons(page_file: Path, visit: Open) -> None:
    """Verdict at once, reason and source on demand."""
    seen = visit(page_file)
    seen.sign(LEANS).click()
    panel = seen.page.locator("#panel")
    assert "leans: dissonant fourth" == panel.locator(".panel-body > .verdict").text_content()
    assert not panel.locator("dl").is_visible()
    panel.locator(".why summary").click()
    assert "steps down to F♯" in panel.locator("dl").text_content()
    assert "C.P.E. Bach 1753" in panel.locator("dl").text_content()


def test_readings_change_while_playing_and_keep_the_place(page_file: Path, visit: Open) -> None:
    """Another reading takes over where the first one is, and the time runs on."""
    seen = visit(page_file)
    seen.sign(LEANS).click()
    seen.play(0).click()
    seen.until("() => player.what && placeNow() - spanOf(player.what).from_s > 0.5")
    before = seen.sounds()
    seen.play(1).click()
    seen.until("() => player.what && player.what.reading === 1")
    after = seen.sounds()
    assert ("leaning 1/2", "before") == (before["reading"], after["reading"])
    assert before["place"] == after["place"] == "oboe.4.1"
    assert before["time"] - 0.1 < after["time"] < before["time"] + 1.5
    seen.until(f"() => placeNow() - spanOf(player.what).from_s > {after['time'] + 0.3}")
    seen.play(1).click()
    assert seen.sounds() is None


def test_readings_really_sound_different_and_only_there(seen: Visit, demo: Path) -> None:
    """The excerpts of two readings are the same sound but for a stretch around the sign."""
    bounds = seen.page.evaluate(
        """async ([sign]) => {
          const wave = async (reading) => (await cutSound({sign, reading, whole: false}, 1, false)).sides[1];
          const [one, other] = [await wave(0), await wave(1)];
          let first = -1, last = -1, loudest = 0;
          for (let i = 0; i < one.length; i += 1) {
            loudest = Math.max(loudest, Math.abs(one[i]), Math.abs(other[i]));
            if (Math.abs(one[i] - other[i]) > 0.012) { if (first < 0) first = i; last = i; }
          }
          const rate = record.sound.rate;
          return {first: first / rate, last: last / rate, length: one.length / rate, loudest};
        }""",
        [LEANS],
    )
    interpretation = interpret(demo)
    beat_s = 1.5 * 60 / 72
    bar_4 = 2 * beat_s + 0.015  # the excerpt begins a bar before
    assert interpretation.sign_at("oboe.4.1").onset_q(interpretation.score) == 9
    assert 0.06 < bounds["loudest"]
    # the two notes before a leaning note rise towards it: the earlier one begins a beat and a half before
    assert bar_4 - 1.5 * beat_s - 0.1 < bounds["first"] < bar_4 + 0.1
    assert bar_4 < bounds["last"] < bar_4 + 2.5
    assert bounds["last"] < bounds["length"] - 0.6


def test_accompaniment_and_solo_start_together(seen: Visit) -> None:
    """After decoding, both sheets are where the coder got them: the coder's delay is taken off to the sample."""
    onsets = seen.page.evaluate(
        """async () => {
          const found = [];
          for (const sheet of record.sheets.filter((one) => one.tempo === 1)) {
            const sound = await sheetSound(sheet);
            const peak = sound.slice(0, record.sound.rate * 3).reduce((a, b) => Math.max(a, Math.abs(b)), 0);
            found.push(sound.findIndex((value) => Math.abs(value) > peak / 20) / record.sound.rate);
          }
          return found;
        }"""
    )
    # a beat of silence, then the first bar; an oboe speaks later than strings
    assert 2 == len(onsets)
    assert [pytest.approx(1.5 * 60 / 72, abs=0.12)] * 2 == onsets


def test_the_keyboard_is_enough(page_file: Path, visit: Open) -> None:
    """From the top of the page to a sounding reading and back without a pointer."""
    seen = visit(page_file)
    keys = seen.page.keyboard
    keys.press("Tab")
    assert "To the list of ornaments" == seen.page.evaluate("document.activeElement.textContent")
    keys.press("Tab")
    assert "0" == seen.page.evaluate("document.activeElement.dataset.sign")
    for _ in range(LEANS):
        keys.press("ArrowRight")
        seen.page.wait_for_timeout(30)
    assert str(LEANS) == seen.page.evaluate("document.activeElement.dataset.sign")
    keys.press("Enter")
    seen.until("() => document.activeElement.matches('#panel .listen')")
    keys.press("Enter")
    seen.until("() => player.what && player.what.reading === 0 && placeNow() > 0.1")
    keys.press("Escape")
    assert seen.sounds() is None
    assert str(LEANS) == seen.page.evaluate("document.activeElement.dataset.sign")


def test_blind_listening_hides_and_then_tells_the_truth(page_file: Path, visit: Open) -> None:
    """The letters hide the names; what is told afterwards is what sounded under each letter."""
    seen = visit(page_file)
    seen.sign(LEANS).click()
    seen.page.get_by_text("Listen blind").click()
    assert "before" not in seen.page.locator(".blind .play").nth(0).text_content()
    sounded = []
    for number, letter in enumerate("AB"):
        seen.page.locator(".blind .play").nth(number).click()
        seen.until(f"() => player.what && player.what.reading === blind.pair[{number}]")
        sounded.append((letter, seen.sounds()["reading"]))
    seen.page.get_by_text("A is", exact=True).click()
    told = seen.page.locator(".told").text_content()
    assert "".join(f"{letter} is “{reading}”, " for letter, reading in sounded)[:-2] in told
    assert told.startswith("Right") == (sounded[0][1] == "leaning 1/2")


def test_the_list_is_sorted_filtered_and_linked(page_file: Path, visit: Open) -> None:
    """Heads sort, buttons filter, a row leads to its sign."""
    seen = visit(page_file)
    rows = seen.page.locator("tbody tr")
    assert 6 == rows.count()
    seen.page.get_by_role("button", name="Leaning").click()
    assert ["leans: dissonant fourth", "leans: dissonant fourth"] == rows.locator(".verdict").all_text_contents()
    seen.page.get_by_role("button", name="Bar, beat").click()
    assert "descending" == seen.page.locator("thead th").nth(0).get_attribute("aria-sort")
    assert "leans: dissonant fourth" == rows.nth(0).locator(".verdict").text_content()
    rows.nth(1).locator("button").click()
    seen.until(f"() => document.activeElement.dataset.sign === '{LEANS}'")
    assert "Bar 4, beat 1" == seen.page.locator("#panel h2").text_content()


def test_another_choice_is_told_beside_the_rule(page_file: Path, visit: Open) -> None:
    """The reason never says that the rule has chosen what the player did."""
    seen = visit(page_file)
    seen.sign(LEANS).click()
    seen.page.locator(".reading").nth(1).locator("input").check()
    told = seen.page.locator("#panel dl").text_content()
    assert "You chose before; the rule would have leaning 1/2: " in told
    assert "Chosen byyou" in told


def saved_plan(seen: Visit, place: Path) -> Path:
    """Press Save, and keep what comes."""
    with seen.page.expect_download() as download:
        seen.page.locator("#plan-save").click()
    download.value.save_as(place)
    return place


def test_a_saved_plan_is_one_the_commands_read(page_file: Path, visit: Open, demo: Path, tmp_path: Path) -> None:
    """A choice on the page is the choice of a interpretation with that plan."""
    seen = visit(page_file)
    seen.sign(LEANS).click()
    seen.page.locator(".reading").nth(1).locator("input").check()
    assert "before*" == seen.page.locator(f"#word-{LEANS}").text_content()
    plan = saved_plan(seen, tmp_path / "mine.toml")
    assert "before" == tomllib.loads(plan.read_text(encoding="utf-8"))["readings"]["oboe.4.1"]
    interpretation = interpret(demo, Wishes(plan=plan))
    assert ("before", "plan mine.toml") == (
        interpretation.choices["oboe.4.1"].reading.text,
        interpretation.choices["oboe.4.1"].by,
    )
    assert "leaning 2/3" == interpretation.choices["oboe.6.1"].reading.text


def test_a_plan_is_opened_again_and_another_score_s_refused(
    page_file: Path, visit: Open, demo: Path, tmp_path: Path
) -> None:
    """What was saved comes back; a plan of another score is refused with the reason."""
    seen = visit(page_file)
    seen.sign(LEANS).click()
    seen.page.locator(".reading").nth(2).locator("input").check()
    plan = saved_plan(seen, tmp_path / "mine.toml")
    again = visit(page_file)
    again.page.locator("#plan-open").set_input_files(plan)
    again.until("() => document.getElementById('plan-said').textContent.includes('is open')")
    assert "short*" == again.page.locator(f"#word-{LEANS}").text_content()
    other = tmp_path / "other.toml"
    text = plan.read_text(encoding="utf-8")
    sha = tomllib.loads(text)["score"]["sha256"]
    other.write_text(text.replace(sha, "0" * 64), encoding="utf-8")
    again.page.locator("#plan-open").set_input_files(other)
    again.until("() => document.getElementById('plan-said').textContent.includes('is refused')")
    assert "another score" in again.page.locator("#plan-said").text_content()
    # a command looks at the music, where the page can only look at the score it was made from
    assert "short" == interpret(demo, Wishes(plan=other)).choices["oboe.4.1"].reading.text


@pytest.mark.parametrize("width", [375, 820, 1440])
def test_nothing_is_wider_than_the_screen(page_file: Path, visit: Open, width: int) -> None:
    """On a telephone, a tablet and a desk the page scrolls one way only, and what is pressed is big enough."""
    seen = visit(page_file, width, 800)
    seen.sign(0).click()
    assert width >= seen.page.evaluate("document.documentElement.scrollWidth")
    small = seen.page.evaluate(
        "[...document.querySelectorAll('button, .spot, input[type=radio]')]"
        ".filter(e => e.offsetParent || e.ownerSVGElement)"
        ".map(e => e.closest('label') || e).map(e => e.getBoundingClientRect())"
        ".filter(b => b.width && (b.width < 20 || b.height < 24)).length"
    )
    assert 0 == small
    assert seen.page.evaluate("getComputedStyle(document.querySelector('.word text')).fontSize") != ""


def test_the_open_sign_is_not_covered_on_a_telephone(page_file: Path, visit: Open) -> None:
    """The panel comes up from below; the sign it is about stays in sight."""
    seen = visit(page_file, 375, 812)
    seen.sign(LEANS).click()
    seen.until(
        "() => { const y = scrollY; return new Promise(done => setTimeout(() => done(y === scrollY && y > 0), 150)) }"
    )
    bottom = seen.sign(LEANS).bounding_box()
    top_of_panel = seen.page.locator("#panel").bounding_box()["y"]
    assert 0 <= bottom["y"]
    assert bottom["y"] + bottom["height"] <= top_of_panel


def test_nothing_is_asked_of_the_network_and_nothing_said_on_the_console(page_file: Path, visit: Open) -> None:
    """The file alone is loaded, whatever is pressed."""
    seen = visit(page_file)
    seen.sign(LEANS).click()
    seen.play(0).click()
    seen.until("() => player.what !== null")
    assert [page_file.as_uri()] == [url for url in seen.requests if not url.startswith("blob:")]
    assert [] == seen.said


def test_the_browser_would_refuse_a_request(page_file: Path, visit: Open) -> None:
    """The policy in the page forbids what the page never does."""
    seen = visit(page_file)
    assert "refused" == seen.page.evaluate("fetch('https://example.invalid/').then(() => 'sent', () => 'refused')")
    assert any("Content Security Policy" in said for said in seen.said)


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_axe_finds_no_serious_fault(page_file: Path, visit: Open, scheme: str) -> None:
    """axe-core 4.14's rules, WCAG 2.1 A and AA among them, with a sign open and its reasons shown."""
    seen = visit(page_file, color_scheme=scheme)
    seen.sign(LEANS).click()
    seen.page.locator(".why summary").click()
    seen.page.evaluate(AXE.read_text(encoding="utf-8") + "; 0")
    found = seen.page.evaluate("axe.run().then(result => result.violations)")
    serious = [
        f"{one['id']}: {one['nodes'][0]['html'][:120]}" for one in found if one["impact"] in ("serious", "critical")
    ]
    assert [] == serious


def test_text_of_the_score_is_shown_and_never_run(
    visit: Open, made: Make, hostile: Path, hostile_text: str, tmp_path: Path
) -> None:
    """Markup in titles, names, directions and lyrics is text."""
    seen = visit(made(hostile, tmp_path / "hostile.html", tempos=("100%",)))
    assert hostile_text == seen.page.locator("h1").text_content()
    seen.sign(0).click()
    assert seen.page.evaluate("window.ran") is None
    assert 0 == seen.page.locator("img").count()
    assert hostile_text in seen.page.locator(".verse, .syl").first.text_content()
    assert [] == seen.said


def test_exact_notes_are_shown_on_demand(page_file: Path, visit: Open) -> None:
    """Under the shorthand, by pointer and keyboard; they stay when another way is chosen."""
    seen = visit(page_file)
    seen.sign(LEANS).click()
    short = seen.page.locator(".reading").nth(2)
    assert "short" in short.text_content()
    assert 1 == short.locator(".small-system").count()
    short.locator("summary").press("Enter")
    seen.until("() => document.querySelectorAll('.reading')[2].querySelectorAll('.small-system').length === 2")
    assert 0 < short.locator("svg .changed").count()
    short.locator("input").check()
    assert 2 == seen.page.locator(".reading").nth(2).locator(".small-system").count()


def test_two_movements_are_told_apart(visit: Open, made: Make, tmp_path: Path) -> None:
    """Each has its own tempo, and a bar number that comes twice has the movement's name; the author is named first."""
    score = tmp_path / "two.musicxml"
    score.write_text(two_movements(), encoding="utf-8")
    seen = visit(made(score, tmp_path / "two.html", tempos=("100%",)))
    for number, (name, minute) in enumerate([("1 Adagio", 60), ("2 Allegro", 120)]):
        seen.page.evaluate(f"openSign({number})")
        assert f"{name}, bar 2, beat 1" == seen.page.locator("#panel h2").text_content()
        assert f"{minute} beats a minute" in seen.page.locator(".transport output").text_content()
        assert f"{name}: 2, 1" == seen.page.locator(f'tr[data-sign="{number}"] button').text_content()
    assert seen.page.locator("#about").text_content().startswith("An Author, A. Copyist (arranger). ")
    assert seen.said == []


def test_flats_are_signs_everywhere(seen: Visit) -> None:
    """What sounds with a small note is named as the chord above it is."""
    texts = seen.page.evaluate("record.signs.flatMap(sign => sign.harmony?.evidence ?? [])")
    assert any("B♭" in text for text in texts)
    assert not any(re.search(r"\b[A-G][b#]", text) for text in texts)


def test_packed_pictures_are_drawn_and_found(
    monkeypatch: pytest.MonkeyPatch, visit: Open, made: Make, demo: Path, tmp_path: Path
) -> None:
    """On the page of a long score a system is drawn when it is led to."""
    monkeypatch.setattr(appui.page.build, "_PACK_BYTES", 0)
    seen = visit(made(demo, tmp_path / "packed.html", "4-6", tempos=("100%",)), 375, 500)
    seen.page.evaluate("leadTo(3)")
    seen.until("() => document.activeElement.dataset.sign === '3'")
    assert "Bar 6, beat 1" == seen.page.locator("#panel h2").text_content()


def test_sound_comes_from_the_folder_beside_the_page(visit: Open, made: Make, demo: Path, tmp_path: Path) -> None:
    """With --folder the page is small and plays all the same."""
    page = made(demo, tmp_path / "folder.html", "3-4", tempos=("100%",), folder=True)
    assert page.stat().st_size < 700_000
    seen = visit(page)
    seen.sign(1).click()
    seen.play(0).click()
    seen.until("() => player.what && placeNow() > 0.2")
    assert [] == seen.said
    assert ["0.js", "1.js"] == sorted(path.name for path in (tmp_path / "folder-sound").iterdir())


@pytest.fixture(scope="module", name="embellished")
def _embellished(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, Path]:
    """A page of the Andante with the player's own notes, over a fermata and in time, and the plan that holds them."""
    folder = tmp_path_factory.mktemp("embellished")
    plan, page = folder / "own.toml", folder / "ford.html"
    places = ["--at", "flute.8.1", "--at", "flute.5.1"]
    words = ["embellish", str(bare_andante()), *places, "--plan-out", str(plan)]
    assert 0 == CliRunner().invoke(cli, words, catch_exceptions=False).exit_code
    words = ["page", str(bare_andante()), str(page), "--plan", str(plan), "--tempo", "100%", "--bars", "4-10"]
    assert 0 == CliRunner().invoke(cli, words, catch_exceptions=False).exit_code
    return page, plan


def test_a_plan_saved_from_the_page_keeps_the_player_s_own_notes(
    embellished: tuple[Path, Path], visit: Open, tmp_path: Path
) -> None:
    """They stand under [embellishments], as they were; opened again it is a plan of this page."""
    page, plan = embellished
    seen = visit(page)
    saved = saved_plan(seen, tmp_path / "mine.toml")
    was, now = (interpret(bare_andante(), Wishes(plan=each)).embellishments for each in (plan, saved))
    assert {place: one.free for place, one in was.items()} == {place: one.free for place, one in now.items()}
    seen.page.locator("#plan-open").set_input_files(saved)
    seen.until("() => document.getElementById('plan-said').textContent.includes('is open')")
    assert "make the page anew" not in seen.page.locator("#plan-said").text_content()
    other = tmp_path / "other.toml"
    other.write_text(saved.read_text(encoding="utf-8").replace("E5:3/4:tr", "E5:3/4"), encoding="utf-8")
    seen.page.locator("#plan-open").set_input_files(other)
    seen.until("() => document.getElementById('plan-said').textContent.includes('make the page anew')")


@pytest.fixture(scope="module", name="held")
def _held(tmp_path_factory: pytest.TempPathFactory, made: Callable[..., Path], demo: Path) -> Path:
    """A page of the demo's last bars, which end in a fermata."""
    return made(demo, tmp_path_factory.mktemp("held") / "end.html", "27-30", tempos=("100%",))


def test_a_fermata_is_heard_in_each_reading(held: Path, visit: Open) -> None:
    """All parts wait as long as the reading says, and go over to another reading in the same bar."""
    seen = visit(held)
    number = seen.page.evaluate("record.signs.findIndex(sign => sign.kind === 'fermata')")
    words = seen.page.evaluate(f"record.signs[{number}].readings.map(reading => reading.words)")
    lengths = seen.page.evaluate(
        """async (sign) => {
          const lengths = [];
          for (let reading = 0; reading < record.signs[sign].readings.length; reading += 1) {
            const {sides, lead} = await cutSound({sign, reading, whole: false}, 0, false);
            const last = sides.map(wave => wave.findLastIndex(value => Math.abs(value) > 0.006) - lead);
            lengths.push(last.map(samples => samples / record.sound.rate));
          }
          return lengths;
        }""",
        number,
    )
    assert ["hold 2 times as long", "hold 1.5 times as long", "hold 3 times as long"] == words
    # two beats of 5/4 s under the fermata
    beat_s = 5 / 4
    for side in (0, 1):
        chosen, shorter, longer = (length[side] for length in lengths)
        assert pytest.approx(2 * beat_s * 1.5, abs=0.1) == longer - shorter
        assert pytest.approx(2 * beat_s * 0.5, abs=0.1) == chosen - shorter


def test_a_fermata_is_heard_on_in_another_reading(held: Path, visit: Open) -> None:
    """Going over to a reading for which all parts wait otherwise keeps the bar and the place in it."""
    seen = visit(held)
    number = seen.page.evaluate("record.signs.findIndex(sign => sign.kind === 'fermata')")
    seen.press_word(number)
    seen.play(0).click()
    seen.until("() => player.what && placeNow() - spanOf(player.what).from_s > 0.5")
    before = seen.sounds()["time"]
    seen.play(2).click()
    seen.until("() => player.what && player.what.reading === 2")
    after = seen.sounds()["time"]
    assert before - 0.1 < after < before + 1.5
    assert 1 == seen.page.locator(".bar-now").count()
    assert "bar-28" == seen.page.locator(".bar-now").get_attribute("id")
