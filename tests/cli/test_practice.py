"""`practice` and `play` as a player types them: files, words, exit status, errors in one sentence."""

import json
import os
import shutil
import signal
import subprocess
import sys
import time

import mido
import pytest
import soundfile

from appui.demo import demo_score
from tests.there import there


def run(*words, cwd=None):
    """Run the command line in a process of its own."""
    return subprocess.run(
        [sys.executable, "-m", "appui", *map(str, words)], capture_output=True, text=True, cwd=cwd, check=False
    )


def test_a_ladder_makes_a_file_for_each_tempo(tmp_path) -> None:
    """Named by tempo, twice as long at half the tempo, the gain one for both."""
    done = run(
        "practice", demo_score(), tmp_path / "{tempo}.flac", "--bars", "1-2", "--tempo", "100%..200%", "--steps", "2",
        "--count-in", "0", "--click", "beats", "--json",
    )  # fmt: skip
    tracks = json.loads(done.stdout)["tracks"]
    assert ["100 percent", "200 percent"] == [track["title"] for track in tracks], done.stderr
    assert [5.0, 2.5] == pytest.approx([track["length_s"] for track in tracks])
    assert 1 == len({track["gain_db"] for track in tracks})
    assert all(soundfile.info(track["files"][0]).frames > 44_100 * track["length_s"] for track in tracks)


def test_what_alternates_is_said(tmp_path) -> None:
    """A line for each sign under the file's own."""
    done = run("practice", demo_score(), tmp_path / "x.mid", "--bars", "4", "--mode", "alternate")
    assert "  oboe.4.1: leaning 1/2, then before" in done.stdout.splitlines(), done.stderr
    done = run(
        "practice", demo_score(), tmp_path / "x.mid", "--bars", "1-8", "--mode", "alternate",
        "--change", "oboe.4.1=leaning 3/4", "--change", "oboe.7.2=turn",
    )  # fmt: skip
    assert ["oboe.4.1", "oboe.7.2"] == [line.strip().split(":")[0] for line in done.stdout.splitlines()[1:]]


def test_clicks_and_count_in_are_in_the_file(tmp_path) -> None:
    """Two bars of two beats counted, two played."""
    run(
        "practice", demo_score(), tmp_path / "x.mid", "--bars", "1-2", "--tempo", "100", "--count-in", "2", "--click",
        "beats",
    )  # fmt: skip
    clicks = next(t for t in mido.MidiFile(tmp_path / "x.mid").tracks if t.name == "Click")
    assert 8 == sum(m.type == "note_on" and m.velocity > 0 for m in clicks)


@pytest.mark.parametrize(
    ("words", "status", "message"),
    [
        ("x.mid --bars 99", 1, "ferry.musicxml: has no bar '99'; its bars are 1 to 30"),
        ("x.mid --bars 8-2", 1, "bar 8 comes after bar 2. Remedy: write 2-8"),
        ("x.mid --tempo 0", 2, "tempo 0 is outside 5 to 600 beats a minute"),
        ("x.mid --tempo 10000", 2, "tempo 10000 is outside 5 to 600 beats a minute"),
        ("x.mid --tempo 1%", 2, "tempo 1% is outside 5% to 400%"),
        ("x.mid --steps 3", 2, "steps are for a ladder of tempos"),
        ("x.mid --tuning meen", 2, "tuning 'meen' is none of equal, quarter-comma"),
        ("x.mid --tuning short.txt", 1, "short.txt: holds 11 cents, not twelve"),
        ("x.mid --pitch 500", 2, "is not A4 in Hz from 380 to 480"),
        ("x.mid --pitch flat", 2, "'flat' is not a valid float"),
        ("x.mid --key-note D", 2, "a key note needs a tuning"),
        ("x.mid --click 3+2", 2, "groups 3+2 make 5, the meter is 6/8"),
        ("x.mid --change oboe.4.1", 2, "is for the mode alternate, not along"),
        ("x.mid x.mid", 2, "x.mid stands there twice"),
        ("x.txt", 2, "x.txt ends in .txt; outputs end in .mid"),
        ("none/x.mid", 1, "its folder none does not exist"),
        ("x.mid --soundfont none.sf2 --plan none.toml", 1, "none.toml: there is no such plan"),
        ("x.wav --soundfont none.sf2", 1, "none.sf2: the SoundFont cannot be read"),
        ("", 2, "practice needs SCORE and at least one OUT, or --set FILE"),
    ],
)
def test_what_cannot_be_made_is_refused(tmp_path, words: str, status: int, message: str) -> None:
    """One sentence, no file."""
    (tmp_path / "short.txt").write_text("0\n" * 11)
    done = run("practice", demo_score(), *words.split(), cwd=tmp_path)
    assert (status, True) == (done.returncode, message in done.stderr), done.stderr
    assert "Traceback" not in done.stderr
    assert ["short.txt"] == [path.name for path in tmp_path.iterdir()]


SET = """
score = "ferry.musicxml"
formats = ["flac"]
click = "beats"

[[track]]
name = "{bars} {tempo}"
bars = ["1-4", "9-12", "17-20"]
tempo = "80%..160%"
steps = 3
"""


@pytest.fixture
def week(tmp_path):
    """A set file beside the demo's score."""
    shutil.copy(demo_score(), tmp_path / "ferry.musicxml")
    (tmp_path / "week.toml").write_text(SET)
    return tmp_path / "week.toml"


