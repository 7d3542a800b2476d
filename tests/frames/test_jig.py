"""The jig's curve, released by an independent forward simulation, must be the frame that was wanted."""

import numpy as np
import pytest
from scipy.integrate import solve_ivp
from scipy.optimize import fsolve
from sections import circle, s_angle, s_shape, section, straight

from scrieve.errors import BadJig
from scrieve.frames import FrameChoice, design_frame
from scrieve.frames.packet.bending import Bent, bend
from scrieve.frames.packet.held import Held
from scrieve.frames.packet.laminations import lay
from scrieve.frames.shape.line import Line, from_curvature, line_of
from scrieve.timber.species import species


def released(points, r):
    """Forward simulation: curvature read off the jig's neutral line by circles through three points, (1 - r) of it
    kept by each, integrated by an adaptive ODE solver."""
    a, b, c = points[:-2], points[1:-1], points[2:]
    ab, bc, ca = (np.hypot(*(q - p).T) for p, q in ((a, b), (b, c), (c, a)))
    cross = (b - a)[:, 0] * (c - a)[:, 1] - (b - a)[:, 1] * (c - a)[:, 0]
    kappa = 2 * cross / (ab * bc * ca)
    s = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(points, axis=0).T))])
    along = np.interp
    run = solve_ivp(
        lambda t, y: [np.cos(y[2]), np.sin(y[2]), (1 - r) * along(t, s[1:-1], kappa)],
        (s[0], s[-1]),
        [0.0, 0.0, 0.0],
        t_eval=s,
        max_step=20.0,
        rtol=1e-9,
        atol=1e-7,
    )
    return run.y[:2].T


def rigid_misfit(found, wanted):
    """Largest distance after the best turn and shift (Kabsch)."""
    f, w = found - found.mean(axis=0), wanted - wanted.mean(axis=0)
    u, _, vt = np.linalg.svd(f.T @ w)
    turn = u @ np.diag([1.0, np.sign(np.linalg.det(u @ vt))]) @ vt
    return float(np.hypot(*(f @ turn - w).T).max())


@pytest.mark.parametrize("radius", [600.0, 1000.0, 2500.0, 6000.0])
@pytest.mark.parametrize("stack", [(("sapele", 9.0), ("larch", 12.0), ("sapele", 9.0)), (("larch", 8.0),) * 6])
def test_an_arc_comes_back_from_the_jig(radius, stack):
    # closed form: the neutral line of the released packet is an arc of radius R less its distance from the line
    shape = circle(radius, turn=min(1.9, 3000 / radius))
    line = line_of(shape)
    found = lay(line, [species(name) for name, _ in stack], [t for _, t in stack], 3.0, 1.0)
    bent = bend(line, found, FrameChoice(trim_mm=0.0))
    inner = radius - (found.inside_mm - found.neutral_mm)
    a = line.s_mm / radius
    wanted = inner * np.column_stack([np.sin(a), 1 - np.cos(a)])
    back = released(bent.neutral.points_mm, found.springback)
    assert rigid_misfit(back, wanted) < 0.1  # the brief's bar; measured about 0.002
    assert rigid_misfit(bent.neutral.points_mm, wanted) > 0.5 * found.springback * line.length_mm**2 / radius / 16


@pytest.mark.parametrize("factor", [1.0, 1.3])
def test_an_s_shaped_frame_comes_back_from_the_jig(factor):
    shape = s_shape()
    line = line_of(shape)
    found = lay(line, [species("sapele"), species("larch")] * 2, [14.0] * 4, 3.0, factor)
    bent = bend(line, found, FrameChoice(trim_mm=0.0, spring_factor=factor))
    across = found.inside_mm - found.neutral_mm
    angle = s_angle(shape.s_mm)
    wanted = shape.points_mm + across * np.column_stack([-np.sin(angle), np.cos(angle)])
    back = released(bent.neutral.points_mm, found.springback)
    dense = np.column_stack([np.interp(shape.s_mm, line.s_mm, back[:, i]) for i in (0, 1)])
    assert rigid_misfit(dense, wanted) < 0.1


