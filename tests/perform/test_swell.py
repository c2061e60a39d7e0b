"""The swell of a leaning note: soft, loudest at three fifths, soft, and the channel given back."""

from appui.exact import Fraction
from appui.perform.model import Control, TempoStep
from appui.perform.swell import EXPRESSION, FULL, STEPS, swell
from appui.perform.tempo import Clock
from appui.realize.contract import Tone
from appui.score.model import Event
from appui.score.pitch import Pitch


def controls(swell_db: int) -> list[Control]:
    """The controls over a half note at 60 quarters a minute."""
    half = Fraction(2)
    tone = Tone(
        Fraction(0),
        half,
        Pitch("C", 0, 5),
        "lean",
        Fraction(0),
        Event(Fraction(0), half, 0),
        swell_db=Fraction(swell_db),
    )
    return list(swell(tone, Clock((TempoStep(Fraction(0), 0.0, Fraction(60)),)), Fraction(0)))


def test_it_is_loudest_at_three_fifths() -> None:
    """The nearest step to 1.2 s of two seconds."""
    made = controls(8)[:-1]
    loudest = max(made, key=lambda each: each.value)
    assert abs(float(loudest.onset_s) - 1.2) <= 2 / STEPS
    values = [each.value for each in made]
    peak = values.index(loudest.value)
    assert values == sorted(values[:peak]) + sorted(values[peak:], reverse=True)


def test_it_begins_so_many_decibels_softer() -> None:
    """40 log10(v / 127) is -8 dB within half a step of a controller."""
    first = controls(8)[0]
    assert EXPRESSION == first.number
    assert abs(first.value - FULL * 10 ** (-8 / 40)) <= 0.5


def test_the_channel_is_given_back() -> None:
    """Full where the note ends."""
    last = controls(8)[-1]
    assert (2.0, FULL) == (last.onset_s, last.value)
