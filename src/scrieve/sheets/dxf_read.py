"""DXF -> the lines of a drawing, in mm: what a traced plank is read from."""

from __future__ import annotations

import io
from typing import Any

import numpy as np
from numpy.typing import NDArray

from scrieve.errors import BadMarks
from scrieve.planking.tracing import Drawn, Trace, traced

Array = NDArray[np.float64]

#: What `$INSUNITS` of a DXF file says -> mm (DXF reference, HEADER section); 0 is no unit.
DXF_UNITS: dict[int, tuple[str, float]] = {
    1: ("inches", 25.4), 2: ("feet", 304.8), 4: ("mm", 1.0), 5: ("cm", 10.0), 6: ("m", 1000.0), 14: ("dm", 100.0),
}  # fmt: skip
UNIT_MM = {"mm": 1.0, "cm": 10.0, "m": 1000.0, "in": 25.4, "ft": 304.8}
READ = ("LWPOLYLINE", "POLYLINE", "SPLINE", "LINE", "ARC", "ELLIPSE", "POINT")
#: Curves are taken as chords no further from them than this [mm].
FINE_MM = 0.02
MOST_BYTES = 30_000_000


def read_trace(data: bytes, name: str, *, units: str = "", layer: str = "", mirrored: bool = False) -> Trace:
    """Read a traced plank from a DXF file: its outline, its two edges, or points of the edges.

    Parameters
    ----------
    data : bytes
        A DXF file, text or binary, as docs/planking-formats.md tells under "A traced plank".
    name : str
        The file's name, for the messages.
    units : {'', 'mm', 'cm', 'm', 'in', 'ft'}
        Overrules the unit that the file carries; must be given where it carries none.
    layer, mirrored
        As in `scrieve.planking.tracing.traced`.

    Raises
    ------
    BadMarks
        The file is no DXF, carries no unit, or holds no outline and no two edges; the message says what was found.
    """
    drawn, texts, unit, unread = read_lines(data, name, units=units)
    found = traced(drawn, texts, name, unit, layer=layer, mirrored=mirrored)
    return Trace(found.batten, found.unit, found.layers, (*unread, *found.warnings))


def read_lines(
    data: bytes, name: str, *, units: str = "", also: tuple[str, ...] = (), of: str = "the outline"
) -> tuple[list[Drawn], list[tuple[str, tuple[float, float]]], str, tuple[str, ...]]:
    """Return the lines and lettering of a DXF file in mm, its unit, and a warning for each kind of thing not read.

    `also` are kinds of entity read besides `READ`; `of` says in a warning what is wanted. Raises as `read_trace`.
    """
    space, header_units = _opened(data, name)
    unit, scale = _unit(header_units, units, name)
    drawn: list[Drawn] = []
    texts: list[tuple[str, tuple[float, float]]] = []
    strange: dict[str, int] = {}
    for entity in space:
        kind, on = entity.dxftype(), str(entity.dxf.get("layer", "0"))
        if kind in ("TEXT", "MTEXT"):
            if on.upper() == "BEVELS":  # of our own patterns: these stand beside frame lines, but are no labels
                continue
            at = entity.dxf.insert
            texts.append((" ".join(str(entity.plain_text()).split()), (scale * at.x, scale * at.y)))
        elif kind in (*READ, *also):
            drawn.append(Drawn(on, scale * _points(entity, scale)))
        elif kind not in ("DIMENSION", "HATCH", "VIEWPORT"):
            strange[kind] = strange.get(kind, 0) + 1
    unread = tuple(f"{name}: {count} {kind} not read; explode into lines what belongs to {of}."
                   for kind, count in sorted(strange.items()))  # fmt: skip
    return drawn, texts, unit, unread


def _opened(data: bytes, name: str) -> tuple[Any, int]:
    if not data.strip():
        raise BadMarks(f"{name}: the file is empty.")
    if len(data) > MOST_BYTES:
        raise BadMarks(f"{name}: over {MOST_BYTES // 1_000_000} MB; save the outline alone.")
    from ezdxf import recover
    from ezdxf.lldxf.const import DXFError

    try:
        doc, _ = recover.read(io.BytesIO(data))
    except (DXFError, OSError, ValueError, KeyError, IndexError, TypeError, AttributeError, UnicodeError) as error:
        raise BadMarks(f"{name}: this is no DXF file that can be read ({type(error).__name__}); save the outline as "
                       "DXF R2000 or later.") from error  # fmt: skip
    return doc.modelspace(), int(doc.header.get("$INSUNITS", 0) or 0)


def _unit(header: int, units: str, name: str) -> tuple[str, float]:
    if units:
        return units, UNIT_MM[units]
    if header in DXF_UNITS:
        return DXF_UNITS[header]
    raise BadMarks(f"{name}: the file does not say its unit ($INSUNITS {header}); name it: mm, cm, m, in or ft.")


def _points(entity: Any, scale: float) -> Array:
    """Points (n, 2) of one entity in the file's own unit: chords within `FINE_MM` of it."""
    from ezdxf import path

    if entity.dxftype() == "POINT":
        at = entity.dxf.location
        return np.array([[at.x, at.y]])
    line = path.make_path(entity)
    found = np.array([[p.x, p.y] for p in line.flattening(FINE_MM / scale)], dtype=float).reshape(-1, 2)
    if len(found) and line.is_closed and np.hypot(*(found[0] - found[-1])) > 0:
        found = np.vstack([found, found[:1]])
    return found
