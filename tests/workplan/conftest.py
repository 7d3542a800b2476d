"""Yards and jobs to be planned: small enough to be solved at once."""

import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent))
