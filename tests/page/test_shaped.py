"""A page whose playing is shaped: what is compared still differs by the ornament alone."""

from __future__ import annotations

import pytest

from appui.demo import demo_score
from appui.interpret.interpretation import interpret
from appui.interpret.wishes import Wishes
from appui.page.passages import Heard, Passage


@pytest.mark.parametrize("place", ["oboe.2.1", "oboe.20.1", "oboe.12.1"])
def test_another_reading_changes_only_its_surroundings(place) -> None:
    """In shaped time and levels as in strict and plain: the stretch that differs lies around the sign."""
    stretches = []
    for wishes in (Wishes(shape="plain", time="strict"), Wishes(shape="shaped", time="shaped")):
        player = interpret(demo_score(), wishes)
        sign = player.sign_at(place)
        words = player.choices[place].alternatives[0]
        heard = Heard(player, Passage(0, len(player.score.bars) - 1, (sign,)))
        found = heard.stretch(sign, words)
        assert found is not None
        beat_s = heard.seconds(sign.onset_q(player.score))
        stretches.append((found.start_s - beat_s, found.end_s - beat_s))
    plain, shaped = stretches
    assert shaped == pytest.approx(plain, abs=0.4)
