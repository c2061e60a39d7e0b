"""Printing: tables for people on standard output, JSON for programs, notes and progress on standard error."""

from __future__ import annotations

import os
import shutil
import sys
import time
from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Any, NamedTuple

import click

from appui.errors import writable
from appui.text import counted

if TYPE_CHECKING:
    from rich.table import Table

    from appui.compare.excerpts import Excerpt
    from appui.compare.sources import Opinion
    from appui.drill.results import Result
    from appui.drill.store import KeptTake
    from appui.embellish.choose import Found
    from appui.embellish.model import LeftAlone
    from appui.harmony.written_out import WrittenOut
    from appui.interpret.interpretation import Interpretation
    from appui.listen.report import Told
    from appui.perform.model import Performance
    from appui.score.signs import Sign
    from appui.style.table import Style

__all__ = [
    "XML_COMMENT",
    "print_comparison",
    "print_head",
    "print_json",
    "print_kept_takes",
    "print_notices",
    "print_opinions",
    "print_proposals",
    "print_results",
    "print_style",
    "print_styles",
    "print_survey",
    "print_takes",
    "print_told",
    "print_written_out",
    "progress",
    "tell_fuller_soundfont",
    "working",
    "write_text",
]

XML_COMMENT = "<!-- {} -->"

WIDTH_WITHOUT_TERMINAL = 120
#  columns below which a table has no room for its words
NARROW = 70
#  five columns need so much to be read
WIDTH_OF_TABLE = 110


def print_json(record: dict[str, Any]) -> None:
    """One JSON object on standard output."""
    import json

    click.echo(writable(json.dumps(record, ensure_ascii=False, indent=1)))


@contextmanager
def working(what: str) -> Iterator[None]:
    """Say what is being done if it takes more than a second and somebody is watching."""
    started = time.monotonic()
    yield
    if time.monotonic() - started > 1 and sys.stderr.isatty():
        click.echo(f"{what}: {time.monotonic() - started:.1f} s", err=True)


def tell_fuller_soundfont(performance: Performance, named: Path | None, outputs: Sequence[Path] = ()) -> None:
    """Say, if somebody is watching and named none, that the system has a SoundFont that plays these parts better.

    Not where all `outputs` are MIDI files, which are played by whatever opens them.
    """
    from appui.sound.save import MIDI
    from appui.sound.soundfont import fuller_soundfont

    if outputs and all(path.suffix.lower() in MIDI for path in outputs):
        return
    found = fuller_soundfont({part.program for part in performance.parts if part.notes})
    if found is not None and named is None and sys.stderr.isatty():
        click.echo(f"oboe, flute and recorder sound better for listening with --soundfont {found}", err=True)


def write_text(path: Path, text: str | bytes, *, comment: str = "# {}", replace: bool) -> None:
    """Write a text that may be edited by hand, and say where what was there is kept; raises as `write_editable`."""
    from appui.sound.files import write_editable

    kept = write_editable(path, text, comment=comment, replace=replace)
    if kept is not None:
        click.echo(f"what was in {path} is kept as {kept}", err=True)


def progress(total: int | None = None) -> Callable[[str], None]:
    """A function that says how far a long job is, once a second at most, if somebody is watching.

    Without a count where none is known.
    """
    state = {"count": 0, "said": time.monotonic()}

    def say(words: str) -> None:
        state["count"] += 1
        if time.monotonic() - state["said"] > 1 and sys.stderr.isatty():
            state["said"] = time.monotonic()
            place = f"{int(state['count'])} of {total}: " if total else ""
            click.echo(f"{place}{words}", err=True)

    return say


def _width() -> int | None:
    """How wide the terminal is, or is said to be in COLUMNS; `None` where nobody says."""
    if (sys.stdout is not None and sys.stdout.isatty()) or os.environ.get("COLUMNS", "").isdecimal():
        return shutil.get_terminal_size().columns
    return None


