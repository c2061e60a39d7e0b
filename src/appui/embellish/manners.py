"""The manners of varying, as a table; the words are of the trade, what they do in numbers is ours."""

from __future__ import annotations

from typing import NamedTuple

__all__ = ["MANNERS", "Manner"]


class Manner(NamedTuple):
    """One manner: what it changes of the plan of a phrase.

    `struck` is added to the share of beats whose plain note is struck, `busy` multiplies how many notes are made more
    of, `chromatic` is the share of notes that may have a semitone not of the key, `least_s` the seconds of a quick note
    at least, `figure` how much the phrase's own figures count, `families` the kinds of figures (none: all), `kinds` the
    kinds of places (none: all), `mood` of all places (none: as the movement has it).
    """

    about: str
    struck: float = 0.0
    busy: float = 1.0
    chromatic: float = 0.2
    least_s: float = 0.0
    figure: float = 1.0
    families: tuple[str, ...] = ()
    kinds: tuple[str, ...] = ()
    mood: str = ""


MANNERS: dict[str, Manner] = {
    "free": Manner("as composers varied their own repeats"),
    "methodical": Manner(
        "the plain notes on their beats, one figure of the phrase worked in sequence",
        struck=0.2,
        chromatic=0.08,
        figure=2.0,
        families=("turning", "running", "breaking"),
    ),
    "da-capo": Manner(
        "only what comes again, and the fermatas and closes",
        busy=1.15,
        kinds=("second-time", "cadence", "cadenza", "lead-in", "fermata"),
    ),
    "lament": Manner(
        "sighs and held notes, nothing quick",
        busy=0.6,
        chromatic=0.35,
        least_s=0.3,
        families=("sighing", "turning"),
        mood="sad",
    ),
}
