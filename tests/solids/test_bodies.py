"""Bodies in space against solid geometry's closed forms: boxes, frustums, rings, the shell of a quarter cylinder."""

from __future__ import annotations

from dataclasses import dataclass, field, replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from scrieve.errors import BadGeometry
from scrieve.fairing.section import Section
from scrieve.frames.choice import FrameChoice
from scrieve.frames.design import design_frame
from scrieve.planking.choice import SeamMark, StrakeChoice
from scrieve.solids import (
    Solid,
    box,
    frame_solids,
    hull_solids,
    jig_solids,
    line_solid,
    loft,
    plank_solid,
    read_solids,
    write_solids,
)
from scrieve.solids.body import closed

RADIUS = 1000.0


@dataclass(frozen=True)
class Trough:
    """A quarter of a cylinder about the x axis, keel to side."""

    x_range: tuple[float, float] = (0.0, 4000.0)
    stations: dict[str, float] = field(default_factory=lambda: {str(i): 500.0 * i for i in range(9)})

    def point(self, x, v):
        x, v = np.broadcast_arrays(np.asarray(x, dtype=float), np.asarray(v, dtype=float))
        angle = np.pi / 2 * v
        return np.stack([x, RADIUS * np.sin(angle), -RADIUS * np.cos(angle)], axis=-1)

    def partials(self, x, v):
        x, v = np.broadcast_arrays(np.asarray(x, dtype=float), np.asarray(v, dtype=float))
        angle, none = np.pi / 2 * v, np.zeros_like(x)
        turn = np.pi / 2 * RADIUS
        return np.stack([none + 1, none, none], axis=-1), turn * np.stack([none, np.cos(angle), np.sin(angle)], axis=-1)


def quarter(n: int = 200) -> Section:
    angle = np.linspace(0, np.pi / 2, n)
    return Section(
        "4", 2000.0, RADIUS * angle, RADIUS * np.sin(angle), -RADIUS * np.cos(angle), np.zeros(n), np.zeros(n),
        np.full(n, 1 / RADIUS),
    )  # fmt: skip


def square(side: float) -> list[tuple[float, float]]:
    half = side / 2
    return [(-half, -half), (half, -half), (half, half), (-half, half), (-half, -half)]


def body(net) -> Solid:
    return Solid("one", "jig", *net)


@given(st.lists(st.floats(1, 1e4), min_size=3, max_size=3), st.floats(-7, 7))
def test_a_box_however_turned_is_closed_and_holds_its_volume(size, turn):
    found = body(box([10.0, -20.0, 30.0], size, turn))
    assert found.closed
    assert found.volume_mm3 == pytest.approx(np.prod(size), rel=1e-9)


@settings(max_examples=30)
@given(st.floats(20, 500), st.floats(20, 500), st.floats(10, 400), st.booleans())
def test_a_body_between_two_squares_holds_what_a_frustum_holds(near, far, apart, back):
    # V = h (A1 + A2 + sqrt(A1 A2)) / 3: Heron's formula for the frustum of a pyramid
    found = body(loft(square(near), square(far), 100.0, 100.0 + (-apart if back else apart)))
    assert found.closed
    assert found.volume_mm3 == pytest.approx(apart * (near**2 + far**2 + near * far) / 3, rel=1e-6)


def test_coarsely_a_body_is_closed_has_a_third_of_its_triangles_and_nearly_its_volume():
    """What moves is drawn so: chords of a polygon take off a circle what c²/8R says, two thirds of that in area."""
    choice = FrameChoice(frame="4", sided_mm=60.0, moulded_mm=100.0)
    marks = [tuple(SeamMark(at, "girth", frame) for frame in ("1", "4", "7")) for at in (400.0, 600.0)]
    frame = frame_solids(quarter(), choice, "4", quarter())[1]
    (plank,) = plank_solid(Trough(), StrakeChoice("3", *marks, 30.0, side="S"), "plank 3", "Strake 3")
    for fine, lost in ((frame, 0.08), (plank, 0.2)):  # 6 mm of a depth of 100; the plank's 5 mm of camber of 30
        coarse = replace(fine, faces=fine.coarse)
        assert closed(coarse.faces)
        assert len(coarse.faces) < len(fine.faces) / 3
        assert coarse.volume_mm3 == pytest.approx(fine.volume_mm3, rel=lost)


def test_an_outline_that_encloses_nothing_is_refused():
    with pytest.raises(BadGeometry, match="far outline encloses nothing"):
        loft(square(10), [(0, 0), (1, 0), (2, 0), (0, 0)], 0, 1)


