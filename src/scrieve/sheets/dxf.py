"""Drawing -> DXF R2010 in mm, layers named by the trade; the same bytes for the same drawing."""

from __future__ import annotations

import io
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from typing import Any

import numpy as np
from ezdxf._options import options
from ezdxf.colors import RGB
from ezdxf.document import Drawing as Document
from ezdxf.entities.lwpolyline import LWPolylinePoints
from ezdxf.enums import TextEntityAlignment
from ezdxf.filemanagement import new
from ezdxf.layouts.layout import Modelspace

from scrieve.sheets.drawing import COLOURS, LAYERS, Array, Circle, Drawing, Line, Polyline, Text, plain, printable

#: Index colours for readers that know no true colour: the paper's contrast, grey, red.
_INDEX = {"ink": 7, "faint": 8, "accent": 1}
_LONGEST_TEXT = 250
_ALIGN = {
    "left": TextEntityAlignment.LEFT,
    "middle": TextEntityAlignment.CENTER,
    "right": TextEntityAlignment.RIGHT,
}
_fixing = threading.Lock()


def to_dxf(drawing: Drawing) -> bytes:
    """Return `drawing` at full size as a DXF R2010 file, `$INSUNITS` mm, y up.

    Lines become LWPOLYLINE and LINE with the drawing's own coordinates; hatching and dimensions become plain lines and
    lettering, so that every reader shows the same. Lettering keeps any text of one line, up to 250 letters.
    """
    with _fixed_meta():
        doc = new("R2010", units=4, setup=False)
        doc.header["$LTSCALE"] = drawing.one_to
        doc.styles.add("LETTERING", font="DejaVuSansMono.ttf")
        parts = [part for item in drawing.items for part in plain(item)]
        _add_layers(doc, [name for name in LAYERS if any(part.layer == name for part in parts)])
        space = doc.modelspace()
        for part in parts:
            _add(space, part)
        left, bottom, right, top = drawing.bounds
        doc.header["$EXTMIN"], doc.header["$EXTMAX"] = (left, bottom, 0.0), (right, top, 0.0)
        out = io.StringIO()
        doc.write(out)
    return doc.encode(out.getvalue())


def _add_layers(doc: Document, names: list[str]) -> None:
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


def _add(space: Modelspace, part: Polyline | Line | Circle | Text) -> None:
    on = {"layer": part.layer}
    match part:
        case Polyline():
            space.add_lwpolyline((), close=part.closed, dxfattribs=on).lwpoints = _Points.of(part.points)
        case Line():
            space.add_line(part.start, part.end, dxfattribs=on)
        case Circle():
            space.add_circle(part.at, part.radius_mm, dxfattribs=on)
        case Text():
            look = {"style": "LETTERING", "rotation": part.angle_deg % 360.0}
            text = space.add_text(dxf_text(part.text), height=part.height_mm, dxfattribs=on | look)
            text.set_placement(part.foot, align=_ALIGN[part.align])


class _Points(LWPolylinePoints):
    """Corners of a polyline, written in one piece: the library writes them one by one."""

    __slots__ = ()

    @classmethod
    def of(cls, points: Array) -> _Points:
        """Corners (n, 2), without widths and bulges."""
        made = cls()
        made.extend(np.column_stack([points, np.zeros((len(points), 3))]))
        return made

    def dxftags(self) -> Iterator[Any]:
        yield _Text("".join([" 10\n%s\n 20\n%s\n"] * len(self)) % tuple(self.values[:, :2].ravel().tolist()))


@dataclass(frozen=True, slots=True)
class _Text:
    """Tags that have been written already, as the library's writer takes them."""

    written: str

    def dxfstr(self) -> str:
        return self.written


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
