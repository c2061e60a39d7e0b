"""Without memory enough a command ends in a sentence that says how much there is."""

from __future__ import annotations

import subprocess
import sys

import pytest

from appui.demo import demo_score
from appui.errors import memory_spent


def test_the_sentence_names_the_limit() -> None:
    """Of the process where one is set, else of the computer."""
    assert " GB)" in memory_spent()
    assert memory_spent("drawing x").startswith("drawing x needs more memory than there is (")


@pytest.mark.skipif(sys.platform != "linux", reason="memory is limited where the system can")
def test_a_command_without_memory_ends_in_a_sentence() -> None:
    """No traceback; exit status 1."""
    script = (
        "import resource, sys\nfrom appui.cli.main import main\nimport appui.interpret.interpretation as room\n"
        "resource.setrlimit(resource.RLIMIT_AS, (3_000_000_000, 3_000_000_000))\n"
        "room.read_score = lambda path: bytearray(10**11)\n"
        f"sys.argv = ['appui', 'survey', {str(demo_score())!r}]\nmain()"
    )
    done = subprocess.run([sys.executable, "-c", script], capture_output=True, text=True, check=False)
    assert 1 == done.returncode
    assert (
        "appui: this needs more memory than there is (the limit set for this process is 3.0 GB). Remedy: take"
        in done.stderr
    )
    assert "Traceback" not in done.stderr
