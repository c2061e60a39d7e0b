"""One ornament practised; several solos; levels by part; the bass as a drone; waiting and rests."""

from dataclasses import replace

import pytest
from click.testing import CliRunner

from appui.cli.main import cli
from appui.demo import demo_score
from appui.errors import UsageError
from appui.exact import Fraction
from appui.interpret.interpretation import interpret
from appui.interpret.wishes import Wishes
from appui.practice.levels import OFF, parse_levels
from appui.practice.place import bars_around, doubtful_places
from appui.practice.plan import make_track
from appui.practice.track import whole_performance
from appui.practice.week import read_week
from appui.practice.wish import Wish
from appui.practice.words import file_name, split_by_name, wish_of

SMALL = "<note><grace/><pitch><step>D</step><octave>5</octave></pitch><type>eighth</type></note>"
PAUSE = "<notations><fermata/></notations>"


def _clicks(track):
    return [
        piece.onset_q + note.onset_q
        for piece in track.pieces
        if piece.group == "click"
        for note in piece.performance.parts[0].notes
    ]


@pytest.mark.parametrize(
    ("at", "expected"),
    [(0, "1-2"), (1, "1-3"), (2, "2-4"), (3, "3-4")],
)
def test_an_ornament_has_the_bars_it_needs(written, note, meter, at, expected) -> None:
    """A beat before it, and one after its note: a whole note needs a bar on each side."""
    bars = [((SMALL if n == at else "") + note("C5", 8), note("C3", 8)) for n in range(4)]
    assert expected == bars_around(written(bars, head=meter(4, 4)), f"{at + 1}.1")


def test_an_ornament_in_the_middle_needs_its_bar_only(written, note, meter) -> None:
    """On the third of four quarters."""
    bars = [(note("C5", 8), note("C3", 8)), (note("C5", 4) + SMALL + note("C5", 2) + note("D5", 2), note("C3", 8))] * 2
    assert "2-2" == bars_around(written(bars, head=meter(4, 4)), "2.3")


def test_an_ornament_does_not_reach_over_a_repeat(written, note, meter) -> None:
    """What follows it is then the beginning, not the next bar."""
    repeat = '<barline location="right"><repeat direction="backward"/></barline>'
    bars = [
        (note("C5", 8), note("C3", 8)),
        (SMALL + note("C5", 8) + repeat, note("C3", 8)),
        (note("C5", 8), note("C3", 8)),
    ]
    assert "1-2" == bars_around(written(bars, head=meter(4, 4)), "2.1")


def test_one_ornament_is_heard_then_played_from_slow_to_fast() -> None:
    """As long as nothing else is said; what is said goes before."""
    wish = wish_of({"at": "oboe.12.1"})
    assert ("echo", "50%", "100%", 4, 2) == (wish.mode, wish.tempos[0], wish.tempos[-1], len(wish.tempos), wish.times)
    other = wish_of({"at": "oboe.12.1", "tempo": "70%", "mode": "guide"})
    assert ("guide", ("70%",), 2) == (other.mode, other.tempos, other.times)
    with pytest.raises(UsageError, match="finds its own bars"):
        wish_of({"at": "oboe.12.1", "bars": "1-4"})


def test_a_place_between_beats_can_be_a_file() -> None:
    """Without a stroke in its name."""
    assert "oboe.3.1+2 of 3" == file_name("{place}", wish_of({"at": "oboe.3.1+2/3"}))


def test_a_set_has_a_track_for_each_ornament(tmp_path) -> None:
    """With steps for their ladder, though no tempo is named."""
    week = tmp_path / "week.toml"
    week.write_text(
        f'score = "{demo_score().as_posix()}"\nformats = ["mid"]\n'
        '[[track]]\nname = "{place}"\nat = ["3.1+2/3", "12.1"]\nsteps = 2\n'
    )
    assert ["3.1+2 of 3", "12.1"] == [name for name, _ in read_week(week).tracks]
    assert {("50%", "100%")} == {wish.tempos for _, wish in read_week(week).tracks}


