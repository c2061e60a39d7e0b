"""Every MusicXML score of the corpus with ornaments is judged, played and written as MIDI, and the laws hold."""

from collections import defaultdict
from itertools import pairwise
from pathlib import Path

import music21
import pytest

from appui.interpret.interpretation import interpret
from appui.interpret.realizing import realize
from appui.interpret.wishes import Wishes
from appui.perform.play import play
from appui.sound.midi import midi_bytes

FOLDERS = "beethoven corelli cpebach handel haydn monteverdi schumann_clara schumann_robert verdi weber bach".split()
ROOT = Path(music21.__file__).parent / "corpus"
SUFFIXES = (".mxl", ".xml", ".musicxml")


def _scores() -> list[Path]:
    found: list[Path] = []
    for folder in FOLDERS:
        files = sorted(f for f in (ROOT / folder).rglob("*") if f.suffix in SUFFIXES)
        # the chorales and madrigals are many and alike: every twentieth stands for them
        found += files[::20] if folder in ("bach", "monteverdi") else files
    return found


SCORES = _scores()


def test_the_corpus_is_there() -> None:
    """An empty list of scores would let every law hold."""
    assert len(SCORES) >= 60


@pytest.mark.parametrize("path", SCORES, ids=lambda path: f"{path.parent.name}/{path.name}")
def test_laws_hold(path) -> None:
    """Nothing lost, nothing of no length, no note of a voice over the next, and a MIDI file comes out."""
    interpretation = interpret(path)
    order = interpretation.order(None, repeats=False)
    tones = realize(interpretation, order).tones
    spelled = {part.index: _spelled(interpretation, part) for part in interpretation.score.parts}
    for part in interpretation.score.parts:
        assert all(tone.duration_q > 0 for tone in tones[part.index])
        by_event = defaultdict(list)
        for tone in tones[part.index]:
            by_event[id(tone.event)].append(tone)
        for voice in part.voices:
            _nothing_is_lost(voice, by_event, spelled[part.index])
            _nothing_overlaps(voice, by_event)
    assert midi_bytes(play(interpretation, order))[:4] == b"MThd"


def _spelled(interpretation, part) -> set[int]:
    """The hidden events in which the edition spells out an ornament: the ornament sounds in their place."""
    spots = {spot for sign in interpretation.signs if sign.part == part.index for spot in sign.spelled}
    events = [part.voices[voice].events[event] for voice, event in spots]
    assert all(note.hidden for event in events for note in event.notes)
    return {id(event) for event in events}


def _nothing_is_lost(voice, by_event, spelled) -> None:
    trills = [(t.onset_q, t.end_q) for own in by_event.values() for t in own if t.role == "trill"]
    trilled = {e.onset_q for e in voice.events if any(start <= e.onset_q <= end for start, end in trills)}
    for event in (event for event in voice.events if id(event) not in spelled):
        heard = {tone.pitch for tone in by_event[id(event)]}
        # a leaning note that takes the whole of a tied note leaves its main note to the next of the tie, and a trill
        # takes in the notes its own is tied on to
        missing = [note for note in event.notes if not (note.silent or note.tied_on or note.sounding in heard)]
        assert [] == [note for note in missing if not (note.tied_back and event.onset_q in trilled)], event


def _nothing_overlaps(voice, by_event) -> None:
    # of a chord only one note gives way to a sign, so the notes of a voice follow each other where it is single
    single = all(len(event.notes) < 2 for event in voice.events)
    tones = [tone for event in voice.events for tone in by_event[id(event)]]
    if single and not any(len(small.sounding) > 1 for e in voice.events for small in (*e.small_before, *e.small_after)):
        ordered = sorted(tones, key=lambda tone: tone.onset_q)
        assert all(earlier.end_q <= following.onset_q for earlier, following in pairwise(ordered))


def test_single_voices_are_among_them() -> None:
    """The law that nothing overlaps is asked of whole parts, the clarinet's among them."""
    (clarinet,) = interpret(ROOT / "weber" / "concertino_clarinet.mxl").score.parts[0].voices
    assert all(len(event.notes) < 2 for event in clarinet.events)


@pytest.mark.parametrize("style", ["harmony", "bach-1753", "clementi-1801"])
def test_every_style_on_a_real_score(style) -> None:
    """The clarinet concertino under each style: every sign has a reading with a reason and a source."""
    interpretation = interpret(ROOT / "weber" / "concertino_clarinet.mxl", Wishes(style=style))
    assert len(interpretation.choices) == len(interpretation.signs) > 30
    assert all(choice.reason and choice.source for choice in interpretation.choices.values())


def test_main_notes_keep_their_beat() -> None:
    """Under readings before the beat every main note starts where it is printed."""
    interpretation = interpret(ROOT / "haydn" / "opus74no1" / "movement2.mxl")
    tones = realize(interpretation, interpretation.order(None, repeats=False)).tones
    before = [sign for sign in interpretation.signs if interpretation.choices[sign.place].placement == "before"]
    assert len(before) > 10
    for sign in before:
        main = sign.main_note(interpretation.score)
        assert [sign.onset_q(interpretation.score)] == [t.onset_q for t in tones[sign.part] if t.note is main], (
            sign.place
        )
