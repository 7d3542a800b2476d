"""Whole planks, off a cone and the Wigley hull and from spiling marks: what the bench reads agrees with the hull."""

import json
from dataclasses import asdict, fields, replace
from pathlib import Path

import numpy as np
import pytest
from hulls import ConeHull, FramedWigley, Moved, Reversed, TwistedHull

from scrieve.errors import BadPlank, NoSuchFrame
from scrieve.planking import (
    PlankEnds,
    SeamMark,
    SpilingBatten,
    SpilingChoice,
    SpilingMark,
    StrakeChoice,
    design_plank,
    design_spiled_plank,
    read_spiling,
)
from scrieve.planking.edges import backing_out

HULL = FramedWigley()
FRAMES = [str(frame) for frame in range(9, 22)]


def level(height, frames=FRAMES):
    return tuple(SeamMark(height, "height", frame) for frame in frames)


CHOICE = StrakeChoice("topside 3", level(-500.0), level(-360.0), 28.0, side="S")
PLANK = design_plank(HULL, CHOICE)


def cone_choice(**settings):
    """A strake along a cone, its seams at 0.30 and 0.37 of the quarter turn."""
    hull = ConeHull()

    def girth(share, x):
        return float(share * np.pi / 2 * hull.radius(x))

    edges = {
        edge: tuple(SeamMark(girth(share, x), "girth", label) for label, x in hull.stations.items())
        for edge, share in (("lower", 0.30), ("upper", 0.37))
    }
    return StrakeChoice("cone", edges["lower"], edges["upper"], 30.0, **settings)


class TestCone:
    """A cone's rulings are straight: the strake is a flat trapezium, whose every figure is a closed form."""

    plank = design_plank(ConeHull(), cone_choice())
    half = 0.07 * np.pi / 4  # half the angle between the seams

    def test_the_solid_plank_is_a_plane_trapezium(self):
        # straight across, both seams on rulings: 6013.318551 long, ends 2 R sin(half) wide
        assert self.plank.lengths_mm == pytest.approx([6013.318551] * 4, abs=1e-3)
        first, last = self.plank.frames[0], self.plank.frames[-1]
        assert first.width_mm == pytest.approx(2 * 1200 * np.sin(self.half), abs=1e-3)
        assert last.width_mm == pytest.approx(2 * 800 * np.sin(self.half), abs=1e-3)
        assert first.girth_mm == pytest.approx(2 * 1200 * self.half, abs=1e-3)
        x, y = self.plank.lower_mm.T
        np.testing.assert_allclose(y, np.interp(x, [x[0], x[-1]], [y[0], y[-1]]), atol=1e-3)
        assert self.plank.strain_max < 1e-7
        assert self.plank.board.crown_mm == pytest.approx(0, abs=1e-3)

    def test_a_thin_skin_is_the_developed_cone(self):
        # widths are arcs of 18039.95565 and 12026.63710 about the apex, the seams straight lines to it
        skin = design_plank(ConeHull(), cone_choice(across="round"))
        flat_angle = 2 * self.half * 400 / np.hypot(6000, 400)
        assert skin.frames[0].width_mm == pytest.approx(2 * 18039.95565 * np.sin(flat_angle / 2), abs=0.01)
        assert skin.frames[-1].width_mm == pytest.approx(2 * 12026.63710 * np.sin(flat_angle / 2), abs=0.01)
        assert skin.stock_thickness_mm == pytest.approx(33)
        assert skin.hollow_mm is None

    def test_bevels_and_hollow(self):
        # seams lie on meridian planes: the seam's normal turns from the plank's by less than `half`, as cos of the
        # cone's own slope; the opening takes its share off
        slope = np.arctan(400 / 6000)
        middle = self.plank.frames[6]
        eased = np.arctan(self.plank.seam_opening_mm / 2 / 30)
        expected = np.arctan(np.tan(self.half) * np.cos(slope)) - eased
        assert middle.lower_bevel_rad == pytest.approx(expected, abs=1e-4)
        assert middle.upper_bevel_rad == pytest.approx(expected, abs=1e-4)
        # square to the run the cone's radius is R / cos(slope)
        assert middle.radius_mm == pytest.approx(1000 / np.cos(slope), rel=1e-3)
        assert middle.hollow_mm == pytest.approx(float(backing_out(middle.radius_mm, middle.width_mm)), abs=0.01)