def _print(*things: Any, least: int = NARROW) -> None:
    """Texts and tables; a table that is asked for more columns than there are comes as paragraphs."""
    from rich.console import Console

    console = Console(width=_width() or WIDTH_WITHOUT_TERMINAL, highlight=False, markup=False)
    for thing in things:
        if isinstance(thing, str) or console.width >= least:
            console.print(thing)
        else:
            _print_stacked(thing)


def _print_stacked(table: Table) -> None:
    """A table on a narrow terminal: each row a paragraph, a line a cell, and no word cut."""
    names = [str(column.header) for column in table.columns]
    for row in zip(*(column.cells for column in table.columns), strict=True):
        told = [(name, str(cell)) for name, cell in zip(names, row, strict=True) if str(cell) not in ("", "-")]
        if len(told) > 1 and not told[1][0]:
            # what has no name of its own belongs to the first cell
            told[:2] = [(told[0][0], f"{told[0][1]}  {told[1][1]}")]
        for number, (name, cell) in enumerate(told):
            for line in (f"{name}: {cell}" if number and name else cell).splitlines():
                _say(line, "    " if number else "")
    click.echo()


def _say(text: str, indent: str = "") -> None:
    """A sentence, broken between words where a terminal has an end."""
    width = _width()
    click.echo(click.wrap_text(text, width, indent, indent) if width else indent + text)


def _table(*columns: tuple[str, dict[str, Any]]) -> Table:
    from rich.box import SIMPLE_HEAD
    from rich.table import Table

    table = Table(box=SIMPLE_HEAD, pad_edge=False, show_edge=False, expand=True)
    for name, options in columns:
        table.add_column(name, **options)
    return table


def print_survey(interpretation: Interpretation, signs: Sequence[Sign]) -> None:
    """The survey as a table to read at the stand."""
    from appui.compare.survey import summary

    print_head(interpretation)
    if not signs:
        click.echo(
            "No ornaments here."
            if interpretation.signs
            else "This score has no small notes and no other ornaments: it is played as it stands."
        )
        return
    rows = [_row(interpretation, sign) for sign in signs]
    if (_width() or WIDTH_WITHOUT_TERMINAL) < WIDTH_OF_TABLE:
        _print_entries(rows)
    else:
        _print_rows(rows)
    for line in summary(interpretation, signs):
        _say(line)


class _Row(NamedTuple):
    """One ornament as the survey tells it."""

    place: str
    printed: str
    harmony: str
    way: str
    why: str


def _row(interpretation: Interpretation, sign: Sign) -> _Row:
    choice, harmony = interpretation.choices[sign.place], _harmony(interpretation, sign)
    why = choice.why + (" (doubtful: hear both)" if choice.doubtful else "")
    return _Row(
        sign.place,
        _printed(interpretation, sign),
        ": ".join(filter(None, harmony)),
        choice.reading.text,
        f"{why} [{_source(choice)}]",
    )


def _print_rows(rows: Sequence[_Row]) -> None:
    table = _table(
        ("place", {"no_wrap": True}),
        ("printed", {"max_width": 16}),
        ("harmony", {"ratio": 5}),
        ("played", {"max_width": 18}),
        ("why", {"ratio": 4}),
    )
    for row in rows:
        table.add_row(*(row._replace(harmony=row.harmony or "-")))
    _print(table)


def _print_entries(rows: Sequence[_Row]) -> None:
    """One below the other, for a terminal too narrow for five columns."""
    click.echo()
    for row in rows:
        _say(f"{row.place}  {row.printed}")
        if row.harmony:
            _say(row.harmony, "    ")
        _say(f"{row.way}: {row.why}", "    ")
    click.echo()


def print_kept_takes(takes: Sequence[KeptTake]) -> None:
    """Takes that were kept, in the order they were played."""
    table = _table(("take", {"ratio": 2}), ("when", {"no_wrap": True}), ("of", {"ratio": 2}), ("heard", {"ratio": 4}))
    for take in takes:
        table.add_row(take.file, take.moment[:16].replace("T", " "), take.score, take.words)
    _print(table, "")


