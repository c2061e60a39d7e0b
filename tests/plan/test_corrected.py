"""A plan and the score it is for: what is kept, what is found again in a corrected score, what is told."""

import tomllib
from itertools import count

import pytest
from hypothesis import given
from hypothesis import strategies as st

from appui.errors import PlanError
from appui.interpret.interpretation import interpret, plan_notices
from appui.interpret.planned import plan_of
from appui.interpret.wishes import Wishes
from appui.plan.matching import match_places, music_of
from appui.score.signs import find_signs
from tests.there import there
from tests.written import bar, grace, note, part, text

TUNE = "C5 D5 E5 F5 G5 A5 G5 F5 E5 D5 C5 B4".split()


def _bars(tune, ornamented=(1, 3, 5, 8, 10)):
    return [bar(*([grace("D5")] if index in ornamented else []), note(name, 16)) for index, name in enumerate(tune)]


def _score(tmp_path, *contents, name="score.musicxml", solo="Oboe"):
    numbers = count(1)
    bars = [bar(content, number=str(next(numbers))) for _, content in contents]
    file = tmp_path / name
    low = [bar(note("C3", 16), number=str(index + 1)) for index in range(len(bars))]
    file.write_text(text(part(*bars, name=solo), part(*low, name="Cello")))
    return file


def _plan(tmp_path, score, takes, **more):
    player = interpret(score, Wishes(takes=tuple(f"{place}={words}" for place, words in takes.items()), **more))
    path = tmp_path / "plan.toml"
    path.write_text(plan_of(player, [sign for sign in player.signs if sign.part == player.solo.index], path))
    return path


def _readings(player):
    return {place: words for place, (words, _) in player.wanted.items()}


def test_a_plan_holds_only_what_the_player_decided(tmp_path) -> None:
    """What the rules choose stands behind # and stays theirs."""
    score = _score(tmp_path, *_bars(TUNE))
    plan = _plan(tmp_path, score, {"oboe.4.1": "short"})
    assert {"oboe.4.1": "short"} == tomllib.loads(plan.read_text())["readings"]
    assert '#"oboe.2.1" = ' in plan.read_text()
    choices = interpret(score, Wishes(plan=plan)).choices
    assert ("plan plan.toml", "style harmony") == (choices["oboe.4.1"].by, choices["oboe.2.1"].by)


def test_a_plan_remembers_solo_and_style(tmp_path) -> None:
    """What is asked for beside it goes before."""
    score = _score(tmp_path, *_bars(TUNE))
    plan = _plan(tmp_path, score, {}, solo="cello", style="bach-1753")
    remembered, asked = (interpret(score, Wishes(plan=plan, solo=solo)) for solo in (None, "oboe"))
    assert ("Cello", "bach-1753", "Oboe") == (remembered.solo.name, remembered.style.name, asked.solo.name)


def test_a_plan_remembers_chart_and_strokes(tmp_path) -> None:
    """The chart's path is taken from the plan's folder."""
    score = _score(tmp_path, *_bars(TUNE))
    (tmp_path / "chords.txt").write_text("1 C\n2 G\n")
    plan = _plan(tmp_path, score, {}, chart=tmp_path / "chords.txt", strokes="ignore")
    assert {"chart": "chords.txt", "strokes": "ignore"}.items() <= tomllib.loads(plan.read_text())["score"].items()
    wishes = interpret(score, Wishes(plan=plan)).wishes
    assert ((tmp_path / "chords.txt").resolve(), "ignore") == (there(wishes.chart).resolve(), wishes.strokes)


def test_bars_put_in_move_the_places_after_them(tmp_path) -> None:
    """Decisions go with their music, and it is told where to."""
    plan = _plan(tmp_path, _score(tmp_path, *_bars(TUNE)), {"oboe.4.1": "short", "oboe.9.1": "before"})
    bars = _bars(TUNE)
    corrected = _score(tmp_path, *bars[:4], bar(note("A4", 16)), bar(note("A4", 16)), *bars[4:])
    player = interpret(corrected, Wishes(plan=plan))
    assert {"oboe.4.1": "short", "oboe.11.1": "before"} == _readings(player)
    assert (("oboe.9.1", "is now at oboe.11.1"),) == plan_notices(player)


