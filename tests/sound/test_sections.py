"""Long performances in sections: where they are cut, and that the sections laid together are the whole."""

from itertools import pairwise

import numpy as np
import pytest

from appui.sound import sections
from appui.sound.sections import SHORTEST_S, render_file, sections_of
from appui.sound.synth import CHUNK, render_blocks

RATE = 8000
OBOE = 68


@pytest.fixture
def long(part, piece):
    """Five minutes of two parts, with a swell and a note over every beat."""
    high = [(at * 0.5, 0.5, 60 + at % 12, 70 + at % 30) for at in range(600)]
    low = [(float(at), 1.25, 48 + at % 7, 80) for at in range(300)]
    swells = [(float(at), 11, 60 + at % 60) for at in range(0, 300, 7)]
    return piece(part(high, OBOE, controls=swells), part(low, 42, id="low"), length=302.0)


def rendered(performance, path, **other):
    """The samples of a file made in sections."""
    found = render_file(path, performance, None, sample_rate=RATE, **{"reverb": False} | other)
    samples = np.fromfile(path, np.float32).reshape(-1, 2)
    assert (len(samples), float(abs(samples).max())) == found
    return samples


def test_every_note_is_in_one_section(long) -> None:
    """Sections follow one another in whole chunks, and each stroke begins in the one that has it."""
    cut = sections_of(long, RATE)
    assert 4 == len(cut)
    assert all(one.stop == following.start and one.stop % CHUNK == 0 for one, following in pairwise(cut))
    strokes = [(event, one) for one in cut for event in one.events if event.what != 1 and event.value]
    assert 900 == len(strokes)
    assert all(one.start <= event.frame < one.stop for event, one in strokes)
    assert all(event.frame <= one.end for one in cut for event in one.events)


def test_a_section_has_its_share_of_the_work(part, piece) -> None:
    """Where all the notes are in the second half, so are the cuts."""
    notes = [(150 + at * 0.25, 0.25, 60, 80) for at in range(600)]
    assert all(one.start > 140 * RATE for one in sections_of(piece(part(notes)), RATE)[1:])


def test_a_short_performance_is_one_section(part, piece) -> None:
    """Less than two of the shortest."""
    assert 1 == len(sections_of(piece(part([(0, 1, 60, 80)]), length=2 * SHORTEST_S - 1), RATE))


def test_silence_is_one_section(piece) -> None:
    """Nothing is to be shared."""
    assert 1 == len(sections_of(piece(length=300.0), RATE))


def test_a_long_note_is_not_cut_under(part, piece) -> None:
    """A note held through the whole piece would sound in every section after it."""
    notes = [(at * 0.5, 0.5, 60, 80) for at in range(600)]
    assert 1 == len(sections_of(piece(part(notes), part([(0, 300, 40, 80)], id="held")), RATE))


def test_sections_add_up_to_the_whole(long, tmp_path) -> None:
    """Dry: the same to the rounding but for a few samples about the cuts, 60 dB below the music; of the same length."""
    whole = np.concatenate(list(render_blocks(long, sample_rate=RATE, reverb=False)))
    parts = rendered(long, tmp_path / "x")
    assert len(whole) == len(parts)
    off = (whole - parts).astype(float)
    assert np.sqrt((off**2).mean() / (whole.astype(float) ** 2).mean()) < 10 ** (-60 / 20)
    assert np.quantile(abs(off), 0.999) < 1e-6


def test_sections_with_reverb_are_as_loud(long, tmp_path) -> None:
    """The reverb wavers differently, its level stays: 0.2 dB over any second."""
    whole = np.concatenate(list(render_blocks(long, sample_rate=RATE)))
    parts = rendered(long, tmp_path / "x", reverb=True)
    seconds = len(whole) // RATE - 5
    ours, theirs = (
        np.sqrt((sound[: seconds * RATE].reshape(seconds, -1).astype(float) ** 2).mean(1)) for sound in (parts, whole)
    )
    assert abs(20 * np.log10(ours / theirs)).max() < 0.2


def test_the_bytes_do_not_depend_on_the_cores(long, tmp_path, monkeypatch) -> None:
    """One at a time or four."""
    files = []
    for count in (1, 4):
        monkeypatch.setattr(sections, "workers", lambda count=count: count)
        files.append(rendered(long, tmp_path / str(count)).tobytes())
    assert files[0] == files[1]


def test_a_fault_in_one_section_is_told(long, tmp_path, monkeypatch) -> None:
    """And the others are given up."""

    def failing(synth, events, first, end, **other):
        if first:
            raise OSError(28, "No space left on device")
        yield np.zeros((CHUNK, 2), np.float32)

    monkeypatch.setattr(sections, "sounded", failing)
    with pytest.raises(OSError, match="No space left"):
        render_file(tmp_path / "x", long, None, sample_rate=RATE, reverb=False)
