"""Audio measured: level, onset, pitch, peak and memory of rendered sound.

Onsets and pitches are found by Praat (through praat-parselmouth), which knows nothing of this project: intensity with
a window of 4 ms, and pitch by autocorrelation.
"""

from __future__ import annotations

import math
import os
import subprocess
import sys
import time
from concurrent.futures import ThreadPoolExecutor

import numpy as np
import parselmouth
import pytest
import soundfile

from appui.errors import OutputError, SoundError
from appui.exact import Fraction
from appui.sound import audio
from appui.sound.audio import common_gain_db, missing_programs, peak_of, render_audio, render_stem, write_stems
from appui.sound.soundfont import soundfont_path
from appui.sound.synth import RATE, Font, Synth, _library, render_blocks

SUFFIXES = (".wav", ".flac", ".ogg", ".mp3")
HARPSICHORD, VIOLIN, OBOE, BASSOON, CLARINET, FLUTE, RECORDER = 6, 40, 68, 70, 71, 73, 74


def db(ratio: float) -> float:
    """A ratio of levels in dB."""
    return 20 * math.log10(ratio)


def rms(sound, start_s: float, stop_s: float) -> float:
    """The level of a stretch of sound."""
    return float(np.sqrt(np.mean(np.square(sound[round(start_s * RATE) : round(stop_s * RATE)], dtype=np.float64))))


def heard(path) -> np.ndarray:
    """A file as decoded, float."""
    samples: np.ndarray = soundfile.read(path, dtype="float32")[0]
    return samples


@pytest.fixture
def scale(part, piece):
    """Eight detached notes of an instrument, at moments that fall on no block and no tick of a clock."""

    def make(program: int):
        keys = (60, 62, 64, 65, 67, 69, 71, 72)
        return piece(
            part([(Fraction(1, 7) + i * Fraction(45, 83), 0.3, key, 96) for i, key in enumerate(keys)], program)
        )

    return make


@pytest.fixture
def chord(part, piece):
    """A second of full chords, loud enough to overload without care."""
    voices = [part([(0, 1, key, 127), (1, 0.5, key + 5, 127)], 19, volume=127) for key in (48, 60, 64, 67, 72, 76)]
    return piece(*voices, part([(0, 0.1, 76, 127), (1, 0.1, 77, 127)], 0, percussion=True))


# what is heard is what was meant


@pytest.mark.parametrize("program", [HARPSICHORD, VIOLIN, OBOE, BASSOON, CLARINET, FLUTE, RECORDER])
@pytest.mark.parametrize("key", [67, 76])
def test_velocity_is_level(part, piece, samples, program: int, key: int) -> None:
    """Level dB = 40 log10(v/127) (SoundFont 2.04, section 8.4.1, read), within 0.2 dB."""
    velocities = (127, 90, 64, 32)
    levels = [rms(samples(piece(part([(0, 1, key, v)], program))), 0, 1) for v in velocities]
    expected = [40 * math.log10(v / 127) for v in velocities]
    assert expected == pytest.approx([db(level / levels[0]) for level in levels], abs=0.2)


def test_a_weight_of_four_db_is_four_db(part, piece, samples) -> None:
    """The velocity ratio 10^(dB/40) comes out as that many dB, to the rounding of velocities."""
    release = 80
    lean = release * 10 ** (4 / 40)
    loud, soft = (rms(samples(piece(part([(0, 1, 72, round(v))], OBOE))), 0, 1) for v in (lean, release))
    assert 4 == pytest.approx(db(loud / soft), abs=0.1)


def test_notes_start_when_they_should(scale, samples) -> None:
    """Within 5 ms, found by Praat: the moment the intensity comes within 20 dB of the note's loudest."""
    performance = scale(HARPSICHORD)
    sound = parselmouth.Sound(samples(performance).T.astype(float), RATE).convert_to_mono()
    intensity = sound.to_intensity(minimum_pitch=800, time_step=0.0005, subtract_mean=False)
    times, levels = intensity.xs(), intensity.values[0]
    for note in performance.parts[0].notes:
        around = (times > note.onset_s - 0.05) & (times < note.onset_s + 0.2)
        found = times[around][np.argmax(levels[around] > levels[around].max() - 20)]
        assert note.onset_s == pytest.approx(found, abs=0.005)


