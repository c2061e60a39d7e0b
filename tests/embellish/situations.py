"""Made-up situations: a solo over four-part harmony in any key and meter, with a fermata, a close or bare intervals.

A situation is a row of bars, each a chord (degree, quality by the key, inversion) and the solo's note as a chord tone;
the bass and two middle parts are set plainly. Everything is spelled by the key.
"""

from __future__ import annotations

from dataclasses import dataclass

from appui.exact import Fraction
from appui.score.pitch import Pitch

LETTERS = "CDEFGAB"
TONICS = {"major": "C G D A E B F# F Bb Eb Ab Db Gb".split(), "minor": "A E B F# C# G# D# D G C F Bb Eb".split()}
#  shares of a bar by its beats: long, short, long
FIGURE = {2: (3, 1, 4), 4: (3, 1, 4), 3: (3, 1, 2), 6: (2, 1, 3), 12: (2, 1, 3)}
METERS = ((2, 4), (3, 4), (4, 4), (3, 8), (6, 8), (2, 2), (12, 8))
TEMPOS = {"slow": "Adagio", "moderate": "Andante", "fast": "Allegro"}
QPM = {"slow": 54, "moderate": 76, "fast": 126}
#  instrument: name, sound, written to sounding (letters, semitones), lowest comfortable sounding octave of the tonic
INSTRUMENTS = {
    "oboe": ("Oboe", "wind.reed.oboe", (0, 0)),
    "flute": ("Flute", "wind.flutes.flute", (0, 0)),
    "clarinet": ("Clarinet in B♭", "wind.reed.clarinet.bflat", (-1, -2)),
    "soprano": ("Soprano", "voice.soprano", (0, 0)),
}


def parse(letter: str) -> tuple[str, int]:
    return letter[0], letter.count("#") - letter[1:].count("b")


@dataclass(frozen=True)
class Key:
    """A key: tonic letter and mode."""

    tonic: str
    mode: str

    @property
    def fifths(self) -> int:
        """The key signature: sharps above zero, flats below."""
        step, alter = parse(self.tonic)
        place = "FCGDAEB".index(step) - 1 + 7 * alter
        return place - (3 if self.mode == "minor" else 0)

    def letter(self, degree: int, *, raised: bool = False) -> tuple[str, int]:
        """The letter and alteration of a degree from 1."""
        step = LETTERS[(LETTERS.index(self.tonic[0]) + degree - 1) % 7]
        place = "FCGDAEB".index(step)
        alter = (self.fifths - place + 6) // 7 if self.fifths >= 0 else -((-self.fifths - (6 - place) + 6) // 7)
        return step, alter + raised

    def chord(self, name: str) -> list[tuple[str, int]]:
        """The notes of a chord from its root: I ii IV V V7 vi; the dominant with its leading note."""
        root = {"I": 1, "ii": 2, "IV": 4, "V": 5, "V7": 5, "vi": 6}[name]
        degrees = [root, root + 2, root + 4] + ([root + 6] if name == "V7" else [])
        lead = name in ("V", "V7") and self.mode == "minor"
        return [self.letter((d - 1) % 7 + 1, raised=lead and (d - 1) % 7 == 6) for d in degrees]


def near(note: tuple[str, int], around: int) -> Pitch:
    """The pitch of a letter nearest to a MIDI key."""
    found = (Pitch(note[0], note[1], octave) for octave in range(9))
    return min(found, key=lambda pitch: abs(int(pitch.midi) - around))


@dataclass(frozen=True)
class Bar:
    """One bar: chord, which of its notes is in the bass, which the solo has and near which MIDI key, marks on it.

    `shares`: the three notes of `split` are a dotted figure (`FIGURE`), else all are equal.
    """

    chord: str
    bass: int = 0
    solo: int = 0
    near: int = 72
    fermata: bool = False
    trill: bool = False
    rest: bool = False
    split: tuple[int, ...] = ()
    shares: bool = False


def score(
    key: Key,
    meter: tuple[int, int],
    bars: list[Bar],
    *,
    instrument: str = "oboe",
    tempo: str = "slow",
    repeat: int = 0,
    alone: bool = False,
) -> bytes:
    """A MusicXML score of these bars; `repeat` the number of bars that are repeated from the start."""
    name, sound, transposition = INSTRUMENTS[instrument]
    parts = [
        ("S", name, sound),
        ("A", "Violin", "strings.violin"),
        ("T", "Viola", "strings.viola"),
        ("B", "Violoncello", "strings.cello"),
    ]
    parts = parts[:1] if alone else parts
    listed = "".join(
        f'<score-part id="{p}"><part-name>{n}</part-name><score-instrument id="{p}-I"><instrument-name>{n}'
        f"</instrument-name><instrument-sound>{s}</instrument-sound></score-instrument></score-part>"
        for p, n, s in parts
    )
    texts = []
    for p, _, _ in parts:
        measures = []
        for number, bar in enumerate(bars, 1):
            head = ""
            if number == 1:
                fifths = key.fifths
                move = ""
                if p == "S" and transposition != (0, 0):
                    fifths += 2
                    letters, semitones = transposition
                    move = f"<transpose><diatonic>{letters}</diatonic><chromatic>{semitones}</chromatic></transpose>"
                head = (
                    f"<attributes><divisions>48</divisions><key><fifths>{fifths}</fifths><mode>{key.mode}</mode></key>"
                    f"<time><beats>{meter[0]}</beats><beat-type>{meter[1]}</beat-type></time>{move}</attributes>"
                )
                if p == "S":
                    head += (
                        f"<direction><direction-type><words>{TEMPOS[tempo]}</words></direction-type>"
                        f'<sound tempo="{QPM[tempo]}"/></direction>'
                    )
            tail = '<barline location="right"><repeat direction="backward"/></barline>' if number == repeat else ""
            measures.append(
                f'<measure number="{number}">{head}{_notes(key, bar, p, meter, transposition)}{tail}</measure>'
            )
        texts.append(f'<part id="{p}">{"".join(measures)}</part>')
    return (
        f'<score-partwise version="4.0"><work><work-title>Made up</work-title></work>'
        f"<part-list>{listed}</part-list>{''.join(texts)}</score-partwise>"
    ).encode()


