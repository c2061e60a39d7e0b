"""SoundFonts: which one plays, and that broken ones are refused with a reason before the synthesizer sees them."""

from __future__ import annotations

import struct
import subprocess
import sys
from pathlib import Path

import pytest

from appui.cli.show import tell_fuller_soundfont
from appui.errors import SoundError
from appui.sound import soundfont
from appui.sound.soundfont import VARIABLE, default_soundfont, fuller_soundfont, programs, soundfont_path


@pytest.fixture(autouse=True)
def _no_wish(monkeypatch) -> None:
    monkeypatch.delenv(VARIABLE, raising=False)


@pytest.fixture(scope="module")
def whole() -> bytes:
    """The bytes of the default SoundFont."""
    return default_soundfont().read_bytes()


def chunk(name: bytes, data: bytes) -> bytes:
    """A RIFF chunk."""
    return name + struct.pack("<I", len(data)) + data + b"\0" * (len(data) % 2)


def riff(*lists: tuple[bytes, bytes], form: bytes = b"sfbk") -> bytes:
    """A RIFF file of lists."""
    return chunk(b"RIFF", form + b"".join(chunk(b"LIST", name + data) for name, data in lists))


def test_the_default_is_there_and_sound(whole) -> None:
    """It is the one in pretty_midi's folder."""
    assert ("pretty_midi", b"RIFF") == (soundfont_path().parent.name, whole[:4])


def test_finding_the_default_does_not_import_its_package() -> None:
    """pretty_midi takes a third of a second."""
    script = (
        "import sys\nfrom appui.sound.soundfont import soundfont_path\nsoundfont_path()\n"
        "print(*sorted(set(sys.modules) & {'pretty_midi', 'numpy', 'mido'}))"
    )
    done = subprocess.run([sys.executable, "-c", script], capture_output=True, text=True, check=True)
    assert "" == done.stdout.strip()


def test_the_environment_names_another(tmp_path, monkeypatch, whole) -> None:
    """`APPUI_SOUNDFONT` wins over the default, a name in the call over both."""
    for name in ("environment.sf2", "named.sf2"):
        (tmp_path / name).write_bytes(whole)
    monkeypatch.setenv(VARIABLE, str(tmp_path / "environment.sf2"))
    assert "environment.sf2" == soundfont_path().name
    assert "named.sf2" == soundfont_path(tmp_path / "named.sf2").name


def test_programs_of_the_default() -> None:
    """General MIDI: all 128 programs in bank 0, and the standard kit in bank 128."""
    found = programs(default_soundfont())
    assert {(0, program) for program in range(128)} | {(128, 0)} <= found
    assert (0, 128) not in found


@pytest.mark.parametrize(
    ("data", "problem"),
    [
        (b"", "is no SoundFont"),
        (b"not a SoundFont at all, but long enough to look at", "is no SoundFont"),
        (riff((b"INFO", b""), form=b"WAVE"), "is no SoundFont"),
        (riff(), "is a SoundFont without its list INFO"),
        (riff((b"INFO", b""), (b"sdta", b"")), "is a SoundFont without its list pdta"),
        (riff((b"INFO", b""), (b"sdta", b""), (b"pdta", b"")), "its table phdr has 0 bytes, not records of 38"),
        (riff((b"INFO", b""), (b"sdta", b""), (b"pdta", chunk(b"phdr", bytes(40)))), "its table phdr has 40 bytes"),
    ],
)
def test_what_is_no_soundfont_is_refused(tmp_path, data: bytes, problem: str) -> None:
    """The file, the fault and what to do."""
    file = tmp_path / "bad.sf2"
    file.write_bytes(data)
    with pytest.raises(SoundError, match=rf"bad\.sf2: .*{problem}.*\. Remedy: "):
        soundfont_path(file)


