"""What is kept for the next time: the same as made anew, never half, never too much."""

import os
import pickle
import subprocess
import sys
from pathlib import Path

import pytest

from appui import cache, demo
from appui.interpret.interpretation import interpret
from appui.notations.read import read_score
from appui.perform.play import play
from appui.score.shelf import restored, stored
from appui.sound.audio import render_stem

FERRY = Path(demo.__file__).with_name("ferry.musicxml")


@pytest.fixture(name="kept")
def _kept(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A cache of the test's own."""
    monkeypatch.setenv(cache.VARIABLE, str(tmp_path / "cache"))
    return tmp_path / "cache"


def files(folder: Path) -> list[Path]:
    """What lies in a cache."""
    return sorted(path for path in folder.rglob("*") if path.is_file())


def test_a_score_comes_back_as_it_was(kept) -> None:
    """The second reading takes it from the cache, equal in everything."""
    first = read_score(FERRY)
    assert 1 == len(files(kept))
    assert first == read_score(FERRY) == restored(files(kept)[0].read_bytes())


def test_a_changed_file_is_read_anew(kept, tmp_path) -> None:
    """One letter more makes another entry."""
    path = tmp_path / "one.musicxml"
    text = FERRY.read_text(encoding="utf-8")
    for title in ("The Last Ferry", "The Last Boat"):
        path.write_text(text.replace("The Last Ferry", title), encoding="utf-8")
        assert title in read_score(path).title
    assert 2 == len(files(kept))


def test_another_file_of_the_same_content_keeps_its_name(kept, tmp_path) -> None:
    """Messages name the file that was asked for."""
    for name in ("one.musicxml", "two.musicxml"):
        (tmp_path / name).write_bytes(FERRY.read_bytes())
        assert name == read_score(tmp_path / name).file


class _Evil:
    def __reduce__(self):
        return os.system, ("true",)


@pytest.mark.parametrize("data", [b"", b"no pickle", pickle.dumps(_Evil()), pickle.dumps([1, 2]), pickle.dumps(Path)])
def test_only_scores_are_taken_from_the_cache(data) -> None:
    """Bytes that hold anything else, a call of the system above all, are as if there were none."""
    assert restored(data) is None


def test_a_torn_entry_is_read_anew(kept) -> None:
    """Half a score is none."""
    first = read_score(FERRY)
    entry = files(kept)[0]
    entry.write_bytes(stored(first)[:-100])
    assert first == read_score(FERRY)


def test_a_stem_comes_back_sample_by_sample(kept, tmp_path) -> None:
    """Taken from the cache it is the file that was rendered; half of one is rendered anew."""
    interpretation = interpret(FERRY)
    performance = play(interpretation, interpretation.order("4", repeats=False))
    first = render_stem(performance, tmp_path / "first")
    second = render_stem(performance, tmp_path / "second")
    (entry,) = files(kept / "stems")
    assert (tmp_path / "second").samefile(entry)
    assert (first.frames, first.peak) == (second.frames, second.peak)
    whole = (tmp_path / "first").read_bytes()
    entry.unlink()
    entry.write_bytes(whole[:-1000])
    third = render_stem(performance, tmp_path / "third")
    assert whole == (tmp_path / "third").read_bytes()
    assert first.frames == third.frames


def test_what_was_used_longest_ago_goes_first(kept, monkeypatch) -> None:
    """Reading counts as use."""
    monkeypatch.setattr(cache, "LIMIT_BYTES", 1000)
    for number, name in enumerate(("a", "b", "c")):
        cache.keep("kind", name, b"x" * 300)
        os.utime(kept / "kind" / name, ns=(number, number))
    assert cache.fetch("kind", "a") is not None
    cache.keep("kind", "d", b"x" * 300)
    assert ["a", "d"] == [path.name for path in files(kept)]


def test_off_is_off(tmp_path, monkeypatch) -> None:
    """Nothing is kept, nothing found."""
    monkeypatch.setenv(cache.VARIABLE, "off")
    cache.keep("kind", "a", b"x")
    assert (None, None) == (cache.folder(), cache.fetch("kind", "a"))
    assert [] == files(tmp_path)


def test_a_folder_that_cannot_be_written_does_no_harm(tmp_path, monkeypatch) -> None:
    """A file where the folder should be: as if the cache were empty."""
    (tmp_path / "file").write_text("", encoding="utf-8")
    monkeypatch.setenv(cache.VARIABLE, str(tmp_path / "file"))
    cache.keep("kind", "a", b"x")
    assert cache.fetch("kind", "a") is None
    assert read_score(FERRY).parts


def test_a_command_gives_the_same_with_and_without(tmp_path) -> None:
    """First filling the cache, then using it, then without: the same bytes."""
    environment = {**os.environ, cache.VARIABLE: str(tmp_path / "cache")}
    made: list[bytes] = []
    for flags in ([], [], ["--no-cache"]):
        out = tmp_path / f"out{len(made)}.wav"
        command = [sys.executable, "-m", "appui", *flags, "render", str(FERRY), str(out), "--bars", "4-5"]
        subprocess.run(command, check=True, env=environment, capture_output=True)
        made.append(out.read_bytes())
    assert made[0] == made[1] == made[2]
    assert 2 == len(files(tmp_path / "cache"))


def test_several_processes_may_keep_at_once(kept) -> None:
    """The same and other entries, all whole."""
    code = (
        "import sys; from appui import cache\n"
        "for turn in range(40):\n"
        "    cache.keep('kind', str(turn % 5), bytes([turn % 5]) * 5000)\n"
        "    found = cache.fetch('kind', str((turn + 2) % 5))\n"
        "    assert found is None or found == bytes([(turn + 2) % 5]) * 5000\n"
    )
    running = [subprocess.Popen([sys.executable, "-c", code]) for _ in range(3)]
    assert [0, 0, 0] == [process.wait() for process in running]
    assert 5 == len(files(kept))
