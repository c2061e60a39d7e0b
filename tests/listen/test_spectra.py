"""What each note sounds like: guessed from harmonics, learned from the take."""

import numpy as np
import pytest

from appui.listen.frames import BINS_A_SEMITONE, LOWEST_KEY
from appui.listen.spectra import fits, guessed, learned, mean_of

BINS = 72 * BINS_A_SEMITONE
KEYS = (60, 62, 64)


def test_every_spectrum_adds_up_to_one_and_has_nothing_nowhere() -> None:
    """A room and its noise put a little everywhere."""
    rows = guessed(KEYS, BINS)
    assert (len(KEYS), BINS) == rows.shape
    assert [1, 1, 1] == pytest.approx(rows.sum(axis=1), abs=1e-5)
    assert rows.min() > 0


def test_a_guessed_note_is_strongest_at_its_key() -> None:
    """The fundamental before its harmonics."""
    rows = guessed(KEYS, BINS)
    assert list(KEYS) == [LOWEST_KEY + row.argmax() // BINS_A_SEMITONE for row in rows]


def test_a_frame_fits_the_note_it_is_of() -> None:
    """Each of three, better than the others."""
    rows = guessed(KEYS, BINS)
    assert [0, 1, 2] == list(fits(rows.astype(np.float16), rows).argmax(axis=0))


def test_what_is_heard_alone_is_learned() -> None:
    """A hundred frames of an odd sound weigh more than the guess; other keys borrow it, moved to their place."""
    odd = np.zeros((100, BINS), np.float16)
    column = (60 - LOWEST_KEY + 5) * BINS_A_SEMITONE
    odd[:, column] = 1
    rows = learned(KEYS, [(60, odd)], BINS)
    assert column == rows[0].argmax()
    assert column + 2 * BINS_A_SEMITONE == rows[1].argmax()


def test_keys_that_are_not_asked_for_teach_nothing() -> None:
    """A note of another key is passed over."""
    heard = [(72, np.full((10, BINS), 1 / BINS, np.float16))]
    assert np.array_equal(learned(KEYS, [], BINS), learned(KEYS, heard, BINS))


def test_a_mean_counts_each_frame_by_its_weight() -> None:
    """Three parts of one and one of another."""
    frames = np.array([[1, 0], [0, 1]], np.float16)
    assert [0.75, 0.25] == pytest.approx(mean_of(frames, np.array([3, 1], np.float32)))
