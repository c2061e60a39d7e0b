"""The commands as a player types them: output, files, exit status, errors in one sentence."""

import json
import re
import subprocess
import sys

import mido
import pytest
import soundfile

from appui.demo import demo_score
from appui.exact import Fraction, fraction_of
from tests.there import there


def run(*words, cwd=None):
    """Run the command line in a process of its own."""
    return subprocess.run(
        [sys.executable, "-m", "appui", *map(str, words)], capture_output=True, text=True, cwd=cwd, check=False
    )


@pytest.fixture(scope="module")
def survey():
    """The demo's survey as JSON."""
    return json.loads(run("survey", demo_score(), "--json").stdout)


def test_help_has_an_example_for_every_command() -> None:
    """Each command's help ends in something to type."""
    for command in ("survey", "render", "compare", "styles", "demo"):
        assert f"Example: appui {command}" in run(command, "--help").stdout


def test_survey_names_parts_in_document_order(survey) -> None:
    """The score's parts come as the file has them."""
    assert ["Oboe", "Violin", "Viola", "Violoncello"] == [part["name"] for part in survey["score"]["parts"]]


def test_survey_tells_written_and_exact_places(survey) -> None:
    """One ornament has all the promised fields."""
    first = survey["ornaments"][0]
    promised = (
        "id part part_name bar bar_index offset_in_bar_q onset_q sign slashed written sounding main_written "
        "main_sounding "
        "harmony members leans main_member reading placement by reason source alternatives"
    )
    assert set(promised.split()) <= set(first)
    assert ("oboe.2.1", "2", 1, "0", ["D6"], "C6") == tuple(
        first[name] for name in ("id", "bar", "bar_index", "offset_in_bar_q", "written", "main_written")
    )


def test_a_small_note_printed_alike_is_told_apart_by_the_harmony(survey) -> None:
    """D6 before C6 is before the beat over D7 and leans over C minor: the point of the demo."""
    by_place = {ornament["id"]: ornament for ornament in survey["ornaments"]}
    assert ("before", "leaning") == tuple(by_place[place]["reading"]["name"] for place in ("oboe.2.1", "oboe.20.1"))


def test_every_alternative_can_be_taken(survey, tmp_path) -> None:
    """What the survey lists can be typed after --take."""
    takes = [
        word
        for ornament in survey["ornaments"]
        for alternative in ornament["alternatives"][:1]
        for word in ("--take", f"{ornament['id']}={alternative}")
    ]
    done = run("render", demo_score(), tmp_path / "x.mid", *takes)
    assert (0, True) == (done.returncode, (tmp_path / "x.mid").exists()), done.stderr


def test_render_leans_on_the_beat_and_takes_half(tmp_path) -> None:
    """oboe.12.1 leans 1/2: the small note on the beat, half of the note, its release softer by the 4 dB asked for."""
    plain = ("--shape", "plain", "--weight", "4")
    done = run("render", demo_score(), tmp_path / "x.mid", "--no-repeats", *plain, "--json")
    sign = next(s for s in json.loads(done.stdout)["signs"] if s["id"] == "oboe.12.1")
    lean, release = (next(t for t in sign["tones"] if t["role"] == role) for role in ("lean", "release"))
    assert (Fraction(33), Fraction(67, 2)) == (fraction_of(lean["onset_q"]), fraction_of(release["onset_q"]))
    assert 10 ** (4 / 40) == pytest.approx(lean["velocity"] / release["velocity"], abs=0.02)


def test_render_bars_at_a_tempo(tmp_path) -> None:
    """Two bars of 6/8 at half of 48 a minute last 10 s."""
    done = run("render", demo_score(), tmp_path / "x.mid", "--bars", "12-13", "--tempo", "50%", "--time", "strict")
    assert (0, "10.0") == (done.returncode, there(re.search(r"([\d.]+) s", done.stdout))[1]), done.stderr
    assert 10 == pytest.approx(mido.MidiFile(tmp_path / "x.mid").length, abs=0.05)


def test_mute_leaves_the_accompaniment(tmp_path) -> None:
    """The oboe's track is gone."""
    run("render", demo_score(), tmp_path / "x.mid", "--mute", "solo")
    assert ["Violin", "Viola", "Violoncello"] == [t.name for t in mido.MidiFile(tmp_path / "x.mid").tracks[1:]]


def test_the_same_words_give_the_same_bytes(tmp_path) -> None:
    """Twice rendered, twice the same file."""
    for name in ("a.mid", "b.mid"):
        run("render", demo_score(), tmp_path / name)
    assert (tmp_path / "a.mid").read_bytes() == (tmp_path / "b.mid").read_bytes()


def test_compare_writes_readings_and_their_sequence(tmp_path) -> None:
    """One place, one tempo: a file a reading, one after another, an index."""
    done = run("compare", demo_score(), tmp_path / "heard", "--at", "oboe.20.1", "--tempo", "75%", "--format", "flac")
    index = json.loads((tmp_path / "heard" / "index.json").read_text())
    files = index["places"][0]["files"]
    assert (0, "one after another") == (done.returncode, files[-1]["reading"]), done.stderr
    lengths = {soundfile.info(tmp_path / "heard" / f["file"]).frames for f in files[:-1]}
    assert len(files) >= 3
    assert max(lengths) - min(lengths) < 44_100


