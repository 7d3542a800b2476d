"""The record's pages: photographs as high as one another whatever their shape, and none wider than the page's text."""

import io

import numpy as np
import pikepdf
import pytest
from PIL import Image

from scrieve.sheets.record import Section, record_pdf

MM = 72 / 25.4


def picture(wide, high):
    out = io.BytesIO()
    Image.new("RGB", (wide, high), "brown").save(out, "JPEG")
    return out.getvalue()


def printed(data):
    """(width, height) of every picture as it stands on the page [mm], in order."""
    found = []
    with pikepdf.open(io.BytesIO(data)) as pdf:
        for page in pdf.pages:
            kept, now = [], np.eye(3)
            for operands, operator in pikepdf.parse_content_stream(page):
                if str(operator) == "q":
                    kept.append(now)
                elif str(operator) == "Q":
                    now = kept.pop()
                elif str(operator) == "cm":
                    a, b, c, d, e, f = (float(each) for each in operands)
                    now = np.array([[a, b, 0], [c, d, 0], [e, f, 1]]) @ now
                elif str(operator) == "Do":
                    found.append((np.hypot(*now[0, :2]) / MM, np.hypot(*now[1, :2]) / MM))
    return found


def test_photographs_are_as_high_as_one_another_and_a_long_one_is_lower():
    shapes = [(1200, 1600), (1600, 1000), (500, 1900), (2400, 700)]
    section = Section("Frame 14", photographs=tuple((f"{w} × {h}", picture(w, h)) for w, h in shapes))
    sizes = printed(record_pdf("Teal", "", "abc", [section]))
    assert [wide / high for wide, high in sizes] == [pytest.approx(w / h, rel=1e-3) for w, h in shapes]
    assert [high for _, high in sizes[:3]] == [pytest.approx(62.0, abs=0.1)] * 3
    assert sizes[3][0] == pytest.approx(174.0, abs=0.1), "as wide as the text"
