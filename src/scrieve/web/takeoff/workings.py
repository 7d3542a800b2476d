"""How the figures in a table of marks came about: its place, of what was read, and how far it lies off the line."""

from __future__ import annotations

from collections.abc import Sequence

from scrieve.sheets.bench import Table
from scrieve.takeoff.marks import Mark
from scrieve.takeoff.placed import placed_working
from scrieve.web.column_whys import ColumnWhy, column_whys
from scrieve.web.fairing.workings import off_working
from scrieve.web.views import View
from scrieve.working import Working

_NONE = Working("", "", "", (), "")
_HEAD = ("mark", "side", "height", "half-breadth", "off the line")


def marks_whys(view: View, marks: Sequence[Mark], with_frame: bool) -> tuple[ColumnWhy, ...]:
    """Return the workings of a table of marks; `with_frame` where its first column names the frame."""
    hull, offs = view.hull, view.offs
    names = [f"frame {mark.frame}, mark {mark.number}" if with_frame else f"mark {mark.number}" for mark in marks]
    placed = tuple(placed_working(mark, view.boat) or _NONE for mark in marks)
    off = tuple(off_working(hull, offs[mark.number]) if hull and mark.number in offs else _NONE for mark in marks)
    given = {"height": placed, "half-breadth": placed, "off the line": off}
    columns = {name: workings for name, workings in given.items() if any(one.formula for one in workings)}
    head = ("frame", *_HEAD) if with_frame else _HEAD
    rows = tuple((name, *[""] * (len(head) - 1)) for name in names)
    return column_whys(Table("Marks", head, rows), columns, view.boat.units)