@pytest.mark.parametrize(
    ("words", "message"),
    [
        (("{score}", "x.wav"), "a set file names its own score, files and wishes; leave out SCORE and OUT, or --set"),
        (("--tempo", "60%"), "leave out --tempo, or --set"),
    ],
)
def test_a_set_file_stands_alone(week, words, message: str) -> None:
    """Nothing that is typed beside it is silently passed over."""
    done = run("practice", "--set", week, *(word.format(score=demo_score()) for word in words))
    assert (2, True) == (done.returncode, message in done.stderr), done.stderr


def test_two_outputs_alike_are_refused(week) -> None:
    """The set file and the name are said."""
    week.write_text('score = "ferry.musicxml"\n[[track]]\nname = "a"\n[[track]]\nname = "a"\n')
    done = run("practice", "--set", week)
    assert (1, True) == (done.returncode, "week.toml: two tracks are named 'a'" in done.stderr), done.stderr


@pytest.mark.skipif(not hasattr(signal, "SIGKILL"), reason="killing outright is a thing of Unix")
def test_a_killed_set_goes_on(week, tmp_path) -> None:
    """Killed as soon as a track is there: each file there is whole; the next run leaves these and makes the others."""
    with subprocess.Popen([sys.executable, "-m", "appui", "practice", "--set", str(week)]) as process:
        while not list((tmp_path / "week").glob("[!.]*.flac")) and process.poll() is None:
            time.sleep(0.002)
        os.kill(process.pid, signal.SIGKILL)
    made = {file: file.read_bytes() for file in (tmp_path / "week").glob("[!.]*.flac")}
    index = json.loads((tmp_path / "week" / "index.json").read_text())["tracks"]
    listed = {name for track in index for name in track["files"]}
    before = {file: file.stat().st_mtime_ns for file in made if file.name in listed}
    assert made
    done = run("practice", "--set", week, "--json")
    tracks = json.loads(done.stdout)["tracks"]
    assert 9 == len(tracks), done.stderr
    after = {file: file.stat().st_mtime_ns for file in before}
    assert before == after
    for file, data in made.items():
        assert data == file.read_bytes()
    for track in tracks:
        info = soundfile.info(track["files"][0])
        assert info.frames >= 44_100 * track["length_s"] > 0


def test_a_set_again_changes_nothing(week, tmp_path) -> None:
    """All nine are listed, none is written."""
    week.write_text(SET.replace('"flac"', '"mid"'))
    first, second = (run("practice", "--set", week).stdout for _ in range(2))
    assert first == second
    assert 9 == len(second.splitlines()) == len(list((tmp_path / "week").glob("*.mid")))


@pytest.mark.parametrize("command", ["practice", "play"])
def test_the_cautions_are_in_the_help(command: str) -> None:
    """Hearing with its figures, strain, and whose word goes over the tool's."""
    words = " ".join(run(command, "--help").stdout.split())
    for caution in (
        "no program can know how loud it is at your ear",
        "40 hours a week at 80 dB(A), 75 for children",
        "rest before it hurts",
        "Your teacher's and the edition's word goes over the tool's",
    ):
        assert caution in words


def test_playing_without_a_sound_card_is_refused() -> None:
    """With what to do instead."""
    done = run("play", demo_score(), "--bars", "1", "--driver", "none of this name")
    assert (1, "") == (done.returncode, done.stdout)
    assert "sound card: none could be opened. Remedy: plug one in, or write a file" in done.stderr
    assert 1 == len(done.stderr.splitlines())


@pytest.mark.parametrize(
    ("words", "status", "message"),
    [("--bars 99", 1, "has no bar '99'"), ("--tempo 0", 2, "outside 5 to 600"), ("--pitch 9", 2, "from 380 to 480")],
)
def test_play_refuses_what_practice_refuses(words: str, status: int, message: str) -> None:
    """The same words, before any sound."""
    done = run("play", demo_score(), *words.split())
    assert (status, True) == (done.returncode, message in done.stderr), done.stderr


@pytest.mark.skipif(sys.platform == "win32", reason="terminals of this kind are a thing of Unix")
def test_keys_reach_what_plays(tmp_path) -> None:
    """Slower is said with the pace, stop ends a long piece at once."""
    import pty

    master, slave = pty.openpty()
    words = [sys.executable, "-m", "appui", "play", str(demo_score()), "--driver", "file"]
    with subprocess.Popen(words, stdin=slave, stderr=subprocess.PIPE, cwd=tmp_path, text=True) as process:
        said = there(process.stderr)
        assert said.readline().startswith("q stop")
        os.write(master, b"-")
        assert "91%\n" == said.readline()
        os.write(master, b"q")
        assert 0 == process.wait(60)
    os.close(master)
    os.close(slave)


def test_play_sounds_to_its_end(tmp_path) -> None:
    """FluidSynth's driver that writes a file in place of a card: a bar of count-in and one of music at 300 a minute."""
    done = run("play", demo_score(), "--bars", "1", "--tempo", "300", "--driver", "file", cwd=tmp_path)
    assert 0 == done.returncode, done.stderr
    assert "q stop, r again from the beginning, - slower, + faster" in done.stderr
    (file,) = tmp_path.glob("*.wav")
    sound, rate = soundfile.read(file)
    assert 1 < len(sound) / rate
    assert abs(sound).max() > 0.01