def test_a_sign_that_is_gone_is_told_and_kept_as_a_remark(tmp_path) -> None:
    """Its neighbours keep what is theirs."""
    score = _score(tmp_path, *_bars(TUNE))
    plan = _plan(tmp_path, score, {"oboe.4.1": "short", "oboe.6.1": "leaning 1/2", "oboe.9.1": "before"})
    player = interpret(_score(tmp_path, *_bars(TUNE, (1, 3, 8, 10))), Wishes(plan=plan))
    assert {"oboe.4.1": "short", "oboe.9.1": "before"} == _readings(player)
    assert (("oboe.6.1", "there is no such ornament any more: what was decided for it is left out"),) == plan_notices(
        player
    )
    assert "# has no place here: oboe.6.1 = leaning 1/2\n" in plan_of(player, player.signs, tmp_path / "new.toml")


def test_a_corrected_note_is_told(tmp_path) -> None:
    """The decision stays: place and surroundings are the same."""
    plan = _plan(tmp_path, _score(tmp_path, *_bars(TUNE)), {"oboe.4.1": "short"})
    corrected = [*TUNE[:3], "F#5", *TUNE[4:]]
    player = interpret(_score(tmp_path, *_bars(corrected)), Wishes(plan=plan))
    assert {"oboe.4.1": "short"} == _readings(player)
    assert (("oboe.4.1", "its main note was F5, now F#5"),) == plan_notices(player)


def test_a_part_with_another_name_is_known(tmp_path) -> None:
    """Where no part has the name of the plan's."""
    plan = _plan(tmp_path, _score(tmp_path, *_bars(TUNE)), {"oboe.4.1": "short"})
    player = interpret(_score(tmp_path, *_bars(TUNE), solo="Flute"), Wishes(plan=plan, solo="flute"))
    assert {"flute.4.1": "short"} == _readings(player)


def test_embellishments_move_too(tmp_path) -> None:
    """Also where nothing is printed at their place."""
    score = _score(tmp_path, *_bars(TUNE))
    plan = tmp_path / "plan.toml"
    plan.write_text(
        plan_of(interpret(score), [], plan)
        + '\n[embellishments]\n"oboe.3.1" = { over = "1/1", notes = "E5:1/2 G5:1/2" }\n'
    )
    player = interpret(score, Wishes(plan=plan))
    plan.write_text(plan_of(player, player.signs, plan))
    bars = _bars(TUNE)
    again = interpret(_score(tmp_path, bar(note("A4", 16)), *bars), Wishes(plan=plan))
    assert ["oboe.4.1.free"] == list(again.embellishments)


def test_an_embellishment_whose_note_is_gone_is_left_out(tmp_path) -> None:
    """It is told, and its notes are kept as a remark."""
    score, plan = _score(tmp_path, *_bars(TUNE)), tmp_path / "plan.toml"
    own = '\n[embellishments]\n"oboe.7.1" = { over = "1/1", notes = "G5:1/2 E5:1/2" }\n'
    plan.write_text(plan_of(interpret(score), [], plan) + own)
    player = interpret(score, Wishes(plan=plan))
    plan.write_text(plan_of(player, player.signs, plan))
    bars = _bars(TUNE)
    again = interpret(_score(tmp_path, *bars[:5], *bars[8:]), Wishes(plan=plan))
    assert ({}, ["oboe.7.1.free"]) == (dict(again.embellishments), [place for place, _ in plan_notices(again)])
    assert "# has no place here: oboe.7.1.free = G5:1/2 E5:1/2" in plan_of(again, again.signs, plan)


def test_what_need_not_be_checked_stays_so(tmp_path) -> None:
    """A plan written anew is one that can be read."""
    score, plan = _score(tmp_path, *_bars(TUNE)), tmp_path / "plan.toml"
    own = '\n[embellishments]\n"oboe.3.1" = { over = "1/1", notes = "E5:1/2 D5:1/2", unchecked = true }\n'
    plan.write_text(plan_of(interpret(score), [], plan) + own)
    player = interpret(score, Wishes(plan=plan))
    plan.write_text(plan_of(player, player.signs, plan))
    assert "unchecked = true" in plan.read_text()
    assert ["oboe.3.1.free"] == list(interpret(score, Wishes(plan=plan)).embellishments)