def print_takes(takes: Sequence[str], rows: Sequence[tuple[str, str, str, Sequence[str]]]) -> None:
    """How several takes play each place, a column a take."""
    table = _table(("place", {"no_wrap": True}), ("decided", {"ratio": 2}), *((take, {"ratio": 2}) for take in takes))
    for place, _printed, decided, cells in rows:
        table.add_row(place, decided, *cells)
    _print(table)


def print_told(rows: Sequence[Told]) -> None:
    """What was played at each place, what differs first."""
    table = _table(
        ("place", {"no_wrap": True}),
        ("", {"no_wrap": True}),
        ("printed", {"ratio": 2}),
        ("decided", {"ratio": 3}),
        ("played", {"ratio": 3}),
        ("remark", {"ratio": 4}),
    )
    marks = {3: "other", 2: "other", 1: "other", 0: "", -1: "?"}
    for row in rows:
        table.add_row(row.place, marks[row.differs], row.printed, row.decided, row.played, row.remark)
    _print(table, least=WIDTH_OF_TABLE)


def print_written_out(found: Sequence[WrittenOut]) -> None:
    """The leaning notes that are printed as full-size notes."""
    if not found:
        click.echo("No leaning notes printed as full-size notes.")
        return
    table = _table(("printed out", {"no_wrap": True}), ("note", {}), ("chord", {}), ("", {}), ("why", {"ratio": 1}))
    for one in found:
        note = f"{one.pitch.pretty} to {one.target.pretty}"
        table.add_row(one.place, note, _pretty(one.chord), f"{one.confidence:.0%}", one.words)
    _print("", table)


def _harmony(interpretation: Interpretation, sign: Sign) -> tuple[str, str]:
    """The chord with its confidence, and the evidence in words."""
    verdict = interpretation.analysis.verdict(sign)
    if verdict is None:
        return "", ""
    if not sign.small or not verdict.known:
        return "", verdict.words.replace("b5", "♭5")
    return f"{_pretty(verdict.label)}, {verdict.confidence:.0%}", verdict.words


#  a suite of dances has some ten
_MOVEMENTS = 40


def print_head(interpretation: Interpretation) -> None:
    """What is read: title, bars, tempo, solo and style; oddities of the file on standard error."""
    from appui.compare.survey import movement_words, print_words

    score, tempo = interpretation.score, interpretation.score.tempos[0]
    guessed = "" if interpretation.wishes.solo else " (guessed; --solo names another)"
    words = f", {tempo.words}" if tempo.words else ""
    pace = f"{float(tempo.qpm * interpretation.factor):g} quarter notes a minute ({tempo.origin}{words})"
    several = movement_words(interpretation)
    if several:
        _say(f"{score.title}: {len(score.bars)} bars, {len(several)} movements; --movement takes one of them:")
    else:
        _say(f"{score.title}: {len(score.bars)} bars, {pace}")
    for line in several[:_MOVEMENTS]:
        _say(f"  {line}")
    if not interpretation.wishes.solo and interpretation.analysis.guess.open:
        click.echo(f"note: solo: {interpretation.analysis.guess.words}", err=True)
    solos = " and ".join(part.name for part in interpretation.solos)
    _say(f"Solo: {solos}{guessed}. Style: {interpretation.style.name}. Pitches as written; chords as they sound.")
    for line in print_words(interpretation):
        _say(line)
    if len(score.parts) == 1 and not any(len(voice.events) for part in score.parts for voice in part.voices[1:]):
        click.echo("No accompaniment: there is nothing to judge a small note by.", err=True)
    for notice in score.notices[:6]:
        click.echo(f"note: {notice.place}: {notice.text}", err=True)
    if len(score.notices) > 6:
        click.echo(f"note: {len(score.notices) - 6} more oddities of the file are listed by --json", err=True)


