"""The tones figures ask for over a bass note, and how each goes on."""

from __future__ import annotations

from collections.abc import Sequence

from appui.accompany.chord import NEVER, Tone
from appui.harmony.figured_bass import Step
from appui.harmony.places import letter_place, place_of, step_letter
from appui.score.pitch import Pitch

__all__ = ["tones_of"]


def tones_of(steps: Sequence[Step], bass: Pitch, leading: int) -> tuple[Tone, ...]:
    """The tones of the steps; `leading` is the place of the leading note in force."""
    on_bass = place_of(bass)
    sixth = any(step.number == 6 for step in steps)
    tones = [_tone(step, bass, leading, sixth=sixth) for step in steps]
    return tuple({tone.place: tone for tone in reversed(tones) if tone.place != on_bass or tone.missing < 1}.values())[
        ::-1
    ]


def _tone(step: Step, bass: Pitch, leading: int, *, sixth: bool) -> Tone:
    place = letter_place(step_letter(bass, step.number)) + 7 * step.alter
    rises = place == leading
    lead = NEVER if rises or "!" in step.marks else None
    if step.number == 8:
        # the bass itself: doubled first in a triad, later in a sixth chord
        return Tone(place, 0.0, lead or (4.0 if sixth else 0.0))
    doubled = lead or (1.5 if sixth else {5: 2.0, 3: 4.0}.get(step.number, 3.0))
    falls = "always" if "v" in step.marks else "held" if "h" in step.marks else ""
    return Tone(place, 6.0 if "?" in step.marks else 60.0, doubled, falls, rises, "~" in step.marks)