def test_a_square_frame_of_a_cylinder_is_a_quarter_ring():
    choice = FrameChoice(frame="4", sided_mm=60.0, moulded_mm=100.0)
    port, starboard = frame_solids(quarter(), choice, "4", quarter())
    ring = np.pi / 4 * (RADIUS**2 - (RADIUS - 100) ** 2) * 60
    assert port.closed
    assert starboard.closed
    assert starboard.volume_mm3 == pytest.approx(ring, rel=2e-3)  # outlines are drawn within half a millimetre
    assert port.volume_mm3 == pytest.approx(starboard.volume_mm3)
    assert (starboard.points_mm[:, 1] > -1e-6).all()
    assert (port.points_mm[:, 1] < 1e-6).all()


def test_a_frame_for_one_hand_is_one_body():
    choice = FrameChoice("4", hands="starboard")
    (one,) = frame_solids(quarter(), choice, "4", quarter())
    assert one.key == "frame 4 S"


def test_a_notch_is_seen():
    choice = FrameChoice(frame="4", sided_mm=60.0, moulded_mm=100.0)
    notched = replace(choice, notches=(("limber hole", 300.0, "outer", 50.0, 25.0),))
    whole, cut = (frame_solids(quarter(), each, "4", quarter())[1] for each in (choice, notched))
    assert cut.closed
    assert whole.volume_mm3 - cut.volume_mm3 == pytest.approx(50 * 25 * 60, rel=0.05)


def test_a_plank_lies_outside_the_hull_and_is_as_thick_as_it_is():
    marks = [tuple(SeamMark(at, "girth", frame) for frame in ("1", "4", "7")) for at in (400.0, 600.0)]
    choice = StrakeChoice("3", marks[0], marks[1], 30.0, side="S")
    (found,) = plank_solid(Trough(), choice, "plank 3", "Strake 3")
    assert found.hand == "S"
    assert found.closed
    radius = np.hypot(found.points_mm[:, 1], found.points_mm[:, 2])
    assert np.allclose(sorted({round(each, 6) for each in radius}), [RADIUS, RADIUS + 30])
    shell = 0.2 / 2 * ((RADIUS + 30) ** 2 - RADIUS**2) * 3000  # a sector of 0.2 rad, 3 m long
    assert found.volume_mm3 == pytest.approx(shell, rel=1e-3)


def test_both_sides_are_mirror_images_and_the_surface_faces_out():
    port, starboard = hull_solids(Trough())
    assert np.allclose(port.points_mm * [1, -1, 1], starboard.points_mm)
    for each in (port, starboard):
        a, b, c = (each.points_mm[each.faces[:, i]] for i in range(3))
        out = np.cross(b - a, c - a)
        assert (out[:, 1] * a[:, 1] + out[:, 2] * a[:, 2] > 0).all()


def test_the_packet_on_the_jig_holds_its_timber_and_every_bracket_touches_it():
    choice = FrameChoice(frame="4", sided_mm=60.0, moulded_mm=100.0)
    design = design_frame(quarter(), choice)
    found = jig_solids(design)
    strips = [each for each in found if each.kind == "packet"]
    assert len(strips) == len(design.packet.laminations)
    assert all(each.closed and each.volume_mm3 > 0 for each in found)
    timber = sum(each.thickness_mm * each.length_mm * design.packet.width_mm for each in design.packet.laminations)
    assert sum(each.volume_mm3 for each in strips) == pytest.approx(timber, rel=0.01)
    face = design.jig.face_mm
    for bracket, each in zip(design.jig.brackets, [e for e in found if e.key.startswith("bracket")], strict=True):
        corners = each.points_mm[:, :2]
        normal = np.array([-np.sin(bracket.swivel_rad), np.cos(bracket.swivel_rad)])
        middle = np.array([bracket.along_mm, bracket.travel_mm])
        across = (corners - middle) @ normal
        assert min(abs(across.min()), abs(across.max())) < 1e-6  # one face of the bracket stands at its setting
        assert np.hypot(*(face - middle).T).min() < 2.5  # and there the packet lies against it, to half a step of 4 mm


def test_what_is_written_is_what_is_read():
    bodies = [*hull_solids(Trough()), *line_solid(quarter(), "4"), body(box([0, 0, 0], [1, 2, 3]))]
    told, points, faces, edges, coarse = read_solids(write_solids(bodies, {"one": {"state": "made", "page": "/x/Ø"}}))
    assert [entry["key"] for entry in told["bodies"]] == [each.key for each in bodies]
    assert told["bodies"][-1]["page"] == "/x/Ø"
    for entry, each in zip(told["bodies"], bodies, strict=True):
        start, count = entry["points"]
        assert np.allclose(points[start : start + count], each.points_mm, atol=1e-3)
        first, many = entry["faces"]
        assert (faces[first : first + many] - start == each.faces).all()
        first, many = entry["edges"]
        assert (edges[first : first + many] - start == each.edges).all()
        first, many = entry["coarse"]
        assert (coarse[first : first + many] - start == each.coarse).all()


def test_other_bytes_are_refused():
    with pytest.raises(BadGeometry, match="not bodies"):
        read_solids(b"SBOD\xff\xff\xff\xffnothing")
