"""The command `embellish`: what it prints, writes and refuses."""

import json
import re
import subprocess
import sys
import wave
from pathlib import Path

import pytest
from click.testing import CliRunner

from appui.cli.main import cli
from appui.errors import AppuiError
from appui.interpret.interpretation import interpret
from appui.interpret.wishes import Wishes
from appui.perform.play import play
from appui.score.pitch import parse_pitch
from tests.embellish.situations import Key, bare, cadenza, lead_in, score

PLACE = "oboe.3.1"


@pytest.fixture
def piece(tmp_path: Path) -> Path:
    """A cadenza in F for oboe."""
    path = tmp_path / "piece.musicxml"
    path.write_bytes(score(Key("F", "major"), (4, 4), cadenza(), tempo="moderate"))
    return path


def run(*words) -> str:
    """Standard output of the command; an error of ours is raised."""
    result = CliRunner().invoke(cli, ["embellish", *map(str, words)], catch_exceptions=False)
    assert result.exit_code == 0, result.output
    return result.stdout


def test_it_prints_places_proposals_and_sources(piece):
    """As printed is always number 0; the source of the place stands beside it."""
    told = run(piece, "--kind", "cadenza", "--count", 2)
    assert "cadenza: a fermata on the cadential six-four F/C" in told
    assert "Türk" in told
    assert re.search(r"0 +as printed", told)
    assert re.search(r"2 +\w", told)
    assert "trill on" in told


def test_json_has_all_that_is_printed(piece):
    """Notes as a plan has them, scores with their terms."""
    record = json.loads(run(piece, "--kind", "cadenza", "--json"))
    proposal = record["places"][0]["proposals"][0]
    assert PLACE == record["places"][0]["id"]
    assert "1" == proposal["replaces"]
    assert proposal["score"] == pytest.approx(sum(proposal["terms"].values()), abs=0.01)
    assert proposal["notes"].endswith(":tr")


def test_the_same_command_gives_the_same_bytes(piece, tmp_path):
    """Whatever the seed of Python's hashes."""
    texts = set()
    for seed in ("1", "2"):
        out = tmp_path / f"{seed}.toml"
        words = [sys.executable, "-m", "appui.cli.main", "embellish", str(piece), "--plan-out", str(out)]
        subprocess.run(words, check=True, capture_output=True, env={**__import__("os").environ, "PYTHONHASHSEED": seed})
        texts.add(out.read_bytes())
    assert 1 == len(texts)


def test_a_plan_holds_every_proposal_and_plays_none_unasked(piece, tmp_path):
    """Proposals, not solutions: each stands behind a # until it is taken."""
    out = tmp_path / "mine.toml"
    run(piece, "--plan-out", out)
    assert {} == interpret(piece, Wishes(plan=out)).embellishments
    assert 4 == out.read_text().count(f'# "{PLACE}" = {{')


def test_a_place_asked_for_is_played_by_its_first_proposal(piece, tmp_path):
    """The plan in which it is written is one that `render` plays."""
    out = tmp_path / "mine.toml"
    run(piece, "--at", PLACE, "--plan-out", out)
    made = interpret(piece, Wishes(plan=out))
    assert "embellished" == made.choices[PLACE].reading.text
    order = made.order(None, repeats=True)
    solo, plain = (len(play(each, order).parts[0].notes) for each in (made, interpret(piece)))
    assert solo > plain + 5


def test_the_proposal_that_is_kept_is_the_one_in_force(piece, tmp_path):
    """By its number; 0 keeps the printed notes."""
    out = tmp_path / "mine.toml"
    record = json.loads(run(piece, "--at", PLACE, "--keep", f"{PLACE}=2", "--plan-out", out, "--json"))
    notes = record["places"][0]["proposals"][1]["notes"]
    assert re.search(rf'^"{PLACE}" = .*"{re.escape(notes)}"', out.read_text(), re.MULTILINE)
    run(piece, "--at", PLACE, "--keep", f"{PLACE}=0", "--plan-out", out)
    assert {} == interpret(piece, Wishes(plan=out)).embellishments


def test_a_plan_can_be_gone_on_with(piece, tmp_path):
    """What an earlier plan embellishes stays in force, its readings too."""
    one, two = tmp_path / "one.toml", tmp_path / "two.toml"
    run(piece, "--at", PLACE, "--plan-out", one)
    run(piece, "--plan", one, "--kind", "cadence", "--plan-out", two)
    first, second = (interpret(piece, Wishes(plan=each)).embellishments[PLACE] for each in (one, two))
    assert first.free == second.free


def test_every_proposal_can_be_taken_from_the_plan(tmp_path):
    """Each line, freed of its #, is read and checked."""
    path, out = tmp_path / "piece.musicxml", tmp_path / "mine.toml"
    path.write_bytes(score(Key("G", "minor"), (3, 4), bare(), tempo="slow"))
    run(path, "--plan-out", out)
    text = out.read_text()
    entries = re.findall(r'^# ("oboe[^"]*" = .*)$', text, re.MULTILINE)
    assert len(entries) > 3
    for entry in entries:
        out.write_text(text.replace("# " + entry, entry, 1))
        assert 1 == len(interpret(path, Wishes(plan=out)).embellishments)