def test_frame_lines_lie_where_the_hull_has_them():
    assert [frame.label for frame in PLANK.frames] == FRAMES
    for frame in PLANK.frames:
        x = HULL.stations[frame.label]
        low, high = (np.array([x, float(HULL.half_breadth(x, z)), z]) for z in (-500.0, -360.0))
        assert frame.station_mm == x
        assert frame.width_mm == pytest.approx(np.linalg.norm(high - low), abs=0.1)
        assert frame.girth_mm == pytest.approx(float(HULL.girth(x, -360.0) - HULL.girth(x, -500.0)), abs=0.01)
        assert frame.girth_mm > frame.width_mm


def test_edges_keep_the_length_of_their_seams():
    for index, z in ((0, -500.0), (2, -360.0)):
        x = np.linspace(-3000, 3000, 100_001)
        true = np.sum(np.hypot(np.diff(x), np.diff(HULL.half_breadth(x, z))))
        assert PLANK.lengths_mm[index] == pytest.approx(true, abs=0.05)
        assert PLANK.lengths_mm[index + 1] == pytest.approx(true, abs=0.3)


def test_wigley_is_alike_fore_and_aft_and_so_is_its_plank():
    np.testing.assert_allclose(PLANK.lower_mm[::-1, 1], PLANK.lower_mm[:, 1], atol=1e-3)
    length = PLANK.lower_mm[0, 0] + PLANK.lower_mm[-1, 0]
    np.testing.assert_allclose(length - PLANK.lower_mm[::-1, 0], PLANK.lower_mm[:, 0], atol=1e-3)
    assert PLANK.twist_rad == pytest.approx(0, abs=1e-9)


def test_a_shifted_hull_gives_the_same_plank():
    lifted = replace(CHOICE, lower=level(-250.0), upper=level(-110.0))
    there = design_plank(Moved(HULL, 9000.0, 250.0), lifted)
    np.testing.assert_allclose(there.outline_mm, PLANK.outline_mm, atol=1e-4)
    assert there.board.width_mm == pytest.approx(PLANK.board.width_mm, abs=1e-4)


def test_a_hull_turned_end_for_end_gives_the_plank_turned_end_for_end():
    marks = [SeamMark(-500.0 + 9 * i, "height", frame) for i, frame in enumerate(FRAMES)]
    choice = replace(CHOICE, lower=tuple(marks))
    here, there = design_plank(HULL, choice), design_plank(Reversed(HULL), choice)
    assert here.frames[0].width_mm != pytest.approx(here.frames[-1].width_mm, abs=5)
    np.testing.assert_allclose(
        there.lower_mm[::-1] * [-1, 1] + [there.lower_mm[-1, 0] + here.lower_mm[0, 0], 0], here.lower_mm, atol=1e-3
    )
    assert [frame.label for frame in there.frames] == FRAMES[::-1]
    for a, b in zip(there.frames[::-1], here.frames, strict=True):
        assert a.lower_bevel_rad == pytest.approx(b.lower_bevel_rad, abs=1e-6)
        assert a.hollow_mm == pytest.approx(b.hollow_mm, abs=1e-4)


def test_outline_closes_and_holds_the_frame_marks():
    outline = PLANK.outline_mm
    np.testing.assert_array_equal(outline[0], outline[-1])
    for frame in PLANK.frames:
        for end, edge in ((frame.lower_mm, PLANK.lower_mm), (frame.upper_mm, PLANK.upper_mm)):
            assert np.interp(end[0], *edge.T) == pytest.approx(end[1], abs=0.02)


def test_stock_and_board_follow_the_choice():
    deepest = max(frame.hollow_mm for frame in PLANK.frames)
    assert PLANK.hollow_mm == deepest
    assert PLANK.stock_thickness_mm == pytest.approx(28 + deepest + 3, abs=0.05)
    wide = design_plank(HULL, replace(CHOICE, wany_margin_mm=25.0, trim_mm=80.0, planing_mm=6.0))
    assert wide.board.width_mm - PLANK.board.width_mm == pytest.approx(30)
    assert wide.board.length_mm - PLANK.board.length_mm == pytest.approx(2 * 30)
    assert wide.stock_thickness_mm - PLANK.stock_thickness_mm == pytest.approx(3)


