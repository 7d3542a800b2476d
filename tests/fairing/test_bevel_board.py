"""The bevel board against a hull whose bevels are known in closed form.

Source: the Wigley parabolic hull y = (B/2)(1 − (2x/L)²)(1 − (z/T)²), z up from the waterline; its slope fore-and-aft,
square to the section, is (∂y/∂x)/√(1 + (∂y/∂z)²) by elementary calculus; at x = L/4, z = 0 it is −B/L.
"""

import math
from dataclasses import replace

import numpy as np
import pytest

from scrieve.boat import Boat
from scrieve.errors import BadMarks, NoSuchFrame
from scrieve.fairing.bevel_board import compare_bevels
from scrieve.fairing.hull import fair
from scrieve.fairing.section import Section
from scrieve.takeoff.bevels import BevelReading
from scrieve.takeoff.marks import Mark

L, B, T = 15000.0, 3000.0, 1200.0


class Wigley:
    """The Wigley hull, bevels by calculus; frames 1 to 9, x aft from the forward end, z up from the keel."""

    def __init__(self, stations=None):
        self.stations = stations or {str(n): n * 1500.0 for n in range(1, 10)}

    def station_of(self, at):
        if str(at) not in self.stations:
            raise NoSuchFrame(f"frame {at!r} has no marks here.")
        return str(at), self.stations[str(at)]

    def section(self, at, points=200):
        x = float(at) - L / 2
        z = np.linspace(0, T, 4001)
        y, by_x, by_z = self.surface(x, z)
        s = np.concatenate([[0], np.cumsum(np.hypot(np.diff(y), np.diff(z)))])
        even = np.linspace(0, s[-1], points)
        bevel = np.interp(even, s, np.arctan(by_x / np.sqrt(1 + by_z**2)))
        name = next(n for n, station in self.stations.items() if station == at)
        flat = np.zeros(points)
        return Section(name, float(at), even, np.interp(even, s, y), np.interp(even, s, z), flat, bevel, flat)

    @staticmethod
    def surface(x, z):
        along, down = 1 - (2 * x / L) ** 2, 1 - ((z - T) / T) ** 2
        return B / 2 * along * down, -B / 2 * 8 * x / L**2 * down, -B / 2 * along * 2 * (z - T) / T**2


HULL = Wigley()


def true_bevel(frame, height):
    _, by_x, by_z = HULL.surface(HULL.stations[frame] - L / 2, height)
    return math.atan(by_x / math.sqrt(1 + by_z**2))


def board(frames=("2", "4", "7"), heights=(200.0, 500.0, 800.0, 1100.0), noise=0.0, seed=1):
    rng, readings = np.random.default_rng(seed), []
    for frame in frames:
        for height in heights:
            face = "fore" if rng.random() < 0.5 else "aft"
            slope = true_bevel(frame, height) + rng.normal(0, noise) if noise else true_bevel(frame, height)
            readings.append(
                BevelReading(frame, slope if face == "fore" else -slope, face, height, line=len(readings) + 2)
            )
    return readings


def test_the_hulls_own_bevels_agree_from_either_face():
    found = compare_bevels(board(), HULL)
    assert (len(found.offs), found.lost, found.differing, found.hints) == (12, (), (), ())
    assert found.rms_rad < 1e-4  # by linear interpolation between 400 points of the section
    for off in found.offs:
        assert abs(off.reading.slope_rad) == pytest.approx(abs(off.hull_rad), abs=2e-4)


def test_the_waterline_slope_of_the_source():
    (off,) = compare_bevels([BevelReading("7", 0.0, "fore", T)], Wigley({"7": L / 2 + L / 4})).offs
    assert math.tan(off.hull_rad) == pytest.approx(-B / L, abs=1e-9)


def test_a_hull_faired_through_its_marks():
    """The faired hull stands in for the protocol; exact marks leave well under half a degree between the ends."""
    marks = [
        Mark(frame, x, float(z), float(HULL.surface(x - L / 2, z)[0]), number=n)
        for n, (frame, x, z) in enumerate(
            ((frame, x, z) for frame, x in HULL.stations.items() for z in np.linspace(0, T, 10)), start=1
        )
    ]
    found = compare_bevels(board(frames="3578"), fair(marks, Boat("Wigley", sigma_mm=0.5)))
    assert len(found.offs) == 16
    assert found.lost == found.differing == ()
    assert max(abs(math.degrees(off.residual_rad)) for off in found.offs) < 0.5