def test_what_is_to_be_heard_begins_as_printed(piece, tmp_path):
    """One file as printed, one for each proposal, one with all in turn; proposals last longer than the printed hold."""
    run(piece, "--kind", "cadenza", "--count", 2, "--out", tmp_path / "heard")
    folder = tmp_path / "heard" / PLACE
    names = {path.name.removeprefix("100 percent ") for path in folder.iterdir()}
    assert {"as printed.wav", "1.wav", "2.wav", "one after another.wav"} == names
    assert [AS_PRINTED, "1", "2", "one after another"] == [
        each["reading"] for each in json.loads((tmp_path / "heard" / "index.json").read_text())["places"][0]["files"]
    ]
    with wave.open(str(folder / "100 percent one after another.wav")) as sound:
        assert sound.getnframes() > 0


AS_PRINTED = "as printed"


def test_a_clarinet_reads_its_own_pitches(tmp_path):
    """Range and notes are as written: E3-A5 holds no note above A5."""
    path = tmp_path / "piece.musicxml"
    path.write_bytes(score(Key("Eb", "major"), (4, 4), lead_in(), instrument="clarinet", tempo="moderate"))
    record = json.loads(run(path, "--kind", "lead-in", "--range", "E3-A5", "--json"))
    names = re.findall(r"([A-G](?:b|#)?\d):", " ".join(each["notes"] for each in record["places"][0]["proposals"]))
    assert max(parse_pitch(name).midi for name in names) <= parse_pitch("A5").midi


def test_a_range_without_the_theme_gives_none_and_says_why(piece):
    """An empty list with a reason; the printed notes stay."""
    told = run(piece, "--kind", "cadenza", "--range", "C6-F6")
    assert re.search(r"as printed: (none of \d+ candidates|no move fits)", " ".join(told.split()))


@pytest.mark.parametrize(
    ("words", "message"),
    [
        (["--range", "C4"], "range 'C4' is not two pitches such as C4-D6"),
        (["--range", "D6-C4"], "range 'D6-C4' ends no higher than it begins"),
        (["--at", "oboe.99.1"], "there is no note at 'oboe.99.1'; the nearest is"),
        (["--keep", "oboe.3.1=1"], "--keep says what a plan plays; name the plan with --plan-out"),
        (["--keep", "oboe.3.1=9", "--plan-out", "x.toml"], "oboe.3.1 has 4 proposals, not 9; 0 is plain"),
        (["--keep", "oboe.3.1", "--plan-out", "x.toml"], "'oboe.3.1' is not a place and the number of a proposal"),
        (["--keep", "oboe.8.1=1", "--plan-out", "x.toml"], "nothing is proposed at oboe.8.1; the places are oboe.3.1"),
    ],
)
def test_what_cannot_be_meant_is_refused(piece, words, message, monkeypatch, tmp_path):
    """With what was wrong and what is possible; nothing is written."""
    monkeypatch.chdir(tmp_path)
    with pytest.raises(AppuiError, match=re.escape(message)):
        CliRunner().invoke(cli, ["embellish", str(piece), *words], catch_exceptions=False)
    assert not (tmp_path / "x.toml").exists()


def test_a_plan_whose_embellishment_no_longer_fits_is_refused_at_its_line(piece, tmp_path):
    """The score's bar was shortened: the plan is for another score, and says so."""
    out = tmp_path / "mine.toml"
    run(piece, "--at", PLACE, "--plan-out", out)
    other = tmp_path / "other.musicxml"
    other.write_bytes(score(Key("F", "major"), (4, 4), bare(), tempo="moderate"))
    sha = interpret(other).score.sha256
    out.write_text(re.sub(r'sha256 = "\w+"', f'sha256 = "{sha}"', out.read_text()))
    with pytest.raises(AppuiError, match=r"line \d+: the embellishment of oboe.3.1: "):
        interpret(other, Wishes(plan=out))


def test_number_one_is_kept_everywhere_at_once(piece, tmp_path):
    """``--keep all=1``: one variation of the whole movement, written and read back."""
    out = tmp_path / "mine.toml"
    run(piece, "--keep", "all=1", "--plan-out", out, "--how-much", "rich")
    made = interpret(piece, Wishes(plan=out))
    places = json.loads(run(piece, "--how-much", "rich", "--json"))["places"]
    assert len(made.embellishments) == sum(bool(each["proposals"]) for each in places)


def test_what_is_left_alone_is_one_line(piece):
    """Reasons with their counts; the places stand in --json."""
    told = run(piece)
    assert told.count("Left alone:") <= 1
    assert "--json" in told.split("Left alone:")[-1] or "Left alone" not in told


@pytest.mark.parametrize("manner", ["free", "methodical", "da-capo", "lament"])
def test_every_manner_proposes_for_the_cadenza(piece, manner):
    """Fermatas belong to all of them."""
    record = json.loads(run(piece, "--kind", "cadenza", "--manner", manner, "--json"))
    assert record["places"][0]["proposals"]
