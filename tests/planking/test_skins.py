"""Diagonal skins: on a cylinder every seam is a helix and every plank the same straight strip."""

import json
from dataclasses import asdict, replace

import numpy as np
import pytest
from hulls import ConeHull

from scrieve.errors import BadPlank
from scrieve.planking import SkinChoice, design_diagonal, lay_skin

ROUND = ConeHull(1000.0, 1000.0)
CHOICE = SkinChoice("inner", 12.0, angle_deg=45.0, width_mm=125.0)


@pytest.mark.parametrize("angle", [45.0, 70.0, 135.0])
def test_planks_of_a_cylinder_are_straight_strips(angle):
    skin = lay_skin(ROUND, replace(CHOICE, angle_deg=angle))
    whole = [plank for plank in skin.planks if not plank.corner and plank.length_mm > 1000 * np.pi / 2]
    # a quarter of the girth, 1570.80, risen at that angle
    assert max(plank.length_mm for plank in whole) == pytest.approx(500 * np.pi / np.sin(np.radians(angle)), abs=0.1)
    for plank in whole:
        assert (plank.least_mm, plank.greatest_mm) == pytest.approx((125, 125), abs=0.05)
    flat = design_diagonal(ROUND, replace(CHOICE, angle_deg=angle, plank=len(skin.planks) // 2))
    for edge in (flat.lower_mm, flat.upper_mm):
        chord = np.polyfit(*edge.T, 1)
        assert np.abs(edge[:, 1] - np.polyval(chord, edge[:, 0])).max() < 0.01
    assert flat.edge_set_mm < 0.01
    # bend of a helix: sin² of its angle to the axis, over the radius
    assert flat.bend_radius_mm == pytest.approx(1000 / np.sin(np.radians(angle)) ** 2, rel=1e-3)


def test_both_layers_cross_and_cover_the_side():
    inner = lay_skin(ROUND, replace(CHOICE, width_mm=400.0, first="3", last="9"))
    outer = lay_skin(ROUND, replace(inner.choice, name="outer", angle_deg=135.0, skin=2, under_mm=12.0))
    area = 3000 * 500 * np.pi
    for skin, radius in ((inner, 1000), (outer, 1012)):
        covered = 0.0
        u, w = np.meshgrid((np.arange(20) + 0.5) / 20, [0.25, 0.75], indexing="ij")
        for plank in skin.planks:
            _, by_u, by_w = skin.strip(plank.number)(u, w)
            covered += float(np.mean(np.linalg.norm(np.cross(by_u, by_w), axis=-1)))
        # all but the corners, of which a plank's straight end cuts a piece, and what is over at both ends
        assert 0.85 < covered / (area * radius / 1000) < 1.0
    a = design_diagonal(ROUND, replace(inner.choice, plank=4))
    b = design_diagonal(ROUND, replace(outer.choice, plank=4))
    lengths = [(plank.lengths_mm[0] or 0) for plank in (a, b)]
    # the outer layer's helix lies 12 mm further out
    assert lengths[1] / lengths[0] == pytest.approx(1.012, rel=1e-3)


def test_frames_cross_a_plank_where_they_stand():
    plank = design_diagonal(ROUND, replace(CHOICE, plank=20))
    skin = lay_skin(ROUND, CHOICE)
    strip = skin.strip(20)
    assert len(plank.frames) >= 2
    for frame in plank.frames:
        # at 45° the frame line runs askew over the strip: width·√2 long
        assert frame.width_mm == pytest.approx(125 * np.sqrt(2), abs=0.05)
        assert ROUND.stations[frame.label] == frame.station_mm
    assert strip.lower(0.5)[0] > strip.upper(0.5)[0]  # the lower edge is the after one


def test_a_plank_of_a_cone_tapers_and_comes_back_as_it_was_kept():
    choice = replace(CHOICE, width_mm=250.0)
    skin = lay_skin(ConeHull(), choice)
    # seams are straight on the cone laid flat, and start at one angle to its rulings, which are not parallel
    assert max(plank.greatest_mm - plank.least_mm for plank in skin.planks) > 10
    plank = design_diagonal(ConeHull(), replace(choice, plank=len(skin.planks) // 2))
    assert (plank.kind, plank.edge_names) == ("diagonal", ("after", "forward"))
    assert plank.edge_set_mm < 0.05
    assert plank.strain_max < 2e-4
    assert SkinChoice.from_mapping(json.loads(json.dumps(asdict(plank.choice)))) == plank.choice


@pytest.mark.parametrize(
    ("change", "said"),
    [
        ({"angle_deg": 5.0}, r"angle: found 5\.0; give 15 to 165"),
        ({"width_mm": 5.0}, r"width: found 5\.0"),
        ({"name": " "}, r"has no name"),
        ({"plank": 0}, r"planks from 1"),
    ],
)
def test_a_choice_that_cannot_be_is_told(change, said):
    with pytest.raises(BadPlank, match=said):
        replace(CHOICE, **change)


def test_a_plank_that_is_not_there_is_told():
    with pytest.raises(BadPlank, match=r"plank 99; this layer has planks 1 to \d\d"):
        design_diagonal(ROUND, replace(CHOICE, plank=99))
    with pytest.raises(BadPlank, match=r"over 150 planks"):
        lay_skin(ROUND, replace(CHOICE, width_mm=25.0))
