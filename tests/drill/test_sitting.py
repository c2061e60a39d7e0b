"""A sitting: trial after trial, until the staircase is done or there have been enough."""

from appui.drill.answers import CATCH
from appui.drill.kinds import KINDS
from appui.drill.sitting import Sitting
from appui.drill.trial import Material


def sitting(trials: int = 50) -> Sitting:
    """One over invented phrases, at a clock that stands still."""
    return Sitting(KINDS["heavier"], Material(), "Ada", "s1", "7", trials=trials, clock=lambda: "2026-01-01")


def test_it_ends_after_so_many_trials() -> None:
    """Each is numbered and kept."""
    one = sitting(trials=6)
    while (trial := one.next()) is not None:
        one.take(trial, 0)
    assert [0, 1, 2, 3, 4, 5] == [row.number for row in one.rows]


def test_asking_twice_gives_the_same_trial() -> None:
    """An answer is what moves it on."""
    one = sitting()
    assert one.next() == one.next()


def test_right_answers_make_it_harder() -> None:
    """Smaller differences, and the row holds what was asked and given."""
    one = sitting()
    before = one.level
    for _ in range(12):
        trial = one.next()
        assert trial is not None
        row = one.take(trial, max(trial.answer, 0))
    assert ("Ada", "s1", "heavier", "2026-01-01") == (row.player, row.sitting, row.kind, row.moment)
    assert one.level < before


def test_two_equal_notes_do_not_move_the_staircase() -> None:
    """No answer to them is right."""
    one = sitting()
    while (trial := one.next()) is not None:
        rung = one.stairs.rung, len(one.rows)
        one.take(trial, max(trial.answer, 0))
        if trial.answer == CATCH:
            assert rung[0] == one.stairs.rung
            return
    raise AssertionError("there was no catch trial")
