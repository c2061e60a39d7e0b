"""`python -m appui` and the command `appui`: the command line, which may be interrupted at any moment."""

from __future__ import annotations

import sys

__all__ = ["run"]


def run() -> None:
    """Load the command line and run it; an interrupt while it loads ends in one sentence."""
    try:
        from appui.cli.main import run as hand_over

        hand_over()
    except KeyboardInterrupt:
        sys.stderr.write("stopped: nothing more is written\n")
        sys.exit(1)


if __name__ == "__main__":
    run()