def test_a_plan_is_made_edited_and_obeyed(tmp_path) -> None:
    """Made with --plan-out, one line changed, given to render: the line is heard."""
    plan = tmp_path / "my.toml"
    run("survey", demo_score(), "--plan-out", plan)
    text = plan.read_text(encoding="utf-8")
    assert '#"oboe.12.1" = "leaning 1/2"' in text
    plan.write_text(text.replace('#"oboe.12.1" = "leaning 1/2"', '"oboe.12.1" = "before"'), encoding="utf-8")
    signs = json.loads(run("render", demo_score(), tmp_path / "x.mid", "--plan", plan, "--json").stdout)["signs"]
    changed = next(sign for sign in signs if sign["id"] == "oboe.12.1")
    assert ("before", "plan my.toml") == (changed["reading"]["name"], changed["by"])


@pytest.mark.parametrize(
    ("words", "status", "said"),
    [
        (["survey", "missing.xml"], 1, "missing.xml: there is no such file"),
        (["render", "{demo}", "x.pdf"], 2, "outputs end in .mid"),
        (["render", "{demo}", "nowhere/x.mid"], 1, "folder nowhere does not exist"),
        (["render", "{demo}", "x.mid", "--bars", "99"], 1, "has no bar '99'; its bars are 1 to 30"),
        (["render", "{demo}", "x.mid", "--bars", "7-5"], 1, "comes after"),
        (["render", "{demo}", "x.mid", "--solo", "tuba"], 1, "has no part 'tuba'; its parts are 1 Oboe"),
        (["render", "{demo}", "x.mid", "--style", "rococo"], 1, "is no style here"),
        (["render", "{demo}", "x.mid", "--tempo", "fast"], 2, "neither a percentage"),
        (["render", "{demo}", "x.mid", "--take", "oboe.2.1=sideways"], 2, "is no way to play an ornament"),
        (["render", "{demo}", "x.mid", "--take", "oboe.99.1=before"], 1, "has no ornament at"),
        (["render", "{demo}", "x.wav", "--soundfont", "{demo}"], 1, "SoundFont"),
        (["survey", "{demo}", "--plan", "missing.toml"], 1, "there is no such plan"),
    ],
)
def test_what_cannot_be_meant_is_one_sentence(words, status, said, tmp_path) -> None:
    """Exit 1 or 2, one line on stderr, no traceback, nothing written."""
    done = run(*[word.format(demo=demo_score()) for word in words], cwd=tmp_path)
    assert (status, True) == (done.returncode, said in done.stderr), done.stderr
    assert "Traceback" not in done.stderr
    assert [] == list(tmp_path.iterdir())


def test_without_fluidsynth_audio_says_so_and_midi_works(tmp_path) -> None:
    """Everything but audio works, and audio fails with a clear sentence."""
    (tmp_path / "fluidsynth.py").write_text("raise ImportError('Couldn t find the FluidSynth library.')")
    script = (
        f"import sys; sys.path.insert(0, {str(tmp_path)!r}); "
        f"sys.argv = ['appui', 'render', {str(demo_score())!r}, 'x.mid', 'x.wav', "
        "'--bars', '1']; from appui.cli.main import main; main()"
    )
    done = subprocess.run([sys.executable, "-c", script], capture_output=True, text=True, cwd=tmp_path, check=False)
    assert (1, True) == (done.returncode, "FluidSynth's library is not installed" in done.stderr), done.stderr
    assert ["fluidsynth.py", "x.mid"] == sorted(p.name for p in tmp_path.iterdir() if p.is_file())


def test_a_score_without_signs_is_no_error(tmp_path) -> None:
    """It is said, and played as it stands."""
    (tmp_path / "plain.musicxml").write_text(
        "<score-partwise><part-list><score-part id='P1'><part-name>Flute</part-name></score-part></part-list>"
        "<part id='P1'><measure number='1'><attributes><divisions>1</divisions></attributes>"
        "<note><pitch><step>C</step><octave>5</octave>"
        "</pitch><duration>4</duration></note></measure></part></score-partwise>"
    )
    done = run("survey", "plain.musicxml", cwd=tmp_path)
    assert (0, True) == (done.returncode, "no small notes and no other ornaments" in done.stdout)


def test_render_tells_what_each_level_is_the_sum_of(tmp_path) -> None:
    """`--json`: every note of every part with its level and terms, dB, and the tempo beat by beat; and a picture."""
    done = run("render", demo_score(), tmp_path / "x.mid", "--bars", "1-4", "--picture", tmp_path / "x.svg", "--json")
    told = json.loads(done.stdout)
    assert ("shaped", "shaped", 4) == (told["shape"], told["time"], len(told["parts"]))
    for part in told["parts"]:
        for one in part["notes"]:
            assert one["level_db"] == pytest.approx(sum(one["terms"].values()), abs=0.005)
    assert len(told["tempos"]) > 4
    assert (tmp_path / "x.svg").read_bytes().startswith(b"<?xml")


def test_a_picture_needs_its_folder(tmp_path) -> None:
    """Said before anything is rendered."""
    done = run("render", demo_score(), tmp_path / "x.mid", "--picture", tmp_path / "none" / "x.svg")
    assert (1, False) == (done.returncode, (tmp_path / "x.mid").exists())
    assert "does not exist" in done.stderr


@pytest.mark.parametrize("command", ["survey", "render", "notate", "practice", "listen", "page"])
def test_help_loads_nothing_heavy(command: str) -> None:
    """Asking what a command does is quick: neither scores nor rules nor numpy are needed for it."""
    code = (
        "import sys; from click.testing import CliRunner; from appui.cli.main import cli; "
        f"CliRunner().invoke(cli, ['{command}', '--help']); "
        "heavy = ('numpy', 'lxml', 'verovio', 'appui.interpret.interpretation'); "
        "print([name for name in heavy if name in sys.modules])"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert "[]" == done.stdout.strip()
