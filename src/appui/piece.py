"""The door to everything here from Python: open a piece, look at its ornaments, play it, keep what was played.

    >>> import appui
    >>> from appui.demo import demo_score
    >>> piece = appui.open(demo_score(), style="harmony", tempo="60%")
    >>> piece.solo
    'Oboe'
    >>> take = piece.play(bars="1-4")
    >>> [part.name for part in take.performance.parts][:2]
    ['Oboe', 'Violin']

Conventions: `*_q` are exact fractions of a quarter note, `*_s` seconds, `*_db` decibels. Places are part, bar and beat,
as in ``oboe.12.3``; bars are named by the numbers printed over them. What cannot be is an `AppuiError`, and says why.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path
from typing import TYPE_CHECKING, Any

from appui.errors import PlaceError
from appui.exact import Number, fraction_from
from appui.interpret.interpretation import Interpretation, interpret
from appui.interpret.realizing import realize
from appui.interpret.wishes import Shape, Slowing, Timing, Wishes
from appui.perform.model import Performance
from appui.perform.perform import only
from appui.perform.play import play_realized
from appui.realize.contract import Tone
from appui.score.model import Score
from appui.score.signs import Sign
from appui.style.choose import Choice
from appui.style.reading import Reading

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    from appui.harmony.model import Verdict

__all__ = ["Ornament", "Piece", "Take", "open_piece"]


def open_piece(
    path: str | Path,
    *,
    solo: str | None = None,
    style: str | None = None,
    plan: str | Path | None = None,
    tempo: str | None = None,
    slowing: Slowing = "scaled",
    weight_db: Number | None = None,
    hold: Number | None = None,
    year: int | None = None,
    chart: str | Path | None = None,
    pattern: str = "held",
    movement: str | int | None = None,
    shape: Shape = "plain",
    time: Timing = "strict",
) -> Piece:
    """Open a score to be judged and played; `appui.open` is this function.

    `solo` is the name of the solo part, its beginning or its number; left out, it is guessed. `style` is a name that
    `appui.style_names` gives, or a path of a ``.toml`` file of your own; left out, the plan's, else ``harmony``. `plan`
    is a file of your choices. `tempo` is ``60%`` of the written one or beats a minute (``72``); with `slowing`
    ``natural`` short graces and trills keep their own speed below tempo. `weight_db` is how much louder a leaning note
    is than its release, -12 to 24 dB; left out, the style's. `hold` is how many times its length a plain fermata lasts,
    1 to 20. `year` says when the music is from. `chart` is a file of chords for a score that has none, `pattern` how it
    is played: ``held``, ``offbeats``, ``alberti``, ``arpeggio`` or ``none``. `movement` is the number of one of several
    movements in the file, or words over it such as ``adagio``. `shape` ``shaped`` gives each note a level as players
    shape them, `time` ``shaped`` each beat a length; as they are, levels are what is printed and the beat is even.

    Raises `ScoreError`, `PlaceError`, `PlanError`, `StyleError`, `ChartError` or `UsageError`: each says which file,
    where in it, what is wrong and what to do.
    """
    wishes = Wishes(
        solo=solo,
        style=style,
        plan=Path(plan) if plan is not None else None,
        tempo=tempo,
        slowing=slowing,
        weight_db=fraction_from(weight_db, "weight_db", -12, 24) if weight_db is not None else None,
        hold=fraction_from(hold, "hold", 1, 20) if hold is not None else None,
        year=year,
        chart=Path(chart) if chart is not None else None,
        pattern=pattern,
        movement=str(movement) if movement is not None else None,
        shape=shape,
        time=time,
    )
    return Piece(interpret(path, wishes))


@dataclass(frozen=True, slots=True)
class Ornament:
    """One ornament of a piece: where it stands, what the harmony says of it, and how it is played.

    `place` is its name, as in ``oboe.12.3``; `kind` what is printed (``small notes``, ``trill`` …); `verdict` the
    chord under it and what each small note is in that chord, `None` for ornaments the harmony has no say in; `choice`
    the way of playing it that is taken, with reason, source and the others worth hearing.
    """

    place: str
    kind: str
    sign: Sign
    verdict: Verdict | None
    choice: Choice

    @property
    def why(self) -> str:
        """The reason for the choice, with its source."""
        return f"{self.choice.reason} [{self.choice.source}]"

    @property
    def alternatives(self) -> tuple[str, ...]:
        """The other ways of playing it that are worth hearing, in words `Piece.play` takes."""
        return self.choice.alternatives


class Piece:
    """A score as one player means to play it. Nothing of it changes: another tempo or plan is another `Piece`.

    `interpretation` is what the rooms behind this door work with.
    """

    def __init__(self, interpretation: Interpretation) -> None:
        self.interpretation = interpretation

    @property
    def score(self) -> Score:
        """The score as it was read."""
        return self.interpretation.score

    @property
    def title(self) -> str:
        """The title printed in the score, or the file's name."""
        return self.score.title

    @property
    def parts(self) -> tuple[str, ...]:
        """The names of the parts, in the order of the score."""
        return tuple(part.name for part in self.score.parts)

    @property
    def solo(self) -> str:
        """The name of the solo part."""
        return self.interpretation.solo.name

    @cached_property
    def signs(self) -> tuple[Ornament, ...]:
        """The ornaments of the solo, in the order they are played."""
        index = self.interpretation.solo.index
        return tuple(one for one in self.all_signs if one.sign.part == index)

    @cached_property
    def all_signs(self) -> tuple[Ornament, ...]:
        """The ornaments of all parts, part by part."""
        verdict, choices = self.interpretation.analysis.verdict, self.interpretation.choices
        return tuple(
            Ornament(sign.place, sign.kind, sign, verdict(sign), choices[sign.place])
            for sign in self.interpretation.signs
        )

    def sign_at(self, place: str) -> Ornament:
        """The ornament at a place; raises `PlaceError` naming the nearest."""
        sign = self.interpretation.sign_at(place)
        return next(one for one in self.all_signs if one.place == sign.place)

    def at_tempo(self, tempo: str | None) -> Piece:
        """The same at another tempo; raises `UsageError` for words that are none."""
        other = self.interpretation.at_tempo(tempo)
        other.check()
        return Piece(other)

    def survey(self) -> dict[str, Any]:
        """Everything said of the solo's ornaments, as `appui survey --json` prints it."""
        from appui.compare.survey import survey_record

        return survey_record(self.interpretation, [one.sign for one in self.signs])

    def listen(
        self, take: str | Path, bars: str | None = None, *, backing: str | Path | None = None, a4_hz: float = 440.0
    ) -> list[dict[str, Any]]:
        """What was played in a take of the solo, a sound or MIDI file, as `appui listen --json` prints it.

        `backing` is the practice track that was played over: then there is a record for each round, and the track knows
        its bars. `a4_hz` is about where the take is tuned, 380 to 480. Raises `SoundError` for a file that cannot be
        used, or is of something else, `PlaceError` for a bar that is not there.
        """
        from appui.listen.backing import open_backing
        from appui.listen.listen import Wanted, listen, listen_over
        from appui.listen.records import record

        wanted, path = Wanted(bars, a4_hz), Path(take)
        if backing is None:
            return [record(listen(self.interpretation, path, wanted))]
        return [record(each) for each in listen_over(self.interpretation, path, open_backing(Path(backing)), wanted)]

    def play(
        self,
        bars: str | None = None,
        readings: Mapping[str, str | Reading] | None = None,
        *,
        solo_only: bool = False,
        repeats: bool = True,
    ) -> Take:
        """Play the piece, or some bars by their printed numbers (``5-12``, once and without repeats).

        `readings` are ways of playing by place, ``{"oboe.7.1": "leaning 1/2"}``, in place of those chosen.
        Raises `PlaceError` for a bar or place that is not there, `UsageError` for words that say no way of playing.
        """
        player = self.interpretation
        order = player.order(bars, repeats=repeats)
        changed = {player.sign_at(place).place: self._reading(place, each) for place, each in (readings or {}).items()}
        done = realize(player, order, changed, [player.solo.index] if solo_only else None)
        tones = {self.score.parts[index].name: tuple(each) for index, each in done.tones.items()}
        return Take(play_realized(player, order, done, changed), tones)

    def _reading(self, place: str, wanted: str | Reading) -> Reading:
        return self.interpretation.reading(place, wanted.text if isinstance(wanted, Reading) else wanted)


