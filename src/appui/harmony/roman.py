"""Roman numerals: a chord's degree in a key, its quality by the size of the letters, its figures.

Capitals for a major third, small letters for a minor one, ``o`` diminished, ``ø`` half-diminished (common practice).
The raised leading note of minor carries no sharp: in minor ``vii`` of a diminished chord is the leading note's. A chord
foreign to the key that is the dominant of one of its degrees is named so (``V7 of V``, ``viio7 of ii``), an augmented
sixth by its nation, anything else by its altered degree (``bII6``).
"""

from __future__ import annotations

from appui.harmony.spelling import NamedChord, figure_of

__all__ = ["roman_of"]

_DEGREES = ("I", "II", "III", "IV", "V", "VI", "VII")
#  fifths above the tonic of degrees 1 to 7
_SCALES = {False: (0, 2, 4, -1, 1, 3, 5), True: (0, 2, -3, -1, 1, -4, -2)}
#  fifths above the tonic: the degrees that can have a dominant of their own
_TARGETS = {
    False: {2: "ii", 4: "iii", -1: "IV", 1: "V", 3: "vi"},
    True: {-3: "III", -1: "iv", 1: "V", -4: "VI", -2: "VII"},
}
_SIGNS = {"diminished": "o", "diminished seventh": "o", "half-diminished": "ø"}
_SIXTHS = {"German sixth": "Ger6", "Italian sixth": "It6"}
_LEADING_NOTE = 5


def roman_of(chord: NamedChord, tonic: int, *, minor: bool) -> str:
    """Roman numeral in a key (`tonic` on the line of fifths), with figures: ``V6/5``, ``ii``, ``viio7 of V``."""
    if chord.type.name in _SIXTHS:
        return _SIXTHS[chord.type.name]
    gap, target = chord.fifths[0] - tonic, _target(chord, tonic, minor=minor)
    if target:
        return f"{'vii' if chord.type.name in _SIGNS else 'V'}{_tail(chord)} of {target}"
    if gap == _LEADING_NOTE and chord.type.name in _SIGNS:
        return f"vii{_tail(chord)}"
    return _degree(chord, gap, minor=minor) + _tail(chord)


def _tail(chord: NamedChord) -> str:
    return _SIGNS.get(chord.type.name, "") + figure_of(chord)


def _target(chord: NamedChord, tonic: int, *, minor: bool) -> str:
    """The degree a chord is the dominant or the leading-note chord of; empty where it belongs to the key as it is."""
    gap = chord.fifths[0] - tonic
    if chord.type.name in ("dominant seventh", "major"):
        # fifth relation; the key's own dominant and, in minor, its own major triads are no one else's
        own = gap == 1 or (chord.type.name == "major" and _in_key(chord, tonic, minor=minor))
        return "" if own else _TARGETS[minor].get(gap - 1, "")
    if chord.type.name in _SIGNS:
        own = gap == _LEADING_NOTE or _in_key(chord, tonic, minor=minor)
        return "" if own else _TARGETS[minor].get(gap - _LEADING_NOTE, "")
    return ""


def _in_key(chord: NamedChord, tonic: int, *, minor: bool) -> bool:
    return all(fifth - tonic in _SCALES[minor] for fifth in chord.fifths)


def _degree(chord: NamedChord, gap: int, *, minor: bool) -> str:
    # seven fifths are a sharp or a flat on the same letter, so every gap has exactly one degree
    degree, turns = next((d, (gap - fifth) // 7) for d, fifth in enumerate(_SCALES[minor]) if (gap - fifth) % 7 == 0)
    name = _DEGREES[degree].lower() if chord.type.semitones[1] == 3 else _DEGREES[degree]
    return ("#" * turns if turns > 0 else "b" * -turns) + name
