"""One frame enlarged: what departs from the stored line is drawn the stated number of times larger, a trial with it.

Source of the form: the Wigley hull (analytic test hull of ship hydrodynamics). Expected places follow from the hull's
own points by the rule that the drawing states; moves of a trial from the fairing of the moved marks.
"""

import re

import numpy as np
import pytest

from scrieve.boat import Boat
from scrieve.errors import NoSuchFrame
from scrieve.fairing.hull import fair, moved
from scrieve.sheets.drawing import Circle, Line, Polyline, Text
from scrieve.sheets.fairing_frame import FrameView
from scrieve.takeoff.marks import Mark

from .conftest import overlapping

LENGTH, BEAM, DRAUGHT = 12000.0, 2600.0, 1000.0
BLUNDER = 3 * 16 + 5


def marks():
    """Both sides of seven frames with seeded error; one mark of frame 3 a foot out."""
    rng = np.random.default_rng(3)
    made = []
    for frame, x in enumerate(np.linspace(-4500, 4500, 7)):
        for side in ("P", "S"):
            for k, z in enumerate(np.linspace(-DRAUGHT, 0, 8)):
                y = BEAM / 2 * (1 - (2 * x / LENGTH) ** 2) * (1 - (z / DRAUGHT) ** 2)
                dy, dz = rng.normal(0, 1.5, 2)
                slip = 304.8 if len(made) == BLUNDER else 0.0
                kind = {0: "heel", 7: "head"}.get(k, "")
                made.append(Mark(str(frame), x, z + dz, abs(y + dy) + slip, side, kind=kind, number=len(made)))
    return made


@pytest.fixture(scope="module")
def hull():
    return fair(marks(), Boat("a form", sigma_mm=1.5))


@pytest.fixture(scope="module")
def trial(hull):
    mark = hull.laid.marks[3 * 16 + 3]
    return moved(hull, mark.number, mark.half_breadth_mm + 4.0, mark.height_mm)


def lines(drawing, layer):
    return [item for item in drawing.on_layer(layer) if isinstance(item, Polyline)]


def dot(drawing, number):
    """Where the mark's dot stands, on the hand it is drawn on, turned to the right."""
    (found,) = (i for i in drawing.items if isinstance(i, Circle) and i.title.startswith(f"mark {number},"))
    return np.abs(found.at[0]), found.at[1]


def test_a_mark_stands_off_its_foot_on_the_stored_line_by_the_stated_number_of_its_departure(hull):
    frame = FrameView(hull, "3")
    drawing = frame.drawn()
    words = " ".join(item.text for item in drawing.items if isinstance(item, Text))
    k = float(re.search(r"drawn (\d+) times", words)[1])
    assert k > 1
    checked = 0
    for off, point in zip(hull.offs, hull.laid.points, strict=True):
        if off.frame != "3" or off.suspect or abs(k * off.residual_mm) > 5 * frame.h:
            continue
        foot = hull.fit.value(np.array([hull.stations["3"]]), np.array([off.v]))[0]
        place = foot + k * (point - foot)
        assert dot(drawing, off.number) == pytest.approx((abs(place[0]), place[1]), abs=1e-6)
        checked += 1
    assert checked >= 12


def test_a_blunder_is_cut_short_and_ringed(hull):
    frame = FrameView(hull, "3")
    (off,) = (one for one in hull.offs if one.number == BLUNDER)
    assert off.suspect
    foot = hull.fit.value(np.array([hull.stations["3"]]), np.array([off.v]))[0]
    assert np.hypot(*(np.array(dot(frame.drawn(), BLUNDER)) - foot)) == pytest.approx(6 * frame.h)
    rings = [i for i in frame.drawn().on_layer("MARKS") if isinstance(i, Circle) and not i.title]
    assert len(rings) == 1


