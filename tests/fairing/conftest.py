"""Lets the tests of this folder import their helpers, and the forms with exact answers of bench/."""

import sys
from pathlib import Path

for folder in (Path(__file__).parent, Path(__file__).parents[2] / "bench", Path(__file__).parents[1] / "published"):
    if str(folder) not in sys.path:
        sys.path.append(str(folder))
