"""All that is tuned, in one table.

Where the values come from: the form of the model from a study on expert-labelled scores; the values from 708 small
notes in 54 scores with an expert's chord (not part of this project), scored by the chance given to the whole chord as
well as to the small note, then rounded. So what is measured on those labels is a fit: what a fit from round values is
worth on scores it has not seen is told by `tests/benchmarks/harmony_accuracy.py --leave-out`. The finer the fit, the
worse it did there, so only the few moves worth most were allowed in it: evidence against foreign notes a little
stronger, a foreign bass not so bad. The optimum is flat: most values can move by a third without changing what is
measured.
"""

from __future__ import annotations

from dataclasses import dataclass

__all__ = ["Parameters"]


@dataclass(frozen=True, slots=True)
class Parameters:
    """What is weighed, and how much. All are pure numbers; evidence is in natural logarithms before `sharpness`."""

    onset_bonus: float = 0.45  # a note that starts in the slice; a tie does not start
    cap: float = 1.7  # most one pitch class can weigh in a slice
    passing: float = 0.95  # what is left of a short note that steps in and out
    member: float = 1.1  # a note of the chord
    foreign: float = 1.3  # a note outside it
    missing_root: float = 0.3  # a note of the chord that does not sound
    missing_third: float = 0.5
    missing_fifth: float = 0.1
    missing_seventh: float = 0.0
    bass_root: float = 0.35  # the lowest note is the chord's root, third ...
    bass_third: float = 0.15
    bass_fifth: float = -0.45
    bass_seventh: float = -1.5
    bass_foreign: float = -0.2
    bass_alone: float = 0.3  # what is left of that where the lowest note is the only one
    nearby: float = 1.8  # how common the chord's notes are around: a local key, without naming it
    nearby_slices: float = 24.0  # how far around, in slices, until it counts a third
    prior: float = 0.6  # of the type
    sharpness: float = 1.35  # evidence against the cost of a change
    change: float = 3.0  # cost of a change of chord
    falling_fifth: float = 1.0  # what a root falling a fifth saves of it
    share_parts: float = 0.5  # of the segmentation in parts of a beat in the average
    share_beats: float = 0.25  # of the one in whole beats
    share_window: float = 0.25  # of the fit to what sounds until the next beat
    spread: float = 1.2  # stretches the logit of a membership chance, so that it is right as often as it says
    sounding: float = 1.5  # added to that logit for what another voice sounds at the moment
    surest: float = 6.0  # the logit is held there before: the experts' labels are wrong now and then
    carried: float = 0.4  # what is left of certainty where nothing but the sign's own voice sounds
    entering: float = 0.8  # the same where the others enter only after the main note and its beat
    unison: float = 0.8  # the same where all voices of the bar sound the same note
    doubtful_below: float = 0.75  # below this chance of being right a verdict is called doubtful
    sure_of_key: float = 0.35  # below this chance a local key is not named, nor degrees in it
