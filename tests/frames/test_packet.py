"""How the packet lies between brackets; the elastica itself is held in tests/published/test_packet_between_brackets."""

import itertools

import numpy as np
import pytest
from sections import circle

from scrieve.errors import BadJig
from scrieve.frames import FrameChoice
from scrieve.frames.packet.bending import bend
from scrieve.frames.packet.held import widest
from scrieve.frames.packet.laminations import lay
from scrieve.frames.packet.lying import departures, finished, lie_between, widest_pitch
from scrieve.frames.shape.line import from_curvature, line_of
from scrieve.timber.species import species


def arc(radius, length=2000):
    s = np.arange(length + 1.0)
    return from_curvature(s, np.full(len(s), 1 / radius), np.zeros(2), 0.3)


def bent_arc(radius, turn, trim=75.0):
    line = line_of(circle(radius, turn=turn))
    found = lay(line, [species("larch")] * 8, [8.0] * 8, 3.0, 1.0)
    return bend(line, found, FrameChoice(trim_mm=trim))


def test_end_bays_depart_most_and_by_the_rule():
    # three-moment equations on an arc of even bays: 0.0488 b²/R in the end bay, 2 + √3 times less in the next, the
    # other way; the true shape differs by the next order of (b/R)²
    at = np.linspace(0, 2000, 11)
    found = departures(lie_between(arc(2500.0), at))
    assert len(found) == 10
    assert abs(found[0]) == pytest.approx(0.0488 * 200**2 / 2500, rel=0.02)
    np.testing.assert_allclose(found, found[::-1], atol=1e-3)
    assert np.sign(found[0]) == -np.sign(found[1])
    middle = departures(lie_between(arc(2500.0), at, within=(400.0, 1600.0)))
    assert len(middle) == 6
    assert np.abs(middle).max() < 0.1 * abs(found[0])


def test_two_brackets_leave_it_straight():
    # sagitta of the wanted arc: R - √(R² - c²/4); the straight packet lies on the centre's side of it
    lie = lie_between(arc(1000.0), np.array([500.0, 1500.0]), within=(500.0, 1500.0))
    chord = 2 * 1000 * np.sin(0.5)
    assert lie.worst.departure_mm == pytest.approx(1000 - np.sqrt(1000**2 - chord**2 / 4), abs=1e-3)
    assert (lie.worst.first, lie.worst.last) == (1, 2)


def test_the_packet_runs_straight_past_its_end_brackets():
    lie = lie_between(arc(1000.0), np.linspace(200, 1800, 9))
    assert [(bay.first, bay.last) for bay in lie.bays][:2] == [(0, 1), (1, 2)]
    past = lie.points_mm[lie.s_mm <= 200]
    run = past[-1] - past[0]
    way = run / np.hypot(*run)
    assert np.abs((past - past[0]) @ np.array([-way[1], way[0]])).max() < 1e-3


def test_a_bracket_off_its_place_carries_the_packet_with_it():
    at = np.linspace(0, 2000, 11)
    off = np.zeros(11)
    off[4] = 1.5
    lie, straight = lie_between(arc(2500.0), at, off), lie_between(arc(2500.0), at)
    there = np.argmin(np.abs(lie.s_mm - at[4]))
    assert lie.departure_mm[there] - straight.departure_mm[there] == pytest.approx(1.5, abs=1e-6)
    assert lie.force_per_ei[4] > straight.force_per_ei[4]  # pushed to the left, it pushes to the left


def test_forces_balance():
    # three brackets: the middle one carries what both ends carry, square to the chord
    lie = lie_between(arc(6000.0, 1000), np.array([0.0, 500.0, 1000.0]))
    assert lie.force_per_ei[1] == pytest.approx(-2 * lie.force_per_ei[0], rel=0.01)
    assert lie.force_per_ei[1] == pytest.approx(-48 * 500**2 / (2 * 6000) / 1000**3, rel=0.01)  # simple beam, PL³/48EI


def test_brackets_out_of_order_are_refused():
    with pytest.raises(BadJig, match=r"1 brackets at .* give two or more, in order"):
        lie_between(arc(1000.0), np.array([500.0]))
    with pytest.raises(BadJig, match="in order"):
        lie_between(arc(1000.0), np.array([500.0, 400.0, 700.0]))


@pytest.mark.parametrize(("radius", "turn"), [(1000.0, 1.5), (2500.0, 0.8)])
def test_widest_pitch_holds_and_the_next_does_not(radius, turn):
    bent = bent_arc(radius, turn)
    found = widest_pitch(bent, 1.0)
    assert found.error_mm <= 1.0
    wider = widest_pitch(bent, 1.0, pitches_mm=[found.pitch_mm + 10])
    assert wider.pitch_mm == 0
    assert found.pitch_mm == pytest.approx(found.estimate_mm, rel=0.35)  # a rule for long even rows
    assert widest_pitch(bent, 0.1).pitch_mm < found.pitch_mm
    assert widest_pitch(bent, 1.0, double_ends=False).pitch_mm <= found.pitch_mm


def test_no_pitch_holds_nothing():
    assert widest_pitch(bent_arc(1000.0, 1.5), 1e-6).pitch_mm == 0


def test_the_finished_frame_lies_within_the_trimming():
    bent = bent_arc(1500.0, 1.0, trim=80.0)
    heel, head = finished(bent)
    # closed form: on the neutral line the trimming is shorter by (R - d)/R, and by no springback: length is kept
    assert heel == pytest.approx(head and bent.neutral.s_mm[-1] - head, abs=1e-6)
    assert heel == pytest.approx(80.0 * bent.neutral.length_mm / (1500.0 + 160.0), rel=1e-6)


@pytest.mark.parametrize("end", [40.0, 50.0, 150.0, 270.0, 500.0])
@pytest.mark.parametrize("power", [0, 2, 4])
def test_pitches_passed_over_change_nothing_of_the_widest(end, power):
    """Against trying every one: a departure that grows with a power of the pitch, then leaves the limit at a step."""

    def departure(pitch: float) -> float:
        return 0.001 * (pitch / 50) ** power if pitch <= end else 9.0

    every = range(50, 510, 10)
    tried = list(itertools.takewhile(lambda pitch: departure(pitch) <= 1.0, every))
    assert widest(every, 1.0, departure) == (tried[-1] if tried else 0.0)
