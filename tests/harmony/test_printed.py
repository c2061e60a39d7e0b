"""Printed figures and chord symbols are the harmony."""

from dataclasses import replace

import pytest

from appui.harmony.analyse import analyse
from appui.harmony.verdicts import verdict_of
from appui.score.model import Figure, FiguredBass
from appui.score.signs import find_signs


def figured(*numbers: str) -> str:
    """XML of one figured bass; a number may carry ``#``, ``b``, ``n`` or ``+`` before it."""
    names = {"#": "sharp", "b": "flat", "n": "natural", "+": "plus"}
    figures = ""
    for number in numbers:
        prefix = f"<prefix>{names[number[0]]}</prefix>" if number[0] in names else ""
        digits = number.lstrip("#bn+")
        figures += f"<figure>{prefix}{f'<figure-number>{digits}</figure-number>' if digits else ''}</figure>"
    return f"<figured-bass>{figures}</figured-bass>"


def over(written, bass: str, *numbers: str, small: str = "C5>D5", next_bass: str = "C3:4"):
    """The verdict on a small note over a figured bass."""
    score = written(
        {"Flute": f"{small}:4 | E5:4", "Basso": f"{bass}:4 | {next_bass}"}, extra={"Basso": figured(*numbers)}
    )
    return verdict_of(analyse(score), find_signs(score)[0])


@pytest.mark.parametrize(
    ("bass", "numbers", "letters"),
    [
        ("G3", ("5",), "G B D"),
        ("B3", ("6",), "B D G"),
        ("G3", ("6", "4"), "G C E"),
        ("G3", ("7",), "G B D F"),
        ("B3", ("6", "5"), "B D F G"),
        ("D3", ("4", "3"), "D F G B"),
        ("D3", ("6", "4", "3"), "D F G B"),
        ("F3", ("4", "2"), "F G B D"),
        ("F3", ("2",), "F G B D"),
        ("G3", ("4",), "G C D"),
        ("D3", ("#",), "D F# A"),
        ("D3", ("7", "#"), "D F# A C"),
        ("F3", ("b6",), "F A Db"),
        ("B3", ("6", "5", "3"), "B D F G"),
        ("G3", ("7", "5", "3"), "G B D F"),
        ("F3", ("+4",), "F G B D"),
        ("D3", ("+4",), "D E G# B"),
        ("F3", ("+4", "2"), "F G B D"),
        ("G3", ("54",), "G C D"),
    ],
)
def test_figures_complete_the_chord(written, bass, numbers, letters) -> None:
    """Shorthand of figured bass (common practice, no source); figures that alter a letter alter that one only."""
    verdict = over(written, bass, *numbers)
    assert set(letters.split()) == set(verdict.pitches)
    assert (1.0, bass[0]) == (verdict.confidence, verdict.bass)


def test_a_slash_raises_what_the_signature_has(written) -> None:
    """In B flat a slashed 6 over G is E natural, not E sharp (common practice, no source)."""
    key = "<attributes><key><fifths>-2</fifths></key></attributes>"
    slashed = "<figured-bass><figure><figure-number>6</figure-number><suffix>slash</suffix></figure></figured-bass>"
    score = written({"Flute": "C5>D5:4 | D5:4", "Basso": "G3:4 | G3:4"}, extra={"Flute": key, "Basso": key + slashed})
    assert {"G", "Bb", "E"} == set(verdict_of(analyse(score), find_signs(score)[0]).pitches)


def test_a_bass_note_without_figures_is_no_triad_by_force(written) -> None:
    """An unfigured E passing under a C major chord in the violins leaves the chord C: the small A is against it."""
    score = written(
        {"Flute": "C5:1 A5>G5:1 E5:2 | E5:4", "Violini": "E4+G4:4 | E4+G4:4", "Basso": "C3:1 E3:1 D3:1 E3:1 | C3:4"},
        extra={"Basso": figured("5")},
    )
    verdict = verdict_of(analyse(score), next(sign for sign in find_signs(score) if sign.small))
    assert (("dissonance",), "C", True) == (verdict.members, verdict.root, verdict.confidence < 1)


def test_a_dash_alone_says_nothing(written) -> None:
    """The dash of a figure that goes on is no triad on the note under it: the chord heard on is still C."""
    dash = "<figured-bass><figure><extend/></figure></figured-bass>"
    score = written(
        {"Flute": "F5>E5:4 | E5:4", "Violini": "C4+G4:4 | C4+G4:4", "Basso": "E3:4 | C3:4"}, extra={"Basso": dash}
    )
    assert "C" == verdict_of(analyse(score), find_signs(score)[0]).root


