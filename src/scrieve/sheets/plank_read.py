"""A file, or a table pasted, of one plank: its two seams, the marks of its spiling batten, or a trace of it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict, dataclass
from typing import Any, Literal

from scrieve.planking import read_seams, read_spiling
from scrieve.sheets.dxf_read import read_trace
from scrieve.units import Units

#: What a file says of a plank.
Says = Literal["seams", "spiling", "traced"]


@dataclass(frozen=True, slots=True)
class PlankFile:
    """What was read: the kind of plank, what goes into its choice, its marks (of a spiled one), what could not be read,
    and what to look at."""

    kind: Literal["strake", "spiled"]
    choice: Mapping[str, Any]
    marks: tuple[dict[str, Any], ...] | None
    bad: tuple[str, ...] = ()
    warnings: tuple[str, ...] = ()


def read_plank_file(
    data: bytes,
    name: str,
    says: Says,
    *,
    units: Units = "mm",
    unit: str = "",
    layer: str = "",
    mirrored: bool = False,
) -> PlankFile:
    """Read a file of one plank.

    Parameters
    ----------
    data, name
        The file, and its name for the messages.
    says
        Seams and spiling marks are tables; a trace is a DXF file, or a table of points of the edges, which has the
        columns of the spiling file.
    units
        Of a table's lengths where its head names none.
    unit
        Overrules the unit of a DXF file.
    layer, mirrored
        As in `scrieve.planking.tracing.traced`.

    Raises
    ------
    BadMarks
        It is no table or no DXF file, or lacks what is needed; the message says what was found.
    """
    if says == "seams":
        seams = read_seams(data, name, units=units)
        return PlankFile("strake", {"lower": seams.lower, "upper": seams.upper}, None, seams.bad, seams.warnings)
    source = {"source": "trace" if says == "traced" else "batten"}
    if says == "traced" and name.lower().endswith(".dxf"):
        trace = read_trace(data, name, units=unit, layer=layer, mirrored=mirrored)
        return PlankFile("spiled", source, tuple(asdict(mark) for mark in trace.batten.marks), (), trace.warnings)
    spiling = read_spiling(data, name, units=units)
    marks = tuple(asdict(mark) for mark in spiling.batten.marks)
    return PlankFile("spiled", source, marks, spiling.bad, spiling.warnings)
