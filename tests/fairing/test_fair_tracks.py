"""Marks of a frame put in order from heel to head, in whatever order they were called out."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from scrieve.fairing.tracks import heel_to_head, tracks
from scrieve.takeoff.marks import Mark

#: A hull that tucks up under a counter: from the heel out, down round the bilge, up and home again: not seen whole
#: from the centreline.
S_FRAME = np.array(
    [[30, 300], [150, 330], [300, 350], [520, 330], [700, 300], [850, 330], [930, 420], [960, 560], [930, 700],
     [880, 820], [860, 950], [900, 1100]], dtype=float,
)  # fmt: skip
WINE_GLASS = np.array(
    [[40, 0], [50, 120], [70, 240], [130, 350], [330, 450], [620, 540], [800, 700], [860, 900]], float
)


@settings(max_examples=30, deadline=None)
@given(st.permutations(range(len(WINE_GLASS))), st.booleans())
def test_wine_glass_sections(order, named):
    points = WINE_GLASS[order]
    ends = (order.index(0), order.index(len(order) - 1)) if named else (None, None)
    assert [order[i] for i in heel_to_head(points, *ends)] == list(range(len(order)))


@settings(max_examples=30, deadline=None)
@given(st.permutations(range(len(S_FRAME))))
def test_a_frame_that_turns_back_on_itself(order):
    assert [order[i] for i in heel_to_head(S_FRAME[order], order.index(0), order.index(len(order) - 1))] == list(
        range(len(order))
    )


def test_the_way_along_is_made_shorter_where_sight_alone_is_wrong():
    # seen from above on the centreline the marks of a deep tumblehome overlap: the way along them decides
    tumblehome = np.array([[0, 0], [500, 30], [900, 200], [1000, 500], [900, 800], [600, 1000], [550, 1010]], float)
    assert heel_to_head(tumblehome).tolist() == list(range(7))


def test_sides_and_stations_are_kept_apart():
    marks = [
        Mark("2", 500.0, 0.0, 10.0, "P"), Mark("1", 0.0, 900.0, 800.0, "S"), Mark("1", 0.0, 0.0, 10.0, "S"),
        Mark("1", 0.0, 0.0, 10.0, "P"), Mark("2", 500.0, 900.0, 800.0, "P"), Mark("1", 0.0, 400.0, 700.0, "S"),
    ]  # fmt: skip
    found = tracks(marks)
    assert [(track.frame, track.side, track.index.tolist()) for track in found] == [
        ("1", "P", [3]), ("1", "S", [2, 5, 1]), ("2", "P", [0, 4]),
    ]  # fmt: skip


@pytest.mark.parametrize("n", [1, 2])
def test_one_and_two_marks(n):
    assert heel_to_head(WINE_GLASS[:n]).tolist() == list(range(n))


def test_a_bulb_below_a_waist_is_followed_all_round():
    # from the centreline at deck height the bulb hides the waist: the shortest way along the marks finds it
    bulb = np.array([[100, 0], [400, 200], [420, 400], [150, 600], [160, 800], [700, 900]], float)
    assert heel_to_head(bulb[[3, 0, 5, 1, 4, 2]]).tolist() == [1, 3, 5, 0, 4, 2]
