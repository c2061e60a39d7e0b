"""The command `practice`: play-along tracks, one or a whole set."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from appui.cli.command import READS, WRITES, command
from appui.cli.options import (
    BARS,
    HARMONY,
    HOLD,
    JSON,
    MOVEMENT,
    PATTERN,
    PLAN,
    SHAPE,
    SLOWING,
    SOLO,
    SOUNDFONT,
    STYLE,
    TRACK_TIME,
    options,
    wishes_of,
)
from appui.errors import UsageError

if TYPE_CHECKING:
    from appui.interpret.interpretation import Interpretation
    from appui.interpret.wishes import Wishes
    from appui.practice.deliver import Done
    from appui.practice.track import Track
    from appui.practice.wish import Wish

__all__ = ["SOUND_OPTIONS", "TRACK_OPTIONS", "practice", "track_asked", "wish_from"]

CAUTION = (
    "Hearing: start with the volume low; no program can know how loud it is at your ear. Safe listening (WHO and ITU, "
    "2019): 40 hours a week at 80 dB(A), 75 for children; three decibels more halve the time. Strain: rest before it "
    "hurts. Your teacher's and the edition's word goes over the tool's."
)

TRACK_OPTIONS = (
    click.option(
        "--at",
        multiple=True,
        metavar="PLACE",
        help="One ornament, with as much around it as it needs, heard, then played, from slow to fast. Repeatable.",
    ),
    click.option(
        "--mode",
        type=click.Choice(["along", "guide", "echo", "alternate"]),
        help="The solo silent; quiet; heard first, then yours; played one way, then the other.  [default: along]",
    ),
    click.option(
        "--tempo",
        "tempo",
        multiple=True,
        metavar="T",
        help="60%, 72 beats a minute, or a ladder 50%..100%. Repeatable.  [default: 100%]",
    ),
    click.option("--steps", type=int, metavar="N", help="Steps of a ladder.  [default: 6]"),
    click.option("--times", type=int, metavar="N", help="How many times, at each tempo.  [default: 1]"),
    click.option("--count-in", type=int, metavar="BARS", help="Bars counted before you begin.  [default: 1]"),
    click.option(
        "--click",
        metavar="PATTERN",
        help="beats, bar, subdivided or off; groups such as 3+2; with ,silent every other bar.  [default: off]",
    ),
    click.option("--gap", type=int, metavar="BARS", help="Bars of rest between rounds.  [default: 0]"),
    click.option(
        "--pan", type=float, metavar="SPREAD", help="0 to 100: solo to the left, the others to the right.  [default: 0]"
    ),
    click.option(
        "--levels",
        metavar="NAME=DB,...",
        help="Of solo, accompaniment, click, drone, or of a part: solo=-12,bass=+6,viola=off.",
    ),
    click.option(
        "--drone",
        metavar="DEGREE",
        help="Hold a degree of the key, 1 to 7, a note such as D, or the bass, under the music.",
    ),
    click.option(
        "--cue",
        type=click.Choice(["bars", "beats", "none"]),
        help="After a fermata, lead-in or cadenza: a bar counted back in, two beats, or nothing.  [default: beats "
        "where there is a click]",
    ),
    click.option(
        "--rests", type=int, metavar="BARS", help="Cut longer rests of the solo to so many bars, which are counted."
    ),
    click.option(
        "--without",
        multiple=True,
        metavar="PART",
        help="Which of several solos is yours; the others are played. Repeatable.  [default: all of them]",
    ),
    click.option(
        "--change",
        multiple=True,
        metavar="PLACE[=WAY]",
        help="What alternates. Repeatable.  [default: every ornament of the solo that has another way]",
    ),
    click.option("--transpose", metavar="INTERVAL", help="M2 up, -m3 down, or semitones: -2."),
    click.option(
        "--repeats/--no-repeats",
        default=None,
        help="Play repeats as printed; bars named with --bars are played once.  [default: repeats]",
    ),
    click.option(
        "--embellish",
        type=READS,
        metavar="PLAN2",
        help="Another plan for repeats, later rounds, or to alternate with.",
    ),
)
SOUND_OPTIONS = (
    click.option("--pitch", type=float, metavar="HZ", help="A4: 380 to 480, such as 415.  [default: 440]"),
    click.option(
        "--tuning",
        metavar="NAME",
        help="equal, quarter-comma, sixth-comma, werckmeister-3, kirnberger-3, vallotti, young-1, young-2, just, "
        "pythagorean, or a file of twelve cents.",
    ),
    click.option("--key-note", metavar="NOTE", help="The note a tuning stands on.  [default: C]"),
)


@command(
    epilog="Examples: appui practice sonata.musicxml 'slow {tempo}.flac' --bars 1-8 --tempo 50%..100% --times 4 "
    f"--click beats; appui practice --set week.toml.  {CAUTION}"
)
@click.argument("score", required=False, type=READS)
@click.argument("outputs", nargs=-1, type=WRITES, metavar="OUT...")
@click.option("--set", "set_file", type=READS, metavar="FILE", help="Make all tracks of a set file (TOML).")
@options(MOVEMENT, SOLO, BARS, STYLE, PLAN, HARMONY, PATTERN, HOLD)
@click.option("--doubtful", is_flag=True, help="As --at, for every ornament that is doubtful and not yet decided.")
@options(*TRACK_OPTIONS, SLOWING, SHAPE, TRACK_TIME, *SOUND_OPTIONS, SOUNDFONT, JSON)
def practice(
    score: Path | None,
    outputs: tuple[Path, ...],
    set_file: Path | None,
    solo: str | None,
    style: str | None,
    plan: Path | None,
    chart: Path | None,
    pattern: str,
    hold: float | None,
    embellish: Path | None,
    soundfont: Path | None,
    slowing: str,
    shape: str,
    time: str,
    doubtful: bool,
    as_json: bool,
    **words: Any,
) -> None:
    """Write tracks to play along with: slower, in loops, in turn with you, at any pitch.

    OUT ends in .mid, .wav, .flac, .ogg or .mp3. With {tempo} in its name it is one file for each tempo, with {place}
    for each ornament, with {without} without each of several solos and without them all.
    """
    from appui.cli.show import print_json, progress
    from appui.practice.week import make_week, read_week

    if set_file is not None:
        _check_alone()
        week = read_week(set_file)
        made = make_week(week, say=progress())
        done = [(each, tuple(week.folder / name for name in each.files)) for each in made]
    else:
        if score is None or not outputs:
            raise UsageError("practice needs SCORE and at least one OUT, or --set FILE")
        wishes = wishes_of(
            solo=solo,
            style=style,
            plan=plan,
            chart=chart,
            pattern=pattern,
            hold=hold,
            slowing=slowing,
            shape=shape,
            time=time,
        )
        done = _single(score, outputs, wishes, embellish, soundfont, doubtful, words)
    if as_json:
        print_json({"tracks": [_record(each, paths) for each, paths in done]})
    else:
        for each, paths in done:
            for path in paths:
                click.echo(f"{path}  {each.length_s:.1f} s  {each.words}")
            for change in each.changes:
                click.echo(f"  {change}")


def track_asked(score: Path, wishes: Wishes, embellish: Path | None, words: dict[str, Any]) -> Track:
    """The one track that typed options ask for; what is typed is checked before the score is read."""
    from appui.interpret.interpretation import interpret
    from appui.practice.plan import make_track

    wish, interpretation = wish_from(words), interpret(score, wishes)
    again = interpretation.with_plan(embellish) if embellish else None
    return make_track(interpretation, wish, again=again)


def _check_alone() -> None:
    """Raises `UsageError` where something is typed that a set file says itself."""
    from click.core import ParameterSource

    context = click.get_current_context()
    for parameter in context.command.params:
        typed = context.get_parameter_source(parameter.name or "") == ParameterSource.COMMANDLINE
        if typed and parameter.name not in ("set_file", "as_json"):
            what = parameter.opts[0] if isinstance(parameter, click.Option) else "SCORE and OUT"
            raise UsageError(f"a set file names its own score, files and wishes; leave out {what}, or --set")


def _single(
    score: Path,
    outputs: tuple[Path, ...],
    wishes: Wishes,
    embellish: Path | None,
    soundfont: Path | None,
    doubtful: bool,
    words: dict[str, Any],
) -> list[tuple[Done, tuple[Path, ...]]]:
    from functools import partial

    from appui.cli.show import print_notices, progress
    from appui.interpret.interpretation import interpret
    from appui.practice.deliver import Job, deliver
    from appui.practice.plan import make_track
    from appui.practice.week import words_for
    from appui.sound.save import check_outputs

    check_outputs(outputs)
    # what is typed is checked before a score is read
    wish_from({**words, "at": words["at"][:1]})
    interpretation = interpret(score, wishes)
    again = interpretation.with_plan(embellish) if embellish else None
    named = _named(outputs, interpretation, words, doubtful=doubtful)
    check_outputs([path for _, paths in named for path in paths])
    said: dict[tuple[str, str], None] = {}

    def made(wish: Wish, title: str) -> Track:
        track = make_track(interpretation, wish, title=title, again=again)
        said.update(dict.fromkeys(track.notices))
        return track

    jobs = [
        Job(
            partial(made, each, paths[0].stem),
            tuple(paths),
            title=paths[0].stem,
            words=words_for(each, interpretation.style.name, wishes.plan, embellish),
        )
        for each, paths in named
    ]
    done = deliver(jobs, soundfont, say=progress())
    print_notices(tuple(said))
    return [(each, job.outputs) for each, job in zip(done, jobs, strict=True)]


def _named(
    outputs: tuple[Path, ...], player: Interpretation, words: dict[str, Any], *, doubtful: bool
) -> list[tuple[Wish, list[Path]]]:
    """The tracks that are asked for, each with its files: by place, tempo and solo as their names say."""
    from dataclasses import replace

    from appui.practice.place import doubtful_places
    from appui.practice.words import split_by_name

    asked = [*words["at"], *(doubtful_places(player) if doubtful else ())]
    places: list[str] = list(dict.fromkeys(player.sign_at(place).place for place in asked))
    if len(places) > 1 and not all("{place}" in path.name for path in outputs):
        raise UsageError(f"{len(places)} ornaments are {len(places)} tracks: write {{place}} in the name of OUT")
    solos = [part.name for part in player.solos]
    found: dict[str, tuple[Wish, list[Path]]] = {}
    for place in places or [""]:
        wish = wish_from({**words, "at": (place,) if place else ()})
        wish = replace(wish, movement=player.wishes.movement)
        for path in outputs:
            for name, each in split_by_name(path.name, wish, solos):
                found.setdefault(repr(each), (each, []))[1].append(path.parent / name)
    return list(found.values())


def wish_from(words: dict[str, Any]) -> Wish:
    """The wish of typed options; raises `UsageError` for several ornaments, which are several wishes."""
    from appui.practice.words import check_steps, wish_of

    said = {key.replace("_", "-"): value for key, value in words.items()}
    places = said.pop("at", ())
    if len(places) > 1:
        raise UsageError("one ornament at a time: name one --at")
    said["at"] = places[0] if places else None
    if said.get("steps") is not None and not (places and not said.get("tempo")):
        check_steps(list(said.get("tempo") or ()))
    for key in ("tempo", "change", "without"):
        said[key] = list(said.get(key) or ()) or None
    return wish_of(said)


def _record(done: Done, paths: tuple[Path, ...]) -> dict[str, Any]:
    from dataclasses import asdict

    record = {key: value for key, value in asdict(done).items() if key not in ("digest", "files")}
    return record | {"files": [str(path) for path in paths]}
