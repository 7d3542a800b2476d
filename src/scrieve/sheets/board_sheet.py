"""The boards on paper: picture and cutting list of each board cut into, off-cuts, what is missing, what to order."""

from __future__ import annotations

from collections.abc import Sequence

from scrieve.boat import Boat
from scrieve.errors import BadBoard
from scrieve.sheets.bench import BenchSheet, Table
from scrieve.sheets.board_drawings import board_drawing
from scrieve.sheets.board_tables import cutting_list, off_cut_list, order_list
from scrieve.sheets.csvs import table_csv
from scrieve.sheets.dxf import to_dxf
from scrieve.sheets.figures import sized, thickness, workings_table
from scrieve.sheets.pack import file_name
from scrieve.sheets.pdf import bench_sheet_pdf
from scrieve.stock.by_hand import breaches_of
from scrieve.stock.laying import Laying
from scrieve.stock.result import BoardUse, Result, result_of
from scrieve.units import Units
from scrieve.wording import in_units

CAUTIONS = (
    "Before the saw: hold the pattern on the board and look at both faces and the ends for shakes, nails and knots "
    "that no measurement has shown.",
    "Sapwood, knots and slope of grain in a plank are to be agreed with the surveyor; class or flag rules come first.",
    "Guards, push sticks and extraction as the saw's maker asks; wood dust harms lungs.",
)


def boards_bench_sheet(laying: Laying, boat: Boat, revision: str, link: str = "") -> BenchSheet:
    """Return the laying as a bench sheet.

    Parameters
    ----------
    laying : Laying
    boat : Boat
        For its name and units.
    revision, link : str
        Of the laying; the address of the timber page.
    """
    units, result = boat.units, result_of(laying)
    drawings = tuple(
        (_caption(use, units), board_drawing(use.board, laying, use.off_cuts, units=units)) for use in result.uses
    )
    each = tuple(_of_board(use, units, number) for number, use in enumerate(result.uses))
    rest = [off_cut_list(result.off_cuts, units)] if result.off_cuts else []
    if result.missing:
        rest.append(Table("No place found for", ("part", "why"), tuple((one.part, one.why) for one in
                          in_units(result.missing, units)), name="missing"))  # fmt: skip
    if result.orders:
        rest.append(order_list(result.orders, units))
    return BenchSheet(
        title="Boards: what is cut from which",
        boat=boat.name,
        member="boards",
        revision=revision,
        link=link,
        drawings=drawings,
        tables=(*each, *rest, workings_table(in_units(result.workings, units))),
        cautions=CAUTIONS,
        notes=(
            "Each board lies with its top face up, its first end to the left; from and to along its datum line (chain "
            "line), lowest and highest from that line, upwards.",
            *_held(laying, units),
        ),
        summary=_summary(laying, result),
    )


def write_boards(laying: Laying, boat: Boat, revision: str, *, link: str = "", date: str = "") -> dict[str, bytes]:
    """Return the boards' sheets: file name -> bytes; the bench sheet, its tables, each board cut into as DXF.

    Raises
    ------
    BadBoard
        Nothing is laid yet.
    """
    if not laying.placements:
        raise BadBoard("nothing is laid on any board yet, so there is nothing to print.")
    units, result = boat.units, result_of(laying)
    files = {"boards-bench.pdf": bench_sheet_pdf(boards_bench_sheet(laying, boat, revision, link), date=date)}
    tables = [cutting_list(result.cuts, units), off_cut_list(result.off_cuts, units), order_list(result.orders, units)]
    files |= {f"boards-{table.name}.csv": table_csv(table).encode("utf-8-sig") for table in tables}
    for use in result.uses:
        drawing = board_drawing(use.board, laying, use.off_cuts, units=units)
        files[f"boards-{file_name(use.board.name)}.dxf"] = to_dxf(drawing)
    return files


def _caption(use: BoardUse, units: Units) -> str:
    board = use.board
    more = [thickness(board.thickness_mm, units) + " thick", board.timber]
    more += [f"best face {board.best_face}"] if board.best_face else []
    return f"Board {board.name}: " + ", ".join(one for one in more if one)


def _of_board(use: BoardUse, units: Units, number: int) -> Table:
    whole = cutting_list(use.cuts, units)
    rows = tuple(row[1:] for row in whole.rows)
    note = f"{use.share:.0%} of this board becomes parts; " + (
        "off-cuts kept: " + ", ".join(
            f"{one.board.name} ({sized(one.board.length_mm, units)})" for one in use.off_cuts) if use.off_cuts
        else "no off-cut is kept"
    )  # fmt: skip
    return Table(f"Off {use.board.name}", whole.columns[1:], rows, f"{note}.", name=f"off-{number + 1}", after=number)


def _held(laying: Laying, units: Units) -> Sequence[str]:
    """Return what parts put in place by the builder break, as notes."""
    return [f"{one.part} on {one.board}, put there by hand: {breach.text}" for one in laying.placements if one.held
            for breach in breaches_of(laying, one, units=units)]  # fmt: skip


def _summary(laying: Laying, result: Result) -> tuple[tuple[str, str], ...]:
    cost = "a board's cost is not known" if result.cost is None else f"{result.cost:.2f}"
    return (
        ("laid", f"{len(result.cuts)} of {len(laying.parts)} parts"),
        ("boards cut into", f"{len(result.uses)} of {len(laying.boards)}"),
        (
            "yield",
            f"{result.share_kept:.0%} of what is used up, {result.share:.0%} of the boards cut into; by volume "
            f"{result.share_volume:.0%}",
        ),
        ("cost of what is used up", cost),
    )
