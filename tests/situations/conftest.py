"""The helper beside the tests, `spelling`, is imported by its plain name."""

import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent))
