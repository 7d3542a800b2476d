"""Drawing -> DXF R2010 in mm, layers named by the trade; the same bytes for the same drawing."""

from __future__ import annotations

import io
import re
import threading
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from functools import lru_cache

from ezdxf._options import options
from ezdxf.colors import RGB
from ezdxf.document import Drawing as Document
from ezdxf.filemanagement import new

from scrieve.sheets.drawing import COLOURS, LAYERS, Circle, Drawing, Line, Point, Polyline, Text, plain, printable

#: Index colours for readers that know no true colour: the paper's contrast, grey, red.
_INDEX = {"ink": 7, "faint": 8, "accent": 1}
_LONGEST_TEXT = 250
#: Group 72: where the lettering stands to its point.
_ALIGN = {"left": 0, "middle": 1, "right": 2}
_fixing = threading.Lock()


def to_dxf(drawing: Drawing) -> bytes:
    """Return `drawing` at full size as a DXF R2010 file, `$INSUNITS` mm, y up.

    Lines become LWPOLYLINE and LINE with the drawing's own coordinates; hatching and dimensions become plain lines and
    lettering, so that every reader shows the same. Lettering keeps any text of one line, up to 250 letters.
    """
    parts = [part for item in drawing.items for part in plain(item)]
    used = {part.layer for part in parts}
    file = _empty(tuple(name for name in LAYERS if name in used), drawing.one_to)
    body = "".join(_entity(part, f"{file.first + n:X}", file.owner) for n, part in enumerate(parts))
    left, bottom, right, top = drawing.bounds
    head = (
        file.head.replace(_EMPTY[0], _extent("MIN", left, bottom))
        .replace(_EMPTY[1], _extent("MAX", right, top))
        .replace(_seed(file.first), _seed(file.first + len(parts)))
    )
    return (head + body + file.tail).encode()


@dataclass(frozen=True, slots=True)
class _File:
    """A file without entities: what stands before and after them, their owner, and the first handle that is free."""

    head: str
    tail: str
    owner: str
    first: int


@lru_cache(64)
def _empty(layers: tuple[str, ...], one_to: float) -> _File:
    """The file round the entities, as the library writes it: once for all drawings of these layers and scale."""
    with _fixed_meta():
        doc = new("R2010", units=4, setup=False)
        doc.header["$LTSCALE"] = one_to
        doc.styles.add("LETTERING", font="DejaVuSansMono.ttf")
        _add_layers(doc, layers)
        for used in sorted(doc.entitydb.dxf_types_in_use()):  # left to itself the library lists them in chance order
            doc.classes.add_class(used)
        owner = doc.modelspace().layout_key
        out = io.StringIO()
        doc.write(out)
    head, opening, tail = out.getvalue().partition("  2\nENTITIES\n")
    seed = re.search(r"\$HANDSEED\n  5\n([0-9A-F]+)\n", head)
    if seed is None or not all(head.count(place) == 1 for place in _EMPTY):
        raise RuntimeError("the DXF library writes its header in another way than this module knows")
    return _File(head + opening, tail, owner, int(seed[1], 16))


def _extent(which: str, x: float, y: float, z: float = 0.0) -> str:
    return f"$EXT{which}\n 10\n{x}\n 20\n{y}\n 30\n{z}\n"


def _seed(handle: int) -> str:
    return f"$HANDSEED\n  5\n{handle:X}\n"


#: The extents of a file without entities, in whose place those of the drawing are put.
_EMPTY = (_extent("MIN", 1e20, 1e20, 1e20), _extent("MAX", -1e20, -1e20, -1e20))


def _add_layers(doc: Document, names: Sequence[str]) -> None:
    for name in names:
        layer = LAYERS[name]
        made = doc.layers.add(name, color=_INDEX[layer.role])
        if layer.role == "accent":
            made.rgb = RGB.from_hex(COLOURS[layer.role])
        if layer.weight_mm:
            made.dxf.lineweight = round(layer.weight_mm * 100)
        if layer.pattern_mm:
            steps = [length if n % 2 == 0 else -length for n, length in enumerate(layer.pattern_mm)]
            doc.linetypes.add(name, pattern=[sum(layer.pattern_mm), *steps], description=layer.slug)
            made.dxf.linetype = name


def _entity(part: Polyline | Line | Circle | Text, handle: str, owner: str) -> str:
    """One entity by the DXF reference: group codes and values on lines by turns."""
    match part:
        case Polyline():
            corners = "".join([" 10\n%s\n 20\n%s\n"] * len(part.points)) % tuple(part.points.ravel().tolist())
            kind, own = "LWPOLYLINE", f"100\nAcDbPolyline\n 90\n{len(part.points)}\n 70\n{int(part.closed)}\n{corners}"
        case Line():
            kind, own = "LINE", f"100\nAcDbLine\n{_at(10, part.start)}{_at(11, part.end)}"
        case Circle():
            kind, own = "CIRCLE", f"100\nAcDbCircle\n{_at(10, part.at)} 40\n{float(part.radius_mm)}\n"
        case Text():
            foot = part.foot
            turned = f" 50\n{float(part.angle_deg % 360.0)}\n" if part.angle_deg % 360.0 else ""
            placed = f" 72\n{_ALIGN[part.align]}\n{_at(11, foot)}" if part.align != "left" else ""
            kind = "TEXT"
            own = (
                f"100\nAcDbText\n{_at(10, foot)} 40\n{float(part.height_mm)}\n  1\n{dxf_text(part.text)}\n"
                f"{turned}  7\nLETTERING\n{placed}100\nAcDbText\n"
            )
    return f"  0\n{kind}\n  5\n{handle}\n330\n{owner}\n100\nAcDbEntity\n  8\n{part.layer}\n{own}"


def _at(code: int, point: Point) -> str:
    return f" {code}\n{float(point[0])}\n {code + 10}\n{float(point[1])}\n {code + 20}\n0.0\n"


def dxf_text(text: str) -> str:
    """Return `text` as a DXF TEXT entity keeps it: one line, its control signs `^` and `%%` written as themselves."""
    clean = printable(text)
    if len(clean) > _LONGEST_TEXT:
        clean = clean[: _LONGEST_TEXT - 1] + "…"
    return clean.replace("^", "^ ").replace("%%", "%%%%%%")


@contextmanager
def _fixed_meta() -> Iterator[None]:
    """No clock and no chance numbers in the file; the library's switch for it is one for all threads."""
    with _fixing:
        before = options.write_fixed_meta_data_for_testing
        options.write_fixed_meta_data_for_testing = True
        try:
            yield
        finally:
            options.write_fixed_meta_data_for_testing = before