def test_standing_edges_need_a_wider_board():
    tight = design_plank(HULL, replace(CHOICE, seam_opening_mm=0.0))
    both = [28 * np.tan(max(getattr(frame, edge) for frame in tight.frames))
            for edge in ("lower_bevel_rad", "upper_bevel_rad")]  # fmt: skip
    assert min(both) > 0.5
    drawn = tight.board.crown_mm + tight.board.plank_width_mm  # alike fore and aft, so the strip lies along the datum
    assert tight.board.width_mm == pytest.approx(np.ptp(tight.outline_mm[:, 1]) + 20 + sum(both), abs=0.05)
    assert tight.board.width_mm > drawn


def test_the_seam_rule_moves_the_bevels():
    inch = design_plank(HULL, replace(CHOICE, seam_rule="inch"))
    tight = design_plank(HULL, replace(CHOICE, seam_opening_mm=0.0))
    assert (tight.seam_opening_mm, inch.seam_opening_mm, PLANK.seam_opening_mm) == pytest.approx((0, 1.75, 3.92))
    for plank in (inch, PLANK):
        eased = tight.frames[5].upper_bevel_rad - plank.frames[5].upper_bevel_rad
        assert 2 * 28 * np.tan(eased) == pytest.approx(plank.seam_opening_mm)


def test_verdicts():
    checks = {check.name: check for check in PLANK.checks}
    assert checks["Seam marks"].ok
    assert not checks["Butt at the first end"].ok
    assert "frame 9" in checks["Butt at the first end"].found
    between = design_plank(HULL, replace(CHOICE, first="-2750", last="21", ends=PlankEnds("butt", "scarf")))
    named = {check.name: check for check in between.checks}
    assert named["Butt at the first end"].ok
    assert "Butt at the last end" not in named
    short = {check.name: check for check in design_plank(HULL, replace(CHOICE, first="12", last="17")).checks}
    assert not short["Length of a new plank"].ok
    assert short["Length of a new plank"].found.startswith("5 spaces between marked frames, 2.5")
    parts = {check.name: check for check in design_plank(HULL, replace(CHOICE, first="-1750", last="17")).checks}
    assert parts["Length of a new plank"].found.startswith("5.5 spaces")
    wide = {check.name: check for check in design_plank(HULL, replace(CHOICE, lower=level(-900.0))).checks}
    assert not wide["Hollow of the inside"].ok
    for check in PLANK.checks:
        assert check.source
        assert check.ok or check.caution


def failed(plank):
    return {check.name for check in plank.checks if not check.ok and not check.name.startswith("Butt")}


def test_a_plank_within_all_limits_fails_none():
    assert failed(PLANK) == set()


def test_a_pointed_plank_wants_a_nib():
    rising = tuple(SeamMark(-500.0 + 10 * i, "height", frame) for i, frame in enumerate(FRAMES))
    assert failed(design_plank(HULL, replace(CHOICE, lower=rising))) == {"Width of the ends"}


def test_a_thick_plank_does_not_bend_dry_and_steam_is_called_for():
    # Wigley's level lines here bend to about 26 m: 125 × 28 mm passes, 125 × 300 mm does not
    thick = design_plank(HULL, replace(CHOICE, thickness_mm=300.0))
    assert 125 * 28 < thick.bend_radius_mm < 125 * 300
    assert failed(thick) == {"Bend along the plank"}
    assert any("Steam" in caution and "720 minutes" in caution for caution in thick.cautions)  # 1 h per 25 mm
    assert not any("Steam" in caution for caution in PLANK.cautions)


def test_a_twisted_plank_is_told():
    lower, upper = (tuple(SeamMark(girth, "girth", str(i)) for i in range(9)) for girth in (300.0, 500.0))
    plank = design_plank(TwistedHull(), StrakeChoice("twist", lower, upper, 28.0, first="1000", last="3000"))
    # going aft the head leans out, so the outside turns downwards: 0.0003 rad a mm over 2 m
    assert plank.twist_rad == pytest.approx(-0.6, rel=1e-3)
    assert "Twist" in failed(plank)
    assert any("Steam" in caution for caution in plank.cautions)


