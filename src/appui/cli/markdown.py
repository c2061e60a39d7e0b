"""Markdown at the terminal: headings and lists as text, examples as they were typed, all in the width there is."""

from __future__ import annotations

import re
from typing import ClassVar

import click
from rich.console import Console, ConsoleOptions, RenderResult
from rich.markdown import CodeBlock, Heading, Markdown, MarkdownElement
from rich.text import Text

__all__ = ["print_markdown"]

#  lines longer than this tire the eye, however wide the terminal
WIDEST = 100


NARROW = 70
_TABLE = re.compile(r"(?:^\|.*\n)+", re.MULTILINE)
_CODE = re.compile(r"(```.*?```)|`([^`]+)`", re.DOTALL)


class _Example(CodeBlock):
    """Lines as they were typed: a line too long for the terminal is not broken up, so that it can be copied."""

    def __rich_console__(self, console: Console, options: ConsoleOptions) -> RenderResult:
        style = "bold" if console.is_terminal else ""
        for line in str(self.text).rstrip().splitlines():
            yield Text(f"  {line}", style, no_wrap=True, overflow="ignore")


class _Heading(Heading):
    """A heading at the left, with the marks it is typed with."""

    def __rich_console__(self, console: Console, options: ConsoleOptions) -> RenderResult:
        self.text.justify = "left"
        yield Text("#" * int(self.tag[1:]) + " ", style="bold") + self.text


class _Page(Markdown):
    elements: ClassVar[dict[str, type[MarkdownElement]]] = {
        **Markdown.elements,
        "fence": _Example,
        "code_block": _Example,
        "heading_open": _Heading,
    }


def _listed(table: str) -> str:
    """A table as a list: each row an item, its cells after the names of their columns."""
    names, _, *rows = [[cell.strip() for cell in re.split(r"(?<!\\)\|", line)[1:-1]] for line in table.splitlines()]
    items = [
        [f"{name}: {cell}" if name else cell for name, cell in zip(names[1:], row[1:], strict=True) if cell]
        for row in rows
    ]
    return "".join(f"- {row[0]}: {'; '.join(told)}\n" for row, told in zip(rows, items, strict=True))


def print_markdown(text: str) -> None:
    """Print Markdown on standard output; where it is longer than the terminal is high, through a pager."""
    console = Console(highlight=False)
    if console.width < NARROW:
        text = _TABLE.sub(lambda found: _listed(found[0]), text)
    if console.color_system is None:
        # where nothing can be set off by colour, what is typed keeps its marks
        text = _CODE.sub(lambda found: found[1] or f"`` `{' '.join(found[2].split())}` ``", text)
    options = console.options.update(width=min(console.width, WIDEST))
    with console.capture() as held:
        console.print(_Page(text, hyperlinks=False), width=options.max_width, crop=False)
    shown = "\n".join(line.rstrip() for line in held.get().splitlines())
    if console.is_terminal and len(shown.splitlines()) >= console.height:
        click.echo_via_pager(shown + "\n")
    else:
        click.echo(shown)
