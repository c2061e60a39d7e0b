"""Which General MIDI program plays a part: the file's own, else by the part's name (numbers: General MIDI, read.

0-based here).
"""

from __future__ import annotations

from appui.score.model import Part

__all__ = ["PROGRAMS", "program_of"]

# words in a part's name, most telling first -> program on the wire
PROGRAMS: tuple[tuple[str, int], ...] = (
    ("english horn", 69),
    ("cor anglais", 69),
    ("oboe", 68),
    ("hautb", 68),
    ("bassoon", 70),
    ("fagot", 70),
    ("clarin", 71),
    ("klarin", 71),
    ("chalumeau", 71),
    ("basset", 71),
    ("piccolo", 72),
    ("flaut", 73),
    ("flute", 73),
    ("flöte", 73),
    ("travers", 73),
    ("recorder", 74),
    ("blockfl", 74),
    ("trumpet", 56),
    ("tromb", 57),
    ("tromp", 56),
    ("horn", 60),
    ("corno", 60),
    ("harpsichord", 6),
    ("cembalo", 6),
    ("clavecin", 6),
    ("continuo", 6),
    ("organ", 19),
    ("orgel", 19),
    ("pianoforte", 0),
    ("piano", 0),
    ("klavier", 0),
    ("guitar", 24),
    ("harp", 46),
    ("violoncello", 42),
    ("cello", 42),
    ("violone", 43),
    ("contrabass", 43),
    ("double bass", 43),
    ("kontrabass", 43),
    ("violin", 40),
    ("viola", 41),
    ("bratsche", 41),
    ("basso", 42),
    ("soprano", 52),
    ("mezzo", 52),
    ("alto", 52),
    ("tenor", 52),
    ("baritone", 52),
    ("voice", 52),
    ("singstimme", 52),
    ("canto", 52),
    ("gesang", 52),
    ("string", 48),
)


def program_of(part: Part) -> int:
    """Program 0..127. A name that says another instrument outweighs program 0.

    Which many files write without meaning it.
    """
    named = next(
        (
            program
            for text in (part.name.lower(), part.instrument.lower())
            for word, program in PROGRAMS
            if word in text
        ),
        None,
    )
    if part.program:
        return part.program
    return named if named is not None else part.program or 0
