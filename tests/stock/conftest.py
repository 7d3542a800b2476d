"""Boards and planks by chance, and hulls with closed answers to plank, of tests/planking."""

import sys
from pathlib import Path

sys.path[:0] = [str(Path(__file__).parents[1] / folder) for folder in ("published", "planking", "stock")]
