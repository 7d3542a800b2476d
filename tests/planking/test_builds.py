"""Clinker, rabbets and panels on forms whose every figure is a closed form: cylinders, wedges, flat sides."""

from dataclasses import dataclass, field, replace

import numpy as np
import pytest
from hulls import ConeHull

from scrieve.errors import BadPlank
from scrieve.planking import PlankEnds, SeamMark, StrakeChoice, design_plank
from scrieve.planking.panel import least_dry_radius

#: A quarter of a cylinder of radius 1000 along x, 6 m long, frames 0 to 12 every 500 mm.
ROUND = ConeHull(1000.0, 1000.0)


def seam(girth, hull=ROUND):
    return tuple(SeamMark(girth, "girth", label) for label in hull.stations)


def clinker(low, high, **settings):
    return design_plank(ROUND, StrakeChoice("third", seam(low), seam(high), 12.0, build="clinker", **settings))


class TestClinkerOnACylinder:
    """Each strake is the one below turned about the axis: the land's bevel is the angle between two upper edges."""

    plank = clinker(600, 740)

    def test_the_land(self):
        assert [land.frame for land in self.plank.lands] == list(ROUND.stations)
        for land in self.plank.lands:
            assert land.lap_mm == 24  # twice the thickness
            assert land.bevel_rad == pytest.approx(0.14, abs=1e-4)
            assert land.depth_mm == pytest.approx(24 * np.tan(0.14), abs=5e-3)
            assert land.left_mm == pytest.approx(12 - 24 * np.tan(0.14), abs=5e-3)

    def test_the_plank_reaches_down_over_the_one_below(self):
        # from radius 1000 at 0.740 rad to the outside of the strake below, radius 1012, a lap below 0.600 rad
        inner = 1000 * np.exp(0.740j)
        outer = 1012 * np.exp(1j * (0.600 - 0.024))
        for frame in self.plank.frames:
            assert frame.width_mm == pytest.approx(abs(inner - outer), abs=0.01)
        assert self.plank.seam_opening_mm == 0
        assert self.plank.frames[0].lower_bevel_rad is None

    def test_a_wider_lap_is_told_when_it_leaves_too_little(self):
        assert all(check.ok for check in self.plank.checks if "land" in check.name)
        wide = clinker(600, 740, lap_mm=48)  # 48 tan 0.14 = 6.8 of 12
        check = next(check for check in wide.checks if check.name == "Thickness left at the land")
        assert not check.ok
        assert check.found.startswith("5.2 mm")

    def test_the_top_strake_has_no_land_and_the_garboard_no_lap_below(self):
        girth = 1000 * np.pi / 2
        assert clinker(girth - 140, girth).lands == ()
        garboard = clinker(0, 140)
        assert garboard.frames[3].width_mm == pytest.approx(2000 * np.sin(0.07), abs=0.01)  # the chord alone
        with pytest.raises(BadPlank, match=r"a lap of 24 mm runs below the heel"):
            clinker(10, 150)


@dataclass(frozen=True)
class Wedge:
    """Two flat sides that meet the centreplane at x = 0 at 20°, 1 m high, frames every 500 mm."""

    x_range: tuple[float, float] = (0.0, 4000.0)
    stations: dict[str, float] = field(default_factory=lambda: {str(i): 500.0 * i for i in range(9)})
    slope = np.tan(np.radians(20))

    def point(self, x, v):
        x, v = np.broadcast_arrays(np.asarray(x, dtype=float), np.asarray(v, dtype=float))
        return np.stack([x, x * self.slope, 1000 * v], axis=-1)

    def partials(self, x, v):
        x, v = np.broadcast_arrays(np.asarray(x, dtype=float), np.asarray(v, dtype=float))
        one, zero = np.ones_like(x), np.zeros_like(x)
        return np.stack([one, self.slope * one, zero], -1), np.stack([zero, zero, 1000 * one], -1)