@pytest.mark.parametrize("program", [HARPSICHORD, CLARINET])
def test_notes_have_the_pitch_they_should(scale, samples, program: int) -> None:
    """Within 5 cents of equal temperament at A = 440 Hz, found by Praat."""
    performance = scale(program)
    sound = parselmouth.Sound(samples(performance).T.astype(float), RATE).convert_to_mono()
    pitch = sound.to_pitch_ac(time_step=0.01, pitch_floor=150, pitch_ceiling=1200, very_accurate=True)
    times, found = pitch.xs(), pitch.selected_array["frequency"]
    for note in performance.parts[0].notes:
        inside = (times > note.onset_s + 0.1) & (times < note.onset_s + 0.28)
        expected = 440 * 2 ** ((note.key - 69) / 12)
        assert 0 == pytest.approx(1200 * math.log2(float(np.median(found[inside])) / expected), abs=5)


def test_a_held_key_is_not_cut_by_another_voice(part, piece, samples) -> None:
    """A short note on a key that another voice holds does not silence it."""
    both = samples(piece(part([(0, 2, 60, 90), (0.5, 0.25, 60, 90)], CLARINET)))
    alone = samples(piece(part([(0, 2, 60, 90)], CLARINET)))
    assert 0 == pytest.approx(db(rms(both, 1.2, 1.9) / rms(alone, 1.2, 1.9)), abs=0.5)


def test_volume_and_pan_are_heard(part, piece, samples) -> None:
    """Half the volume is 12 dB less (40 log10, SoundFont 2.04, 8.4.5, memory); left is left."""
    loud, soft = (samples(piece(part([(0, 1, 67, 90)], OBOE, volume=v))) for v in (100, 50))
    left = samples(piece(part([(0, 1, 67, 90)], OBOE, pan=0)))
    assert 12.04 == pytest.approx(db(rms(loud, 0, 1) / rms(soft, 0, 1)), abs=0.2)
    assert rms(left[:, 0], 0, 1) > 30 * rms(left[:, 1], 0, 1)


@pytest.mark.parametrize(("pan", "silent"), [(0, 1), (127, 0)])
@pytest.mark.parametrize("program", [HARPSICHORD, VIOLIN, OBOE, 0])
def test_wholly_apart_leaves_the_other_ear_silent(part, piece, samples, pan, silent, program) -> None:
    """Hard on one side, the room with it: 100 dB below what the other ear hears."""
    heard = samples(piece(part([(0, 1, 67, 90)], program, pan=pan)), reverb=True)
    assert rms(heard[:, silent], 0, 2) < 1e-5 * rms(heard[:, 1 - silent], 0, 2)


def test_expression_swells(part, piece, samples) -> None:
    """CC 11 at half is 12 dB less than at full, from its moment on."""
    sound = samples(piece(part([(0, 3, 67, 90)], CLARINET, controls=[(0, 11, 127), (1.5, 11, 64)])))
    assert 11.9 == pytest.approx(db(rms(sound, 1, 1.4) / rms(sound, 2.4, 2.8)), abs=0.3)


def test_twenty_parts_keep_their_programs(part, piece, samples) -> None:
    """More parts than MIDI channels: the last of twenty sounds as it does alone, percussion among them."""
    silent = [part([], program) for program in range(19)]
    drums = part([(0, 0.2, 76, 100)], 0, percussion=True)
    for last in (part([(0, 1, 67, 90)], OBOE), drums):
        assert np.array_equal(samples(piece(*silent, last)), samples(piece(last)))


def test_the_end_rings_out(part, piece, samples) -> None:
    """At least a second after the last note, at most four, and the last sample is silence."""
    sound = samples(piece(part([(0, 1, 60, 100)], 0)), reverb=True)
    assert 2.0 <= len(sound) / RATE <= 5.1
    assert 0 == abs(sound[-1]).max()