def test_bearing_face_stands_off_the_neutral_line_on_its_own_side():
    for bearing in ("inside", "outside"):
        jig = design_frame(circle(), FrameChoice(timber="larch", count=6, bearing=bearing)).jig
        inner, outer = (jig.face_mm, jig.other_mm) if bearing == "inside" else (jig.other_mm, jig.face_mm)
        assert np.hypot(*np.diff(inner, axis=0).T).sum() < np.hypot(*np.diff(outer, axis=0).T).sum()
        # brackets stand between datum line and packet
        middle = len(jig.face_mm) // 2
        assert jig.face_mm[middle, 1] < jig.other_mm[middle, 1]


def test_brackets_lie_on_the_face_at_the_clearance_and_the_pitch():
    choice = FrameChoice(timber="larch", clearance_mm=120.0)
    design = design_frame(circle(1500.0), choice)
    jig = design.jig
    assert jig.face_mm[:, 1].min() == pytest.approx(120.0, abs=1e-6)
    order = np.argsort(jig.face_mm[:, 0])
    for bracket in jig.brackets:
        assert bracket.rail == 0 or bracket.along_mm == pytest.approx((bracket.rail - 1) * 250.0)
        there = np.interp(bracket.along_mm, jig.face_mm[order, 0], jig.face_mm[order, 1])
        assert bracket.exact_travel_mm == pytest.approx(there, abs=0.01)  # thinned to 4 mm: 16/8R
        assert abs(bracket.travel_mm - bracket.exact_travel_mm) <= 0.25 + 1e-9
        assert (2 * bracket.travel_mm) % 1 == 0
    # symmetric arc: swivels are mirrored about the middle, and the chord is level
    swivels = [bracket.swivel_rad for bracket in jig.brackets]
    np.testing.assert_allclose(swivels, -np.array(swivels[::-1]), atol=1e-6)
    assert jig.face_mm[0, 1] == pytest.approx(jig.face_mm[-1, 1], abs=1e-6)


@pytest.mark.parametrize("bearing", ["inside", "outside"])
@pytest.mark.parametrize("stack", [(("larch", 10.0),) * 7, (("oak", 14.0),) + (("larch", 8.0),) * 7])
def test_face_of_an_arc_in_the_jig(bearing, stack):
    # closed form: the released neutral line is an arc of R less its distance inboard. Each lamination is as long as its
    # own arc in the jig; glued and let go, forces and moments of all balance. The face is an arc about the same centre,
    # and lies at asin(x/ρ) from level, x from the middle of the bed
    choice = FrameChoice(stack=stack, bearing=bearing)
    design = design_frame(circle(1800.0, turn=1.2), choice)
    t = np.array([each for _, each in stack])
    e = np.array([11_550 if name == "oak" else 15_180 for name, _ in stack])  # 1.1 × 10500, 1.1 × 13800
    c = np.cumsum(t) - t / 2
    neutral = (e * t * c).sum() / (e * t).sum()
    free = 1800.0 - (design.blank.inside_mm - neutral)
    inboard = neutral - c

    def balance(unknown):
        radius, turn = unknown[0] * free, unknown[1]
        stretch = (free - inboard) * turn / (radius - inboard) - 1
        moment = t * inboard * stretch - turn * t**3 / 12 / (radius - inboard)
        return [(e * t * stretch).sum() / (e * t).sum(), (e * moment).sum() / (e * t).sum()]

    rho = free * fsolve(balance, [0.97, 0.97], xtol=1e-13)[0]
    rho += -neutral if bearing == "inside" else t.sum() - neutral
    jig = design.jig
    middle = (jig.face_mm[0, 0] + jig.face_mm[-1, 0]) / 2
    lowest = jig.face_mm[:, 1].min()
    assert lowest == pytest.approx(choice.clearance_mm, abs=0.002)  # handed out every 4 mm: 2²/2ρ
    sign = -1 if bearing == "inside" else 1  # arched away from the datum line, or hanging towards it
    rise = rho - np.sqrt(rho**2 - (jig.face_mm[0, 0] - middle) ** 2)
    for bracket in jig.brackets:
        x = bracket.along_mm - middle
        assert bracket.swivel_rad == pytest.approx(sign * np.arcsin(x / rho), abs=1e-5)
        sag = rho - np.sqrt(rho**2 - x**2)
        above = rise - sag if bearing == "inside" else sag
        assert bracket.exact_travel_mm == pytest.approx(choice.clearance_mm + above, abs=0.01)