def test_one_ornament_alternates_alone(interpretation) -> None:
    """Its neighbours stay as they are."""
    track = make_track(interpretation, Wish("alternate", at="12.1", count_in=0))
    assert ["oboe.12.1"] == [words.partition(":")[0] for words in track.changes]


def test_what_is_doubtful_is_practised_until_it_is_decided(interpretation) -> None:
    """A decision takes a place off the list."""
    places = doubtful_places(interpretation)
    assert places
    assert all(interpretation.choices[place].doubtful for place in places)
    taken = tuple(f"{place}={interpretation.choices[place].reading.text}" for place in places)
    with pytest.raises(UsageError, match="doubtful and undecided"):
        doubtful_places(interpret(demo_score(), Wishes(takes=taken)))


def test_ornaments_are_files_by_place(tmp_path) -> None:
    """Several need {place} in the name of the file."""
    words = ["practice", str(demo_score()), "--at", "12.1", "--at", "oboe.20.1", "--tempo", "100%", "--times", "1"]
    done = CliRunner().invoke(cli, [*words, str(tmp_path / "{place}.mid")])
    assert (0, ["oboe.12.1.mid", "oboe.20.1.mid"]) == (done.exit_code, sorted(p.name for p in tmp_path.iterdir()))
    refused = CliRunner().invoke(cli, [*words, str(tmp_path / "x.mid")])
    assert "2 ornaments are 2 tracks: write {place} in the name of OUT" in str(refused.exception)


@pytest.fixture(scope="module")
def duo():
    """The demo with two solos."""
    return interpret(demo_score(), Wishes(solo="oboe", also=("violin",)))


def _heard(track, group):
    return {part.name for piece in track.pieces if piece.group == group for part in piece.performance.parts}


def test_two_solos_are_left_out_together_or_each(duo) -> None:
    """The other one is played with the accompaniment."""
    wish = Wish(bars="1-2", count_in=0)
    both, oboe = make_track(duo, wish), make_track(duo, replace(wish, without=("oboe",)))
    assert {"Viola", "Violoncello"} == _heard(both, "accompaniment")
    assert {"Violin", "Viola", "Violoncello"} == _heard(oboe, "accompaniment")
    with pytest.raises(UsageError, match="without Viola: the solo is Oboe and Violin"):
        make_track(duo, replace(wish, without=("viola",)))


def test_names_of_tracks_without_each_solo() -> None:
    """One without each, and one without them all."""
    names = [name for name, _ in split_by_name("duo without {without}", Wish(), ("Oboe", "Violin"))]
    assert ["duo without Oboe", "duo without Violin", "duo without Oboe and Violin"] == names


def test_a_set_may_have_two_solos(tmp_path) -> None:
    """A file without each and one without both; also with cues, cut rests, slow trills and the bass held."""
    week = tmp_path / "week.toml"
    week.write_text(
        f'score = "{demo_score().as_posix()}"\nsolo = ["oboe", "violin"]\nformats = ["mid"]\nslowing = "natural"\n'
        'slow-trills = 6\ncue = "bars"\nrests = 2\ndrone = "bass"\nlevels = "bass=+3"\n'
        '[[track]]\nname = "without {without}"\nbars = "1-4"\n'
    )
    done = CliRunner().invoke(cli, ["practice", "--set", str(week)])
    assert 0 == done.exit_code, done.output
    names = ["without oboe", "without oboe and violin", "without violin"]
    assert names == sorted(each.stem for each in (tmp_path / "week").glob("*.mid"))


def test_the_survey_lists_the_signs_of_all_solos(duo) -> None:
    """Each part's in its order."""
    from appui.compare.survey import select, survey_record

    signs = select(duo, all_parts=False, bars=None)
    assert {"oboe", "violin"} == {sign.place.partition(".")[0] for sign in signs}
    assert ["Oboe", "Violin"] == survey_record(duo, signs)["solos"]