def test_a_trial_lies_off_the_stored_line_by_the_stated_number_of_its_move(hull, trial):
    frame = FrameView(hull, "3", stretch=10)
    before, after = frame.drawn(), frame.drawn(trial, 3 * 16 + 3)
    assert before.bounds == after.bounds, "the drawing may not jump while a mark is dragged"
    assert lines(before, "OTHER FACE") == []
    stored, now = lines(after, "OTHER FACE")[0].points, lines(after, "MOULDED LINE")[0].points
    assert stored == pytest.approx(lines(before, "MOULDED LINE")[0].points)
    x = np.full(len(frame.share), hull.stations["3"])
    move = trial.fit.value(x, frame.share) - hull.fit.value(x, frame.share)
    assert np.hypot(*move.T).max() > 0.5
    assert now - stored == pytest.approx(10 * move, abs=1e-9)
    left = lines(after, "MOULDED LINE")[1].points
    assert left == pytest.approx(now * (-1, 1))


def test_however_far_a_mark_is_dragged_the_drawing_keeps_its_bounds(hull):
    frame = FrameView(hull, "3", combs=True, stretch=50)
    for number, out, up in ((3 * 16, -500.0, -800.0), (3 * 16 + 7, 900.0, 900.0), (3 * 16 + 12, 3000.0, 0.0)):
        mark = hull.laid.marks[number]
        far = moved(hull, number, abs(mark.half_breadth_mm + out), mark.height_mm + up)
        assert frame.drawn(far, number).bounds == frame.drawn().bounds


def test_the_band_is_two_standard_deviations_stretched_alike(hull):
    drawing = FrameView(hull, "3", stretch=20).drawn()
    outer, inner = (item.points for item in lines(drawing, "BAND")[:2])
    frame = FrameView(hull, "3", stretch=20)
    sd = hull.sd_mm(np.full(len(frame.share), hull.stations["3"]), frame.share)
    assert np.hypot(*(outer - inner).T) == pytest.approx(4 * 20 * sd, rel=1e-6)


def test_dots_lead_where_they_are_told_and_those_of_both_sides_stand_on_both():
    both = [Mark(m.frame, m.station_mm, m.height_mm, m.half_breadth_mm, "", kind=m.kind, number=m.number)
            for m in marks() if m.side == "S"]  # fmt: skip
    drawing = FrameView(fair(both, Boat("a form", sigma_mm=1.5)), "3", link=lambda number: f"m/{number}").drawn()
    links = [item for item in drawing.items if isinstance(item, Circle) and item.link]
    assert sorted(np.sign(item.at[0]) for item in links if item.link == "m/60") == [-1, 1]


def test_what_is_chosen_is_drawn_and_nothing_else(hull, trial):
    bare = FrameView(hull, "3", bands=False, whiskers=False).drawn()
    assert lines(bare, "BAND") == []
    assert not [item for item in bare.items if isinstance(item, Circle)]
    comb = FrameView(hull, "3", combs=True).drawn(trial)
    teeth = [item for item in comb.on_layer("HATCHING") if isinstance(item, Line)]
    assert len(teeth) == 2 * 81
    longer = FrameView(hull, "3", combs=True, teeth_times=2).drawn(trial)
    size = [np.hypot(*np.subtract(t.end, t.start)) for t in (teeth[20], longer.on_layer("HATCHING")[20])]
    assert size[1] == pytest.approx(2 * size[0])


@pytest.mark.parametrize("units", ["mm", "ft"])
def test_no_lettering_lies_on_other_lettering(hull, units):
    assert overlapping(FrameView(hull, "3", units=units).drawn()) == []


def test_lengths_are_in_the_builders_units(hull):
    off = next(one for one in hull.offs if one.number == BLUNDER)
    titles = [getattr(item, "title", "") for item in FrameView(hull, "3", units="ft").drawn().items]
    assert any(f"{off.residual_mm / 25.4:+.2f} in, suspect" in title for title in titles)


def test_a_frame_without_marks_is_refused(hull):
    with pytest.raises(NoSuchFrame, match="frame 'x' has no marks here"):
        FrameView(hull, "x")
