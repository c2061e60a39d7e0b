"""What changes under a reading, and the sheets it is found on."""

import io
import re
from pathlib import Path

import numpy as np
import pytest
import soundfile

from appui.interpret.interpretation import Interpretation
from appui.page.passages import LONGEST_S, Heard, Passage, find_passages
from appui.page.sheets import HEAD_S, MP3_RATE, TICK_S, Wanted, make_sheets
from appui.page.staves import PRINTED, written_staves
from appui.perform.play import play
from appui.score.signs import Sign


def solo_signs(interpretation: Interpretation) -> list[Sign]:
    return [sign for sign in interpretation.signs if sign.part == interpretation.solo.index]


def test_every_sign_is_heard_in_one_passage(interpretation: Interpretation) -> None:
    """With the bar before and the bar after, and no passage too long for a browser."""
    signs = solo_signs(interpretation)
    passages = find_passages(interpretation, signs, 0, 29)
    assert [sign.place for sign in signs] == [sign.place for passage in passages for sign in passage.signs]
    for passage in passages:
        bars = [sign.main(interpretation.score).bar for sign in passage.signs]
        assert passage.first == max(min(bars) - 1, 0)
        assert passage.last == min(max(bars) + 1, 29)
        length_q = sum(bar.length_q for bar in interpretation.score.bars[passage.first : passage.last + 1])
        assert length_q * 60 / 72 <= LONGEST_S


def test_bars_without_signs_are_not_rendered(interpretation: Interpretation) -> None:
    """Two signs far apart are two passages."""
    signs = [interpretation.sign_at("oboe.2.1"), interpretation.sign_at("oboe.20.1")]
    assert [(0, 2), (18, 20)] == [(p.first, p.last) for p in find_passages(interpretation, signs, 0, 29)]


@pytest.mark.parametrize("place", ["oboe.4.1", "oboe.12.1", "oboe.21.1"])
def test_a_stretch_holds_all_that_changes(interpretation: Interpretation, place: str) -> None:
    """Outside it the whole passage performed in the other reading has the same notes."""
    sign = interpretation.sign_at(place)
    heard = Heard(interpretation, Passage(0, 29, (sign,)))
    stretch = heard.stretch(sign, "before")
    assert stretch is not None
    other = Heard(interpretation, heard.passage)
    other.__dict__["whole"] = play(
        interpretation, interpretation.order(None, repeats=False), {place: interpretation.reading(place, "before")}
    )
    shift_s = heard.seconds(interpretation.score.bars[5].onset_q) - other.seconds(interpretation.score.bars[5].onset_q)

    def outside(one: Heard, shift_s: float) -> set[tuple[float, float, int, int]]:
        notes = next(part for part in one.whole.parts if part.solo).notes
        return {
            (round(n.onset_s + shift_s, 3), round(n.duration_s, 3), n.key, n.velocity)
            for n in notes
            if not stretch.start_s - 0.001 <= n.onset_s + shift_s < stretch.end_s
        }

    assert outside(heard, 0.0) == outside(other, shift_s)
    assert heard.seconds(sign.onset_q(interpretation.score)) < stretch.end_s


def test_what_is_listened_to_is_as_long_as_its_bars(interpretation: Interpretation) -> None:
    """Three bars of 3 quarters at 72, no silence before them; only small notes before the first beat lead in."""
    sign = interpretation.sign_at("oboe.6.1")
    heard = Heard(interpretation, Passage(0, 29, (sign,)))
    span = heard.excerpt(sign)
    assert pytest.approx(3 * 3 * 60 / 72) == span.to_s - span.from_s
    # the small note D5 of bar 5 is played before its beat
    early = next(note for part in heard.whole.parts for note in part.notes if note.sign == "oboe.5.1")
    assert pytest.approx(span.from_s - early.onset_s) == span.lead_s
    assert 0.05 < span.lead_s < 0.2
    assert 0 == heard.span(3, 4).lead_s


def test_a_way_of_playing_that_begins_before_the_first_beat_is_led_in(interpretation: Interpretation) -> None:
    """A passage that begins with its sign has room for the readings that are not chosen."""
    sign = interpretation.sign_at("oboe.4.1")
    heard = Heard(interpretation, Passage(3, 4, (sign,)))
    assert 0 == heard.excerpt(sign).lead_s
    assert 0.05 < heard.excerpt(sign, ["leaning 1/2", "before"]).lead_s < 0.2


def test_the_same_reading_changes_nothing(interpretation: Interpretation) -> None:
    """And a longer fermata, for which all parts wait, has no stretch of its own."""
    sign, held = interpretation.sign_at("oboe.4.1"), interpretation.sign_at("oboe.30.1.2")
    heard = Heard(interpretation, Passage(0, 29, (sign, held)))
    assert heard.stretch(sign, "leaning 1/2") is None
    assert heard.stretch(held, "hold 3 times as long") is None


def test_sheets_tell_where_everything_is(interpretation: Interpretation) -> None:
    """The tick is where it is said to be; on the solo's sheet a stretch sounds like the performance it was cut from."""
    sign = interpretation.sign_at("oboe.6.1")
    heard = Heard(interpretation, Passage(4, 6, (sign,)))
    stretch = heard.stretch(sign, "before")
    assert stretch is not None
    (solo, others), (again, _) = make_sheets([Wanted(heard, (stretch,)), Wanted(heard, (stretch,))], None)
    assert ("solo", "accompaniment") == (solo.role, others.role)
    assert solo.data == again.data
    sound, rate = soundfile.read(io.BytesIO(solo.data))
    assert MP3_RATE == rate
    tick = int(np.argmax(abs(sound[: round(HEAD_S * rate)])))
    assert round(TICK_S * rate) == pytest.approx(tick, abs=1)
    (placed,) = solo.placed
    start = tick + round((HEAD_S - TICK_S + placed.at_s - placed.start_s) * rate)
    chosen = tick + round((HEAD_S - TICK_S) * rate)
    # after the stretch both readings have the same notes: base and stretch agree there, and differ inside
    inside = slice(round(placed.start_s * rate), round(placed.end_s * rate))
    after = slice(round((placed.end_s + 0.1) * rate), round((placed.end_s + 0.3) * rate))

    def away(where: slice) -> float:
        one = sound[chosen + where.start : chosen + where.stop]
        other = sound[start + where.start : start + where.stop]
        return float(np.sqrt(np.mean((one - other) ** 2)) / max(np.sqrt(np.mean(one**2)), 1e-3))

    assert away(inside) > 0.5
    assert away(after) < 0.25


def test_readings_are_written_out_for_their_sign_alone(interpretation: Interpretation, demo: Path) -> None:
    """G5 before F sharp 5 leaning is two eighth notes; the small note of the bar before stays small."""
    staves = written_staves(interpretation, demo, {"oboe.4.1": ["leaning 1/2", "before"]}, lambda words: None)
    assert {("oboe.4.1", "leaning 1/2"), ("oboe.4.1", "before"), ("oboe.4.1", PRINTED)} == set(staves.pictures)
    small = {
        words: len(re.findall(r'E0A4" transform="[^"]*scale\(0\.54', picture))
        for (_, words), picture in staves.pictures.items()
    }
    # bar 3 has a small note of its own
    assert {"leaning 1/2": 1, "before": 1, PRINTED: 2} == small
