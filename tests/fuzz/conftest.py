"""The helpers beside the tests, `mutants` and `laws`, are imported by their plain names."""

import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent))
