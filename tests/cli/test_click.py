"""The click of a score alone, and trills that begin slowly."""

import mido
import pytest
from click.testing import CliRunner

from appui.cli.main import cli
from appui.exact import Fraction
from appui.interpret.interpretation import interpret
from appui.interpret.realizing import realize
from appui.interpret.wishes import Wishes
from tests.written import bar, meter, note, part, text

TRILL = "<notations><ornaments><trill-mark/></ornaments></notations>"


def _words(text_: str, qpm: int) -> str:
    return f'<direction><direction-type><words>{text_}</words></direction-type><sound tempo="{qpm}"/></direction>'


@pytest.fixture
def score(tmp_path):
    """Two quick bars of 3/4, a held one, two slow ones of 6/8."""
    hold = "<notations><fermata/></notations>"
    bars = (
        bar(meter(3, 4), _words("Allegro", 120), note("C5", 12)),
        bar(note("C5", 12)),
        bar(note("C5", 12, hold)),
        bar(meter(6, 8), _words("Adagio", 60), note("C5", 12)),
        bar(note("C5", 12)),
    )
    file = tmp_path / "score.musicxml"
    file.write_text(text(part(*bars)))
    return file


def _run(*words):
    done = CliRunner().invoke(cli, [str(word) for word in words], catch_exceptions=False)
    assert done.exit_code == 0, done.output
    return done.stdout


def _heard(file):
    """What sounds in a MIDI file: channel and seconds of each note; and its markers."""
    now, notes, markers = 0.0, [], []
    for message in mido.MidiFile(file):
        now += message.time
        if message.type == "note_on" and message.velocity:
            notes.append((message.channel, now))
        elif message.type == "marker":
            markers.append(message.text)
    return notes, markers


def test_a_click_follows_meter_tempo_and_hold(score, tmp_path) -> None:
    """Three beats a bar at 120, a hold with two beats counted back in, then two dotted beats a bar at 60."""
    _run("click", score, tmp_path / "out.mid", "--count-in", "0")
    notes, markers = _heard(tmp_path / "out.mid")
    assert {9} == {channel for channel, _ in notes}
    moments = [moment for _, moment in notes]
    assert pytest.approx([0, 0.5, 1, 1.5, 2, 2.5, 3], abs=0.01) == moments[:7]
    # 3 s of a dotted half at 120, twice as long
    assert pytest.approx([5, 5.5, 6], abs=0.01) == moments[7:10]
    assert {"Allegro", "Adagio"} <= set(markers)


def test_a_click_tells_where_meter_and_tempo_change(score, tmp_path) -> None:
    """As printed, in beats of the meter."""
    told = _run("click", score, tmp_path / "out.mid").splitlines()
    assert [
        "  bar 1: 3/4, Allegro, 120 beats a minute (sound)",
        "  bar 4: 6/8, Adagio, 40 beats a minute (sound)",
    ] == told[1:]
    told = _run("click", score, tmp_path / "out.mid", "--bars", "5", "--tempo", "50%").splitlines()
    assert ["  bar 5: 6/8, Adagio, 20 beats a minute (sound)"] == told[1:]


@pytest.mark.parametrize(
    ("slowing", "tempo", "rate"), [("natural", "50%", 6), ("scaled", "40%", 6), ("natural", "100%", 12)]
)
def test_trills_begin_measured(tmp_path, slowing, tempo, rate) -> None:
    """Up to half tempo so many notes a second as asked for; at full tempo as usual."""
    file = tmp_path / "trill.musicxml"
    file.write_text(text(part(bar(_words("Adagio", 60), note("C5", 16, TRILL)), bar(note("C5", 16)))))
    player = interpret(file, Wishes(tempo=tempo, slowing=slowing, slow_trills=Fraction(6)))
    tones = realize(player, player.order("1")).tones[0]
    trill = [tone.duration_q for tone in tones if tone.role == "trill"]
    assert pytest.approx(rate, rel=0.1) == float(player.factor / max(trill))
