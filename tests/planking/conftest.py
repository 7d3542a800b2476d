"""Hulls with closed answers to plank, and the exact strips of tests/published."""

import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1] / "published"))
sys.path.insert(0, str(Path(__file__).parent))
