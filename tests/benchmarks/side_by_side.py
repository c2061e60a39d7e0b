"""One table: this tool, music21, partitura, verovio and the fluidsynth command line on the same scores, in turn.

    python -m tests.benchmarks.side_by_side [SCORE ...] [--jobs midi,wav1] [--runs 3] [--processor]

Rows are jobs, each on three long movements and a short one of music21's corpus or on the scores named; a cell is a
whole process, from its start to its end, loading its libraries on the way, where nothing else is said: the median in
seconds by the clock (with `--processor`, of processor time), how many times this tool's time that is, and the highest
peak of memory. Nothing is taken from a cache. The machine names itself over the table.

`read`      a score into the library's own form.
`midi`      a score to a MIDI file, with its repeats. This tool judges the harmony of the movement and realizes every
            sign on the way; the others play small notes with no length or half the main note's, and signs plain.
`survey`    every sign with its harmony and reading, printed.
`xml`       a score read and written as MusicXML; this tool writes its solo out in notes.
`svg`       a score engraved, all pages; this tool writes its solo out in notes and engraves with verovio.
`wav1`      performed music to a WAV file, on one core, without repeats: this tool from a performance at hand with its
            libraries loaded, the command line from the MIDI file of it, from its start to its end.
`wav2`      the same on two cores; the command line with `synth.cpu-cores=2`.
`wav`       this tool from the score, as a whole process on two cores; the command line again from the MIDI file.
`practice`  thirty tracks, five passages of this tool's demo at six tempos, four rounds with clicks. This tool starts
            from the score and measures loudness and true peak too; the command line gets the MIDI files of the tracks,
            one after another.
`again`     the same set once more, nothing changed.
`help`      `appui --help`.
"""

import argparse
import re
import shutil
import sys
import tempfile
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from appui.demo import demo_score
from appui.sound.soundfont import soundfont_path
from tests.benchmarks._timing import APPUI, FLUIDSYNTH, MOVEMENTS, Contenders, Inside, Run, in_turn, machine, run

PEERS = "appui music21 partitura verovio fluidsynth".split()
MUSIC21 = "import sys, music21; s = music21.converter.parse(sys.argv[1], forceSource=True)"
#  where it finds FluidSynth's module, partitura fetches a SoundFont from the network as it is imported
PARTITURA = (
    "import sys; sys.modules['fluidsynth'] = None; import warnings; warnings.simplefilter('ignore'); "
    "import partitura; s = partitura.load_score(sys.argv[1])"
)
UNFOLDED = "partitura.save_score_midi([partitura.score.unfold_part_maximal(p) for p in s.parts], sys.argv[2])"
VEROVIO = "import sys, verovio; t = verovio.toolkit(); t.loadFile(sys.argv[1])"
RENDER = """
import sys, time
from pathlib import Path
import fluidsynth, numpy
from appui.interpret.interpretation import interpret
from appui.perform.play import play
from appui.sound.audio import render_audio
interpretation = interpret(sys.argv[1])
performance = play(interpretation, interpretation.order(None, repeats=False))
clock, processor = time.perf_counter(), time.process_time()
render_audio(performance, Path(sys.argv[2]))
print(time.perf_counter() - clock, time.process_time() - processor)
"""
SET = """
score = "{score}"
folder = "{folder}"
formats = ["{suffix}"]
click = "beats"
times = 4
tempo = "50%..100%"
steps = 6

[[track]]
name = "{{bars}} {{tempo}}"
bars = {bars}
"""


def code(text: str, score: Path, *more: Path) -> list[list[str]]:
    """A few lines of Python on a score."""
    return [[sys.executable, "-c", text, str(score), *map(str, more)]]


def read(score: Path, _: Path) -> Contenders:
    """Into memory."""
    return {
        "appui": code("import sys; from appui.musicxml.read.score import read_score; read_score(sys.argv[1])", score),
        "music21": code(MUSIC21, score),
        "partitura": code(PARTITURA, score),
        "verovio": code(VEROVIO, score),
    }


def midi(score: Path, folder: Path) -> Contenders:
    """To a MIDI file."""
    out = folder / "out.mid"
    return {
        "appui": [[*APPUI, "render", str(score), str(out)]],
        "music21": code(f"{MUSIC21}; s.write('midi', sys.argv[2])", score, out),
        "partitura": code(f"{PARTITURA}; {UNFOLDED}", score, out),
        "verovio": code(f"{VEROVIO}; t.renderToMIDIFile(sys.argv[2])", score, out),
    }


def survey(score: Path, _: Path) -> Contenders:
    """What only this tool does."""
    return {"appui": [[*APPUI, "survey", str(score)]]}


def xml(score: Path, folder: Path) -> Contenders:
    """To MusicXML."""
    out = folder / "out.musicxml"
    return {
        "appui": [[*APPUI, "notate", str(score), str(out)]],
        "music21": code(f"{MUSIC21}; s.write('musicxml', sys.argv[2])", score, out),
        "partitura": code(f"{PARTITURA}; partitura.save_musicxml(s, sys.argv[2])", score, out),
    }


def svg(score: Path, folder: Path) -> Contenders:
    """To pictures of all pages."""
    pages = "[t.renderToSVGFile(f'{sys.argv[2]}{n}.svg', n) for n in range(1, t.getPageCount() + 1)]"
    return {
        "appui": [[*APPUI, "notate", str(score), str(folder / "out.svg")]],
        "verovio": code(f"{VEROVIO}; {pages}", score, folder / "page"),
    }


