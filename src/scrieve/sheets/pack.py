"""The job pack of one member: every sheet and file as bytes under a safe name; writing them is left to the shells."""

from __future__ import annotations

import hashlib
import re
import unicodedata
from collections.abc import Sequence

from scrieve.boat import Boat
from scrieve.frames.design import FrameDesign
from scrieve.planking.design import PlankDesign
from scrieve.sheets.bench import BenchSheet, Table
from scrieve.sheets.csvs import table_csv
from scrieve.sheets.drawing import Drawing, printable
from scrieve.sheets.dxf import to_dxf
from scrieve.sheets.figures import thickness
from scrieve.sheets.frame_sheet import frame_bench_sheet, frame_pattern
from scrieve.sheets.pdf import Paper, bench_sheet_pdf, pattern_pdf
from scrieve.sheets.plank_sheet import plank_bench_sheet, plank_pattern, plank_tables
from scrieve.sheets.svg import to_svg
from scrieve.sheets.tick_strip import tick_strip_pdf

#: A usual roll: 36 in.
ROLL_MM = 914.4
_LONGEST_NAME = 40


def write_frame(
    design: FrameDesign,
    boat: Boat,
    revision: str,
    *,
    link: str = "",
    date: str = "",
    roll_width_mm: float | None = ROLL_MM,
    papers: Sequence[Paper] = (),
) -> dict[str, bytes]:
    """Return the job pack of a frame pair: file name -> bytes.

    Parameters
    ----------
    design : FrameDesign
        The pair, designed.
    boat : Boat
        For its name and units.
    revision, link, date : str
        Printed on every sheet; the link as a code that leads to the member's page.
    roll_width_mm : float or None
        Width of the roll for `NAME-pattern-roll.pdf`; None leaves it out.
    papers : sequence of 'A4', 'A3'
        Tiled patterns wanted as well, `NAME-pattern-A4.pdf`.

    Returns
    -------
    dict
        `NAME-bench.pdf`, the patterns, `NAME.dxf`, `NAME.svg` and one `NAME-<table>.csv` for each table.
    """
    name = f"frame-{file_name(design.choice.frame)}"
    sheet = frame_bench_sheet(design, boat, revision, link)
    pattern = frame_pattern(design, boat.units)
    detail = f"moulding edge: {design.moulding_edge} face (solid); the other face dashed"
    return _pack(name, sheet, pattern, sheet.tables, detail, date, roll_width_mm, papers)


def write_plank(
    design: PlankDesign,
    boat: Boat,
    revision: str,
    *,
    link: str = "",
    date: str = "",
    roll_width_mm: float | None = ROLL_MM,
    papers: Sequence[Paper] = (),
) -> dict[str, bytes]:
    """Return the job pack of a plank: file name -> bytes; see `write_frame`."""
    hand = {"P": "_port", "S": "_starboard", "": ""}[design.side]
    name = f"plank-{file_name(design.name)}{hand}"
    sheet = plank_bench_sheet(design, boat, revision, link)
    pattern = plank_pattern(design, boat.units)
    detail = f"{thickness(design.thickness_mm, boat.units)} thick"
    tables = plank_tables(design, boat.units)
    files = _pack(name, sheet, pattern, tables, detail, date, roll_width_mm, papers)
    told = " · ".join(printable(part) for part in (boat.name, f"revision {revision}", date, detail) if part)
    files[f"{name}-tick-strip.pdf"] = tick_strip_pdf(design, boat.units, detail=told)
    return files


def file_name(label: str) -> str:
    """Return `label` as part of a file name that any system takes, different for different labels.

    Labels of small letters, figures and single spaces stay readable as they are; any other keeps what it can and gets
    six signs computed from the whole label, so that `14/A`, `14-A` and `14 a` do not meet.

    Examples
    --------
    >>> file_name("14"), file_name("topside 3"), file_name("14/A")
    ('14', 'topside-3', '14-A-98cf4b')
    """
    if re.fullmatch(r"[a-z0-9]+( [a-z0-9]+)*", label) and len(label) <= _LONGEST_NAME:
        return label.replace(" ", "-")
    ascii_only = unicodedata.normalize("NFKD", label).encode("ascii", "ignore").decode()
    kept = re.sub(r"[^A-Za-z0-9]+", "-", ascii_only)[:_LONGEST_NAME].strip("-")
    mark = hashlib.blake2s(label.encode("utf-8", "surrogatepass"), digest_size=3).hexdigest()
    return f"{kept}-{mark}" if kept else mark


def _pack(
    name: str,
    sheet: BenchSheet,
    pattern: Drawing,
    tables: Sequence[Table],
    detail: str,
    date: str,
    roll_width_mm: float | None,
    papers: Sequence[Paper],
) -> dict[str, bytes]:
    on_every_page = " · ".join(
        printable(part) for part in (sheet.boat, f"revision {sheet.revision}", date, detail) if part
    )
    files = {f"{name}-bench.pdf": bench_sheet_pdf(sheet, date=date)}
    if roll_width_mm is not None:
        files[f"{name}-pattern-roll.pdf"] = pattern_pdf(pattern, roll_width_mm=roll_width_mm, detail=on_every_page)
    for paper in papers:
        files[f"{name}-pattern-{paper}.pdf"] = pattern_pdf(pattern, paper=paper, detail=on_every_page)
    files[f"{name}.dxf"] = to_dxf(pattern)
    files[f"{name}.svg"] = to_svg(pattern, margin_mm=1.0).encode()
    for table in tables:  # with a byte-order mark, or some spreadsheets misread ° and ³
        files[f"{name}-{table.name or file_name(table.title)}.csv"] = table_csv(table).encode("utf-8-sig")
    return files
