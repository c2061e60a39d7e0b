"""How reading, judging, realizing and writing MIDI grow with the length of a score.

    python -m tests.benchmarks.scale [--notes 1000000]

Writes scores of four parts in quavers with a small note in every fourth bar, each ten times as long as the one before,
and runs `appui --no-cache render SCORE out.mid --no-repeats` on them in a process of its own: seconds of the processor,
microseconds a note, peak memory.
"""

import argparse
import resource
import tempfile
from pathlib import Path

from tests.benchmarks._timing import APPUI, run

PARTS = ("Oboe", "Violin", "Viola", "Violoncello")
#  one bar of eight quavers a part: the solo goes up and down the scale, the others break chords under it
CHORDS = (("C", "E", "G"), ("G", "B", "D"), ("A", "C", "E"), ("F", "A", "C"))


def note(step: str, octave: int) -> str:
    """A quaver."""
    pitch = f"<pitch><step>{step}</step><octave>{octave}</octave></pitch>"
    return f"<note>{pitch}<duration>1</duration><voice>1</voice><type>eighth</type></note>"


def bar(part: int, number: int) -> str:
    """One bar of one part."""
    chord = CHORDS[number % len(CHORDS)]
    head = "<attributes><divisions>2</divisions></attributes>" if number == 1 else ""
    if part:
        inside = "".join(note(chord[(place + part) % 3], 5 - part) for place in range(8))
    else:
        pitch = f"<pitch><step>{chord[2]}</step><octave>5</octave></pitch>"
        small = f"<note><grace/>{pitch}<voice>1</voice><type>eighth</type></note>"
        inside = (small if number % 4 == 0 else "") + "".join(note("CDEFGFED"[place], 5) for place in range(8))
    return f'<measure number="{number}">{head}{inside}</measure>\n'


def write(path: Path, notes: int) -> None:
    """A score of so many notes."""
    bars = notes // (8 * len(PARTS))
    with path.open("w", encoding="utf-8") as out:
        listed = "".join(
            f'<score-part id="P{i}"><part-name>{name}</part-name></score-part>' for i, name in enumerate(PARTS)
        )
        out.write(f'<score-partwise version="4.0"><part-list>{listed}</part-list>\n')
        for part in range(len(PARTS)):
            out.write(f'<part id="P{part}">\n')
            out.writelines(bar(part, number) for number in range(1, bars + 1))
            out.write("</part>\n")
        out.write("</score-partwise>\n")


def main() -> None:
    """Ten thousand notes, a hundred thousand, a million."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--notes", type=int, default=1_000_000)
    words = parser.parse_args()
    resource.setrlimit(resource.RLIMIT_CORE, (0, 0))
    with tempfile.TemporaryDirectory() as folder:
        path, out = Path(folder) / "long.musicxml", Path(folder) / "out.mid"
        count = 10_000
        while count <= words.notes:
            write(path, count)
            one = run([*APPUI, "render", str(path), str(out), "--no-repeats"])
            size, each_us = path.stat().st_size / 1e6, one.processor_s / count * 1e6
            sizes = f"{count:9,} notes {size:5.0f} MB {one.processor_s:8.2f} s"
            print(f"{sizes} {each_us:5.0f} us a note {one.memory_mib:6.0f} MiB", flush=True)
            count *= 10


if __name__ == "__main__":
    main()
