"""The command `manual`: the pages of the manual, at the terminal."""

from __future__ import annotations

import click

from appui.cli.command import command

__all__ = ["manual"]


@command(epilog="Examples: appui manual; appui manual survey; appui manual tuning")
@click.argument("topic", nargs=-1)
def manual(topic: tuple[str, ...]) -> None:
    """Read the manual: a list of its pages, or the page about TOPIC."""
    from appui.cli.markdown import print_markdown
    from appui.manual.pages import find, for_terminal, pages

    if topic:
        print_markdown(for_terminal(find(" ".join(topic))))
        return
    lines = [f"- **{page.name}**: {page.about}" for page in pages()]
    print_markdown(
        "# The manual\n\n" + "\n".join(lines) + "\n\nRead one with `appui manual NAME`, as in `appui manual start`."
    )
