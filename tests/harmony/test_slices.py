"""What sounds, as arrays, and the slices it is read in."""

from dataclasses import replace

import pytest

from appui.harmony.texture import slices_of, texture_of
from tests.written import backup, bar, grace, meter, note, part, score


def passing(*notes: str, length: int = 2) -> list[bool]:
    """Which of some notes of equal length are taken to be in passing; eighths if nothing is said."""
    made = texture_of(score(part(bar(*(note(name, length) for name in notes)))))
    return [bool(each) for each in made.passing]


def test_a_short_note_between_steps_is_in_passing() -> None:
    """Up and on, up and back; not by leap, and never the first or the last."""
    assert [False, True, False, False] == passing("C5", "D5", "E5", "G5")
    assert [False, True, False, False] == passing("C5", "D5", "C5", "G5")
    assert [False, False, False, False] == passing("C5", "E5", "G5", "C6")


def test_a_long_note_is_not_in_passing() -> None:
    """Quarters are heard as they stand."""
    assert [False, False, False, False] == passing("C5", "D5", "E5", "G5", length=4)


def test_what_is_small_hidden_or_a_rest_is_no_evidence() -> None:
    """Of four things one sounds."""
    hidden = note("A5", 4).replace("<note>", '<note print-object="no">', 1)
    made = texture_of(score(part(bar(grace("D5"), note("C5", 4), note("rest", 4), hidden, note("rest", 4)))))
    assert [72] == made.midi.tolist()
    assert ((0, 0, 0, 0),) == made.where


def test_flats_and_sharps_are_apart_on_the_line_of_fifths() -> None:
    """A flat and G sharp are one key and two notes."""
    made = texture_of(score(part(bar(note("Ab4", 8), note("G#4", 8)))))
    assert made.midi[0] == made.midi[1]
    assert [-4, 8] == made.fifth.tolist()


def test_percussion_has_no_pitch_to_tell() -> None:
    """A score of nothing else has no texture."""
    music = score(part(bar(note("C5", 16))))
    drums = replace(music, parts=(replace(music.parts[0], percussion=True),))
    assert (1, 0) == (len(texture_of(music).midi), len(texture_of(drums).midi))


@pytest.mark.parametrize(
    ("beats", "unit", "divisions", "slices"), [(4, 4, 16, 8), (6, 8, 12, 6), (3, 2, 24, 6), (2, 4, 8, 4)]
)
def test_slices_are_halves_of_beats_or_thirds(beats: int, unit: int, divisions: int, slices: int) -> None:
    """Thirds in compound meters; whole beats where they are asked for."""
    music = score(part(bar(meter(beats, unit), note("C5", divisions))))
    found = slices_of(music)
    assert slices == len(found.start)
    assert [*found.start[1:], divisions / 4] == found.end.tolist()
    assert slices // (3 if unit == 8 else 2) == len(slices_of(music, whole_beats=True).start)


def test_no_slice_crosses_a_barline() -> None:
    """After a pickup of three eighths the first slice is half as long."""
    music = score(part(bar(meter(4, 4), note("C5", 3), implicit=True), bar(note("D5", 16))))
    found = slices_of(music)
    assert [0, 0.25] == found.start[:2].tolist()
    assert all(found.bar[found.at(onset)] == (0 if onset < 0.75 else 1) for onset in (0, 0.5, 0.75, 2))


def test_two_voices_are_told_apart() -> None:
    """By part, voice, event and note."""
    music = score(part(bar(note("C5", 16), backup(16), note("E4", 8, voice="2"), note("F4", 8, voice="2"))))
    assert ((0, 0, 0, 0), (0, 1, 0, 0), (0, 1, 1, 0)) == texture_of(music).where
