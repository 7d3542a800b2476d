"""Checks at the bench: any one bracket wrong by more than 2 mm shows on the tape by more than 1 mm."""

import math
from dataclasses import replace

import numpy as np
import pytest
from sections import circle, s_shape, straight

from scrieve.frames import FrameChoice, design_frame
from scrieve.frames.jig.setting_checks import bench_rows, seen, setting_checks

SHAPES = {
    "arc": (circle(1500.0, turn=1.2), {}),
    "arc on the outside": (circle(1500.0, turn=1.2), {"bearing": "outside"}),
    "quarter circle": (circle(900.0, turn=1.57), {"pitch_mm": 150.0}),
    "steep": (circle(800.0, turn=2.4), {}),
    "S-shape": (s_shape(), {}),
    "straight": (straight(), {}),
    "three brackets": (straight(), {"pitch_mm": 650.0, "double_ends": False}),
    "four brackets": (circle(6000.0, turn=0.3), {"pitch_mm": 600.0, "double_ends": False}),
    "many": (circle(2500.0, turn=1.3), {"pitch_mm": 120.0}),
}


def jig_of(name):
    shape, choice = SHAPES[name]
    return design_frame(shape, FrameChoice(timber="larch", **choice)).jig


def readings(jig):
    """All readings told anew from where the faces stand, by plane geometry of their own."""
    at = {each.number: complex(each.along_mm, each.travel_mm) for each in jig.brackets}
    found = []
    for check in setting_checks(jig):
        near, far = at[check.brackets[0]], at[check.brackets[-1 if check.kind != "sagitta" else 1]]
        if check.kind == "sagitta":
            found.append(abs(((at[check.brackets[2]] - near) / (far - near)).imag) * abs(far - near))
        elif check.kind == "diagonal":
            found.append(abs(far - near.real))
        elif check.kind == "travel":
            found.append(near.imag)
        else:
            found.append(abs(far - near))
    return np.array(found)


@pytest.mark.parametrize("name", SHAPES)
def test_any_wrong_bracket_shows(name):
    jig = jig_of(name)
    right = readings(jig)
    np.testing.assert_allclose([check.length_mm for check in setting_checks(jig)], right, atol=1e-9)
    checks = setting_checks(jig)
    for k, bracket in enumerate(jig.brackets):
        for error in (2.01, -2.01, 6.0, -6.0):
            wrong = replace(bracket, travel_mm=bracket.travel_mm + error)
            other = replace(jig, brackets=(*jig.brackets[:k], wrong, *jig.brackets[k + 1 :]))
            signed = _signed(checks, other) - _signed(checks, jig)
            assert np.abs(signed).max() > 1.0, (name, bracket.number, error)
    assert seen(checks).min() > 0.5


def _signed(checks, jig):
    """The measurements that were listed for the right jig, taken on another; a sagitta with its side."""
    at = {each.number: complex(each.along_mm, each.travel_mm) for each in jig.brackets}
    found = []
    for check in checks:
        points = [at[number] for number in check.brackets]
        if check.kind == "sagitta":
            found.append(((points[2] - points[0]) / (points[1] - points[0])).imag * abs(points[1] - points[0]))
        elif check.kind == "diagonal":
            found.append(abs(points[1] - points[0].real))
        elif check.kind == "travel":
            found.append(points[0].imag)
        else:
            found.append(abs(points[1] - points[0]))
    return np.array(found)


def test_sagitta_of_an_arc_of_brackets():
    # closed form: a point of an arc stands (a b)/(2ρ) off the chord, a and b its chords to both ends, within 0.25 mm
    # of rounding at each of three brackets
    jig = jig_of("arc")
    at = {each.number: np.array([each.along_mm, each.exact_travel_mm]) for each in jig.brackets}
    p, q, r = jig.face_mm[[0, len(jig.face_mm) // 2, -1]]
    sides = [math.hypot(*side) for side in (q - p, r - q, r - p)]
    rho = math.prod(sides) / (2 * abs((q - p)[0] * (r - p)[1] - (q - p)[1] * (r - p)[0]))
    for check in setting_checks(jig):
        if check.kind == "sagitta":
            first, last, between = (at[number] for number in check.brackets)
            want = math.hypot(*(between - first)) * math.hypot(*(last - between)) / (2 * rho)
            assert check.length_mm == pytest.approx(want, abs=0.8)


def test_three_places_are_measured_and_both_diagonals():
    checks = setting_checks(jig_of("arc"))
    assert [check.name for check in checks if check.kind == "chord"] == [
        "Chord of the heel third",
        "Chord of the middle third",
        "Chord of the head third",
    ]
    assert sum(check.kind == "diagonal" for check in checks) == 2
    rows = bench_rows(jig_of("arc"))
    assert len(rows) == len(checks)
    sagittas = [row for row in rows if row.sagitta_mm is not None]
    assert len(sagittas) >= 3
    assert all(row.how.startswith("line over the tops of brackets") for row in sagittas)


@pytest.mark.parametrize(
    ("name", "lie"),
    [("S-shape", {"in", "out"}), ("arc", {"out"}), ("arc on the outside", {"in"}), ("steep", {"out"})],
)
def test_on_which_side_of_its_line_a_sagitta_lies_is_told(name, lie):
    jig = jig_of(name)
    at = {each.number: (each.along_mm, each.travel_mm) for each in jig.brackets}
    sides = []
    for check in setting_checks(jig):
        if check.kind == "sagitta":
            one, other = sorted(at[number] for number in check.brackets[:2])
            along, travel = at[check.brackets[2]]
            over = travel - np.interp(along, [one[0], other[0]], [one[1], other[1]])  # away from the datum line
            sides.append("out" if over > 0 else "in")
            assert f"square {sides[-1]} from it" in check.how
    assert set(sides) == lie
