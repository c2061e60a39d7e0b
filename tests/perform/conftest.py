"""The small scores of the realization tests, `voices`, are used here too."""

import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent.parent / "realize"))