def test_reverb_is_an_option(part, piece, samples) -> None:
    """Dry and wet differ."""
    performance = piece(part([(0, 0.5, 60, 100)], OBOE))
    dry, wet = samples(performance), samples(performance, reverb=True)
    assert not np.array_equal(dry[:RATE], wet[:RATE])


def test_another_rate_is_the_same_music(scale, samples) -> None:
    """At 48 kHz the note lasts as long."""
    performance = scale(CLARINET)
    assert len(samples(performance)) / RATE == pytest.approx(
        len(samples(performance, sample_rate=48_000)) / 48_000, abs=0.2
    )


def test_an_impossible_rate_is_refused(piece) -> None:
    """FluidSynth plays 8 to 96 kHz."""
    with pytest.raises(SoundError, match=r"audio: 192000 Hz is no sample rate FluidSynth plays\. Remedy: name 8000"):
        next(render_blocks(piece(), sample_rate=192_000))


# stems and gain


def test_stems_add_up_to_the_whole(part, piece, tmp_path, samples) -> None:
    """A solo laid over its accompaniment is the piece rendered at once, within -80 dB of its peak."""
    solo, bass = part([(0.5, 1, 72, 100)], OBOE, id="a"), part([(0, 2, 48, 90)], 43, id="b")
    together = samples(piece(solo, bass, length=2), reverb=True)
    stems = [render_stem(piece(p, length=2), tmp_path / p.id, reverb=True) for p in (solo, bass)]
    added = np.concatenate(list(audio.blocks_of(stems)))
    frames = 2 * RATE
    assert abs(added[:frames] - together[:frames]).max() < 1e-4 * abs(together).max()
    assert peak_of(stems) == pytest.approx(abs(together).max(), rel=1e-3)


def test_one_gain_brings_the_loudest_to_the_ceiling() -> None:
    """-1 dBFS, a decibel less where a coder rings; silence asks for nothing."""
    assert -1 - db(0.5) == pytest.approx(common_gain_db([0.25, 0.5]))
    assert -2 - db(2.0) == pytest.approx(common_gain_db([2.0], lossy=True))
    assert 0 == common_gain_db([0.0, 0.0]) == common_gain_db([])


def test_files_of_one_gain_keep_their_difference(part, piece, tmp_path) -> None:
    """Two readings 6 dB apart are 6 dB apart in the files, and the louder is at -1 dBFS."""
    stems = [render_stem(piece(part([(0, 1, 72, v)], OBOE)), tmp_path / str(v)) for v in (90, 64)]
    gain_db = common_gain_db(stem.peak for stem in stems)
    reports = [write_stems([stem], tmp_path / f"{stem.file.name}.wav", gain_db) for stem in stems]
    loud, soft = (abs(heard(report.path)).max() for report in reports)
    assert -1 == pytest.approx(db(loud), abs=0.001)
    assert 40 * math.log10(90 / 64) == pytest.approx(db(loud / soft), abs=0.1)


@pytest.mark.parametrize("suffix", SUFFIXES)
def test_the_peak_is_at_most_one_below_full_scale(chord, tmp_path, suffix: str) -> None:
    """As decoded again; not much below either, and the report says what was written."""
    report = render_audio(chord, tmp_path / f"x{suffix}")
    peak_dbfs = db(abs(heard(report.path)).max())
    assert -2.5 < peak_dbfs <= -1 + 1e-4
    if suffix in (".wav", ".flac"):
        assert report.peak_dbfs == pytest.approx(peak_dbfs, abs=1e-3) == pytest.approx(-1, abs=1e-3)
    assert len(heard(report.path)) == report.frames == round(report.length_s * RATE)


def test_wav_and_flac_hold_the_same_24_bit_samples(chord, tmp_path) -> None:
    """Our own packing agrees with libsndfile's, sample by sample."""
    for suffix in (".wav", ".flac"):
        render_audio(chord, tmp_path / f"x{suffix}")
        assert "PCM_24" == soundfile.info(tmp_path / f"x{suffix}").subtype
    wav, flac = (soundfile.read(tmp_path / f"x{s}", dtype="int32")[0] for s in (".wav", ".flac"))
    assert np.array_equal(wav, flac)


