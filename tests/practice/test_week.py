"""A set file: what it makes, what it leaves alone, and what it cannot mean."""

from __future__ import annotations

import io
import json
import shutil

import mido
import mutagen
import pytest
import soundfile

from appui.demo import demo_score
from appui.errors import PlanError
from appui.practice.mix import Mixer
from appui.practice.week import digest_of, make_week, read_week
from appui.sound.loudness import measure
from tests.there import there

WEEK = """
score = "ferry.musicxml"
formats = ["flac", "mid"]
pitch = 415
tuning = "vallotti"
click = "beats"

[[track]]
name = "opening {tempo}"
bars = "1-2"
tempo = ["80%", "160%"]

[[track]]
name = "echo {bars}"
bars = ["3-4", "5-6"]
mode = "echo"
tempo = "200%"
"""


@pytest.fixture
def week(tmp_path):
    """Write a set file beside the demo's score."""
    shutil.copy(demo_score(), tmp_path / "ferry.musicxml")

    def write(text: str = WEEK):
        file = tmp_path / "week.toml"
        file.write_text(text)
        return file

    return write


def test_a_set_makes_its_tracks(week, tmp_path) -> None:
    """A file for each tempo and format, with tags, markers and an index."""
    done = make_week(read_week(week()))
    names = ["opening 80 percent", "opening 160 percent", "echo 3-4", "echo 5-6"]
    assert names == [each.title for each in done]
    files = {file.name for file in (tmp_path / "week").iterdir()}
    assert {f"{name}.{suffix}" for name in names for suffix in ("flac", "mid")} | {"index.json"} == files
    with soundfile.SoundFile(tmp_path / "week" / "echo 3-4.flac") as file:
        assert "echo 3-4" == file.title
        words, _, times = file.comment.partition("; for takes: ")
        assert "bars 3-4, tempo 200 percent, echo, style harmony, vallotti on C, A4 = 415 Hz" == words
        assert times.startswith("bars=3-4 repeats=")
        assert "3" == file.tracknumber
    midi = mido.MidiFile(file=io.BytesIO((tmp_path / "week" / "echo 3-4.mid").read_bytes()))
    marks = [message.text for message in midi.tracks[0] if message.type == "marker"]
    assert ["count-in", "1, 200%, listen", "3", "4", "1, 200%, answer", "3", "4"] == marks
    assert any(message.type == "sysex" for track in midi.tracks for message in track)


def test_what_is_up_to_date_is_left_alone(week, tmp_path, monkeypatch) -> None:
    """A second run opens no score and renders nothing."""
    make_week(read_week(week()))
    before = {file: file.stat().st_mtime_ns for file in (tmp_path / "week").iterdir()}
    monkeypatch.setattr("appui.interpret.interpretation.interpret", None)
    monkeypatch.setattr(Mixer, "_stem", None)
    assert 4 == len(make_week(read_week(week())))
    assert before == {file: file.stat().st_mtime_ns for file in (tmp_path / "week").iterdir()}


@pytest.mark.parametrize("harm", ["gone", "cut short"])
def test_a_lost_file_is_made_again(week, tmp_path, harm: str) -> None:
    """The same bytes as before; the others are left alone."""
    make_week(read_week(week()))
    file = tmp_path / "week" / "echo 5-6.flac"
    whole, other = file.read_bytes(), (tmp_path / "week" / "echo 3-4.flac").stat().st_mtime_ns
    file.unlink() if harm == "gone" else file.write_bytes(whole[:1000])
    make_week(read_week(week()))
    assert (whole, other) == (file.read_bytes(), (tmp_path / "week" / "echo 3-4.flac").stat().st_mtime_ns)


def test_a_stopped_run_goes_on(week, tmp_path, monkeypatch) -> None:
    """Stopped in the middle of writing: nothing half-written, what was done is not done again, the end is the same."""
    make_week(read_week(week()))
    expected = {file.name: file.read_bytes() for file in (tmp_path / "week").iterdir() if file.suffix != ".json"}
    shutil.rmtree(tmp_path / "week")
    write, count = Mixer.write, [0]

    def stopping(*arguments, **others):
        count[0] += 1
        if count[0] > 2:
            raise KeyboardInterrupt
        return write(*arguments, **others)

    monkeypatch.setattr(Mixer, "write", stopping)
    with pytest.raises(KeyboardInterrupt):
        make_week(read_week(week()))
    assert not list((tmp_path / "week").glob(".appui-*"))
    index = json.loads((tmp_path / "week" / "index.json").read_text())
    assert 4 == len(index["tracks"])
    monkeypatch.undo()
    monkeypatch.setattr(Mixer, "measure", None)
    make_week(read_week(week()))
    assert expected == {
        file.name: file.read_bytes() for file in (tmp_path / "week").iterdir() if file.suffix != ".json"
    }


def test_a_changed_track_is_made_again(week, tmp_path) -> None:
    """One tempo changed: its file is new."""
    make_week(read_week(week()))
    make_week(read_week(week(WEEK.replace('tempo = "200%"', 'tempo = "180%"'))))
    with soundfile.SoundFile(tmp_path / "week" / "echo 3-4.flac") as file:
        assert "tempo 180 percent" in file.comment


def test_a_set_knows_charts_holds_and_styles_beside_it(week, tmp_path) -> None:
    """Files are looked for beside the set file; the interpretation is opened with all of them."""
    from appui.exact import Fraction

    (tmp_path / "own.toml").write_text("x")
    (tmp_path / "own.txt").write_text("\n".join(str(100 * n) for n in range(12)))
    head = 'harmony = "chart.toml"\nhold = 3.5\npattern = "alberti"\nstyle = "own.toml"\n'
    read = read_week(week(HEAD + head + "[[track]]\nname = 'a'\ntuning = 'own.txt'"))
    assert (tmp_path / "chart.toml", Fraction(7, 2), "alberti") == (read.harmony, read.hold, read.pattern)
    assert str(tmp_path / "own.toml") == read.style
    assert (0.0,) * 12 == there(read.tracks[0][1].tuning).offsets_cents


