"""Spoilt scores: every mutant of a real file ends in a sound `Score` or in a `ScoreError` that says where."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace
from fractions import Fraction
from itertools import pairwise
from typing import Any

import pytest
from lxml import etree
from mutants import MUTATIONS, SEEDLINGS, mutant

from appui.errors import ScoreError
from appui.score.model import Event, Note, Score
from appui.score.read import score_of
from appui.score.repeats import unfold
from appui.score.signs import find_signs
from appui.score.solo import guess_solo
from appui.score.source import load, parse_text

COUNT, AT_ONCE = 300, 20


def _read(root: Any) -> Score | ScoreError:
    """The mutant read back from its text, so that lines are those of a file."""
    try:
        source = parse_text(etree.tostring(root), "mutant.musicxml")
        return score_of(source.root, source.file, source.sha256)
    except ScoreError as error:
        return error


def _faults(score: Score) -> list[str]:
    """What is wrong with a score, in words; nothing if it is sound."""
    faults = [f"bar {bar.number} of no length" for bar in score.bars if bar.length_q <= 0]
    faults += [f"bar {b.number} starts early" for a, b in pairwise(score.bars) if b.onset_q != a.onset_q + a.length_q]
    for part in score.parts:
        for voice in part.voices:
            faults += [
                f"{part.name}, voice {voice.name}: {a.end_q} overlaps {b.onset_q}"
                for a, b in pairwise(voice.events)
                if b.onset_q < a.end_q
            ]
            faults += [f"line {event.line}: of no length" for event in voice.events if event.duration_q <= 0]
            faults += [f"line {event.line}: before the score" for event in voice.events if event.onset_q < 0]
            faults += [
                f"line {event.line}: outside its bar"
                for event in voice.events
                if not score.bars[event.bar].onset_q
                <= event.onset_q
                < event.end_q
                <= score.bars[event.bar].onset_q + score.bars[event.bar].length_q
            ]
        faults += _loose_ties(part.voices)
    return faults


def _loose_ties(voices: Any) -> list[str]:
    """Ties that do not lead from one note to another of the same pitch that follows at once."""
    notes: list[tuple[Event, Note]] = [(e, n) for voice in voices for e in voice.events for n in e.notes]
    starts = Counter((event.end_q, note.sounding.midi) for event, note in notes if note.tied_on)
    stops = Counter((event.onset_q, note.sounding.midi) for event, note in notes if note.tied_back)
    return [f"tie at {onset_q} with one end" for onset_q, _ in (starts - stops) + (stops - starts)]


def _check_signs(score: Score) -> None:
    signs = find_signs(score)
    assert len(signs) == len({sign.place for sign in signs})
    for sign in signs:
        main = sign.main(score)
        assert sign.onset_q(score) == main.onset_q
        assert sign.main_note(score) is None or sign.main_note(score) in main.notes
    assert guess_solo(score, signs) in score.parts


@pytest.mark.parametrize("first", range(0, COUNT, AT_ONCE))
def test_mutants_are_read_or_refused(first: int) -> None:
    """A spoilt file gives a sound score or an error with the file's name; no other exception leaves the reader."""
    for seed in range(first, first + AT_ONCE):
        root, done = mutant(seed)
        found = _read(root)
        if isinstance(found, ScoreError):
            assert str(found).startswith("mutant.musicxml"), (seed, done)
            continue
        assert _faults(found) == [], (seed, done)
        _check_signs(found)
        assert len(unfold(found.bars)) >= 1, (seed, done)


def test_faults_are_seen() -> None:
    """The checks above find an overlap, a note of no length and a tie with one end where they are put in."""
    score = score_of(load(SEEDLINGS[0]).root, "sound")
    assert _faults(score) == []
    voice = next(
        voice for part in score.parts for voice in part.voices if len(voice.events) > 3 and voice.events[0].notes
    )
    first, second, *rest = voice.events
    tied = first.notes[0]._replace(tied_on=not first.notes[0].tied_on)
    for spoilt, words in (
        ((first._replace(duration_q=first.duration_q + 1), second), "overlaps"),
        ((first._replace(duration_q=Fraction(0)), second), "of no length"),
        ((first._replace(notes=(tied, *first.notes[1:])), second), "with one end"),
        ((first._replace(bar=first.bar + 1), second), "outside its bar"),
        ((second, first), "overlaps"),
    ):
        part = replace(score.parts[0], voices=(voice._replace(events=(*spoilt, *rest)),))
        assert any(words in fault for fault in _faults(replace(score, parts=(part,))))


def test_the_seed_makes_the_mutant() -> None:
    """A mutant that shows a fault can be made again."""
    first, second = (etree.tostring(mutant(7)[0]) for _ in range(2))
    assert first == second


def test_mutants_are_of_every_kind() -> None:
    """The mutants that are read take in every file and every mutation; some are refused, more are read."""
    kinds: Counter[str] = Counter()
    refused = 0
    for seed in range(COUNT // 2):
        root, done = mutant(seed)
        kinds.update(done)
        refused += isinstance(_read(root), ScoreError)
    assert {path.name for path in SEEDLINGS} | set(MUTATIONS) == set(kinds)
    assert COUNT // 2 // 50 < refused < COUNT // 4