def test_a_gain_that_would_clip_is_refused(chord, kept) -> None:
    """Nothing is clipped, nothing is written."""
    path = kept("x.wav")
    with pytest.raises(SoundError, match=r"a gain of 40\.00 dB brings the peak to .* above -1\. Remedy: take at most"):
        render_audio(chord, path, gain_db=40)
    assert b"what was there" == path.read_bytes()


@pytest.mark.parametrize("suffix", SUFFIXES)
def test_silence_is_a_valid_file(piece, tmp_path, suffix: str) -> None:
    """A performance without notes has its length and a second more, and nothing in it."""
    report = render_audio(piece(length=1), tmp_path / f"x{suffix}")
    assert (0.0, -math.inf) == (report.gain_db, report.peak_dbfs)
    assert 2 == pytest.approx(report.length_s, abs=0.1)
    assert (report.frames, 0) == (len(heard(report.path)), abs(heard(report.path)).max())


# promises


@pytest.mark.parametrize("suffix", SUFFIXES)
def test_same_input_same_bytes(chord, tmp_path, suffix: str) -> None:
    """Nothing depends on the moment or on what was rendered before."""
    for name in ("a", "b"):
        render_audio(chord, tmp_path / f"{name}{suffix}")
    assert (tmp_path / f"a{suffix}").read_bytes() == (tmp_path / f"b{suffix}").read_bytes()


def test_an_unknown_format_is_refused(piece, tmp_path) -> None:
    """Before anything is rendered."""
    with pytest.raises(SoundError, match=r"\.aac is no audio format known here\. Remedy: end the name in one of \.wav"):
        render_audio(piece(), tmp_path / "x.aac")


@pytest.mark.parametrize("suffix", SUFFIXES)
def test_a_full_disk_leaves_what_was_there(chord, kept, tmp_path, small_disk, suffix: str) -> None:
    """Every coder's failure is seen."""
    stem = render_stem(chord, tmp_path / "stem")
    path = kept(f"x{suffix}")
    with small_disk(4096), pytest.raises(OutputError, match=rf"x\{suffix}: .*Remedy: free space"):
        write_stems([stem], path, -20)
    assert ({path, stem.file}, b"what was there") == (set(tmp_path.iterdir()), path.read_bytes())


def test_no_room_for_the_scratch_file_is_said(chord, tmp_path, small_disk) -> None:
    """The first pass can fail too."""
    with small_disk(4096), pytest.raises(OutputError, match=r"the scratch file cannot be written \(.+\)"):
        render_stem(chord, tmp_path / "stem")


def test_a_wav_file_has_its_limit(tmp_path) -> None:
    """Five hours do not fit; said before a byte is written."""
    (tmp_path / "stem").write_bytes(b"")
    stem = audio.Stem(tmp_path / "stem", 5 * 3600 * RATE, 0.5)
    with pytest.raises(SoundError, match=r"5\.0 hours are more than a WAV file holds\. Remedy: name a \.flac file"):
        write_stems([stem], tmp_path / "x.wav", 0)


def test_without_fluidsynth_the_remedy_is_said(piece, tmp_path, monkeypatch) -> None:
    """One sentence, and how to install it."""
    monkeypatch.setitem(sys.modules, "fluidsynth", None)
    with pytest.raises(SoundError, match=r"^audio: FluidSynth's library is not installed\. Remedy: install it: Debian"):
        render_audio(piece(), tmp_path / "x.wav")


def test_a_soundfont_fluidsynth_cannot_load_is_refused(piece, tmp_path, monkeypatch, capfd) -> None:
    """Whatever our own look at it missed, and FluidSynth's words do not leak."""
    file = tmp_path / "odd.sf2"
    file.write_bytes(b"RIFF")
    monkeypatch.setattr("appui.sound.synth.soundfont_path", lambda _: file)
    with pytest.raises(SoundError, match=r"odd\.sf2: FluidSynth cannot load this SoundFont"):
        render_audio(piece(), tmp_path / "x.wav")
    assert ("", "") == capfd.readouterr()


