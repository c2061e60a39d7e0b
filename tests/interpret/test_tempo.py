"""The practice tempo a player asks for."""

import pytest

from appui.errors import UsageError
from appui.exact import Fraction
from appui.interpret.tempo import tempo_factor
from appui.score.model import Score
from tests.written import bar, direction, meter, note, part, score


def piece(qpm: int = 120) -> Score:
    """A bar of 6/8 at so many quarters a minute."""
    tempo = direction("<words>Allegro</words>", f'<sound tempo="{qpm}"/>')
    return score(part(bar(meter(6, 8), tempo, note("C5", 12))))


@pytest.mark.parametrize(
    ("wish", "factor"), [(None, Fraction(1)), ("60%", Fraction(3, 5)), (" 62.5 % ", Fraction(5, 8))]
)
def test_a_percentage_is_of_the_written_tempo(wish: str | None, factor: Fraction) -> None:
    """Nothing said is all of it."""
    assert factor == tempo_factor(wish, piece())


def test_a_number_counts_beats_of_the_meter() -> None:
    """In 6/8 the beat is a dotted quarter: 80 quarters a minute are 120 at 2/3, and 80 beats are 120 quarters."""
    assert 1 == tempo_factor("80", piece())
    assert Fraction(1, 2) == tempo_factor("40", piece())


@pytest.mark.parametrize("wish", ["", "fast", "60 %%", "4%", "401%", "4", "601", "1/2", "-60%"])
def test_other_words_are_refused(wish: str) -> None:
    """With what there is to say."""
    with pytest.raises(UsageError, match="tempo"):
        tempo_factor(wish, piece())
