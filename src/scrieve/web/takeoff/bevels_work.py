"""What the page of the bevel board works out: the readings kept, held against the fair hull frame by frame."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from scrieve import store
from scrieve.errors import BadMarks
from scrieve.fairing.bevel_board import BevelBoard, BevelOff, compare_bevels
from scrieve.fairing.result import FairHull
from scrieve.frames.columns.rows import Columns, put_in
from scrieve.sheets.bench import Table
from scrieve.sheets.bevel_drawing import bevel_drawing
from scrieve.sheets.drawing import Drawing
from scrieve.sheets.figures import length, unit
from scrieve.store.recording import TAKEN_BACK, Record
from scrieve.takeoff.bevels import BevelReading
from scrieve.takeoff.bevels_kept import BEVEL_BOARD, board_detail, new_bevels, standing_bevels
from scrieve.units import Units, format_angle
from scrieve.web.column_whys import ColumnWhy, column_whys
from scrieve.web.people.who import who
from scrieve.web.views import View
from scrieve.wording import in_units, small
from scrieve.working import Working

_BEVEL = "tan β_hull = slope of the surface fore and aft, square to the moulded line"
_DOUBT = (
    "σ_β = cos²β·√(gᵀVg), g = n·∂S/∂x − (t·∂S/∂x)(n·∂S/∂v)/|∂S/∂v|: t along the moulded line, n square to it, V the "
    "covariance of the surface as its marks leave it"
)
_PROPAGATION = "law of propagation of uncertainty, JCGM 100:2008, 5.1.2 and 5.2.2"
_CAUTION = "It knows of measuring error alone: not of the gauge, of a frame out of square, of swollen planking."
_SIDES = {"P": "port", "S": "starboard", "": "both"}


@dataclass(frozen=True)
class OneFrame:
    """The readings of one frame beside the hull, and the drawing of them."""

    frame: str
    offs: tuple[BevelOff, ...]
    drawing: Drawing

    @property
    def differing(self) -> int:
        """How many differ by more than the tolerance."""
        return sum(off.differs for off in self.offs)


@dataclass(frozen=True)
class Held:
    """A board held against the hull: each frame, all of it as a table, and how the figures come about."""

    board: BevelBoard
    frames: tuple[OneFrame, ...]
    table: Table
    whys: tuple[ColumnWhy, ...]
    workings: tuple[Working, ...]

    @property
    def words(self) -> str:
        """The whole in one sentence."""
        rms, most = format_angle(self.board.rms_rad), format_angle(self.board.tolerance_rad)
        many = len(self.board.differing)
        said = "none differs" if not many else "1 differs" if many == 1 else f"{many} differ"
        count = len(self.board.offs)
        named = f"{count} bevel{'' if count == 1 else 's'}"
        return f"{named}, {rms} off the hull (root mean square); {said} by more than {most}."


def sendings(view: View) -> tuple[Record, ...]:
    """Records of what was kept, oldest first."""
    return store.records(view.file.engine, BEVEL_BOARD)


def kept_bevels(view: View) -> tuple[BevelReading, ...]:
    """The readings that stand."""
    return standing_bevels(record.detail for record in sendings(view))


def keep_bevels(view: View, readings: Sequence[BevelReading], source: str, key: str | None) -> tuple[int, int]:
    """Keep what is new of the readings; return the number of its record (0 where nothing is new), and how many are new.

    Raises
    ------
    BadMarks
        There are none.
    """
    if not readings:
        raise BadMarks(f"{source}: no bevel in it to keep; give each bevel a row.")
    new = new_bevels(readings, kept_bevels(view))
    if not new:
        return 0, 0
    detail = board_detail(new, source)
    return store.add_record(view.file.engine, BEVEL_BOARD, "", detail, key=key, who=who()), len(new)


def take_back(view: View, number: str, key: str | None) -> None:
    """Take back what one record kept.

    Raises
    ------
    BadMarks
        It is none of the bevel board's that stand.
    """
    if number not in {str(record.number) for record in sendings(view)}:
        raise BadMarks(f"record {number!r} is none of the bevel board's that stand; was it taken back before?")
    store.add_record(view.file.engine, TAKEN_BACK, "", {}, corrects=int(number), key=key, who=who())


def held(view: View, hull: FairHull, readings: Sequence[BevelReading], tolerance_rad: float) -> Held:
    """Hold readings against the hull; raises as `compare_bevels` does."""
    units = view.boat.units
    board = compare_bevels(readings, hull, tolerance_rad=tolerance_rad, marks=view.kept.marks)
    by_frame: dict[str, list[BevelOff]] = {}
    for off in board.offs:
        by_frame.setdefault(off.reading.frame, []).append(off)
    order = sorted(by_frame, key=lambda frame: hull.station_of(frame)[1])
    frames = tuple(
        OneFrame(
            frame,
            tuple(sorted(by_frame[frame], key=lambda off: off.s_mm)),
            bevel_drawing(hull.section(frame), by_frame[frame], tolerance_rad, units, f"Bevels of frame {frame}"),
        )
        for frame in order
    )
    table = _table(frames, units)
    columns = _columns([off for one in frames for off in one.offs])
    return Held(board, frames, table, column_whys(table, columns, units), in_units(_workings(board), units))


def _table(frames: Sequence[OneFrame], units: Units) -> Table:
    heads = ("frame", "mark", "hand", "face", f"girth ({unit(units)})", "read (°)", "hull (°)", "± 2 sd (°)",
             "differs by (°)", "verdict", "note")  # fmt: skip
    rows = tuple(
        (one.frame, off.reading.label or "–", _SIDES[off.reading.side], off.reading.face, length(off.s_mm, units),
         *(_degrees(a) for a in (off.reading.bevel_rad, off.hull_rad, 2 * off.hull_sd_rad, off.residual_rad)),
         _verdict(off), off.reading.note)
        for one in frames
        for off in one.offs
    )  # fmt: skip
    note = (
        "Degrees from square, as worked from the face stated: standing above zero, under below. Differs by: read less "
        "hull. Girth from the heel, where the bevel was read. ± 2 sd: of the hull's own bevel, by the error of its "
        "marks; nothing is known of the gauge's."
    )
    return Table("The bevel board beside the hull", heads, rows, note, name="bevels")


def _verdict(off: BevelOff) -> str:
    if not off.differs:
        return ""
    return "look again; the hull itself is as unsure" if off.unsure else "look again"


def _columns(offs: Sequence[BevelOff]) -> Columns:
    """Of the readings in the table: the hull's own bevel, its ±, and the difference."""
    hull, doubt, differs = [], [], []
    for off in offs:
        own, two, read = (format_angle(a) for a in (off.hull_rad, 2 * off.hull_sd_rad, off.reading.bevel_rad))
        place = ("girth from the heel", small(off.s_mm, 0))
        hull.append(
            put_in("hull", f"atan {math.tan(off.hull_rad):+.4f}", own, _BEVEL,
                   (place, ("as worked from the face", off.reading.face)), "slope of the fair surface")
        )  # fmt: skip
        slope = 1000 * off.hull_sd_rad / math.cos(off.hull_rad) ** 2
        doubt.append(
            put_in("± of the hull's own bevel", f"2 × cos²β × {slope:.2f} mm in a metre", two, _DOUBT,
                   (("β", own), place), _PROPAGATION, _CAUTION)
        )  # fmt: skip
        differs.append(
            put_in("differs by", f"{read} − {own}", format_angle(off.residual_rad), "β_read − β_hull",
                   (("± of the hull's own, 2 sd", two),), "definition")
        )  # fmt: skip
    return {"hull": tuple(hull), "± 2 sd": tuple(doubt), "differs by": tuple(differs)}


