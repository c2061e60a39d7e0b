"""Shaped time: the rules, the curve over the bars as played, and that everything follows it."""

from __future__ import annotations

import io
import math
from dataclasses import replace
from itertools import pairwise

import mido
import numpy as np
import pytest

from appui.demo import demo_score
from appui.exact import Fraction
from appui.interpret.interpretation import interpret
from appui.interpret.wishes import Wishes
from appui.perform.beats import beats_of
from appui.perform.play import play
from appui.perform.sheet import sheet_of
from appui.perform.tempo import performed_tempos
from appui.perform.timing import RULES, beat_columns, deviations, ending, rules
from appui.sound.midi import midi_bytes
from tests.perform.playing import dynamic, played
from tests.realize.voices import note, score

FERMATA = "<fermata/>"
EVEN = note("E5", 8) * 4


def words(text: str, sound: str = "") -> str:
    """Words over the staff, with a tempo of the file's own."""
    return f"<direction><direction-type><words>{text}</words></direction-type>{sound}</direction>"


def column(name: str, *bars: str) -> list[float]:
    """A rule's column over some bars of four quarters."""
    return [float(each) for each in beat_columns(beats_of(sheet_of(score(*bars))))[name]]


@pytest.fixture(scope="module")
def demo():
    """The demo, its time shaped."""
    return interpret(demo_score(), Wishes(time="shaped"))


def test_every_rule_has_its_worth_and_source() -> None:
    """The table and the code name the same rules."""
    assert list(RULES) == list(rules())
    assert all(rule.percent and rule.counted in ("mean", "nothing") and rule.words for rule in rules().values())


@pytest.mark.parametrize(
    ("name", "bars", "expected"),
    [
        ("onsets", (note("E5", 8) + note("E5", 4) * 2 + note("E5", 2) * 4 + note("E5", 8),), [0, 1, 2, 0]),
        ("following", (note("E5", 16) + note("E5", 2) * 4 + note("E5", 8),), [0, 2, 0, 0]),
        ("chord", (note("C5", 16) + note("E5", 16, chord=True) + note("E5", 16),), [1, 0, 0, 0]),
        ("last_beat", (EVEN, EVEN), [0, 0, 0, 1, 0, 0, 0, 1]),
        ("before_rest", (note("E5", 8) * 3 + note("R", 8),), [0, 1, 0, 0]),
        ("before_softer", (dynamic("f") + EVEN, dynamic("p") + EVEN), [0, 0, 0, 5, 0, 0, 0, 0]),
        ("fermata", (note("E5", 8) * 2 + note("E5", 16, FERMATA),), [0, 0, 1, 0]),
        ("before_fermata", (note("E5", 8) * 2 + note("E5", 16, FERMATA),), [0, 1, 0, 0]),
        ("slowing", (EVEN, words("poco rit.") + EVEN, words("a tempo") + EVEN), [0] * 4 + [1] * 4 + [0] * 4),
        ("slowing", (words("morendo") + EVEN, dynamic("p") + EVEN), [1] * 4 + [0] * 4),
        ("slowing", (words("perdendosi") + EVEN, words("cresc.") + EVEN), [1] * 4 + [0] * 4),
        ("slowing", (words("rit.") + EVEN, dynamic("p") + EVEN), [1] * 8),
        ("hastening", (words("stringendo") + EVEN, EVEN), [1] * 8),
        ("before_tempo", (EVEN, words("Presto", "<sound tempo='90'/>") + EVEN), [0, 0, 1, 1, 0, 0, 0, 0]),
    ],
)
def test_a_rule_marks_its_beats(name, bars, expected) -> None:
    """Beat by beat."""
    assert expected == pytest.approx(column(name, *bars))


@pytest.mark.parametrize("text", ["Ritornello", "dolce", "strings", "Ballade"])
def test_other_words_do_not_slow_down(text) -> None:
    """What only begins like rit. or string."""
    assert 0 == sum(column("slowing", words(text) + EVEN)) + sum(column("hastening", words(text) + EVEN))


def test_words_with_a_tempo_of_the_file_are_played_by_that() -> None:
    """Not slowed down twice."""
    for sound, expected in (("", rules()["slowing"].percent / 100), ("<sound tempo='50'/>", 0.0)):
        beats = beats_of(sheet_of(score(EVEN, words("rit.", sound) + EVEN)))
        found = deviations(beats)
        assert expected == pytest.approx(float(found[4] - found[0]), abs=1e-9)


def test_the_end_grows_as_a_cube() -> None:
    """Nothing sixteen quarters before it; the whole in the last beat."""
    whole = rules()["end"].percent / 100
    assert [0, whole / 8, whole] == pytest.approx([ending(left_q) for left_q in (16, 8, 0)])


def test_strict_is_the_printed_tempo(demo) -> None:
    """`time` strict: the tempo steps of what is printed and held, nothing else."""
    strict = replace(demo, wishes=replace(demo.wishes, time="strict"))
    made = play(strict, strict.order())
    assert performed_tempos(strict.held(), strict.order(), Fraction(1), made.lead_q) == made.tempos


def test_all_parts_follow_one_curve(demo) -> None:
    """Every onset is where the one tempo map puts it, and nothing begins before what comes before it."""
    made = play(demo, demo.order())
    for part in made.parts:
        for one in part.notes:
            assert made.seconds(one.onset_q) == pytest.approx(one.onset_s, abs=1e-4)
        assert all(one.onset_s <= other.onset_s for one, other in pairwise(part.notes))


