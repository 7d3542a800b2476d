"""Tables of the timber page and command: cutting list, off-cuts kept, what to order."""

from __future__ import annotations

from collections.abc import Sequence

from scrieve.sheets.bench import Table
from scrieve.sheets.figures import degrees, length, thickness, unit
from scrieve.stock.offcuts import How, OffCut
from scrieve.stock.result import Cut, Order
from scrieve.units import Units

#: How an off-cut comes off its board, in words.
OFF_CUT_WORDS: dict[How, str] = {
    "across": "sawn across", "beside": "straight, from beside", "resawn": "left where a part is resawn",
}  # fmt: skip


def cutting_list(cuts: Sequence[Cut], units: Units) -> Table:
    """Every part with its place on its board."""
    u = unit(units)
    rows = tuple(
        (one.board, one.part, length(one.first_mm, units), length(one.last_mm, units), length(one.lower_mm, units),
         length(one.upper_mm, units), one.up, "last" if one.end_for_end else "first", degrees(one.turned_rad),
         thickness(one.thickness_mm, units) + (", resawn into a pair" if one.book_matched else ""),
         thickness(one.over_mm, units), thickness(one.left_mm, units) + " left" if one.left_mm else "–")
        for one in cuts
    )  # fmt: skip
    return Table(
        "Cutting list",
        ("board", "part", f"from ({u})", f"to ({u})", f"lowest ({u})", f"highest ({u})", "face up", "end first",
         "turned (°)", "planed to", "comes off", "resawn"),
        rows,
        "From and to: along the board's datum line from its first end; lowest and highest: from that line, upwards. "
        "Ends, saw allowance and standing wood for bevels are in the outline. Comes off: the board's thickness less "
        "that which it is planed to; resawn, what is left goes to the rack as a thinner board where it is long and "
        "wide enough.",
        name="cutting-list",
    )  # fmt: skip


def off_cut_list(kept: Sequence[OffCut], units: Units) -> Table:
    """Off-cuts that go back to the rack."""
    u = unit(units)
    rows = tuple(
        (one.board.name, length(one.board.length_mm, units),
         length(one.board.area_mm2 / one.board.length_mm, units), thickness(one.board.thickness_mm, units),
         OFF_CUT_WORDS[one.how])
        for one in kept
    )  # fmt: skip
    return Table("Off-cuts to keep", ("name", f"length ({u})", f"mean width ({u})", "thickness", "how"), rows,
                 name="off-cuts")  # fmt: skip


def order_list(orders: Sequence[Order], units: Units) -> Table:
    """Boards to order for what is missing."""
    u = unit(units)
    rows = tuple(
        (one.timber or "any", thickness(one.thickness_mm, units), length(one.length_mm, units),
         length(one.width_mm, units), str(one.count), f"{one.area_m2:.2f}", f"{one.volume_m3:.3f}",
         "–" if one.cost is None else f"{one.cost:.2f}", ", ".join(one.parts))
        for one in orders
    )  # fmt: skip
    shares = sorted({f"{one.share:.0%}" for one in orders})
    return Table(
        "To order", ("timber", "thickness", f"length, least ({u})", f"width clear of wane, least ({u})", "boards",
                     "wany board (m²)", "(m³)", "cost", "for"), rows,
        f"Reckoned with a yield of {' and '.join(shares) or '–'}. Thickness as it must be after planing the board "
        "flat: order the next sawn thickness above it. Cost: by what the rack's own boards of that timber cost.",
        name="order",
    )  # fmt: skip
