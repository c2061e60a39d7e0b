"""The command `click`: the beats of a score, with its meters, tempos and holds, and nothing else."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from click import Choice, argument, echo, option

from appui.cli.command import WRITES, command
from appui.cli.options import BARS, HOLD, SCORE, SOUNDFONT, TEMPO, options, wishes_of

if TYPE_CHECKING:
    from appui.interpret.interpretation import Interpretation
    from appui.practice.track import Track

__all__ = ["click"]


@command(epilog="Example: appui click concerto.musicxml click.mp3 --movement 2 --tempo 60%")
@SCORE
@argument("outputs", nargs=-1, required=True, type=WRITES, metavar="OUT...")
@options(BARS, TEMPO, HOLD)
@option(
    "--click",
    "pattern",
    default="beats",
    show_default=True,
    metavar="PATTERN",
    help="beats, bar or subdivided; groups such as 3+2; with ,silent every other bar.",
)
@option("--count-in", type=int, default=1, show_default=True, metavar="BARS", help="Bars counted before.")
@option(
    "--cue",
    type=Choice(["bars", "beats", "none"]),
    default="beats",
    show_default=True,
    help="After a fermata: a bar counted back in, two beats, or nothing.",
)
@option("--repeats/--no-repeats", default=True, show_default=True, help="Play repeats as printed.")
@options(SOUNDFONT)
def click(
    score: Path,
    outputs: tuple[Path, ...],
    bars: str | None,
    tempo: str | None,
    hold: float | None,
    pattern: str,
    count_in: int,
    cue: str,
    repeats: bool,
    soundfont: Path | None,
) -> None:
    """Write a click that follows the score: its meters, tempos and fermatas, and nothing else.

    OUT ends in .mid, .wav, .flac, .ogg or .mp3. In a MIDI file tempo words and bars are markers.
    """
    from appui.cli.show import progress
    from appui.interpret.interpretation import interpret
    from appui.practice.deliver import Job, deliver
    from appui.practice.levels import GROUPS
    from appui.practice.plan import make_track
    from appui.practice.words import wish_of
    from appui.sound.save import check_outputs

    check_outputs(outputs)
    said = {"click": pattern, "count-in": count_in, "cue": cue, "repeats": repeats, "bars": bars}
    wish = wish_of(said | {"tempo": tempo or "100%", "levels": ",".join(f"{each}=off" for each in GROUPS[:2])})
    player = interpret(score, wishes_of(hold=hold, tempo=tempo))
    track = make_track(player, wish, title=f"{player.score.title}: click")
    _mark(player, track, bars, repeats=repeats)
    (done,) = deliver([Job(lambda: track, outputs, title=track.title)], soundfont, say=progress())
    for path in outputs:
        echo(f"{path}  {done.length_s:.1f} s")
    for line in _told(player, bars):
        echo(f"  {line}")


def _mark(player: Interpretation, track: Track, bars: str | None, *, repeats: bool) -> None:
    """Put the tempo words into the track, where they stand in the music."""
    from appui.perform.model import Mark

    words = {mark.onset_q: mark.words for mark in player.score.tempos if mark.words}
    places = [mark.onset_q for mark in track.marks if mark.kind == "bar"]
    for at_q, each in zip(places, player.order(bars, repeats=repeats), strict=False):
        bar = player.score.bars[each.bar]
        track.marks += (
            Mark(at_q + onset_q - bar.onset_q, "round", said)
            for onset_q, said in words.items()
            if bar.onset_q <= onset_q < bar.onset_q + bar.length_q
        )


def _told(player: Interpretation, bars: str | None) -> Sequence[str]:
    """Meter and tempo of the first bar, and where they change, as printed."""
    from appui.score.bars import bar_range
    from appui.score.signs import bar_names

    lines, meter, names = [], None, bar_names(player.score)
    score, (first, last) = player.score, bar_range(player.score, bars)
    tempos = {score.bar_at(mark.onset_q).index: mark for mark in reversed(score.tempos)}
    tempos[first] = score.tempo_at(score.bars[first].onset_q)
    for bar in score.bars[first : last + 1]:
        mark = tempos.get(bar.index)
        if bar.meter == meter and mark is None:
            continue
        said = [f"{bar.meter.beats}/{bar.meter.beat_type}"] if bar.meter != meter else []
        if mark is not None:
            pace = f"{float(mark.qpm * player.factor / bar.meter.beat_q):.0f} beats a minute"
            said += [*([mark.words] if mark.words else []), f"{pace} ({mark.origin})"]
        lines.append(f"bar {names[bar.index]}: {', '.join(said)}")
        meter = bar.meter
    return lines