def _notes(key: Key, bar: Bar, part: str, meter: tuple[int, int], transposition: tuple[int, int]) -> str:
    length = Fraction(4 * meter[0], meter[1])
    chord = key.chord(bar.chord)
    if part == "S":
        if bar.rest:
            return f"<note><rest/><duration>{int(length * 48)}</duration>{_fermata(bar)}</note>"
        members = bar.split or (bar.solo,)
        text, around = "", bar.near
        shares = FIGURE[meter[0]] if bar.shares else (1,) * len(members)
        for member, share in zip(members, shares, strict=True):
            pitch = near(chord[member % len(chord)], around)
            around = int(pitch.midi)
            text += _note(_up(pitch) if transposition != (0, 0) else pitch, length * share / sum(shares), _marks(bar))
        return text
    around = {"A": 64, "T": 58, "B": 46}[part]
    tone = chord[bar.bass] if part == "B" else chord[(bar.bass + (1 if part == "A" else 2)) % len(chord)]
    return _note(near(tone, around), length, "")


def _up(pitch: Pitch) -> Pitch:
    """A whole tone up: what a clarinet in B flat reads."""
    diatonic = pitch.diatonic + 1
    plain = Pitch(LETTERS[diatonic % 7], 0, diatonic // 7)
    return plain._replace(alter=int(pitch.midi + 2 - plain.midi))


def _marks(bar: Bar) -> str:
    inner = ("<ornaments><trill-mark/></ornaments>" if bar.trill else "") + ("<fermata/>" if bar.fermata else "")
    return f"<notations>{inner}</notations>" if inner else ""


def _fermata(bar: Bar) -> str:
    return "<notations><fermata/></notations>" if bar.fermata else ""


def _note(pitch: Pitch, length: Fraction, notations: str) -> str:
    alter = f"<alter>{pitch.alter}</alter>" if pitch.alter else ""
    return (
        f"<note><pitch><step>{pitch.step}</step>{alter}<octave>{pitch.octave}</octave></pitch>"
        f"<duration>{int(length * 48)}</duration>{notations}</note>"
    )


def cadenza(solo: int = 2, *, trill: bool = False, own: bool = True, figure: bool = False) -> list[Bar]:
    """I, ii6, I six-four with a fermata, V7 with or without a printed note to trill, I; a figure in the first two."""
    close = Bar("V7", solo=2, near=74, trill=trill) if own else Bar("V7", rest=True)
    return [
        *(_figure("I", "ii", 1) if figure else (Bar("I", solo=0), Bar("ii", bass=1, solo=1))),
        Bar("I", bass=2, solo=solo, fermata=True),
        close,
        Bar("I", solo=0),
    ]


def _figure(first: str, second: str, bass: int = 0) -> tuple[Bar, Bar]:
    """A dotted broken chord up, again on another chord."""
    return Bar(first, split=(0, 1, 2), shares=True), Bar(second, bass=bass, split=(0, 1, 2), shares=True)


def lead_in(solo: int = 0, theme: int = 0, *, figure: bool = False) -> list[Bar]:
    """I, IV, V with a fermata, then I with the theme's first note; a figure in the first two."""
    return [
        *(_figure("I", "IV") if figure else (Bar("I", solo=1), Bar("IV", solo=0))),
        Bar("V", solo=solo, near=69, fermata=True),
        Bar("I", solo=theme),
        Bar("V7"),
        Bar("I"),
    ]


def flourish(chord: str = "IV", solo: int = 0) -> list[Bar]:
    """I, a chord with a fermata, V7, I."""
    return [Bar("I", solo=0), Bar(chord, solo=solo, near=74, fermata=True), Bar("V7", solo=0), Bar("I", solo=0)]


def bare(intervals: tuple[int, ...] = (0, 2, 1, 0)) -> list[Bar]:
    """Chord notes of I and V7, long and bare, with a close at the end."""
    return [
        Bar("I", split=(0, 1)),
        Bar("V7", solo=1),
        Bar("I", split=(2, 0)),
        Bar("V7", solo=2, near=74),
        Bar("I", solo=0),
        Bar("I", solo=intervals[0] % 3),
    ]