def _degrees(angle_rad: float) -> str:
    text = f"{math.degrees(angle_rad):.1f}"
    return "0.0" if text == "-0.0" else text.replace("-", "−")


def _workings(board: BevelBoard) -> tuple[Working, ...]:
    if not board.offs:
        return ()
    worst = max(board.offs, key=lambda off: abs(off.residual_rad))
    slope_sd = worst.hull_sd_rad / math.cos(worst.hull_rad) ** 2
    source = "the hull's own normal at the place, as docs/fairing.md tells"
    return (
        Working(
            f"largest difference: frame {worst.reading.frame}{f', {worst.reading.label}' * bool(worst.reading.label)}",
            format_angle(worst.residual_rad),
            f"β_read − β_hull, {_BEVEL}",
            (
                ("read", f"{format_angle(worst.reading.bevel_rad)} from the {worst.reading.face} face"),
                ("the hull has", f"{format_angle(worst.hull_rad)} ± {format_angle(2 * worst.hull_sd_rad)} (2 sd)"),
                ("at girth", f"{worst.s_mm:.0f} mm"),
                ("told where over", f"{format_angle(board.tolerance_rad)} (our own limit, no source)"),
            ),
            source,
            "A bevel that differs may be misread, or the frame beside it misplaced: measure before wood is cut.",
        ),
        Working(
            "± of the hull's own bevel there",
            f"{format_angle(2 * worst.hull_sd_rad, 2)} (2 sd)",
            _DOUBT,
            (
                ("bevel β", format_angle(worst.hull_rad)),
                ("√(gᵀVg), slope fore and aft", f"{1000 * slope_sd:.2f} mm in a metre (1 sd)"),
                ("σ_β", format_angle(worst.hull_sd_rad, 2)),
            ),
            _PROPAGATION,
            _CAUTION,
        ),
        Working(
            "root mean square of the differences",
            format_angle(board.rms_rad),
            "√(Σ(β_read − β_hull)²/n)",
            (("n", str(len(board.offs))),),
            "definition",
        ),
    )
