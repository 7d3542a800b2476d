"""What is stored of a boat, for the commands that compute; apart from `common`, so that the others start quickly."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from sqlalchemy import Engine

from scrieve import store
from scrieve.chain import Kept
from scrieve.frames.design import FrameDesign
from scrieve.frames.released import learnt_springs
from scrieve.sheets.bench import BenchSheet


def kept(engine: Engine) -> Kept:
    """All that is stored of the boat."""
    return Kept(
        store.boat(engine),
        store.marks(engine, standing=True),
        store.answers(engine),
        store.frames(engine),
        store.planks(engine),
        learnt_springs(record.detail for record in store.records(engine, "release")),
    )


def designed(engine: Engine, label: str, tick: Callable[[str, float], None] | None = None) -> tuple[FrameDesign, str]:
    """One designed frame with its revision; raises what `Kept.frame` raises."""
    work = kept(engine)
    return work.frame(label, tick), work.frame_revision(label)


def write_pdf(path: Path, sheet: BenchSheet, date: str = "") -> None:
    """Write a bench sheet to a file, the whole of it or nothing."""
    from scrieve.sheets.pdf import bench_sheet_pdf

    path.write_bytes(bench_sheet_pdf(sheet, date=date))