def test_the_rabbet_of_a_wedge_is_its_angle():
    hull = Wedge()
    plank = design_plank(
        hull, StrakeChoice("side", seam(300, hull), seam(450, hull), 25.0, ends=PlankEnds("hood", "butt"))
    )
    assert [cut.place for cut in plank.rabbets] == [
        "first end, lower edge", "first end, middle", "first end, upper edge"]  # fmt: skip
    for cut in plank.rabbets:
        assert np.degrees(cut.angle_rad) == pytest.approx(20, abs=1e-6)
        assert cut.bearding_mm == pytest.approx(25 / np.sin(np.radians(20)), abs=1e-6)
        assert cut.depth_mm == pytest.approx(25 * np.cos(np.radians(20)), abs=1e-6)
    assert any("rabbet's figures" in text for text in plank.cautions)


def test_the_rabbet_of_the_garboard_is_its_deadrise():
    # a chord of a quarter circle from its lowest point rises at half the angle it spans: 0.07 rad, so 90° less that
    garboard = design_plank(ROUND, StrakeChoice("garboard", seam(0), seam(140), 25.0))
    assert len(garboard.rabbets) == 13
    for cut in garboard.rabbets:
        assert cut.place.startswith("frame ")
        assert cut.angle_rad == pytest.approx(np.pi / 2 - 0.07, abs=1e-5)


class TestPanel:
    """A panel of a quarter cylinder unrolls to a rectangle, 6000 by its girth."""

    choice = StrakeChoice(
        "bottom", seam(100), seam(900), 6.4, build="panel", ends=PlankEnds(scarf_slope=8), trim_mm=0.0
    )
    plank = design_plank(ROUND, choice)

    def test_it_unrolls_round(self):
        assert self.plank.lengths_mm == pytest.approx([6000] * 4, abs=0.01)
        assert {round(frame.width_mm, 2) for frame in self.plank.frames} == {800}

    def test_scarfs(self):
        # three sheets of 2440 with two scarfs of 51.2 cover 7217.6; shared evenly, each is (6000 + 2·51.2)/3 long
        assert [joint.kind for joint in self.plank.joints] == ["scarf", "scarf"]
        assert [joint.length_mm for joint in self.plank.joints] == pytest.approx([51.2, 51.2])
        assert [piece.length_mm for piece in self.plank.pieces] == pytest.approx([2034.133] * 3, abs=0.01)
        assert [piece.width_mm for piece in self.plank.pieces] == pytest.approx([800] * 3, abs=0.01)

    def test_butt_blocks_stand_midway_between_frames(self):
        plank = design_plank(ROUND, replace(self.choice, sheet_joint="butt block"))
        assert [joint.at_mm for joint in plank.joints] == pytest.approx(
            [2250, 4250], abs=0.01
        )  # within 2440 of the last
        assert [joint.where for joint in plank.joints] == ["between frames 4 and 5", "between frames 8 and 9"]
        assert max(piece.length_mm for piece in plank.pieces) <= 2440

    def test_verdicts(self):
        found = {check.name: check.ok for check in self.plank.checks}
        assert found["Sheets"]
        assert found["Bend of the panel across"]  # 1000 against 610, printed for 6.4 mm
        thick = design_plank(ROUND, replace(self.choice, thickness_mm=12.7))
        assert not {check.name: check.ok for check in thick.checks}["Bend of the panel across"]  # 1828
        assert not {"Edge-set in ten feet", "Hollow of the inside", "Length of a new plank"} & set(found)  # of planks
        assert self.plank.board.thickness_mm == 6.4  # plywood is not planed
        between = next(check for check in self.plank.checks if check.name == "Butt of the panel at the first end")
        assert between.limit == "between frames, in a flat spot"
        assert not any("Steam" in check.caution for check in self.plank.checks)
        narrow = design_plank(ROUND, replace(self.choice, sheet_mm=(2440.0, 610.0)))
        assert not {check.name: check.ok for check in narrow.checks}["Sheets"]

    def test_what_cannot_be(self):
        with pytest.raises(BadPlank, match=r"the table of radii ends at 19\.1 mm"):
            least_dry_radius(25)
        with pytest.raises(BadPlank, match=r"no bay between two frames lies within a sheet of 400 mm"):
            design_plank(ROUND, replace(self.choice, sheet_joint="butt block", sheet_mm=(400.0, 900.0)))
        with pytest.raises(BadPlank, match=r"build: found 'steel'"):
            replace(self.choice, build="steel")