def test_a_wide_skin_on_a_round_hull_is_told():
    skin = replace(CHOICE, lower=level(-1100.0), upper=level(-100.0), across="round", thickness_mm=6.0)
    wide = design_plank(HULL, skin)
    assert {"Strain of laying it flat", "Edge-set in ten feet"} <= failed(wide)


def test_a_seam_mark_that_stands_out_is_told():
    marks = list(CHOICE.upper)
    marks[6] = SeamMark(-335.0, "height", "15")
    found = {check.name: check for check in design_plank(HULL, replace(CHOICE, upper=tuple(marks))).checks}
    assert not found["Seam marks"].ok
    assert found["Seam marks"].found == "upper at frame 15"


def test_a_knuckle_between_the_seams_is_told():
    x = HULL.stations["9"]
    between = float((HULL.girth(x, -500.0) + HULL.girth(x, -360.0)) / 2 / HULL.girth(x))

    class Chined(FramedWigley):
        ends_at = np.inf

        def knuckles_at(self, x_mm):
            return (between,) if x_mm < self.ends_at else ()

    found = {check.name: check for check in design_plank(Chined(), CHOICE).checks}
    assert found["Knuckle within the plank"].found == "frame 9"
    ended = Chined()
    ended.ends_at = min(HULL.stations.values())
    assert "Knuckle within the plank" not in {check.name for check in design_plank(ended, CHOICE).checks}
    above = replace(CHOICE, lower=level(-200.0), upper=level(-60.0))
    clear = {check.name for check in design_plank(Chined(), above).checks}
    assert "Knuckle within the plank" not in clear
    assert "Knuckle within the plank" not in {check.name for check in PLANK.checks}


def test_workings_show_what_they_rest_on():
    workings = {working.figure: working for working in PLANK.workings}
    assert {"Edges", "Edge-set", "Backing out", "Stock thickness", "Seam open outside", "Board"} <= set(workings)
    assert workings["Stock thickness"].value == f"{PLANK.stock_thickness_mm:.1f} mm"
    assert all(working.formula and working.inputs and working.source for working in PLANK.workings)
    assert any("surveyor" in caution for caution in PLANK.cautions)
    assert any("dust" in caution for caution in PLANK.cautions)


def test_the_middle_of_the_thickness_is_longer():
    # of the line z = −430: bend about the face y_xx / √(1 + y_x² + y_z²) / (1 + y_x²), over its length
    x = np.linspace(-3000, 3000, 2001)
    by_x, by_z = HULL.slopes(x, -430.0)
    second = 4 * 3000 / 15000**2 * (1 - (430 / 1200) ** 2)
    bend = second / np.sqrt(1 + by_x**2 + by_z**2) / (1 + by_x**2)
    turn = np.trapezoid(bend * np.sqrt(1 + by_x**2), x)
    longer = next(working for working in PLANK.workings if working.figure == "Longer by its thickness")
    assert float(longer.value.removesuffix(" mm")) == pytest.approx(14 * turn, abs=0.06)


def test_a_garboard_takes_its_bevel_from_the_rabbet():
    marks = tuple(SeamMark(0.0, "girth", frame) for frame in FRAMES)
    plank = design_plank(HULL, replace(CHOICE, lower=marks, upper=tuple(replace(m, value_mm=150.0) for m in marks)))
    assert any("rabbet" in caution for caution in plank.cautions)
    assert not any("rabbet" in caution for caution in PLANK.cautions)


@pytest.mark.parametrize(
    ("change", "error", "said"),
    [
        ({"lower": ()}, BadPlank, r"plank 'topside 3': the lower seam has no marks; give its height or girth"),
        ({"upper": level(-360.0, ["9"])}, BadPlank, r"plank 'topside 3', upper seam: 1 mark"),
        ({"lower": level(-200.0)}, BadPlank, r"upper seam lies \d+ mm below the lower one at .*frame"),
        ({"first": "5"}, BadPlank, r"lower seam: marked from frame 9 to frame 21, .* to end at frame 5"),
        ({"first": "bow"}, NoSuchFrame, r"frame 'bow': this hull has no such frame"),
        ({"upper": level(-360.0, ["9", "99"])}, NoSuchFrame, r"upper seam: frame '99' is not in this hull"),
        ({"upper": level(200.0)}, BadPlank, r"upper seam, frame 9: height 200 mm is not on this section"),
    ],
)
def test_what_cannot_be_planked_is_told(change, error, said):
    with pytest.raises(error, match=said):
        design_plank(HULL, replace(CHOICE, **change))


