"""A launch of about 1905 faired from her printed table of offsets, read as printed.

Source: tests/published/data/launch_19ft.csv (Amateur Work, vol. 5, out of copyright by age). The table gives eighths of
an inch on five moulds 3 ft 3 in apart: it settles no line to better than about 3 mm, and nobody printed the lines
between the moulds. So what is asserted is: every printed mark counts, none lies further off than a quarter of an inch,
the root mean square is under an eighth, and what the table says of her shape (tumblehome aft, beam, heights) is there.
"""

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from scrieve.boat import Boat
from scrieve.fairing import fair
from scrieve.takeoff.offsets import read_marks

INCH = 25.4
DATA = Path(__file__).parent / "data" / "launch_19ft.csv"


@pytest.fixture(scope="module")
def marks():
    reading = read_marks(DATA.read_bytes(), DATA.name, units="ft")
    assert not reading.bad
    return [replace(mark, number=number) for number, mark in enumerate(reading.marks, 1)]


@pytest.fixture(scope="module")
def hull(marks):
    return fair(marks, Boat("launch", units="ft", sigma_mm=INCH / 8))


def test_every_printed_mark_counts_and_is_met(hull, marks):
    assert not hull.suspects
    assert len(hull.offs) == len(marks) == 37
    assert hull.rms_mm < INCH / 8
    assert max(np.hypot(off.residual_mm, off.along_mm) for off in hull.offs) < INCH / 4
    # the marks bear out the printed accuracy: their own scatter is between a sixteenth and a quarter of an inch
    assert INCH / 16 < hull.error_mm < INCH / 4


@pytest.mark.parametrize(
    ("mould", "eighths"),
    [  # half-breadths at WL 4, 12 in above the base, and at the deck: feet, inches, eighths as printed
        ("1", {"WL 4": (0, 9, 6), "deck": (1, 0, 0)}),
        ("3", {"WL 4": (1, 7, 6), "deck": (1, 8, 0)}),
        ("5", {"WL 4": (1, 4, 6), "deck": (1, 3, 6)}),
    ],
)
def test_half_breadths_of_the_table(hull, mould, eighths):
    section = hull.section(mould)

    def mm(feet, inches, parts):
        return (feet * 12 + inches + parts / 8) * INCH

    at_waterline = np.interp(12 * INCH, section.height_mm, section.half_breadth_mm)
    assert at_waterline == pytest.approx(mm(*eighths["WL 4"]), abs=INCH / 4)
    assert section.half_breadth_mm[-1] == pytest.approx(mm(*eighths["deck"]), abs=INCH / 4)


def test_she_tumbles_home_aft_and_flares_forward(hull):
    aft, forward = hull.section("5"), hull.section("1")
    assert aft.half_breadth_mm.max() - aft.half_breadth_mm[-1] == pytest.approx(INCH, abs=INCH / 4)  # 1-4-6 to 1-3-6
    assert forward.half_breadth_mm[-1] == pytest.approx(forward.half_breadth_mm.max(), abs=INCH / 8)


def test_no_lump_between_the_moulds(hull):
    """Sections are single curves, and each line of equal girth share bends one way only along the hull's breadth."""
    for x in np.linspace(*hull.x_range, 27):
        section = hull.section(x)
        assert np.all(np.diff(section.height_mm[20:]) > 0)  # ever upwards after the keel's own breadth
        assert np.all(np.diff(section.half_breadth_mm[:120]) > 0)  # and outwards to the turn of the bilge
    x = np.linspace(*hull.x_range, 60)
    for v in (0.3, 0.5, 0.7, 0.9, 1.0):
        breadth = hull.point(x, np.full(60, v))[:, 1]
        assert np.diff(breadth, 2).max() < 0.05  # hollow nowhere, to 0.05 mm over two steps of 67 mm


def test_the_keel_is_no_better_known_than_its_marks(hull):
    # heel marks: inferred columns; the band says so
    assert all(hull.error_mm / 2 < off.line_sd_mm < INCH / 4 for off in hull.offs)
