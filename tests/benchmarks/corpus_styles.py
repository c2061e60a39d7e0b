"""Every MusicXML score of some corpus folders under every style: signs printed, signs realized, laws, crashes.

    python -m tests.benchmarks.corpus_styles [--every N]

A sign counts as realized when tones of its own came out, or when its reading is a hold or a silence, which makes none;
as part of another where its note is tied to one that is trilled; as too short where a trill stands over a small note
that leaves no time for it; as silent when tones were due and none came.
Laws checked on every part: no tone of no length, no main note lost, none moved from its beat by a sign before it. What
anyone hears is counted too: endings added to trills that have theirs in print, trills of two notes where there are 160
ms and more, small notes at one moment in parallel parts that are played otherwise than one another.
"""

from __future__ import annotations

import argparse
import sys
from collections import Counter, defaultdict
from collections.abc import Mapping, Sequence
from pathlib import Path

import music21

from appui.exact import Fraction
from appui.interpret.analysis import Analysis
from appui.interpret.interpretation import Interpretation, interpret_analysis
from appui.interpret.realizing import realize
from appui.interpret.wishes import Wishes
from appui.musicxml.read.score import read_score
from appui.realize.contract import Tone
from appui.score.endings import printed_ending
from appui.score.signs import Sign
from appui.style.choose import Choice
from appui.style.table import style_names

FOLDERS = (
    "bach beethoven corelli cpebach handel haydn monteverdi schumann_clara schumann_robert verdi weber "
    "oneills1850 ryansMammoth"
).split()
ROOT = Path(music21.__file__).parent / "corpus"
SUFFIXES = (".mxl", ".xml", ".musicxml")


def files(every: int) -> list[Path]:
    """The scores, or every so many of them."""
    found = [p for folder in FOLDERS for p in sorted((ROOT / folder).rglob("*")) if p.suffix in SUFFIXES]
    return found[::every]


def faults_of(interpretation: Interpretation, tones: Mapping[int, Sequence[Tone]]) -> list[str]:
    """The laws that a realization breaks."""
    out: list[str] = []
    hidden = {(sign.part, *spot) for sign in interpretation.signs for spot in sign.spelled}
    for index, part in enumerate(interpretation.score.parts):
        heard: Counter[tuple[int, int | Fraction]] = Counter()
        for tone in tones[index]:
            heard[id(tone.event), tone.pitch.midi] += 1
            if tone.duration_q <= 0:
                out.append(f"no length: {tone.sign}")
        for number, voice in enumerate(part.voices):
            for place, event in enumerate(voice.events):
                for note in event.notes if (index, number, place) not in hidden else ():
                    tied = note.tied_on or note.tied_back
                    if not note.silent and not tied and not heard[id(event), note.sounding.midi]:
                        out.append(f"lost: {note.sounding.name} in bar {event.bar}")
    return out


def heard_by_anyone(interpretation: Interpretation, tones: Mapping[int, Sequence[Tone]]) -> Counter[str]:
    """Faults of trills and of parts in parallel, by kind."""
    score, found = interpretation.score, Counter[str]()
    counts = Counter(tone.sign for part in tones.values() for tone in part if tone.role in ("trill", "termination"))
    by_moment: dict[object, set[str]] = defaultdict(set)
    for sign in interpretation.signs:
        choice, event = interpretation.choices[sign.place], sign.main(score)
        if choice.reading.name == "trill" and sign.within is None and sign.kind in ("trill", "wavy line"):
            printed = printed_ending(score, sign) != "none"
            found["added ending"] += printed and choice.reading.get("termination") == "yes"
            ms = float(event.duration_q * 60_000 / score.tempo_at(event.onset_q).qpm)
            found["two notes"] += ms >= 160 and counts[sign.place] == 2 and not event.small_before
        if sign.kind == "small notes" and not event.is_rest and choice.by.startswith("style"):
            steps = tuple(s.written[0].diatonic - event.notes[sign.note].written.diatonic for s in sign.small)
            octave = event.notes[sign.note].sounding.diatonic % 7
            by_moment[event.onset_q, steps, event.duration_q, octave].add(choice.placement)
    found["disagree"] = sum(len(placements) > 1 for placements in by_moment.values())
    return found


def outcome(sign: Sign, choice: Choice, heard: set[str | None], said: set[str]) -> str:
    """What became of a sign."""
    if not choice.realized:
        return "not"
    if choice.reading.name == "plain":
        return "plain"
    # the tones of a small note that is trilled itself carry the trill's place
    if sign.place in heard or choice.reading.name in ("hold", "pause") or any(n.ornaments for n in sign.small):
        return "realized"
    return "short" if sign.within is not None else "part" if sign.place in said else "silent"


def main() -> None:
    """Print one line a style, and every fault."""
    parser = argparse.ArgumentParser()
    parser.add_argument("--every", type=int, default=1)
    scores = [read_score(path) for path in files(parser.parse_args().every)]
    print(f"{len(scores)} scores")
    print(
        f"{'style':16}{'signs':>8}{'realized':>10}{'plain':>8}{'part':>6}{'short':>7}{'silent':>8}{'not':>6}{'faults':>8}"
        f"{'endings':>8}{'two':>6}{'disagree':>9}"
    )
    faulty = False
    analyses = [Analysis(score) for score in scores]
    for name in style_names():
        count: Counter[str] = Counter()
        faults: list[str] = []
        anyone: Counter[str] = Counter()
        for score, analysis in zip(scores, analyses, strict=True):
            interpretation = interpret_analysis(analysis, Wishes(style=name))
            tones, notices = realize(interpretation, interpretation.order(None, repeats=False))
            heard = {tone.sign for part in tones.values() for tone in part}
            said = {place for place, _ in notices}
            for sign in interpretation.signs:
                count[outcome(sign, interpretation.choices[sign.place], heard, said)] += 1
            anyone += heard_by_anyone(interpretation, tones)
            faults += [f"{score.file} {fault}" for fault in faults_of(interpretation, tones)]
        signs = sum(count.values())
        columns = (
            f"{count['realized']:10}{count['plain']:8}{count['part']:6}{count['short']:7}{count['silent']:8}"
            f"{count['not']:6}{len(faults):8}{anyone['added ending']:8}{anyone['two notes']:6}{anyone['disagree']:9}"
        )
        print(f"{name:16}{signs:8}{columns}", flush=True)
        for fault in faults[:5]:
            print("   ", fault)
        faulty = faulty or bool(faults)
    sys.exit(1 if faulty else 0)


if __name__ == "__main__":
    main()