@pytest.mark.parametrize("share", [0.0001, 0.5, 0.999999])
def test_a_soundfont_cut_short_is_refused(tmp_path, whole, share: float) -> None:
    """Wherever the download stopped."""
    file = tmp_path / "cut.sf2"
    file.write_bytes(whole[: int(len(whole) * share)])
    with pytest.raises(SoundError, match=rf"cut short: \d+ of {len(whole)} bytes\. Remedy: get it again, whole\.$"):
        soundfont_path(file)


def test_a_chunk_that_claims_too_much_is_refused(tmp_path, whole) -> None:
    """Four gigabytes claimed inside a file of six megabytes."""
    at = whole.index(b"phdr") + 4
    file = tmp_path / "huge.sf2"
    file.write_bytes(whole[:at] + b"\xff\xff\xff\xff" + whole[at + 4 :])
    with pytest.raises(SoundError, match=f"a chunk at byte {at - 4} claims 4294967295 bytes"):
        soundfont_path(file)


def test_a_missing_file_is_named(tmp_path) -> None:
    """With the system's word for it."""
    with pytest.raises(SoundError, match=r"none\.sf2: the SoundFont cannot be read \(No such file or directory\)"):
        soundfont_path(tmp_path / "none.sf2")


def test_a_folder_is_no_soundfont(tmp_path) -> None:
    """With the system's word for it."""
    with pytest.raises(SoundError, match="cannot be read"):
        soundfont_path(tmp_path)


def test_an_installation_without_a_soundfont_says_so(monkeypatch) -> None:
    """Then one must be named."""
    monkeypatch.setattr("appui.sound.soundfont.find_spec", lambda _: None)
    with pytest.raises(SoundError, match=r"holds no SoundFont\. Remedy: install pretty_midi, or name a SoundFont"):
        soundfont_path()


def test_the_readme_named_in_the_remedy_exists() -> None:
    """The remedy leads somewhere."""
    assert (Path(__file__).parents[2] / "soundfonts_readme" / "README.md").is_file()


# a fuller one on the system


@pytest.fixture
def installed(tmp_path, monkeypatch, whole):
    """A fuller SoundFont in a standard place."""
    monkeypatch.setattr(soundfont, "PLACES", (tmp_path / "none", tmp_path))
    (tmp_path / soundfont.FULLER).write_bytes(whole)
    return tmp_path / soundfont.FULLER


def test_a_fuller_soundfont_is_found_not_taken(installed) -> None:
    """For a flute it is told of; what plays stays the default."""
    assert installed == fuller_soundfont([40, 73])
    assert default_soundfont() == soundfont_path()


def test_it_is_told_of_only_where_it_is_better(installed, monkeypatch) -> None:
    """Not for strings, which it plays late, and not where a SoundFont is named."""
    assert fuller_soundfont([40, 41, 42]) is None
    monkeypatch.setenv(VARIABLE, str(installed))
    assert fuller_soundfont([73]) is None


@pytest.mark.parametrize(("watching", "named", "told"), [(True, False, 1), (False, False, 0), (True, True, 0)])
def test_it_is_told_to_who_watches(installed, part, piece, monkeypatch, capsys, watching, named, told) -> None:
    """On a terminal, in one line; never into a file, nor where one is named."""
    monkeypatch.setattr("sys.stderr.isatty", lambda: watching)
    tell_fuller_soundfont(piece(part([(0, 1, 72, 90)], 73)), installed if named else None)
    assert told == capsys.readouterr().err.count(f"--soundfont {installed}\n")


def test_a_midi_file_has_no_soundfont(installed, part, piece, monkeypatch, capsys) -> None:
    """So nothing is told with one alone, and something with audio beside it."""
    monkeypatch.setattr("sys.stderr.isatty", lambda: True)
    for outputs in ((Path("a.mid"),), (Path("a.mid"), Path("a.wav"))):
        tell_fuller_soundfont(piece(part([(0, 1, 72, 90)], 73)), None, outputs)
    assert 1 == capsys.readouterr().err.count("--soundfont")
