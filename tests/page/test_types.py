"""The page's program is plain JavaScript whose types are written in comments and hold."""

import shutil
import subprocess
from pathlib import Path

import pytest


def test_the_types_hold() -> None:
    """TypeScript 5's compiler, strict, finds nothing; skipped where it is not installed."""
    compiler = shutil.which("tsc")
    if compiler is None:
        pytest.skip("NO TSC: the types of the page's program are not checked (npm install -g typescript)")
    config = Path(__file__).with_name("tsconfig.json")
    found = subprocess.run([compiler, "-p", str(config)], capture_output=True, text=True, check=False)
    assert (0, "") == (found.returncode, found.stdout)
