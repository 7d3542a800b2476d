"""Lining off for clinker: lands and nails against closed forms on a cone, whose sections are quarter circles."""

from dataclasses import asdict, replace

import numpy as np
import pytest
from form_hulls import FormHull
from hulls import ConeHull

from scrieve.errors import BadPlank
from scrieve.planking import design_plank
from scrieve.planking.lining.choice import LiningChoice
from scrieve.planking.lining.lands import clinker_fastenings, lining_lands
from scrieve.planking.lining.line_off import line_off

CLINKER = LiningChoice(
    "side", strakes=10, narrowest_mm=60, end_narrowest_mm=50, widest_mm=300, thickness_mm=12, build="clinker"
)


@pytest.fixture(scope="module")
def cone():
    return line_off(ConeHull(), CLINKER)


def test_lands_of_a_quarter_circle_in_ten_strakes(cone):
    # every strake turns by 90°/10 from the one below; the lap is twice the thickness
    lands = lining_lands(cone)
    assert lands.lap_mm == 24
    np.testing.assert_allclose(lands.bevel_rad, np.radians(9), atol=1e-5)
    np.testing.assert_allclose(lands.depth_mm, 24 * np.tan(np.radians(9)), atol=1e-3)
    np.testing.assert_allclose(lands.left_mm, 12 - 24 * np.tan(np.radians(9)), atol=1e-3)
    check = next(check for check in cone.checks if check.name == "Thickness left at the land")
    assert check.ok
    assert check.limit == "6.0 mm, half of the thickness"
    told = [check for check in line_off(ConeHull(), replace(CLINKER, lap_mm=40)).checks if "land" in check.name]
    assert not told[0].ok  # 12 − 40 tan 9° = 5.66 left


def test_the_plank_drawn_has_the_land_that_the_lining_tells(cone):
    choice = cone.strake(5)
    assert (choice.build, choice.lap_mm, choice.thickness_mm) == ("clinker", 0.0, 12)
    plank = design_plank(cone.hull, choice)
    told = lining_lands(cone)
    assert [land.lap_mm for land in plank.lands] == [24.0] * len(plank.lands)
    # its own sum runs square to the edge and takes the lapped faces, not the chords on the frames
    np.testing.assert_allclose([land.bevel_rad for land in plank.lands], told.bevel_rad[4], atol=np.radians(0.6))
    assert not any(check.name == "Backing out" for check in cone.checks)


def folds(lining):
    """Angle from each strake to the next in the section, straight from seam to seam [°]."""
    over = np.diff(np.stack([lining.half_breadth_mm, lining.height_mm], axis=-1), axis=0)
    return np.degrees(np.diff(np.unwrap(np.arctan2(over[..., 1], over[..., 0]), axis=0), axis=0))


def test_lands_bind_the_lines_where_they_can_be_kept():
    asked = LiningChoice("side", strakes=12, narrowest_mm=30, end_narrowest_mm=20, widest_mm=500, thickness_mm=20,
                         build="clinker", lap_mm=40)  # fmt: skip
    limit = np.degrees(np.arctan(10 / 40))  # half of 20 mm left over a lap of 40
    free = line_off(FormHull("wigley"), replace(asked, build="carvel"))
    assert folds(free).max() > limit + 4
    bound = line_off(FormHull("wigley"), asked)
    assert folds(bound).max() <= limit + 0.01
    assert all(check.ok for check in bound.checks if "land" in check.name)


def test_where_no_lines_keep_every_land_they_are_fair_and_it_is_told():
    hull = FormHull("round bilge")  # turns by 27° from the garboard to the strake above it
    asked = LiningChoice("side", strakes=12, narrowest_mm=30, end_narrowest_mm=20, widest_mm=500, thickness_mm=20,
                         build="clinker", lap_mm=30)  # fmt: skip
    found, free = line_off(hull, asked), line_off(hull, replace(asked, build="carvel"))
    np.testing.assert_allclose(found.girth_mm, free.girth_mm, atol=0.6)  # settled to 0.5 mm
    assert [check.ok for check in found.checks if "land" in check.name] == [False]


def test_nails_by_the_length_of_the_lands(cone):
    # a seam of the cone is one of its straight lines: √(run² + difference of radii²); a nail each 6 × 12 mm, and one
    x = np.array([cone.frames[0].x_mm, cone.frames[-1].x_mm])
    run = np.hypot(*np.diff(np.stack([x, ConeHull().radius(x)]), axis=1)[:, 0])
    nails = clinker_fastenings(cone, spares=0.1, hood_end=3)
    assert [land.length_mm for land in nails.lands] == pytest.approx([run] * 9, abs=0.05)
    assert {land.nails for land in nails.lands} == {int(run / 72) + 1}
    assert nails.total == 9 * (int(run / 72) + 1) + 3 * 20
    assert nails.order == -(-nails.total * 11 // 10)
    assert nails.through_mm == 24
    frames = sum(bool(frame.label) for frame in cone.frames)
    assert all(land.at_frames == frames for land in nails.lands)


def test_boards_show_less_than_their_width_and_round_frames_take_narrow_strakes():
    # the quarter circle of radius 1200 is 1885 mm: boards of 190 show 166, 1885 / 166 × 1.08 in hand is 12.3
    boards = line_off(ConeHull(), replace(CLINKER, strakes=0, widest_mm=190))
    assert boards.strakes == 13
    assert np.nanmax(boards.width_mm) <= 166.01
    # boards of 700: half of 12 mm is left where a strake turns by atan(6 / 24) = 14.04°; 90 / 14.04 × 1.08 is 6.9
    wide = replace(CLINKER, strakes=0, widest_mm=700)
    assert line_off(ConeHull(), wide).strakes == 7
    assert line_off(ConeHull(), replace(wide, build="carvel")).strakes == 3  # 1885 / 700 × 1.08


def test_what_cannot_be_is_told(cone):
    assert LiningChoice.from_mapping(asdict(CLINKER)) == CLINKER
    with pytest.raises(BadPlank, match=r"boards of 80 mm less a lap of 24 mm show 56 mm, not more than the narrowest"):
        replace(CLINKER, widest_mm=80)
    with pytest.raises(BadPlank, match="build: found 'strip'; say carvel or clinker"):
        replace(CLINKER, build="strip")
    carvel = line_off(ConeHull(), replace(CLINKER, build="carvel"))
    for ask in (lining_lands, clinker_fastenings):
        with pytest.raises(BadPlank, match="lining 'side' is carvel: it has no lands"):
            ask(carvel)
