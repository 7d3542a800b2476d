"""A hand-made drawing, and a reader of the lines in a PDF's own content."""

from __future__ import annotations

import io
from collections.abc import Callable

import numpy as np
import pikepdf
import pytest

from scrieve.sheets.drawing import Circle, Dimension, Drawing, Hatch, Line, Text, plain, polyline

MM_PER_POINT = 25.4 / 72  # PDF 2.0 (ISO 32000-2), 8.3.2.3: the unit of user space is 1/72 inch
NASTY = "frame \"14\" <b>&amp; #let x = [*bold*] $y$ \\ 'q' ½ Ålesund 14%%d ^J \x00\x07 \ud800 " + "long " * 60


def hand_drawing() -> Drawing:
    """Return a quarter ellipse with its inner line and everything else a drawing may hold."""
    t = np.linspace(0, np.pi / 2, 40)
    outer = np.column_stack([1234.567 * np.sin(t), 876.543 * (1 - np.cos(t))])
    inner = np.column_stack([1174.567 * np.sin(t), 60 + 816.543 * (1 - np.cos(t))])
    return Drawing(
        (
            polyline(outer, "MOULDED LINE", link="/frames/14", title='frame 14 <&"'),
            polyline(inner, "INNER FACE"),
            Hatch(np.vstack([outer, inner[::-1]]), "diagonal", 40),
            Line((0, -20), (0, 900), "CENTRELINE"),
            Circle((400.0, 300.0), 4, "BEVEL MARKS", filled=True),
            Text((300.0, 500.0), "14 P", 12),
            Dimension((0, 0), (1234.567, 0), -30, "1234.6", 8),
        ),
        title="hand-made",
    )


@pytest.fixture
def hand() -> Drawing:
    return hand_drawing()


Path = tuple[np.ndarray, bool]


def walk(pdf: bytes) -> list[tuple[tuple[float, float], list[Path]]]:
    """Return, for every page, its size and all drawn paths [mm, from the lower left corner], with whether it is closed.

    The content stream is followed through its transforms (`cm`) and its form XObjects (`Do`); curves count by their
    end points.
    """
    pages = []
    with pikepdf.open(io.BytesIO(pdf)) as file:
        for page in file.pages:
            assert "/UserUnit" not in page.obj
            box = [float(v) for v in page.mediabox]
            found: list[Path] = []
            _stream(page, page.obj.Resources, np.eye(3), found)
            scaled = [((points - box[:2]) * MM_PER_POINT, closed) for points, closed in found]
            pages.append((((box[2] - box[0]) * MM_PER_POINT, (box[3] - box[1]) * MM_PER_POINT), scaled))
    return pages


def _matrix(values) -> np.ndarray:
    a, b, c, d, e, f = (float(v) for v in values)
    return np.array([[a, b, 0], [c, d, 0], [e, f, 1]])


def _stream(source, resources, ctm: np.ndarray, found: list[Path]) -> None:
    stack: list[np.ndarray] = []
    subpaths: list[Path] = []
    points: list[tuple[float, float]] = []

    def finish(closed: bool) -> None:
        if len(points) > 1:
            subpaths.append(((np.column_stack([np.array(points), np.ones(len(points))]) @ ctm)[:, :2], closed))
        points.clear()

    for operands, operator in pikepdf.parse_content_stream(source):
        name = str(operator)
        if name == "q":
            stack.append(ctm)
        elif name == "Q":
            ctm = stack.pop()
        elif name == "cm":
            ctm = _matrix(operands) @ ctm
        elif name == "m":
            finish(False)
            points.append((float(operands[0]), float(operands[1])))
        elif name in ("l", "c", "v", "y"):
            points.append((float(operands[-2]), float(operands[-1])))
        elif name == "re":
            x, y, w, h = (float(v) for v in operands)
            points[:] = [(x, y), (x + w, y), (x + w, y + h), (x, y + h)]
            finish(True)
        elif name == "h":
            finish(True)
        elif name in ("S", "s", "f", "F", "f*", "B", "b"):
            finish(name in ("s", "b"))
            found.extend(subpaths)
            subpaths = []
        elif name == "n":
            points.clear()
            subpaths = []
        elif name == "Do":
            form = resources.XObject[str(operands[0])]
            if form.Subtype == "/Form":
                inner = _matrix(form.get("/Matrix", [1, 0, 0, 1, 0, 0])) @ ctm
                _stream(form, form.get("/Resources", resources), inner, found)


@pytest.fixture
def lines_of() -> Callable[[bytes], list[tuple[tuple[float, float], list[Path]]]]:
    return walk


def overlapping(drawing: Drawing) -> list[tuple[str, str]]:
    """Pairs of lettering whose boxes overlap, by separating axes."""
    texts = [part for item in drawing.items for part in plain(item) if isinstance(part, Text)]
    boxes = [text.corners() for text in texts]
    found = []
    for i, a in enumerate(boxes):
        for j in range(i):
            b = boxes[j]
            axes = np.array([a[1] - a[0], a[2] - a[1], b[1] - b[0], b[2] - b[1]])
            gaps = [max((b @ n).min() - (a @ n).max(), (a @ n).min() - (b @ n).max()) for n in axes]
            if max(gaps) < 0:
                found.append((texts[j].text, texts[i].text))
    return found