def test_the_piece_lasts_about_as_long(demo) -> None:
    """Within five in a hundred of strict time."""
    strict = play(replace(demo, wishes=replace(demo.wishes, time="strict")), demo.order())
    assert strict.length_s == pytest.approx(play(demo, demo.order()).length_s, rel=0.05)


def test_excerpts_go_as_the_whole(demo) -> None:
    """The last eight bars alone last as long as in the piece, the slowing down at the end with them."""
    numbers = [bar.number for bar in demo.score.bars]
    whole, excerpt = play(demo, demo.order()), play(demo, demo.order(f"{numbers[-8]}-{numbers[-1]}"))
    first_q = demo.order()[-8].onset_q + whole.lead_q
    lasts_s = whole.seconds(whole.length_q) - whole.seconds(first_q)
    assert lasts_s == pytest.approx(excerpt.seconds(excerpt.length_q) - excerpt.seconds(excerpt.lead_q), abs=1e-6)


def test_only_the_last_time_slows_down() -> None:
    """A bar that is repeated goes on in time the first time."""
    music = score(EVEN + "<barline location='right'><repeat direction='backward'/></barline>")
    notes = played(music, repeats=True, time="shaped")
    lasts = [other.onset_s - one.onset_s for one, other in pairwise(notes)]
    assert lasts[0] < 1.05 < lasts[6]


def test_holds_keep_their_length(demo) -> None:
    """The beat under a fermata lasts as its reading says, whatever the rules say around it."""
    bars = (EVEN, note("E5", 16) + note("E5", 16, FERMATA), EVEN)
    held = [played(score(*bars), time=time)[5] for time in ("strict", "shaped")]
    assert held[0].duration_s == pytest.approx(held[1].duration_s, abs=0.01)


def test_the_midi_file_keeps_the_same_time(demo) -> None:
    """Every onset of the file, read by mido, within 2 ms of the performance's."""
    made = play(demo, demo.order("1-8"))
    at, heard = 0.0, []
    for message in mido.MidiFile(file=io.BytesIO(midi_bytes(made))):
        at += message.time
        if message.type == "note_on" and message.velocity:
            heard.append(at)
    said = sorted(one.onset_s for part in made.parts for one in part.notes)
    assert np.abs(np.array(heard) - np.array(said)).max() < 0.002


def test_time_is_heard(demo) -> None:
    """Under rit. the next note sounds when the curve says: measured in the audio within 12 ms, attack and all."""
    from appui.sound.synth import RATE, render_blocks

    music = score(words("rit.") + (note("E5", 4) + note("R", 4)) * 4, fifths=0)
    notes = played(music, time="shaped")
    assert notes[1].onset_s > 1.1
    made = play(demo, demo.order("1-1"))
    part = replace(made.parts[0], notes=notes, controls=(), program=6)
    sound = np.concatenate(
        list(render_blocks(replace(made, parts=(part,), length_s=notes[-1].onset_s + 1), reverb=False))
    )
    loud = np.abs(sound).max(axis=1)
    for one in notes[1:]:
        start = round((one.onset_s - 0.05) * RATE)
        rise = start + int(np.argmax(loud[start : start + 8000] > 0.02 * loud.max()))
        assert one.onset_s == pytest.approx(rise / RATE, abs=0.012)
    assert math.isfinite(float(loud.max()))


def test_players_are_not_glued_together(demo) -> None:
    """The solo on the moment, the others less than 12 ms after it, not always alike; in strict time all at once."""
    onsets = {}
    for time in ("strict", "shaped"):
        made = play(replace(demo, wishes=replace(demo.wishes, time=time)), demo.order("1-8"))
        onsets[time] = [
            one.onset_s - made.seconds(note_q)
            for part in made.parts
            for one in part.notes
            for note_q in [round(one.onset_q * 48 - Fraction(1, 4)) * Fraction(1, 48)]
            if one.role == "plain" and not part.solo
        ]
    assert max(map(abs, onsets["strict"])) < 1e-6
    assert 0 < min(onsets["shaped"]) < max(onsets["shaped"]) < 0.012
    assert len({round(one, 4) for one in onsets["shaped"]}) > 10


def test_a_bar_is_as_late_alone_as_in_the_whole(demo) -> None:
    """Fixed by the printed place."""
    alone, whole = play(demo, demo.order("3-3")), play(demo, demo.order(repeats=False))
    start_s = whole.seconds(demo.order()[2].onset_q + whole.lead_q) - alone.seconds(alone.lead_q)
    for one, other in zip(alone.parts[1:], whole.parts[1:], strict=True):
        starts = [note.onset_s for note in other.notes]
        assert all(min(abs(note.onset_s + start_s - at) for at in starts) < 1e-4 for note in one.notes)


def test_one_player_is_together() -> None:
    """A chord of one part begins at once, in shaped time too."""
    notes = played(score(note("C4", 32) + note("E4", 32, chord=True)), time="shaped")
    assert notes[0].onset_s == notes[1].onset_s


@pytest.mark.parametrize("bars", [(note("R", 32),), (note("R", 32), note("E5", 32)), ("",)])
def test_hardly_any_music_is_played_too(bars) -> None:
    """Rests alone, one note, an empty bar: shaped in level and time without a fault."""
    notes = played(score(*bars), shape="shaped", time="shaped")
    assert all(1 <= one.velocity <= 127 and one.duration_s > 0 for one in notes)