def test_a_frame_turned_end_for_end_and_mirrored_is_the_same_frame():
    one = s_shape(bevel=0.05)
    two = section(
        one.s_mm[-1] - one.s_mm[::-1], one.points_mm[::-1] * [-1, 1] + [5000, 0], 0.05, one.curvature_per_mm[::-1]
    )
    a, b = (design_frame(shape, FrameChoice(timber="sapele/larch", waterlines_mm=(400.0,))) for shape in (one, two))
    assert a.packet.springback == b.packet.springback
    assert a.blank.length_mm == pytest.approx(b.blank.length_mm, abs=1e-4)
    assert a.blank.spare_mm == pytest.approx(b.blank.spare_mm, abs=1e-6)
    assert a.jig.error_mm == pytest.approx(b.jig.error_mm, abs=1e-3)
    travels = [[bracket.exact_travel_mm for bracket in design.jig.brackets] for design in (a, b)]
    np.testing.assert_allclose(travels[0], travels[1][::-1], atol=0.6)  # extra brackets go to a whole mm from rail 1
    forces = [[bracket.force_n for bracket in design.jig.brackets if bracket.rail] for design in (a, b)]
    np.testing.assert_allclose(forces[0], forces[1][::-1], rtol=0.05, atol=20)


def test_brackets_follow_the_line_from_the_heel():
    for bearing, heel in (("inside", "right"), ("outside", "left")):
        jig = design_frame(s_shape(), FrameChoice(timber="larch", bearing=bearing)).jig
        girths = [bracket.s_mm for bracket in jig.brackets]
        assert girths == sorted(girths)
        assert jig.heel == heel
        first, last = jig.brackets[0].along_mm, jig.brackets[-1].along_mm
        assert (first > last) == (heel == "right")


def straight_bed(radius, stations):
    length = stations[-1]
    s = np.linspace(0, length, int(length) + 1)
    line = from_curvature(s, np.full(len(s), 1 / radius), np.zeros(2), 0.0)
    return Bent(s, line, line, line, line)


@pytest.mark.parametrize(("radius", "pitch"), [(600, 150), (1000, 250), (2000, 300), (6000, 500)])
def test_end_span_error_of_an_arc(radius, pitch):
    # closed form by the three-moment equations: on even spans the end's want of bending, -1/R, dies away by
    # -2 + √3 a span, so in the end span w = b²/6R · max[(1-t) - (1-t)³ - 0.26795 (t - t³)] = 0.0488 b²/R
    t = np.linspace(0, 1, 10_001)
    shape = ((1 - t) - (1 - t) ** 3 - (2 - np.sqrt(3)) * (t - t**3)) / 6
    stations = np.arange(0, 21) * float(pitch)
    error, where, _ = Held(straight_bed(radius, stations)).departure(stations)
    assert error == pytest.approx(shape.max() * pitch**2 / radius, rel=2e-4)
    assert min(where, stations[-1] - where) == pytest.approx(t[np.argmax(shape)] * pitch, abs=1.0)


def test_force_of_three_brackets():
    # closed form: a packet bent by a middle bracket between two ends a apart takes v = linear from 0 to v₁ and back;
    # its ends are drawn in by EI v₁/a each and the middle pressed out by twice that
    stations = np.array([0.0, 400.0, 800.0])
    _, _, force = Held(straight_bed(1500, stations)).departure(stations)
    assert force[1] == pytest.approx(-2 * force[0])
    assert force[1] > 0  # the inner face bears on the middle bracket
    # rise of an arc over 400 mm: the deflection of a simply supported beam, P L³/48 EI, L = 800
    rise = 400**2 / (2 * 1500)
    assert force[1] == pytest.approx(48 * rise / 800**3, rel=1e-3)


