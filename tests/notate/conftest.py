"""Tests of this room use each other's scores."""

import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent))