def test_a_longer_hold_makes_a_set_anew(week) -> None:
    """What all tracks depend on has changed."""
    from appui.practice.week import digest_of

    texts = (HEAD + f"hold = {hold}\n[[track]]\nname = 'a'" for hold in (2, 3))
    assert 2 == len({digest_of(read_week(week(text))) for text in texts})


HEAD = 'score = "ferry.musicxml"\n'


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("score = ", r"week\.toml: is no valid TOML: .*Remedy: correct that line"),
        (HEAD, r"has no \[\[track\]\]\. Remedy: add at least one"),
        ("[[track]]\nname = 'a'", r"names no score\. Remedy: write score = "),
        (HEAD + "[[track]]\nbars = '1'", r"track 1: name = None: every track has a name"),
        (
            HEAD + "[[track]]\nname = 'a'\ntempoo = '1'",
            r"track 1: does not know the key 'tempoo'\. Remedy: write tempo",
        ),
        (HEAD + "[[track]]\nname = 'a/b'", r"'a/b' cannot be a file name everywhere"),
        (HEAD + "[[track]]\nname = 'a'\n[[track]]\nname = 'A'", r"two tracks are named 'A'\. Remedy: name them apart"),
        (HEAD + "[[track]]\nname = 'a'\nbars = ['1', '2']", r"two tracks are named 'a'"),
        (HEAD + "[[track]]\nname = 'a'\ntimes = 0", r"track 1 \(a\): times 0 is outside 1 to 200"),
        (HEAD + "[[track]]\nname = 'a'\nmode = 3", r"track 1 \(a\): mode = 3: expected text"),
        (HEAD + "formats = ['aac']\n[[track]]\nname = 'a'", r"formats = \['aac'\]: expected a list of mid, wav"),
        (HEAD + "hold = 0\n[[track]]\nname = 'a'", r"hold = 0: expected a number from 1 to 20\. Remedy: write 2"),
        (HEAD + "solo = 1\n[[track]]\nname = 'a'", r"solo = 1: expected text"),
    ],
)
def test_what_a_set_file_cannot_mean(week, text: str, words: str) -> None:
    """The track and the remedy."""
    with pytest.raises(PlanError, match=words):
        read_week(week(text))


def test_bars_the_score_does_not_have(week, tmp_path) -> None:
    """Said before anything is written."""
    from appui.errors import PlaceError

    text = HEAD + "formats = ['mid']\n[[track]]\nname = 'a'\n[[track]]\nname = 'b'\nbars = '99'"
    with pytest.raises(PlaceError, match=r"has no bar '99'; its bars are 1 to 30"):
        make_week(read_week(week(text)))
    assert [] == list((tmp_path / "week").iterdir())


def test_tags_are_read_by_another_reader(week, tmp_path) -> None:
    """Title, part, piece, and bars, tempo and reading in FLAC, OGG and MP3, read by mutagen; in WAV by libsndfile."""
    text = HEAD + "formats = ['flac', 'ogg', 'mp3', 'wav']\n[[track]]\nname = 'first'\nbars = '1-2'\ntempo = '200%'"
    make_week(read_week(week(text)))
    words = (
        "bars 1-2, tempo 200 percent, along, style harmony; "
        "for takes: bars=1-2 repeats=yes rounds=1.2500 tempo=0@0.0000/144"
    )
    expected = ["first", "Oboe", "The Last Ferry: Andantino for oboe and strings", words, "1"]
    names = ("title", "artist", "album", "comment", "tracknumber")
    for suffix in ("flac", "ogg"):
        tags = mutagen.File(tmp_path / "week" / f"first.{suffix}").tags
        assert expected == [tags[name][0] for name in names]
    frames = mutagen.File(tmp_path / "week" / "first.mp3").tags
    assert expected == [frames[name].text[0] for name in ("TIT2", "TPE1", "TALB", "COMM::eng", "TRCK")]
    with soundfile.SoundFile(tmp_path / "week" / "first.wav") as file:
        assert expected == [getattr(file, name) for name in names]


def test_lossy_files_keep_below_the_ceiling(week, tmp_path) -> None:
    """Loud as the click makes it: decoded, no true peak above -1 dBTP."""
    text = (
        HEAD + "formats = ['ogg', 'mp3']\nclick = 'beats'\nlevels = 'click=12'\n[[track]]\nname = 'a'\nbars = '1-2'\n"
    )
    make_week(read_week(week(text + "tempo = '200%'")))
    for suffix in ("ogg", "mp3"):
        sound, rate = soundfile.read(tmp_path / "week" / f"a.{suffix}", dtype="float32")
        assert -4 < measure([sound], rate).peak_dbtp <= -1


def test_a_set_says_whether_its_levels_are_shaped(tmp_path) -> None:
    """Shaped unless it says plain; another word is refused; the two are different tracks."""
    file, digests = tmp_path / "week.toml", set()
    for words, shape in (("", "shaped"), ('shape = "plain"\n', "plain")):
        file.write_text(f'score = "{demo_score()}"\n{words}[[track]]\nname = "a"\n', encoding="utf-8")
        week = read_week(file)
        assert shape == week.shape
        digests.add(digest_of(week))
    assert 2 == len(digests)
    file.write_text(f'score = "{demo_score()}"\nshape = "round"\n[[track]]\nname = "a"\n', encoding="utf-8")
    with pytest.raises(PlanError, match="expected plain or shaped"):
        read_week(file)
