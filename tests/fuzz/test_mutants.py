"""Spoilt scores: every mutant of a real file ends in a lawful result or in an error that names the file."""

from __future__ import annotations

import os
import random
import signal
from collections import Counter
from dataclasses import replace
from itertools import pairwise
from pathlib import Path

import pytest

from appui.exact import Fraction
from appui.musicxml.read.score import score_of
from appui.musicxml.read.source import load
from tests.fuzz.laws import LawBrokenError, TooSlowError, guarded, score_faults
from tests.fuzz.mutants import MUTATIONS, SEEDLINGS, corpus, mutant, seedling_of
from tests.fuzz.run import apart
from tests.fuzz.texts import SEEDS, text_mutant
from tests.fuzz.ways import WAYS

COUNT, AT_ONCE = 80, 40


#  what mutants have ended in, by seed: two tests look at the same ones
_ends: dict[int, str] = {}


def _ended(path: Path, seed: int) -> str:
    if seed not in _ends:
        path.write_bytes(mutant(seed).data)
        _ends[seed] = guarded(path, random.Random(seed))  # noqa: S311 - repeatable on purpose
    return _ends[seed]


@pytest.mark.parametrize("first", range(0, COUNT, AT_ONCE))
def test_mutants_end_in_a_result_or_are_refused(first: int, tmp_path: Path) -> None:
    """Read, surveyed, realized in several readings and written as MIDI, or refused by name; nothing else, in time."""
    for seed in range(first, first + AT_ONCE):
        try:
            _ended(tmp_path / "mutant.musicxml", seed)
        except (Exception, TooSlowError) as error:
            error.add_note(f"mutant {seed}: {', '.join(mutant(seed).done)}")
            raise


#  a way and how many of its mutants are in the suite: some ten seconds of all
SOME = {
    "notate": 8,
    "embellish": 3,
    "practice": 4,
    "drill": 4,
    "page": 2,
    "plan": 4,
    "style": 4,
    "chart": 4,
    "set": 6,
    "cents": 50,
    "export": 50,
}


@pytest.mark.parametrize("way", SOME)
def test_mutants_take_every_way(way: str, tmp_path: Path) -> None:
    """Written out, embellished, practised, drilled, paged; plans, styles, charts, sets: a result or a refusal."""
    name, make, do = WAYS[way]
    for seed in range(SOME[way]):
        (tmp_path / name).write_bytes(make(seed).data)
        try:
            guarded(tmp_path / name, random.Random(seed), do)  # noqa: S311
        except (Exception, TooSlowError) as error:
            error.add_note(f"mutant {seed}: {', '.join(make(seed).done)}")
            raise


def test_every_way_is_taken() -> None:
    """By the tests above."""
    assert set(WAYS) == {*SOME, "midi"}


@pytest.mark.parametrize("kind", SEEDS)
def test_what_texts_are_made_of_is_sound(kind: str, tmp_path: Path) -> None:
    """A plan, style, chart, set and export that is not spoilt is read; and its mutants are many."""
    name, _, do = WAYS[kind]
    for text in SEEDS[kind]()[:3]:
        (tmp_path / name).write_text(text, encoding="utf-8")
        assert "result" == do(tmp_path / name, random.Random(0))  # noqa: S311
    assert len({text_mutant(kind, seed).data for seed in range(30)}) > 15


def test_a_library_that_ends_the_process_is_seen() -> None:
    """Or one that never comes back: each mutant of the long run has a process of its own."""

    def killed() -> tuple[str, str]:
        os.kill(os.getpid(), signal.SIGKILL)
        return "result", ""

    assert ("ended by SIGKILL", "ended by SIGKILL") == apart(killed)
    assert ("result", "") == apart(lambda: ("result", ""))


def test_faults_are_seen() -> None:
    """The laws find an overlap, a note of no length and a tie with one end where they are put in."""
    score = score_of(load(SEEDLINGS[0]).root, "sound")
    assert score_faults(score) == []
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
        assert any(words in fault for fault in score_faults(replace(score, parts=(part,))))


def test_tones_over_one_another_are_seen(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A realization that lets every tone of one voice last too long is a finding."""
    from appui.interpret.realizing import realize

    def longer(*args):
        done = realize(*args)
        tones = {p: [t._replace(duration_q=t.duration_q + 1) for t in found] for p, found in done.tones.items()}
        return done._replace(tones=tones)

    monkeypatch.setattr(f"{guarded.__module__}.realize", longer)
    path = tmp_path / "clarinet.mxl"
    path.write_bytes(SEEDLINGS[-1].read_bytes())
    with pytest.raises(LawBrokenError, match="sounds over"):
        guarded(path, random.Random(0))  # noqa: S311


def test_an_endless_loop_is_seen(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """What does not end within its time is stopped."""

    def endless(path: Path) -> None:
        del path
        while True:
            pass

    monkeypatch.setattr("tests.fuzz.laws.LIMIT_S", 0.05)
    monkeypatch.setattr("tests.fuzz.laws.interpret", endless)
    with pytest.raises(TooSlowError):
        guarded(tmp_path / "score.xml", random.Random(0))  # noqa: S311


def test_the_seed_makes_the_mutant() -> None:
    """A mutant that shows a fault can be made again."""
    assert mutant(7) == mutant(7)


def test_mutants_are_of_every_kind(tmp_path: Path) -> None:
    """The mutants take in every file and every mutation; some are refused, more are read."""
    kinds: Counter[str] = Counter(name for seed in range(300) for name in mutant(seed).done)
    assert {path.name for path in SEEDLINGS} | set(MUTATIONS) | {"bytes"} == set(kinds)
    ends = Counter(_ended(tmp_path / "mutant.xml", seed) for seed in range(0, 120, 8))
    assert set(ends) == {"result", "ScoreError"}
    assert ends["ScoreError"] < ends["result"]


def test_a_long_run_has_the_whole_corpus_to_choose_from() -> None:
    """The command's mutants are made of every file of the corpus that is used."""
    assert len(corpus()) > 300
    assert len({seedling_of(seed, corpus()) for seed in range(3_000)}) > 300
    assert all(not a.name.startswith(".") and a.is_file() for a, _ in pairwise(corpus()))