@pytest.mark.parametrize(
    ("change", "said"),
    [
        ({"name": " "}, "the plank has no name"),
        ({"thickness_mm": 0.0}, r"thickness: 0.0 mm; give a value above 0"),
        ({"thickness_mm": "28"}, r"thickness: 28 mm; give a value above 0"),
        ({"lower": (SeamMark("a", "height", "9"),)}, r"lower seam, frame 9: found 'a'; give lengths in mm"),
        ({"side": "Q"}, r"side: found 'Q'; say P, S"),
        ({"tolerance_mm": -0.5}, r"tolerance: -0.5 mm; give zero or more"),
        ({"seam_rule": "old"}, r"seam rule: found 'old'"),
        ({"seam_opening_mm": -1.0}, r"seam opening: -1.0 mm"),
        ({"ends": PlankEnds("feather", "butt")}, r"first end: found 'feather'"),
        ({"ends": PlankEnds("scarf", "butt", nib_mm=14.0)}, r"nib of a scarf: 14.0 mm; give zero or more, under half"),
        ({"ends": PlankEnds("scarf", "butt", 1.0)}, r"scarf: slope 1.0:1; give 4 to 40"),
        ({"across": "bent"}, r"across: found 'bent'"),
    ],
)
def test_a_choice_that_cannot_be_is_told(change, said):
    with pytest.raises(BadPlank, match=said):
        replace(CHOICE, **change)


def test_every_setting_stands_in_the_docs():
    page = (Path(__file__).parents[2] / "docs" / "planking.md").read_text(encoding="utf-8")
    for kind in (StrakeChoice, SpilingChoice, PlankEnds):
        for field in fields(kind):
            assert f"`{field.name}`" in page


def test_choices_go_through_json_and_back():
    spiled = SpilingChoice("strake 9", 28.0, keep=("12 upper",), radius_mm=(("12", 600.0),))
    assert StrakeChoice.from_mapping(json.loads(json.dumps(asdict(CHOICE)))) == CHOICE
    assert SpilingChoice.from_mapping(json.loads(json.dumps(asdict(spiled)))) == spiled
    with pytest.raises(BadPlank, match=r"no value is called 'colour'"):
        StrakeChoice.from_mapping({"colour": "red"})
    with pytest.raises(BadPlank, match=r"'lower' is missing; give it"):
        StrakeChoice.from_mapping({"name": "x"})