def _pretty(label: str) -> str:
    return label.replace("b", "♭").replace("#", "♯")


def _printed(interpretation: Interpretation, sign: Sign) -> str:
    note = sign.main_note(interpretation.score)
    main = note.written.pretty if note else "rest"
    if not sign.small:
        return f"{sign.kind} on {main}"
    small = " ".join("+".join(p.pretty for p in s.written) for s in sign.small)
    return (
        f"{main} then {small}"
        if sign.kind == "after-notes"
        else f"{small} before {main}" + (", with a stroke through the stem" if sign.slashed else "")
    )


def _source(choice: Any) -> str:
    return (
        choice.source
        if choice.known == "common practice" or choice.by.startswith(("plan", "--take"))
        else f"{choice.source}, {choice.known}"
    )


def print_notices(notices: Sequence[tuple[str, str]]) -> None:
    """What had to be said while realizing."""
    for place, text in notices[:20]:
        click.echo(f"note: {place}: {text}", err=True)


def print_comparison(
    interpretation: Interpretation, signs: Sequence[Sign], written: Sequence[Excerpt], folder: Path
) -> None:
    """What a comparison wrote, and what to listen for."""
    if not written:
        return
    table = _table(("place", {"no_wrap": True}), ("chosen", {}), ("why", {"ratio": 1}), ("files", {"justify": "right"}))
    for sign in signs:
        choice = interpretation.choices[sign.place]
        table.add_row(sign.place, choice.reading.text, choice.reason, str(sum(e.place == sign.place for e in written)))
    _print(table)
    click.echo(f"{len(written)} files in {folder}, all equally loud; index.json lists them.")
    click.echo("In each place's folder, 'one after another' plays one way after another:")
    for excerpt in [e for e in written if e.reading == "one after another"][:6]:
        click.echo(f"  {folder / excerpt.file}")


def print_proposals(found: Sequence[Found], left: Sequence[LeftAlone]) -> None:
    """What may be added and where, the printed notes first; and what is left alone."""
    from appui.plan.free_notes import notes_text

    table = _table(("place", {"no_wrap": True}), ("", {"justify": "right"}), ("what is proposed", {"ratio": 1}))
    for each in found:
        table.add_row(each.place.place, "", f"{each.place.kind}: {each.place.why} [{each.place.source}]")
        table.add_row("", "0", f"as printed{': ' + each.why_none if each.why_none else ''}")
        for number, proposal in enumerate(each.proposals, 1):
            table.add_row("", str(number), f"{proposal.words}\n{notes_text(proposal.line)}")
        table.add_row("", "", "")
    if found:
        _print(table)
    if left:
        reasons = Counter(one.why.partition(":")[0] for one in left)
        told = "; ".join(f"{count} {why}" for why, count in reasons.most_common())
        _say(f"Left alone: {told}. --json has each with its reason.")


def print_styles(styles: Sequence[Style]) -> None:
    """All styles in a table."""
    table = _table(
        ("style", {"no_wrap": True}),
        ("source", {"ratio": 2}),
        ("in short", {"ratio": 5}),
        ("rules", {"justify": "right"}),
        ("read", {"justify": "right"}),
    )
    for style in styles:
        read = sum(rule.known == "read" for rule in style.rules)
        table.add_row(
            style.name,
            style.title + (f" ({style.year})" if style.year else ""),
            style.about,
            str(len(style.rules)),
            str(read),
        )
    _print(table)


def _weight(style: Style) -> str:
    """How much a leaning note weighs under a style, and by whom that is said."""
    from appui.perform.sigh import TAUGHT_DB, sigh_db

    taught_db = float(style.weight_db)
    if style.profile == "soft-swell-soft":
        return f"by {taught_db:g} dB"
    half, most = (taught_db / TAUGHT_DB * sigh_db(length_s, ends=True) for length_s in (0.5, 1.0))
    return (
        f"by its length, {half:.1f} dB at half a second and at most {most:.1f} where a slur ends "
        f"[measured: (n)ASAP, 509 performances], or {taught_db:g} dB, as for teaching, with --shape plain"
    )


