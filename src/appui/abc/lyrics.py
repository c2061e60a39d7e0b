"""Words under the notes (`w:`), one syllable a note; figures under a bass are typed the same way.

Source: the ABC standard 2.1, chapter 5 (memory): blanks and hyphens part syllables, ``*`` leaves a note out, ``_``
holds the syllable before, ``~`` is a blank inside a syllable, ``|`` goes on to the next bar.
"""

from __future__ import annotations

import re
from collections.abc import Sequence

from appui.abc.items import Struck

__all__ = ["put_lyrics"]

_SYLLABLE = re.compile(r"\||\*|_|(?:\\-|[^\s\-|*_])+-?|-")


def put_lyrics(text: str, notes: Sequence[Struck | None]) -> list[Struck]:
    """Put a line of words under notes (`None` for barlines); returns the notes that have got a syllable."""
    found: list[Struck] = []
    at = 0
    for word in _SYLLABLE.findall(text):
        if word == "|":
            while at < len(notes) and notes[at] is not None:
                at += 1
            at += 1
            continue
        while at < len(notes) and notes[at] is None:
            at += 1
        if at >= len(notes):
            break
        note = notes[at]
        at += 1
        if word not in ("*", "_", "-") and note is not None:
            note.lyrics.append(word.rstrip("-").replace("~", " ").replace("\\", "") or word)
            found.append(note)
    return found
