"""Lets the checks of this folder say `from wigley import Wigley`, however pytest is started."""

import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent))