def print_style(style: Style) -> None:
    """A digest of one source: its rules by subject, in the order they are tried."""
    from appui.compare.rule_words import condition_words
    from appui.compare.sources import digest

    _say(f"{style.title}" + (f" ({style.year})" if style.year else ""))
    _say(style.about)
    shapes = {"loud-soft": "louder than its release", "soft-swell-soft": "soft, swelling, soft"}
    _say(f"A leaning note is {shapes[style.profile]}: {_weight(style)}.")
    known = Counter(rule.known for rule in style.rules)
    _say(f"{counted(len(style.rules), 'rule')} of its own: {', '.join(f'{n} {word}' for word, n in known.items())}.")
    for subject, rules in digest(style):
        table = _table(
            (subject, {"ratio": 5}), ("is played", {"ratio": 4}), ("because", {"ratio": 6}), ("source", {"ratio": 5})
        )
        for rule in rules:
            also = f" (or {', '.join(rule.also)})" if rule.also else ""
            table.add_row(
                condition_words(rule), _reading_words(rule.reading) + also, rule.why, _cited(rule.cite, rule.known)
            )
        _print("", table)
    behind = f" Its rules come after these: `appui styles {style.falls_back}`." if style.falls_back else ""
    _say(f"Where it is silent: {style.silent}.{behind}")


def _cited(cite: str, known: str) -> str:
    """A source and how it is known; common practice says so itself."""
    return cite if known in cite else f"{cite}, {known}"


def _reading_words(reading: str) -> str:
    return reading.replace("{length}", "by its printed value, or the rule").replace("{rule}", "1/2 or 2/3")


def print_opinions(interpretation: Interpretation, sign: Sign, found: Sequence[Opinion]) -> None:
    """One place through all the sources."""
    from appui.compare.sources import practice_at

    verdict = _harmony(interpretation, sign)[1]
    _say(f"{sign.place}: {_printed(interpretation, sign)}" + (f"; {verdict}" if verdict else ""))
    table = _table(
        ("style", {"no_wrap": True}), ("played", {"ratio": 3}), ("", {"no_wrap": True}), ("why", {"ratio": 5})
    )
    for opinion in found:
        why = "; ".join(said for said in opinion.why.split("; ") if said != verdict)
        same = "" if opinion is found[0] else "same" if opinion.same else "different"
        table.add_row(opinion.style, opinion.reading, same, f"{why} [{_cited(opinion.cite, opinion.known)}]")
    _print(table)
    practice = practice_at(interpretation, sign)
    _say(
        f"Measured practice: {practice}."
        if practice
        else "Measured practice: not known (no year in the file; --year says one)."
    )


def print_results(results: Sequence[Result]) -> None:
    """Sittings of ear training, in the order they were held."""
    table = _table(
        ("player", {}),
        ("kind", {"no_wrap": True}),
        ("when", {"no_wrap": True}),
        ("threshold", {"no_wrap": True}),
        ("95 % interval", {"no_wrap": True}),
        ("right", {"no_wrap": True}),
        ("d'", {"justify": "right"}),
        ("bias", {"justify": "right"}),
    )
    for result in results:
        ladder, found, told = result.kind.ladder, result.threshold, result.detection
        table.add_row(
            result.player,
            result.kind.name,
            result.moment[:16].replace("T", " "),
            ladder.words(found.level) if found else "none",
            f"{ladder.number(found.low)} to {ladder.words(found.high)}" if found else "",
            f"{result.right} of {result.trials}",
            f"{told.d_prime:.2f}" if told else "",
            f"{told.bias:+.2f}" if told else "",
        )
    _print(table, least=100)