@dataclass(frozen=True, slots=True)
class Take:
    """One playing of a piece. `performance` holds notes, tempos and marks; `tones` the tones before seconds and levels.

    `tones` go by the name of their part, in time order.
    """

    performance: Performance
    tones: Mapping[str, Sequence[Tone]]

    @property
    def length_s(self) -> float:
        """How long it lasts, in seconds, with the end of the last note."""
        return self.performance.length_s

    @property
    def notices(self) -> tuple[tuple[str, str], ...]:
        """What had to be said on the way: pairs of a place and a sentence."""
        return self.performance.notices

    def solo(self) -> Take:
        """The solo alone."""
        return Take(only(self.performance, solo=True), self.tones)

    def accompaniment(self) -> Take:
        """Everything but the solo."""
        return Take(only(self.performance, solo=False), self.tones)

    def save(self, *paths: str | Path, soundfont: str | Path | None = None) -> None:
        """Write files: ``.mid`` a MIDI file; ``.wav``, ``.flac``, ``.ogg`` and ``.mp3`` audio, loudest at -1 dBFS.

        Raises `UsageError` for another suffix, `OutputError` for a file that cannot be written, `SoundError` where
        there is no synthesizer or no usable SoundFont. A file appears whole or not at all.
        """
        from appui.sound.save import check_outputs, save

        outputs = [Path(path) for path in paths]
        check_outputs(outputs)
        save(self.performance, outputs, Path(soundfont) if soundfont is not None else None)

    def notes(self, part: str | None = None) -> NDArray[np.void]:
        """Every note of all parts, or of one, as a numpy structured array in order of time.

        Fields: ``onset_q``, ``duration_q`` (quarter notes), ``onset_s``, ``duration_s`` (seconds), ``pitch`` (MIDI
        key, 60 is C4), ``velocity`` (1 to 127), ``part`` (its name), ``place`` (of the ornament it belongs to, empty
        for a plain note) and ``role`` (``plain``, ``lean``, ``release``, ``trill`` …). The first four answer to
        ``onset_quarter``, ``duration_quarter``, ``onset_sec`` and ``duration_sec`` too, as in other libraries' arrays.

        Raises `PlaceError` for a part that is not there.
        """
        import numpy as np

        parts = [one for one in self.performance.parts if part is None or part.lower() in (one.name.lower(), one.id)]
        if not parts:
            names = ", ".join(one.name for one in self.performance.parts)
            raise PlaceError(self.performance.title, f"plays no part {part!r}", f"name one of {names}")
        rows = [
            (
                float(note.onset_q),
                float(note.duration_q),
                note.onset_s,
                note.duration_s,
                note.key,
                note.velocity,
                one.name,
                note.sign or "",
                note.role,
            )
            for one in parts
            for note in one.notes
        ]
        return np.array(sorted(rows, key=lambda row: (row[2], row[4])), dtype=_dtype(rows))


def _dtype(rows: Sequence[tuple[Any, ...]]) -> np.dtype[np.void]:
    import numpy as np

    names, places = (max((len(row[column]) for row in rows), default=1) or 1 for column in (6, 7))
    return np.dtype(
        [
            (("onset_quarter", "onset_q"), "f8"),
            (("duration_quarter", "duration_q"), "f8"),
            (("onset_sec", "onset_s"), "f8"),
            (("duration_sec", "duration_s"), "f8"),
            ("pitch", "i4"),
            ("velocity", "i4"),
            ("part", f"U{names}"),
            ("place", f"U{places}"),
            ("role", "U11"),
        ]
    )
