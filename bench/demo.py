"""The demo boat as its marks alone make it: what several benchmarks begin with."""

from __future__ import annotations

import tempfile
from contextlib import redirect_stdout
from io import StringIO
from pathlib import Path

from scrieve import store
from scrieve.chain import Kept
from scrieve.cli import scrieve

MARKS = Path(__file__).parent.parent / "examples" / "merganser" / "marks.csv"


def demo_boat() -> Kept:
    """Merganser with the marks of her file, nothing designed yet; the boat's file is gone when this returns."""
    with tempfile.TemporaryDirectory() as folder, redirect_stdout(StringIO()):
        boat = str(Path(folder) / "demo.boat")
        for words in (
            ("new", boat, "--name", "Merganser", "--planking", "inside", "--thickness", "28mm", "--beam", "2900mm"),
            ("marks", boat, "add", str(MARKS), "--slips", "store"),
        ):
            scrieve.main(list(words), prog_name="scrieve", standalone_mode=False)
        engine = store.open_boat(boat)
        try:
            return Kept(store.boat(engine), store.marks(engine, standing=True), store.answers(engine))
        finally:
            engine.dispose()