@pytest.mark.parametrize("degrees", [3.2, -3.2, 10.0])
def test_a_reading_out_by_more_than_the_tolerance_is_named(degrees):
    readings = board(noise=math.radians(0.5))
    readings[5] = replace(readings[5], bevel_rad=true(readings[5]) + math.radians(degrees))
    found = compare_bevels(readings, HULL)
    (off,) = found.differing
    assert off.reading.line == 7
    assert math.degrees(off.residual_rad) == pytest.approx(degrees, abs=0.05)
    assert compare_bevels(readings, HULL, tolerance_rad=math.radians(20)).differing == ()


def true(reading):
    slope = true_bevel(reading.frame, reading.height_mm)
    return slope if reading.face == "fore" else -slope


def test_just_within_the_tolerance_is_not():
    readings = [replace(one, bevel_rad=one.bevel_rad + math.radians(2.9)) for one in board()[:1]]
    assert compare_bevels(readings, HULL).differing == ()


def test_places_by_girth_and_by_mark():
    section = HULL.section(3000.0, 400)
    place = int(np.argmin(np.abs(section.height_mm - 700)))
    mark = Mark("2", 3000.0, float(section.height_mm[place]), float(section.half_breadth_mm[place]), "P", "WL 2")
    read = float(section.bevel_rad[place])
    readings = [
        BevelReading("2", read, "fore", girth_mm=float(section.s_mm[place])),
        BevelReading("2", read, "fore", label="wl 2"),
        BevelReading("2", read, "fore", label="WL 2", side="P"),
        BevelReading("2", read, "fore", label="WL 2", side="S"),
    ]
    found = compare_bevels(readings, HULL, marks=[mark])
    assert [off.residual_rad for off in found.offs] == pytest.approx([0, 0, 0], abs=1e-9)
    assert "no mark WL 2 on this frame; give the height or the girth" in found.lost[0]


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"frame": "77"}, "line 2: bevel of frame 77: frame '77' has no marks here"),
        ({"height_mm": 5000.0}, "height 5000 mm, but the frame runs from 0 to 1200 mm"),
        ({"height_mm": None, "girth_mm": 9000.0}, "girth 9000 mm, but the frame's is"),
        ({"height_mm": None, "label": "x"}, "no mark x on this frame"),
    ],
)
def test_readings_without_a_place_are_told(change, words):
    first, *rest = board()
    found = compare_bevels([replace(first, **change), *rest], HULL)
    assert len(found.offs) == 11
    assert words in found.lost[0]


def test_a_height_that_comes_twice_is_asked_about():
    class Hollow(Wigley):
        def section(self, at, points=200):
            plain = super().section(at, points)
            return replace(
                plain, height_mm=300 * np.sin(np.linspace(0, 5, points)), bevel_rad=np.linspace(0, 0.5, points)
            )

    found = compare_bevels([BevelReading("2", 0.0, "fore", 200.0)], Hollow())
    assert "the frame is 200 mm high in 2 places; give the girth from the heel" in found.lost[0]


def test_a_frame_read_from_the_other_face():
    readings = [replace(one, bevel_rad=-one.bevel_rad) if one.frame == "2" else one for one in board(noise=0.005)]
    found = compare_bevels(readings, HULL)
    assert len(found.differing) >= 3
    (hint,) = found.hints
    assert hint.startswith("frame 2: its 4 bevels fit with standing and under changed over")


def test_a_frame_out_by_one_angle():
    readings = board(noise=0.005)
    readings = [
        replace(one, bevel_rad=one.bevel_rad + math.radians(5) if one.frame == "4" else one.bevel_rad)
        for one in readings
    ]
    (hint,) = compare_bevels(readings, HULL).hints
    assert hint.startswith("frame 4: its 4 bevels are all out by about ")
    assert "is the gauge true?" in hint


def test_no_readings_and_no_tolerance():
    assert compare_bevels([], HULL).rms_rad == 0
    with pytest.raises(BadMarks, match="tolerance of bevels: 0°; give a value above zero"):
        compare_bevels([], HULL, tolerance_rad=0)


@pytest.mark.parametrize("frame", ["2", "7"])
def test_one_angle_is_told_where_changing_over_would_fit_too_but_for_how_the_bevel_runs(frame):
    """Out by minus twice its middle bevel a frame reads about as from the other face; but its bevels run as before."""
    own = [true_bevel(frame, height) for height in (200.0, 500.0, 800.0, 1100.0)]
    off = -2 * float(np.mean(own))
    readings = [
        BevelReading(frame, bevel + off, "fore", height)
        for bevel, height in zip(own, (200.0, 500.0, 800.0, 1100.0), strict=True)
    ]
    assert abs(off) > math.radians(3)
    (hint,) = compare_bevels(readings, HULL).hints
    assert hint.startswith(f"frame {frame}: its 4 bevels are all out by about ")
