"""The order of bars: what is printed is played as a player takes it, and every road map comes to an end."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from appui.exact import Fraction
from appui.score.model import Bar, Ending, Jump, Meter
from appui.score.repeats import once, unfold
from tests.written import bar, direction, note, part, score

FORWARD = '<barline location="left"><repeat direction="forward"/></barline>'
BACK = '<barline location="right"><repeat direction="backward"/></barline>'
WHOLE = note("C5", 16)


def _back(times: int) -> str:
    return BACK.replace("/>", f' times="{times}"/>', 1)


def _ending(number: str, *, back: bool = True) -> str:
    """A bar under one bracket."""
    start = f'<barline location="left"><ending number="{number}" type="start"/></barline>'
    repeat = '<repeat direction="backward"/>' if back else ""
    kind = "stop" if back else "discontinue"
    return f'{start}{WHOLE}<barline location="right"><ending number="{number}" type="{kind}"/>{repeat}</barline>'


def _words(text: str) -> str:
    return direction(f"<words>{text}</words>")


SEGNO, CODA = direction("<segno/>"), direction("<coda/>")

# name -> bars, the numbers of the bars as they are played
ROADS: dict[str, tuple[tuple[str, ...], str]] = {
    "no signs": ((WHOLE, WHOLE, WHOLE), "1 2 3"),
    "a repeated section": ((WHOLE, FORWARD + WHOLE, WHOLE + BACK, WHOLE), "1 2 3 2 3 4"),
    "from the start": ((WHOLE, WHOLE + BACK, WHOLE), "1 2 1 2 3"),
    "two halves": ((WHOLE, WHOLE + BACK, WHOLE, WHOLE + BACK), "1 2 1 2 3 4 3 4"),
    "two halves, both signs": ((FORWARD + WHOLE + BACK, FORWARD + WHOLE + BACK), "1 1 2 2"),
    "three times": ((WHOLE, FORWARD + WHOLE + _back(3), WHOLE), "1 2 2 2 3"),
    "once only": ((WHOLE, FORWARD + WHOLE + _back(1), WHOLE), "1 2 3"),
    "forward never closed": ((WHOLE, FORWARD + WHOLE, WHOLE), "1 2 3"),
    "forward never closed, then another": ((FORWARD + WHOLE, FORWARD + WHOLE, WHOLE + BACK), "1 2 3 2 3"),
    "two endings": ((WHOLE, _ending("1"), _ending("2", back=False), WHOLE), "1 2 1 3 4"),
    "two endings after a forward": (
        (WHOLE, FORWARD + WHOLE, _ending("1"), _ending("2", back=False), WHOLE),
        "1 2 3 2 4 5",
    ),
    "an ending for two passes": ((WHOLE, _ending("1, 2"), _ending("3", back=False)), "1 2 1 2 1 3"),
    "da capo al fine": ((WHOLE, WHOLE + _words("Fine"), WHOLE, WHOLE + _words("D.C. al Fine")), "1 2 3 4 1 2"),
    "da capo by sound": ((WHOLE + '<sound fine="yes"/>', WHOLE + '<sound dacapo="yes"/>'), "1 2 1"),
    "da capo takes no repeats": (
        (FORWARD + WHOLE + _words("Fine") + BACK, WHOLE + _words("Da capo al Fine")),
        "1 1 2 1",
    ),
    "da capo takes the last ending": (
        (WHOLE, _ending("1"), _ending("2", back=False), WHOLE + _words("D. C.")),
        "1 2 1 3 4 1 3 4",
    ),
    "dal segno al fine": (
        (WHOLE, SEGNO + WHOLE, WHOLE + _words("Fine"), WHOLE + _words("D.S. al Fine")),
        "1 2 3 4 2 3",
    ),
    "dal segno al coda": (
        (WHOLE, SEGNO + WHOLE, WHOLE + _words("To Coda"), WHOLE + '<sound dalsegno="segno"/>', CODA + WHOLE),
        "1 2 3 4 2 3 5",
    ),
}


@pytest.mark.parametrize("road", ROADS)
def test_bars_are_taken_in_the_players_order(road: str) -> None:
    """Each road map gives the bar numbers a player would read off it."""
    bars, expected = ROADS[road]
    found = score(part(*(bar(content) for content in bars)))
    assert expected == " ".join(found.bars[occurrence.bar].number for occurrence in unfold(found.bars))


def test_a_dal_segno_al_coda_in_words() -> None:
    """The words of the leap say where it leads, too: they are no sign to leave for the coda."""
    bars = (WHOLE, SEGNO + WHOLE, WHOLE + _words("To Coda"), WHOLE + _words("D.S. al Coda"), CODA + WHOLE)
    found = score(part(*(bar(content) for content in bars)))
    assert [0, 1, 2, 3, 1, 2, 4] == [occurrence.bar for occurrence in unfold(found.bars)]


def test_repeats_are_counted_and_placed() -> None:
    """The second time is turn two and starts where the first one ended."""
    found = score(part(bar(note("C5", 8) + BACK), bar(WHOLE)))
    assert [(0, 0, 1), (0, 2, 2), (1, 4, 1)] == [tuple(occurrence) for occurrence in unfold(found.bars)]


def test_once_takes_bars_as_printed() -> None:
    """A stretch asked for without repeats starts at time 0 and takes each bar once."""
    found = score(part(bar(WHOLE), bar(WHOLE + BACK), bar(WHOLE)))
    assert [(1, 0, 1), (2, 4, 1)] == [tuple(occurrence) for occurrence in once(found.bars, 1, 2)]


_jumps = st.lists(
    st.builds(Jump, st.sampled_from(["segno", "coda", "dacapo", "dalsegno", "tocoda", "fine"])), max_size=2
)
_endings = st.one_of(
    st.just(()), st.lists(st.integers(1, 4), min_size=1, max_size=3).map(lambda passes: (Ending(tuple(passes)),))
)
_signs = st.lists(st.tuples(st.booleans(), st.integers(0, 4), _endings, _jumps), min_size=1, max_size=12)
_Signs = list[tuple[bool, int, tuple[Ending, ...], list[Jump]]]


def _bars(signs: _Signs) -> list[Bar]:
    return [
        Bar(
            i, str(i + 1), Fraction(4 * i), Fraction(4), Meter(4, 4), repeat_forward=forward, repeat_backward=back,
            endings=endings, jumps=tuple(jumps),
        )
        for i, (forward, back, endings, jumps) in enumerate(signs)
    ]  # fmt: skip


@given(_signs)
def test_any_road_map_ends(signs: _Signs) -> None:
    """However the signs contradict each other the player comes to an end, and time never stands still."""
    bars = _bars(signs)
    order = unfold(bars)
    assert len(order) <= 60 * len(bars) + 60
    assert [Fraction(4 * i) for i in range(len(order))] == [occurrence.onset_q for occurrence in order]
    for index in range(len(bars)):
        turns = [occurrence.turn for occurrence in order if occurrence.bar == index]
        assert list(range(1, len(turns) + 1)) == turns


@given(_signs)
def test_without_leaps_and_endings_every_bar_is_played(signs: _Signs) -> None:
    """Repeats alone lose no bar."""
    bars = _bars([(forward, back, (), []) for forward, back, _, _ in signs])
    assert set(range(len(bars))) == {occurrence.bar for occurrence in unfold(bars)}