def test_doubled_ends_or_a_longer_packet_hold_the_curve_better():
    shape = circle(2000.0, turn=0.7)
    plain = design_frame(shape, FrameChoice(timber="larch", double_ends=False, trim_mm=10.0))
    doubled = design_frame(shape, FrameChoice(timber="larch", trim_mm=10.0))
    longer = design_frame(shape, FrameChoice(timber="larch", double_ends=False, trim_mm=300.0))
    assert plain.jig.error_mm > 1.0
    assert not next(check for check in plain.checks if check.name == "Packet between brackets").ok
    assert doubled.jig.error_mm < 0.5 * plain.jig.error_mm
    assert longer.jig.error_mm < 0.5 * plain.jig.error_mm
    assert [bracket.rail for bracket in doubled.jig.brackets].count(0) >= 2


def test_ends_are_doubled_only_where_they_need_it():
    jig = design_frame(circle(6000.0, turn=0.4), FrameChoice(timber="larch")).jig
    assert all(bracket.rail for bracket in jig.brackets)
    assert jig.error_mm <= 1.0


def test_a_straight_frame_needs_no_bending():
    design = design_frame(straight(), FrameChoice(timber="larch"))
    assert design.all_ok
    assert design.jig.error_mm == pytest.approx(0, abs=1e-6)
    assert {bracket.travel_mm for bracket in design.jig.brackets} == {100.0}
    assert design.jig.moment_nmm == pytest.approx(0, abs=1)
    assert len(design.packet.laminations) == 5


def test_a_frame_that_turns_far_is_posed_so_that_each_rail_meets_it_once():
    jig = design_frame(circle(800.0, turn=2.4), FrameChoice(timber="larch")).jig
    assert jig.pose == "balanced"
    assert np.all(np.diff(jig.face_mm[:, 0]) < 0)
    rails = [bracket.rail for bracket in jig.brackets if bracket.rail]
    assert sorted(rails) == list(range(1, jig.rails + 1))


def test_a_frame_that_doubles_back_is_refused_with_what_to_do():
    with pytest.raises(BadJig, match=r"frame 14: the packet turns through \d+\.\d° .*doubles back.*160°.*two lengths"):
        design_frame(circle(800.0, turn=2.9), FrameChoice(timber="larch"))
    with pytest.raises(BadJig, match=r"lie on 2 rails at a pitch of 1200 mm; give a pitch of \d+ mm or less"):
        design_frame(circle(1500.0), FrameChoice(timber="larch", pitch_mm=1200.0))


def test_bench_checks_of_an_arc():
    # closed form: sagitta = ρ - √(ρ² - c²/4) on the bearing face
    design = design_frame(circle(1500.0), FrameChoice(timber="larch", count=6))
    rho = (1500.0 - (design.blank.inside_mm - design.packet.neutral_mm)) * (1 - 1 / 36) - design.packet.neutral_mm
    thirds = [check for check in design.bench_checks if check.sagitta_mm is not None]
    assert len(thirds) == 3
    for check in thirds:
        assert check.sagitta_mm == pytest.approx(rho - np.sqrt(rho**2 - check.length_mm**2 / 4), abs=0.01)
    ends = [(bracket.along_mm, bracket.exact_travel_mm) for bracket in design.jig.brackets]
    across = next(check for check in design.bench_checks if check.name == "Between the end brackets")
    assert across.length_mm == pytest.approx(np.hypot(ends[0][0] - ends[-1][0], ends[0][1] - ends[-1][1]))


def test_lines_from_curvature_are_exact_on_a_circle():
    s = np.linspace(0, 1000, 38)
    line = from_curvature(s, np.full(38, 1 / 400), np.array([3.0, 4.0]), 0.5)
    assert isinstance(line, Line)
    centre = np.array([3.0, 4.0]) + 400 * np.array([-np.sin(0.5), np.cos(0.5)])
    np.testing.assert_allclose(np.hypot(*(line.points_mm - centre).T), 400, atol=1e-9)
