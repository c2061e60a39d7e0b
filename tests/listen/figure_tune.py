"""A tune with turns, mordents and short trills, as MusicXML."""

__all__ = ["TUNE", "note"]

#  a bar a row: notes with their quarters (0: a small note), and the ornament over one
_BARS = (
    "C5:1 D5:1 E5:1 F5:1",
    "G5:2:turn E5:1 C5:1",
    "F5:2:delayed-turn D5:1 B4:1",
    "C5:2:mordent G4:1 A4:1",
    "B4:1 E5:2:inverted-mordent C5:1",
    "A4:2:inverted-turn F4:1 G4:1",
    "E4:1 F4:1 D5:2:turn",
    "B4:1 G4:1 D5:0 C5:2:turn",
    "E4:1 G4:1 C5:2",
)


def note(text: str) -> str:
    """A note as MusicXML: pitch, quarters, ornament."""
    pitch, quarters, *sign = text.split(":")
    ornament = f"<notations><ornaments><{sign[0]}/></ornaments></notations>" if sign else ""
    if quarters == "0":
        small = f"<pitch><step>{pitch[0]}</step><octave>{pitch[1]}</octave></pitch><type>eighth</type>"
        return f"<note><grace slash='yes'/>{small}</note>"
    return (
        f"<note><pitch><step>{pitch[0]}</step><octave>{pitch[1]}</octave></pitch>"
        f"<duration>{quarters}</duration><type>{'half' if quarters == '2' else 'quarter'}</type>{ornament}</note>"
    )


def _bar(number: int, notes: str) -> str:
    first = (
        "<attributes><divisions>1</divisions><key><fifths>0</fifths></key><time><beats>4</beats>"
        "<beat-type>4</beat-type></time></attributes><sound tempo='66'/>"
    )
    return f"<measure number='{number}'>{first if number == 1 else ''}{''.join(map(note, notes.split()))}</measure>"


TUNE = (
    "<score-partwise version='4.0'><part-list><score-part id='P1'><part-name>Flute</part-name></score-part></part-list>"
    f"<part id='P1'>{''.join(_bar(number, notes) for number, notes in enumerate(_BARS, 1))}</part></score-partwise>"
)
