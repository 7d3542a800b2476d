"""Files as a spreadsheet would write them, and hulls of several shapes."""

import io

import numpy as np
import pytest
from openpyxl import Workbook
from scipy.interpolate import pchip_interpolate

from scrieve.takeoff.marks import Mark


@pytest.fixture
def xlsx():
    """Make an XLSX file of rows, and of further sheets by title."""

    def make(rows, **more):
        book = Workbook()
        sheet = book.active
        sheet.title = "Marks"
        for row in rows:
            sheet.append(list(row))
        for title, others in more.items():
            extra = book.create_sheet(title)
            for row in others:
                extra.append(row)
        out = io.BytesIO()
        book.save(out)
        return out.getvalue()

    return make


#: Sections heel to head, as shares of half-breadth and depth.
SHAPES = {
    "round": [(0, 0), (0.4, 0.05), (0.8, 0.25), (0.97, 0.6), (1, 1)],
    "tumblehome": [(0, 0), (0.5, 0.08), (0.95, 0.4), (1, 0.7), (0.88, 1)],
    "hollow garboards": [(0.05, 0), (0.08, 0.25), (0.2, 0.45), (0.6, 0.62), (0.9, 0.8), (1, 1)],
    "flat floors": [(0, 0), (0.45, 0), (0.9, 0.02), (1, 0.12), (1, 1)],
    "chine": [(0, 0), (0.8, 0.3), (1, 1)],
    "straight": [(0, 0), (1, 1)],
    "flare": [(0, 0), (0.25, 0.35), (0.45, 0.65), (1, 1)],
}


def _section(shape, count):
    corners = np.array(SHAPES[shape], dtype=float)
    s = np.r_[0, np.cumsum(np.hypot(*np.diff(corners, axis=0).T))]
    fine = np.linspace(0, s[-1], 400)
    between = np.interp if shape in ("flat floors", "chine", "straight") else pchip_interpolate
    points = np.column_stack([between(fine, s, c) if between is np.interp else between(s, c, fine) for c in corners.T])
    s = np.r_[0, np.cumsum(np.hypot(*np.diff(points, axis=0).T))]
    return np.column_stack([np.interp(np.linspace(0, s[-1], count), s, c) for c in points.T])


@pytest.fixture
def hull():
    """Make the marks of a hull of one shape, broadest amidships, with some sheer and 2 mm of measuring noise."""

    def make(shape="round", *, frames=15, count=12, base=0.0, space=600.0, seed=0, side="", listed="up"):
        rng, section, marks = np.random.default_rng(seed), _section(shape, count), []
        for i in range(frames):
            along = (i + 0.5) / frames * 2 - 1
            points = section * [1500 * (1 - along**2) + 40, 1200 * (1 + 0.2 * along**2)]
            points += rng.normal(0, 2, points.shape)
            order = list(range(count))
            order = {
                "up": order,
                "down": order[::-1],
                "sheer first": [*order[-1:], *order[:-1]],
                "sheer and keel first": [order[-1], order[0], *order[1:-1]],
                "one buttock last": [*order[:2], *order[3:], order[2]],
                "waterlines, then buttocks": order[::2] + order[1::2],
            }[listed]
            for j in order:
                y, z = points[j]
                number = len(marks) + 1
                marks.append(
                    Mark(str(i + 1), i * space, z + base, abs(y), side, f"m{j}", number=number, line=number + 1)
                )
        return marks

    return make
