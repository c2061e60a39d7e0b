"""The leaning note (appoggiatura): on the beat, stressed, its share of the main note, which is its release.

    leaning s                    | lean: s of the main note, main: the rest
    leaning s the first f        | first small note: f, the others: what is left of s, main: the rest
    leaning s then silence r     | lean: s, main: the rest without r, silence: r      (Clementi 1801, read)

Lengths: half of a note of two equal parts, two thirds of one of three (C.P.E. Bach 1753, 2.2 §11, read); the style
decides, this module divides. A share of 1 is for a main note that is tied on, or that goes into the rest after it
(C.P.E. Bach 2.2 §12, read in part; Türk, from memory); elsewhere it would leave no main note, so half is taken and
said. Level: lean and release stand `weight_db` apart around the written level, the lean at it plus half, the release
minus half: louder than what follows (C.P.E. Bach 2.2 §7, read); the 4 dB are a design choice. Several small notes
share the length as one run, by their printed values: MusicXML leaves this open; the run is what its sister draft
takes (read). A run takes no more than its printed values, and stays quick.
"""

from __future__ import annotations

from dataclasses import replace

from appui.exact import Fraction
from appui.realize.contract import Cut, Stand, Tone
from appui.realize.quick import fill, q_of_ms

__all__ = ["lean"]

#  small notes in a run stay quick, however long their note (a design choice)
LONGEST_OF_A_RUN_MS = 150


def lean(stand: Stand) -> Cut:
    """Divide the room into lean and release."""
    share = stand.reading.fraction("share", Fraction(1, 2))
    notice = ""
    if share >= 1 and not stand.note.tied_on:
        if stand.spill_q > 0:
            return _into_rest(stand)
        share, notice = Fraction(1, 2), "its whole value would leave nothing of the main note: half is taken"
    made = stand.reading.number("made")
    lean_q = min(made if made is not None else stand.whole_q * share, stand.room_q)
    if len(stand.sign.small) > 1 and made is None and stand.reading.number("first") is None:
        lean_q = min(lean_q, _longest_run(stand))
    if lean_q == stand.room_q and not stand.note.tied_on:
        lean_q = stand.room_q / 2  # a passing grace of the next note has taken the rest: both keep sounding
    silence_q = min(stand.whole_q * stand.reading.fraction("silence", Fraction(0)), (stand.room_q - lean_q) / 2)
    return Cut(
        stand.start_q + lean_q,
        stand.end_q - silence_q,
        _leans(stand, lean_q),
        main_role="release",
        notice=notice,
    )


def _longest_run(stand: Stand) -> Fraction:
    """What several small notes take together at the most: their printed values, and no longer than quick notes are."""
    values = [note.value_q or Fraction(1, 4) for note in stand.sign.small]
    return min(sum(values, Fraction(0)), len(values) * q_of_ms(LONGEST_OF_A_RUN_MS, stand.qpm))


def _leans(stand: Stand, length_q: Fraction) -> tuple[Tone, ...]:
    """The small notes; where the profile says so a single one swells and falls instead of being struck."""
    swell = len(stand.sign.small) == 1 and (stand.reading.get("profile") or stand.profile) == "soft-swell-soft"
    first_q = stand.whole_q * stand.reading.fraction("first", Fraction(0))
    if len(stand.sign.small) > 1 and 0 < first_q < length_q:
        tones = _dwelling(stand, first_q, length_q)
    else:
        tones = fill(stand, stand.start_q, length_q, "lean", _levels(stand))
    return tuple(tone._replace(swell_db=abs(stand.weight_db)) for tone in tones) if swell else tones


def _dwelling(stand: Stand, first_q: Fraction, length_q: Fraction) -> tuple[Tone, ...]:
    """The first small note for so long, the others in what is left, by their printed values."""
    stressed, level = _levels(stand)
    first, others = stand.sign.small[0], replace(stand, sign=replace(stand.sign, small=stand.sign.small[1:]))
    return (
        *(stand.tone(stand.start_q, first_q, pitch, "lean", stressed) for pitch in first.sounding),
        *fill(others, stand.start_q + first_q, length_q - first_q, "lean", (level,)),
    )


def _levels(stand: Stand) -> tuple[Fraction, ...]:
    # in a run only the first note has the stress
    return (stand.weight_db / 2, Fraction(0)) if len(stand.sign.small) > 1 else (stand.weight_db / 2,)


def _into_rest(stand: Stand) -> Cut:
    """The lean takes the whole note, its release sounds in the rest."""
    release_q = min(stand.whole_q, stand.spill_q)
    return Cut(
        stand.end_q,
        stand.end_q + release_q,
        _leans(stand, stand.room_q),
        main_role="release",
    )
