"""What is stored of a boat, for the commands that compute; apart from `common`, so that the others start quickly."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from sqlalchemy import Engine

from scrieve.frames.design import FrameDesign
from scrieve.sheets.bench import BenchSheet
from scrieve.store.kept import kept


def designed(engine: Engine, label: str, tick: Callable[[str, float], None] | None = None) -> tuple[FrameDesign, str]:
    """One designed frame with its revision; raises what `Kept.frame` raises."""
    work = kept(engine)
    return work.frame(label, tick), work.frame_revision(label)


def write_pdf(path: Path, sheet: BenchSheet, date: str = "") -> None:
    """Write a bench sheet to a file, the whole of it or nothing."""
    from scrieve.sheets.pdf import bench_sheet_pdf

    path.write_bytes(bench_sheet_pdf(sheet, date=date))