def wav(score: Path, folder: Path, cores: int = 1) -> Contenders:
    """Performed music to sound."""
    return {"appui": [Inside(code(RENDER, score, folder / "out.wav")[0])], "fluidsynth": [peer(score, folder, cores)]}


def wav2(score: Path, folder: Path) -> Contenders:
    """The same on two cores."""
    return wav(score, folder, 2)


def whole(score: Path, folder: Path) -> Contenders:
    """A score to sound."""
    ours = [*APPUI, "render", str(score), str(folder / "out.wav"), "--no-repeats"]
    return {"appui": [ours], "fluidsynth": [peer(score, folder, 2)]}


def peer(score: Path, folder: Path, cores: int) -> list[str]:
    """The command line on this tool's MIDI file of a score."""
    ready = folder / "ready.mid"
    run([*APPUI, "render", str(score), str(ready), "--no-repeats"])
    out = str(folder / "out.wav")
    return [*FLUIDSYNTH, "-o", f"synth.cpu-cores={cores}", "-F", out, str(soundfont_path()), str(ready)]


def practice(score: Path, folder: Path) -> Contenders:
    """A set of tracks to sound."""
    ours = again(score, folder)["appui"]
    files = sorted((folder / "mid").glob("*.mid"))
    out, font = str(folder / "x.wav"), str(soundfont_path())
    return {"appui": ours, "fluidsynth": [[*FLUIDSYNTH, "-F", out, font, str(file)] for file in files]}


def again(score: Path, folder: Path) -> Contenders:
    """A set of tracks that is there."""
    part = score.read_text(encoding="utf-8").split("</part>")[0]
    bars = re.findall(r'<measure[^>]* number="([^"]+)"', part)
    size = len(bars) // 5
    passages = [f"{bars[n * size]}-{bars[n * size + size - 1]}" for n in range(5)]
    shutil.copy(score, folder)
    for suffix in ("mid", "wav"):
        text = SET.format(score=score.name, folder=suffix, suffix=suffix, bars=passages)
        (folder / f"{suffix}.toml").write_text(text)
        run([*APPUI, "practice", "--set", str(folder / f"{suffix}.toml")])
    return {"appui": [[*APPUI, "practice", "--set", str(folder / "wav.toml")]]}


def helped(_: Path, __: Path) -> Contenders:
    """What a command costs that does nothing."""
    return {"appui": [[*APPUI, "--help"]]}


@dataclass(frozen=True)
class Job:
    """What is done: its title, the commands of each contender, on how many cores, whether on our demo only, anew."""

    title: str
    commands: Callable[[Path, Path], Contenders]
    cores: int | None = None
    demo: bool = False
    anew: bool = False


JOBS = {
    "help": Job("`appui --help`", helped, demo=True),
    "read": Job("read", read),
    "midi": Job("score to MIDI", midi),
    "survey": Job("survey", survey),
    "xml": Job("to MusicXML", xml),
    "svg": Job("to SVG", svg),
    "wav1": Job("performance to WAV, 1 core", wav, cores=1),
    "wav2": Job("performance to WAV, 2 cores", wav2, cores=2),
    "wav": Job("score to WAV, 2 cores", whole, cores=2),
    "practice": Job("30 practice tracks", practice, demo=True, anew=True),
    "again": Job("the same, nothing changed", again, demo=True),
}


def cells(taken: dict[str, Run | None], *, processor: bool) -> list[str]:
    """A row's cells, a contender each."""

    def seconds(one: Run) -> float:
        return one.processor_s if processor else one.clock_s

    def cell(name: str) -> str:
        if name not in taken:
            return ""
        one, ours = taken[name], taken["appui"]
        if one is None:
            return "fails"
        times = "" if one is ours or ours is None else f" ({seconds(one) / seconds(ours):.2f})"
        return f"{seconds(one):.2f} s{times} {one.memory_mib:.0f} MiB"

    return [cell(name) for name in PEERS]


def row(job: Job, score: Path, runs: int) -> dict[str, Run | None]:
    """The contenders of one job on one score."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)

        def fresh() -> None:
            if job.anew:
                shutil.rmtree(folder / "wav", ignore_errors=True)

        return in_turn(job.commands(score, folder), runs, cores=job.cores, before=fresh)


def line(first: str, second: str, rest: list[str]) -> str:
    """A line of the table."""
    return " | ".join([f"| {first:27}", f"{second:25}", *(f"{text:23}" for text in rest)]).rstrip() + " |"


def main() -> None:
    """Print the table, a row as soon as it is measured."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("scores", nargs="*", type=Path, metavar="SCORE")
    parser.add_argument("--jobs", default=",".join(JOBS), help="some of %(default)s")
    parser.add_argument("--runs", type=int, default=3)
    parser.add_argument("--processor", action="store_true", help="seconds of processor time, not by the clock")
    words = parser.parse_args()
    unknown = [name for name in words.jobs.split(",") if name not in JOBS]
    if unknown:
        parser.error(f"no job {unknown[0]}: there are {', '.join(JOBS)}")
    scores = {score.name: score for score in words.scores} or MOVEMENTS
    print(f"{machine()}; medians of {words.runs} runs\n", flush=True)
    print(line("", "", PEERS))
    print("|---" * (len(PEERS) + 2) + "|", flush=True)
    for name in words.jobs.split(","):
        job = JOBS[name]
        on = {"": demo_score()} if name == "help" else {"our demo": demo_score()} if job.demo else scores
        for title, score in on.items():
            print(line(job.title, title, cells(row(job, score, words.runs), processor=words.processor)), flush=True)


if __name__ == "__main__":
    main()