def test_other_music_is_refused(tmp_path) -> None:
    """And so is a changed score, where the plan does not keep its music."""
    plan = _plan(tmp_path, _score(tmp_path, *_bars(TUNE)), {"oboe.4.1": "short"})
    other = _score(tmp_path, *_bars("G3 G4 B3 B4 F3 F4".split(), (0, 2, 4)), name="other.musicxml")
    with pytest.raises(PlanError, match="is for another score"):
        interpret(other, Wishes(plan=plan))
    plan.write_text(plan.read_text().partition("[music]")[0])
    with pytest.raises(PlanError, match="or this one has changed"):
        interpret(_score(tmp_path, *_bars(TUNE), bar(note("A4", 16))), Wishes(plan=plan))


def test_a_plan_of_the_whole_serves_one_movement(tmp_path) -> None:
    """Places lose their tilde; what belongs to the other movement is left out."""
    bars = [bar(content, number=str(index % 6 + 1)) for index, (_, content) in enumerate(_bars(TUNE))]
    file = tmp_path / "score.musicxml"
    file.write_text(
        text(part(*bars), part(*[bar(note("C3", 16), number=str(i % 6 + 1)) for i in range(12)], name="Cello"))
    )
    plan = _plan(tmp_path, file, {"oboe.2.1": "short", "oboe.3~2.1": "before"})
    player = interpret(file, Wishes(plan=plan, movement="2"))
    assert ({"oboe.3.1": "before"}, ()) == (_readings(player), plan_notices(player))


def test_a_plan_of_a_movement_remembers_it(tmp_path) -> None:
    """The score need not be told which."""
    bars = [bar(content, number=str(index % 6 + 1)) for index, (_, content) in enumerate(_bars(TUNE))]
    file = tmp_path / "score.musicxml"
    file.write_text(
        text(part(*bars), part(*[bar(note("C3", 16), number=str(i % 6 + 1)) for i in range(12)], name="Cello"))
    )
    plan = _plan(tmp_path, file, {"oboe.3.1": "before"}, movement="2")
    player = interpret(file, Wishes(plan=plan))
    assert (6, {"oboe.3.1": "before"}) == (len(player.score.bars), _readings(player))


def test_a_plan_of_one_movement_says_nothing_of_another(tmp_path) -> None:
    """It is no plan of another score: a set of tracks may have both."""
    first = [
        bar(*([grace("D5")] * (n in (1, 3))), note(name, 16), number=str(n + 1)) for n, name in enumerate(TUNE[:6])
    ]
    last = [
        bar(*([grace("G4")] * (n in (1, 3))), note(name, 16), number=str(n + 1))
        for n, name in enumerate("A3 B3 A3 B3".split())
    ]
    file = tmp_path / "score.musicxml"
    file.write_text(text(part(*first, *last)))
    plan = _plan(tmp_path, file, {"oboe.2.1": "short"}, movement="1")
    player = interpret(file, Wishes(plan=plan, movement="2"))
    assert ({}, ()) == (_readings(player), plan_notices(player))


def test_a_plan_without_end_is_no_plan_of_this_score(tmp_path) -> None:
    """More places than any music has are not compared one by one."""
    plan = _plan(tmp_path, _score(tmp_path, *_bars(TUNE)), {})
    rows = [f'"oboe.{number}.9" = "small notes|D5|C5|A4 B4|G4 A4"' for number in range(100, 100_000)]
    plan.write_text(plan.read_text() + "\n".join(rows))
    long = _score(tmp_path, *_bars(TUNE * 9, range(12 * 9)))
    with pytest.raises(PlanError, match="is for another score"):
        interpret(long, Wishes(plan=plan))


@given(st.lists(st.sampled_from("C5 D5 E5 F5".split()), min_size=3, max_size=12), st.data())
def test_the_same_score_matches_itself(tune, data) -> None:
    """Whatever the music, every place is found where it was; and in order where bars are taken out."""
    from tests.written import score as read

    signs = find_signs(music := read(part(*_bars(tune, range(len(tune))))))
    kept = {sign.place: music_of(music, sign) for sign in signs}
    assert list(kept) == [each.new for each in match_places(kept, music, signs).values()]
    out = data.draw(st.integers(0, len(tune) - 1))
    less = read(part(*_bars(tune[:out] + tune[out + 1 :], range(len(tune) - 1))))
    found = [each.new for each in match_places(kept, less, find_signs(less)).values() if each.new]
    assert sorted(found, key=lambda place: int(place.split(".")[1])) == found
