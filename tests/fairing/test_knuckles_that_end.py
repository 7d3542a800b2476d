"""Chines that start and end along the hull: sharp where marked, smooth beyond, against a formula's own shape."""

from dataclasses import replace

import numpy as np
import pytest
from scipy.spatial import cKDTree

from scrieve.boat import Boat
from scrieve.errors import CannotFair
from scrieve.fairing import fair
from scrieve.fairing.next_mark import next_marks
from scrieve.takeoff.marks import Mark

LENGTH, FRAMES = 9000.0, 15
ENDS_AT = 3500.0  # the chine has died away here, going forward
CORNER = 0.5


def section(x, t):
    """A quarter-turn of an ellipse, with a corner that is sharp aft and dies away to nothing at `ENDS_AT`."""
    beam, depth = 1200 * (1 - 0.5 * (x / LENGTH - 0.6) ** 2 * 4), 1100 + 200 * (x / LENGTH - 0.5) ** 2
    angle = np.asarray(t) * np.pi / 2
    smooth = np.column_stack([beam * np.sin(angle), depth * (1 - np.cos(angle))])
    sharp = np.clip((x - ENDS_AT) / (LENGTH - ENDS_AT), 0, None) ** 1.5
    out = 120 * sharp * np.maximum(0.0, 1 - np.abs(np.asarray(t) - CORNER) / CORNER)
    return smooth + out[:, None] * np.array([1.0, -1.0]) / np.sqrt(2)


def marks(sigma, seed, *, label="", without=()):
    rng = np.random.default_rng(seed)
    made = []
    for n, x in enumerate(np.linspace(0, LENGTH, FRAMES)):
        t = np.linspace(0, 1, 13)
        for k, (y, z) in enumerate(section(x, t) + rng.normal(0, sigma, (13, 2))):
            chine = k == 6 and x > ENDS_AT and n not in without
            made.append(
                Mark(
                    str(n), float(x), float(z), float(abs(y)), label=label if chine else "",
                    kind="knuckle" if chine else "", sigma_mm=max(sigma, 0.2), number=len(made) + 1,
                )
            )  # fmt: skip
    return made


@pytest.fixture(scope="module")
def hull():
    return fair(marks(1.5, 3), Boat("ends", sigma_mm=1.5))


def turn(hull, x, v):
    """How far the section turns within a thousandth of the girth about v [degrees]."""
    one, other = hull.fit.value([x, x], [v - 5e-4, v + 5e-4], by_v=1)
    return abs(np.degrees(np.arctan2(one[0] * other[1] - one[1] * other[0], one @ other)))


def test_the_chine_is_sharp_where_it_is_marked_and_smooth_beyond(hull):
    (v,) = hull.features[1:-1]
    low, high = hull.knuckles[v]
    assert low > ENDS_AT
    assert high == LENGTH
    aft = section(LENGTH, np.array([CORNER - 1e-4, CORNER, CORNER + 1e-4]))
    a, b = np.diff(aft, axis=0)
    true = abs(np.degrees(np.arctan2(a[0] * b[1] - a[1] * b[0], a @ b)))
    assert turn(hull, LENGTH, v) == pytest.approx(true, abs=4)  # marks 1.5 mm wrong, 140 mm apart
    forward = np.linspace(0, low - LENGTH / (FRAMES - 1), 30)
    assert max(turn(hull, x, v) for x in forward) < 0.3  # what the section's own curvature turns there, and no more
    assert hull.knuckles_at(LENGTH) == (v,)
    assert hull.knuckles_at(0.0) == ()


def test_the_shape_is_found_on_both_sides_of_the_end(hull):
    off = []
    for x in np.linspace(200, LENGTH - 200, 21):
        true = cKDTree(section(x, np.linspace(0, 1, 8001)))
        off.append(true.query(hull.section(float(x)).points_mm)[0])
    assert np.sqrt(np.mean(np.square(off))) < 1.2  # bar of the inner frames at an error of 1.5 mm
    assert not hull.suspects


def test_the_knuckle_lies_within_4_mm_also_on_a_frame_that_has_no_mark_of_it():
    hull = fair(marks(1.5, 4, label="chine", without=(10,)), Boat("ends", sigma_mm=1.5))
    (v,) = hull.features[1:-1]
    for n in range(6, FRAMES):
        x = LENGTH * n / (FRAMES - 1)
        at = hull.fit.value([x], [v])[0]
        assert np.hypot(*(at - section(x, np.array([CORNER]))[0])) < 4


def test_no_knuckle_is_proposed_for_measuring_where_it_has_ended(hull):
    wanted = [x for x in hull.stations.values() if x < ENDS_AT]
    beyond = next_marks(hull, wanted, 40, where=wanted)
    assert "knuckle" not in {mark.kind for mark in beyond}
    aft = next_marks(hull, [LENGTH], 40, where=[LENGTH])
    assert "knuckle" in {mark.kind for mark in aft}


def test_a_knuckle_on_two_frames_is_no_line():
    few = [mark if mark.frame in ("13", "14") else replace(mark, kind="") for mark in marks(1.5, 5)]
    with pytest.raises(CannotFair, match=r"knuckle 1 is marked on too few frames \(13, 14\)"):
        fair(few, Boat("ends", sigma_mm=1.5))


def test_labels_that_count_the_marks_of_a_frame_name_no_knuckle():
    """One chine, mark 7 of most frames and mark 6 of another, is one line.

    Source: the same marks without labels, which order alone tells.
    """
    bare = marks(1.5, 3)
    counted = []
    for frame in dict.fromkeys(mark.frame for mark in bare):
        own = [mark for mark in bare if mark.frame == frame]
        begin = 0 if frame == "11" else 1  # this one counts its heel as 0
        counted += [replace(mark, label=str(begin + k)) for k, mark in enumerate(own)]
    one, other = fair(bare, Boat("ends", sigma_mm=1.5)), fair(counted, Boat("ends", sigma_mm=1.5))
    assert other.features == one.features
    assert other.knuckles == one.knuckles


def test_a_knuckle_called_wrongly_on_one_frame_is_told_by_the_name_it_has_there():
    named = marks(1.5, 3, label="chine")
    wrong = [replace(mark, label="chin") if mark.label and mark.frame == "11" else mark for mark in named]
    with pytest.raises(
        CannotFair, match=r"the knuckle 'chin' is marked on too few frames \(11\); mark it on at least 3"
    ):
        fair(wrong, Boat("ends", sigma_mm=1.5))