def test_a_part_has_its_own_level(interpretation) -> None:
    """In place of the accompaniment's; the lowest part answers to bass; off is silence."""
    levels = parse_levels("bass=+6,viola=off,accompaniment=-3")
    track = make_track(interpretation, Wish(bars="1-2", count_in=0, levels=levels))
    heard = {part.name: track.level_db(piece.group) for piece in track.pieces for part in piece.performance.parts}
    assert {"Violin": -3, "Violoncello": 6} == heard
    assert OFF == track.level_db("part P3")
    volumes = {part.name: part.volume for part in whole_performance(track).parts}
    assert volumes["Violoncello"] > 100 > volumes["Violin"]


def test_a_level_for_nobody_is_refused(interpretation) -> None:
    """With the parts there are."""
    with pytest.raises(UsageError, match=r"'flute' is none of accompaniment, .* which has Oboe, Violin"):
        make_track(interpretation, Wish(levels={"flute": 3.0}))


def test_a_drone_on_the_bass_goes_with_it(written, note, meter) -> None:
    """Its note on each beat, held until there is another; silent where it rests."""
    low = note("C3", 2) + note("C3", 2) + note("G3", 2) + "<note><rest/><duration>2</duration></note>"
    track = make_track(written([(note("C5", 8), low)], head=meter(4, 4)), Wish(count_in=0, drone="bass"))
    drone = next(piece.performance.parts[0].notes for piece in track.pieces if piece.group == "drone")
    assert ["C3", "G3"] == [n.pitch.name for n in drone]
    assert [0, 2] == [n.onset_q for n in drone]
    assert [2, 1] == [n.duration_q for n in drone]
    assert pytest.approx(2.0) == drone[0].duration_s


@pytest.mark.parametrize(("cue", "beats"), [("none", 0), ("beats", 2), ("bars", 3), (None, 0)])
def test_a_cue_counts_back_in_after_a_hold(written, note, meter, cue, beats) -> None:
    """Also where there is no click; a bar of 3/4 is three beats."""
    bars = [(note("C5", 6, PAUSE), note("C3", 6, PAUSE)), (note("C5", 6), note("C3", 6))]
    track = make_track(written(bars, head=meter(3, 4)), Wish(count_in=0, cue=cue))
    assert beats == len(_clicks(track))
    assert all(0 < at_q < 3 for at_q in _clicks(track))


def test_long_rests_are_cut_and_counted(written, note, meter) -> None:
    """Of six bars of rest the last two are played, with clicks though none were asked for."""
    rest = '<note><rest measure="yes"/><duration>8</duration></note>'
    bars = [
        (note("C5", 8), note("C3", 8)),
        *[(rest, note(f"{step}3", 8)) for step in "DEFGAB"],
        (note("C5", 8), note("C3", 8)),
    ]
    track = make_track(written(bars, head=meter(4, 4)), Wish(count_in=0, rests=2))
    assert Fraction(16) == track.length_q
    assert [Fraction(n) for n in range(4, 12)] == _clicks(track)
    bass = next(piece.performance.parts[0].notes for piece in track.pieces if piece.group == "accompaniment")
    assert ["C3", "A3", "B3", "C3"] == [each.pitch.name for each in bass]


def test_short_rests_stay(written, note, meter) -> None:
    """And so does a piece without the solo."""
    rest = '<note><rest measure="yes"/><duration>8</duration></note>'
    bars = [(note("C5", 8), note("C3", 8)), (rest, note("D3", 8)), (note("C5", 8), note("C3", 8))]
    assert Fraction(12) == make_track(written(bars, head=meter(4, 4)), Wish(count_in=0, rests=1)).length_q
    alone = written([(rest, note("C3", 8))] * 3, head=meter(4, 4))
    assert Fraction(12) == make_track(alone, Wish(count_in=0, rests=1)).length_q