@pytest.mark.parametrize("nonsense", ["0", "1", "99", "655", "ped", "6-"])
def test_nonsense_under_the_bass_is_left_out_with_a_notice(written, nonsense) -> None:
    """What is no figure ends in no error and no chord of its own: it is said, with its place, and left out."""
    figure = f"<figured-bass><figure><figure-number>{nonsense}</figure-number></figure></figured-bass>"
    score = written({"Flute": "C5>D5:4 | E5:4", "Basso": "G3:4 | C3:4"}, extra={"Basso": figure})
    said = next(notice for notice in score.notices if "no figure" in notice.text)
    assert ("part Basso" in said.place, nonsense in said.text) == (True, True)
    assert verdict_of(analyse(score), find_signs(score)[0]).quality != "printed figured bass"


def test_figures_printed_as_text_are_the_harmony(written) -> None:
    """Words 6 and 7 under the bass judge like figures: the small C over G with a 7 is a dissonance."""
    text = "".join(f"<direction><direction-type><words>{word}</words></direction-type></direction>" for word in "67")
    score = written({"Flute": "C5>D5:4 | E5:4", "Basso": "G3:4 | C3:4"}, extra={"Basso": text})
    verdict = verdict_of(analyse(score), find_signs(score)[0])
    assert ("printed figured bass", 1.0) == (verdict.quality, verdict.confidence)


def six_four(written, second: str):
    """A small E over a held G figured 6/4 and then as `second` says, in C."""
    score = written({"Flute": "E5:4 | E5>D5:2 D5:2 | C5:4", "Basso": "C3:4 | G2:2 G2:2 | C3:4"})
    bass = score.parts[1]
    rows = (("5",), ("6", "4"), (second,))
    figures = tuple(
        FiguredBass(event.onset_q, event.duration_q, tuple(map(Figure, row)))
        for event, row in zip(bass.voices[0].events, rows, strict=False)
    )
    with_figures = replace(score, parts=(score.parts[0], replace(bass, figures=figures)))
    return verdict_of(analyse(with_figures), next(sign for sign in find_signs(with_figures) if sign.small))


def test_a_printed_six_four_on_the_dominant_leans(written) -> None:
    """6/4 going to 7 over a held G: the small E leans into D although it is figured (common practice, no source)."""
    verdict = six_four(written, "7")
    assert (("chord member",), True, (True,)) == (verdict.members, verdict.six_four, verdict.leans)


def test_a_printed_six_four_that_stays_does_not_lean(written) -> None:
    """Where nothing follows over the bass but the same chord, E has nothing to lean on."""
    score = written({"Flute": "E5>D5:4 | C5:4", "Basso": "G2:4 | A2:4"}, extra={"Basso": figured("6", "4")})
    verdict = verdict_of(analyse(score), find_signs(score)[0])
    assert (("chord member",), False, (False,)) == (verdict.members, verdict.six_four, verdict.leans)


def symbol(root: str, kind: str, bass: str = "") -> str:
    """XML of a chord symbol."""
    low = f"<bass><bass-step>{bass}</bass-step></bass>" if bass else ""
    return f"<harmony><root><root-step>{root}</root-step></root><kind>{kind}</kind>{low}</harmony>"


@pytest.mark.parametrize(
    ("kind", "label", "letters"),
    [
        ("major", "C", "C E G"),
        ("minor", "Cm", "C Eb G"),
        ("dominant", "C7", "C E G Bb"),
        ("diminished-seventh", "Cdim7", "C Eb Gb Bbb"),
        ("half-diminished", "Cm7b5", "C Eb Gb Bb"),
        ("suspended-fourth", "Csus4", "C F G"),
        ("augmented", "Caug", "C E G#"),
    ],
)
def test_chord_symbols(written, kind, label, letters) -> None:
    """MusicXML 4.0 kinds (read) spelled out."""
    score = written({"Flute": "D5>E5:4"}, extra={"Flute": symbol("C", kind)})
    verdict = verdict_of(analyse(score), find_signs(score)[0])
    assert (label, letters) == (verdict.label, " ".join(verdict.pitches))


def test_an_eleventh_belongs_to_its_chord(written) -> None:
    """MusicXML 4.0 kind dominant-11th (read): over C the F belongs, the E does not."""
    symbol = "<harmony><root><root-step>C</root-step></root><kind>dominant-11th</kind></harmony>"
    score = written({"Flute": "F5>E5:4", "Piano": "C3:4"}, extra={"Flute": symbol})
    assert {"C", "G", "Bb", "D", "F"} == set(verdict_of(analyse(score), find_signs(score)[0]).pitches)


def test_a_symbol_outweighs_what_sounds(written) -> None:
    """Printed F over a sounding C chord: C is a member, E is not."""
    score = written({"Flute": "E5>F5:4", "Piano": "C3+E4+G4:4"}, extra={"Flute": symbol("F", "major")})
    verdict = verdict_of(analyse(score), find_signs(score)[0])
    assert ("F", ("dissonance",), 1.0) == (verdict.label, verdict.members, verdict.confidence)