class TestSpiled:
    """The example batten: its edges were drawn as two parabolas, read to the half mm."""

    batten = read_spiling(
        (Path(__file__).parents[2] / "examples" / "formats" / "spiling.csv").read_bytes(), "spiling.csv"
    ).batten
    plank = design_spiled_plank(batten, SpilingChoice("topside", 28.0, radius_mm=(("8", 700.0),)))

    @staticmethod
    def drawn(x, edge):
        bow = ((np.asarray(x) - 2100) / 2100) ** 2
        return -40 - 30 * bow if edge == "lower" else 118 - 34 * bow

    def test_all_four_kinds_lead_back_to_the_edges(self):
        # the datum line runs through the middles of the ends, 7 mm up
        shift = (self.drawn(0, "lower") + self.drawn(0, "upper")) / 2
        for edge, line in (("lower", self.plank.lower_mm), ("upper", self.plank.upper_mm)):
            np.testing.assert_allclose(line[:, 1] + shift, self.drawn(line[:, 0], edge), atol=1.0)

    def test_hollow_where_a_radius_is_given(self):
        frames = {frame.label: frame for frame in self.plank.frames}
        assert list(frames) == [str(i) for i in range(6, 14)]
        assert frames["8"].hollow_mm == pytest.approx(float(backing_out(700, frames["8"].width_mm)))
        assert frames["7"].hollow_mm is None
        assert self.plank.stock_thickness_mm == pytest.approx(31 + frames["8"].hollow_mm)
        assert self.plank.strain_max is None
        assert self.plank.kind == "spiled"

    def test_a_wild_point_is_named_and_can_be_kept(self):
        marks = [
            replace(mark, y_mm=mark.y_mm + 15) if mark.frame == "11" and mark.edge == "lower" else mark
            for mark in self.batten.marks
        ]
        wild = design_spiled_plank(SpilingBatten(tuple(marks)), SpilingChoice("topside", 28.0))
        suspects = {remark.point: remark.residual_mm for remark in wild.residuals if remark.suspect}
        assert list(suspects) == ["11 lower"]
        assert suspects["11 lower"] == pytest.approx(15, abs=1.5)
        assert not next(check for check in wild.checks if check.name == "Points that stand out").ok
        kept = design_spiled_plank(SpilingBatten(tuple(marks)), SpilingChoice("topside", 28.0, keep=("11 lower",)))
        remark = next(remark for remark in kept.residuals if remark.point == "11 lower")
        assert not remark.suspect
        assert abs(remark.residual_mm) <= 1.0

    def test_nails_pricked_on_the_batten_lie_on_the_plank_as_on_it(self):
        """The datum line runs 7 mm up, as the edges' middles do: a nail at y on the batten has the offset y − 7."""
        shift = (self.drawn(0, "lower") + self.drawn(0, "upper")) / 2
        pricked = [("8", 1203.0, 90.0), ("7", 597.0, -20.0), ("", 2500.0, 40.0)]
        marks = [SpilingMark(frame, "lower", "nail", x, y) for frame, x, y in pricked]
        plank = design_spiled_plank(SpilingBatten((*self.batten.marks, *marks)), SpilingChoice("topside", 28.0))
        assert [nail.frame for nail in plank.nails] == ["7", "8", ""]
        for nail, (_, x, y) in zip(plank.nails, sorted(pricked, key=lambda one: one[1]), strict=True):
            assert (nail.x_mm, nail.y_mm) == pytest.approx((x, y - shift), abs=1.0)
            edge = min(abs(self.drawn(x, which) - y) for which in ("lower", "upper"))
            assert nail.to_edge_mm == pytest.approx(edge, abs=1.0)
        assert "Nails lie on the plank" not in {check.name for check in self.plank.checks}
        assert next(check for check in plank.checks if check.name == "Nails lie on the plank").ok
        np.testing.assert_allclose(plank.lower_mm, self.plank.lower_mm)  # a nail is no mark of an edge
        off = replace(marks[0], y_mm=140.0)
        plank = design_spiled_plank(SpilingBatten((*self.batten.marks, off)), SpilingChoice("topside", 28.0))
        wrong = next(check for check in plank.checks if check.name == "Nails lie on the plank")
        assert not wrong.ok
        assert "frame 8" in str(wrong.found)
        assert plank.nails[0].to_edge_mm == pytest.approx(self.drawn(1203, "upper") - 140, abs=1.0)

    def test_turning_the_datum_line_does_not_turn_the_plank(self):
        cos, sin = np.cos(0.02), np.sin(0.02)
        offsets = [
            SpilingMark(str(i), edge, "offset", x, float(self.drawn(x, edge)))
            for i, x in enumerate(np.linspace(0, 4200, 9))
            for edge in ("lower", "upper")
        ]
        turned = [
            replace(mark, x_mm=cos * mark.x_mm - sin * mark.y_mm, y_mm=sin * mark.x_mm + cos * mark.y_mm)
            for mark in offsets
        ]
        here, there = (
            design_spiled_plank(SpilingBatten(tuple(marks)), SpilingChoice("x", 28.0)) for marks in (offsets, turned)
        )
        for a, b in zip(here.frames, there.frames, strict=True):
            assert a.lower_mm == pytest.approx(b.lower_mm, abs=0.02)
            assert a.upper_mm == pytest.approx(b.upper_mm, abs=0.02)

    @pytest.mark.parametrize(
        ("marks", "said"),
        [
            ((), r"lower edge: 0 point\(s\) spiled; two or more"),
            (("lower",), r"upper edge: 0 point\(s\) spiled"),
        ],
    )
    def test_an_edge_without_points_is_told(self, marks, said):
        chosen = tuple(mark for mark in self.batten.marks if mark.edge in marks)
        with pytest.raises(BadPlank, match=said):
            design_spiled_plank(SpilingBatten(chosen), SpilingChoice("x", 28.0))

    def test_marks_that_give_no_edge_are_told(self):
        def spile(*marks):
            lower = [SpilingMark(str(i), "lower", "offset", 500.0 * i, 0.0) for i in range(4)]
            return design_spiled_plank(SpilingBatten((*lower, *marks)), SpilingChoice("x", 28.0))

        arc = SpilingMark("1", "upper", "arc", 0.0, 0.0, 100.0)
        with pytest.raises(BadPlank, match=r"1 upper: one arc; swing it from two"):
            spile(arc)
        with pytest.raises(BadPlank, match=r"1 upper: arcs of 100 and 100 mm do not meet from centres 500 mm apart"):
            spile(arc, replace(arc, x_mm=500.0))
        with pytest.raises(BadPlank, match=r"1 upper: the centres of its arcs lie one on the other"):
            spile(arc, arc)
        with pytest.raises(BadPlank, match=r"0 mm upper: an arc without frame or point"):
            spile(replace(arc, frame=""), replace(arc, frame="", x_mm=50.0))
        with pytest.raises(BadPlank, match=r"1 upper: its arcs are on both sides"):
            spile(arc, replace(arc, x_mm=50.0, side=-1))
        block = SpilingMark("1", "upper", "block", 0.0, 100.0, 40.0)
        with pytest.raises(BadPlank, match=r"upper edge: one block mark; two or more"):
            spile(block)
        with pytest.raises(BadPlank, match=r"upper edge: block marks of widths 40, 45 mm"):
            spile(block, replace(block, x_mm=500.0, opening_mm=45.0))
        below = [SpilingMark(str(i), "upper", "offset", 500.0 * i, -30.0) for i in range(4)]
        with pytest.raises(BadPlank, match=r"upper edge lies -30 mm above the lower at \d+ mm along; .*swapped"):
            spile(*below)
        with pytest.raises(BadPlank, match=r"9 upper: a width at 5000 mm along, where there is no lower edge"):
            spile(SpilingMark("9", "upper", "width", 5000.0, 0.0, 150.0))

    def test_a_radius_for_a_frame_without_marks_is_told(self):
        with pytest.raises(BadPlank, match=r"a radius is given for frame '40', which has no spiling mark"):
            design_spiled_plank(self.batten, SpilingChoice("x", 28.0, radius_mm=(("40", 700.0),)))

    def test_arcs_that_graze_are_told(self):
        lower = [SpilingMark(str(i), "lower", "offset", 500.0 * i, 0.0) for i in range(4)]
        upper = [
            SpilingMark(str(i), "upper", "arc", 500.0 * i + dx, 40.0, float(np.hypot(dx, 110.0)))
            for i in range(4)
            for dx in (-20.0, 20.0)
        ]
        plank = design_spiled_plank(SpilingBatten((*lower, *upper)), SpilingChoice("x", 28.0))
        assert plank.upper_mm[0] == pytest.approx([0, 75], abs=1e-6)
        crossing = next(check for check in plank.checks if check.name == "Crossing of the arcs")
        assert not crossing.ok
        assert crossing.found.startswith("21°")  # 2·atan(20/110)

    def test_arcs_that_do_not_meet_in_a_point_are_told(self):
        extra = SpilingMark("7", "upper", "arc", 600.0, 10.5, 93.0)
        plank = design_spiled_plank(SpilingBatten((*self.batten.marks, extra)), SpilingChoice("x", 28.0))
        found = {check.name: check for check in plank.checks}
        assert not found["Arcs meet in a point"].ok
        found_there = found["Arcs meet in a point"].found
        assert "7 upper; row by row" in found_there
        misses = [float(one.removesuffix(" mm")) for one in found_there.partition("row by row ")[2].split(", ")]
        assert np.argmax(np.abs(misses)) == 2, "the arc swung wrong misses most, and reads as such"
