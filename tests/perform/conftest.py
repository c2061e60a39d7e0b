"""The small scores of the realization tests, `voices`, are used here too, and `playing` plays them."""

import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent.parent / "realize"))
sys.path.insert(0, str(Path(__file__).parent))
