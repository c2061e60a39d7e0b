"""Every MusicXML score of the allowed corpus folders with signs goes through the whole main job, and the laws hold."""

from fractions import Fraction
from itertools import pairwise
from pathlib import Path

import music21
import pytest

from appui.perform.session import Session, Wishes
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
    """Nothing lost, nothing of no length, no voice overlapping itself, and a MIDI file comes out."""
    session = Session.open(path)
    order = session.order(None, repeats=False)
    tones = session.tones(order)
    for part in session.score.parts:
        played = tones[part.index]
        assert all(tone.duration_q > 0 for tone in played)
        printed = sum(not note.silent for voice in part.voices for event in voice.events for note in event.notes)
        kept = {(id(tone.event), id(tone.note)) for tone in played if tone.note is not None}
        replaced = {id(tone.event) for tone in played if tone.role in ("trill", "termination")}
        swallowed = sum(
            1
            for v in part.voices
            for e in v.events
            for n in e.notes
            if not n.silent and (id(e), id(n)) not in kept and id(e) not in replaced
        )
        # a leaning note that takes the whole of a tied note leaves its main note to the next of the tie
        assert swallowed <= sum(n.tied_on for v in part.voices for e in v.events for n in e.notes), printed
        for voice in part.voices:
            _never_overlaps(
                [t for t in played if any(t.event is e for e in voice.events)] if len(voice.events) < 40 else []
            )
    assert midi_bytes(session.perform(order))[:4] == b"MThd"


def _never_overlaps(tones) -> None:
    single = [tone for tone in tones if len(tone.event.notes) == 1]
    for earlier, later in pairwise(sorted(single, key=lambda tone: tone.onset_q)):
        assert earlier.end_q <= later.onset_q or earlier.onset_q == later.onset_q


@pytest.mark.parametrize("style", ["harmony", "bach-1753", "clementi-1801"])
def test_every_style_on_a_real_score(style) -> None:
    """The clarinet concertino under each style: every sign has a reading with a reason and a source."""
    session = Session.open(ROOT / "weber" / "concertino_clarinet.mxl", Wishes(style=style))
    assert len(session.choices) == len(session.signs) > 30
    assert all(choice.reason and choice.source for choice in session.choices.values())


def test_main_notes_keep_their_beat() -> None:
    """Under readings before the beat every main note starts where it is printed."""
    session = Session.open(ROOT / "haydn" / "opus74no1" / "movement2.mxl")
    tones = session.tones(session.order(None, repeats=False))
    for sign in session.signs:
        if session.choices[sign.place].placement == "before":
            onset_q = sign.onset_q(session.score)
            starts = [t.onset_q for t in tones[sign.part] if t.note is sign.main_note(session.score)]
            assert starts == [onset_q] or starts == [Fraction(onset_q)], sign.place