def test_a_program_the_soundfont_lacks_is_named(part, piece, tmp_path, capfd) -> None:
    """FluidSynth would warn on stderr; we say it by name."""
    performance = piece(part([(0, 0.1, 60, 90)], 77, name="Drums", percussion=True), part([], OBOE))
    render_audio(performance, tmp_path / "x.wav")
    assert ("", "") == capfd.readouterr()
    assert ("Drums",) == missing_programs(performance)


def test_the_library_says_nothing_on_standard_output(tmp_path) -> None:
    """Where the environment names CI, pyfluidsynth prints where it found the library: --json must stay JSON."""
    script = "from appui.sound.synth import _library; _library()"
    environment = os.environ | {"CI": "true"}
    run = subprocess.run(
        [sys.executable, "-c", script], capture_output=True, text=True, check=True, env=environment, cwd=tmp_path
    )
    assert "" == run.stdout


@pytest.mark.skipif(sys.platform != "linux", reason="peak memory is read from Linux's /proc")
def test_memory_does_not_grow_with_length(tmp_path) -> None:
    """Half an hour takes no more than half a minute, 16 MiB apart at most; the longer file alone has 115 MB.

    The whole process stays below 250 MB.
    """
    short, long = (_peak_mib(tmp_path, seconds) for seconds in (30, 1800))
    assert long < 238
    assert long - short < 16


def _peak_mib(folder, seconds: int) -> float:
    script = """
import sys
from appui.exact import Fraction
from pathlib import Path
from appui.perform.model import PerformedNote, PerformedPart, Performance, TempoStep
from appui.score.pitch import Pitch
from appui.sound.audio import render_audio
seconds, file = int(sys.argv[1]), Path(sys.argv[2])
c4 = Pitch("C", 0, 4)
notes = tuple(PerformedNote(Fraction(i), Fraction(1, 2), float(i), 0.5, c4, 60, 90) for i in range(seconds))
part = PerformedPart("a", "A", 68, notes)
steps = (TempoStep(Fraction(0), 0.0, Fraction(60)),)
performance = Performance("", (part,), steps, (), Fraction(seconds), float(seconds))
render_audio(performance, file, sample_rate=8000, reverb=False)
status = dict(line.split(":", 1) for line in open("/proc/self/status"))
print(int(status["VmHWM"].split()[0]) / 1024)
"""
    command = [sys.executable, "-c", script, str(seconds), str(folder / "x.wav")]
    return float(subprocess.run(command, capture_output=True, text=True, check=True).stdout)


def test_a_font_is_read_once_for_many(chord, scale, tmp_path) -> None:
    """One after another, whatever was played before: the same samples as with a SoundFont of their own."""
    font = Font()
    try:
        for name, performance in (("a", chord), ("b", scale(OBOE)), ("c", chord)):
            render_stem(performance, tmp_path / name, font)
    finally:
        font.close()
    assert (tmp_path / "a").read_bytes() == (tmp_path / "c").read_bytes()
    render_stem(chord, tmp_path / "own")
    assert (tmp_path / "own").read_bytes() == (tmp_path / "a").read_bytes()


def test_synthesizers_are_made_one_after_another(monkeypatch: pytest.MonkeyPatch) -> None:
    """The first one sets FluidSynth up for all; one made meanwhile lacked modulators and was 17 dB too loud."""
    library = _library()
    make, busy, most = library.new_fluid_synth, [], []

    def slow(settings: object) -> object:
        busy.append(settings)
        most.append(len(busy))
        time.sleep(0.05)
        made = make(settings)
        busy.pop()
        return made

    monkeypatch.setattr(library, "new_fluid_synth", slow)
    with ThreadPoolExecutor(2) as pool:
        for synth in pool.map(lambda _: Synth(soundfont_path(), 1, rate=RATE, reverb=False), range(2)):
            synth.close()
    assert [1, 1] == most
