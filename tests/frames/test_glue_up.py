"""The card of a glue-up, reckoned by hand where it can be."""

import math
import re

import numpy as np
import pytest
from sections import circle

from scrieve.errors import BadLamination
from scrieve.frames.choice import FrameChoice
from scrieve.frames.design import design_frame
from scrieve.frames.glue_up.card import card_for, glue_up_card
from scrieve.frames.glue_up.clamps import clamp_order
from scrieve.frames.glue_up.minutes import GlueUpPlan
from scrieve.frames.packet.closing import ClampPlace
from scrieve.frames.parts import Lamination
from scrieve.timber.conditions import Conditions
from scrieve.timber.data_sheet import data_sheet
from scrieve.wording import in_units

SHEET = data_sheet(
    "epoxy",
    {"pot_life_min": 25, "pot_mass_g": 500, "open_min": 40, "closed_min": 60, "clamp_h": 24, "spread_g_m2": 350},
)
DAY = Conditions(20, 50, moisture=tuple((i, 10.0) for i in range(1, 6)))


def packet(lengths=(3000.0,) * 5):
    return [Lamination(i, "larch", 10.0, 12000.0, 1500.0, 0.003, n, n) for i, n in enumerate(lengths, 1)]


def card(plan=None, sheet=SHEET, day=DAY, lengths=(3000.0,) * 5, clamps=10, **more):
    places = [ClampPlace(float(s), n) for n, s in enumerate(np.linspace(0, 2800, clamps), 1)]
    return glue_up_card(packet(lengths), 100.0, places, sheet, day, plan, **more)


def test_glue_pots_and_minutes_by_hand():
    # 4 joints of 0.3 m² at 350 g/m², a fifth wasted: 420 and 525 g, 131.25 a joint; both faces at 2 × 0.1 m²/min and
    # half a minute to lay: 3.5 min a joint; three joints to a pot of 500 g; mixing 3 min; 10 clamps by two: 5 min
    found = card()
    assert (found.joints, found.area_m2) == (4, pytest.approx(1.2))
    assert (found.net_g, found.gross_g) == (pytest.approx(420), pytest.approx(525))
    assert [pot.mass_g for pot in found.pots] == pytest.approx([393.75, 131.25])
    assert [(pot.first_joint, pot.last_joint) for pot in found.pots] == [(1, 3), (4, 4)]
    assert [pot.used_by_min for pot in found.pots] == pytest.approx([13.5, 20.0])
    assert found.pots[0].good_until_min == pytest.approx(28)
    assert found.open_used_min == pytest.approx(3.5)
    assert (found.laid_min, found.closed_min) == (pytest.approx(20), pytest.approx(25))
    assert found.closed_used_min == pytest.approx(25 - 6.5)
    assert found.people_needed == 1  # one does it in 3 + 3 × 6.5 + 3 + 6.5 - 9.5 + 10 = 32.5 of 60 min
    assert found.stops == ()
    assert found.release.release_h == 24.0


def test_more_pots_when_it_is_warm():
    # at 30 °C pot life is 12.5 min and 8.75 are used: two joints of 3.5 min to a pot
    warm = card(day=Conditions(30, 40, moisture=DAY.moisture))
    assert [(pot.first_joint, pot.last_joint) for pot in warm.pots] == [(1, 2), (3, 4)]
    assert warm.closed_limit_min == pytest.approx(30)
    assert warm.release.release_h == 12.0


def test_a_pot_is_never_used_past_its_share_of_pot_life():
    rng = np.random.default_rng(2)
    for _ in range(50):
        plan = GlueUpPlan(people=int(rng.integers(1, 6)), mixing_min=float(rng.uniform(0, 5)))
        lengths = rng.uniform(1500, 4000, int(rng.integers(2, 12)))
        found = card(plan, day=Conditions(float(rng.uniform(10, 30)), 40), lengths=lengths)
        pot = [stop for stop in found.stops if stop.id == "pot"]
        for each in found.pots:
            assert pot or each.mass_g <= 500 + 1e-9
            life = (each.good_until_min - each.mixed_min - plan.mixing_min) * plan.pot_share
            assert pot or each.used_by_min - each.mixed_min - plan.mixing_min <= life + 1e-9
        assert sum(each.mass_g for each in found.pots) == pytest.approx(found.gross_g)
        assert found.pots[-1].last_joint == len(lengths) - 1


def test_glue_of_a_dropped_lamination():
    # law: at every section one joint fewer than laminations, so together Σ lengths less the longest
    for lengths in ([3000.0, 1500.0, 3000.0], [1500.0, 3000.0, 3000.0], [3000.0, 3000.0, 1500.0]):
        for bearing in ("inside", "outside"):
            assert card(lengths=lengths, bearing=bearing).area_m2 == pytest.approx(0.1 * 4.5)


def test_too_slow_is_a_stop_and_says_how_many_are_needed():
    slow = data_sheet("epoxy", {"closed_min": 12, "pot_life_min": 60, "pot_mass_g": 2000})
    found = card(sheet=slow)
    stop = next(stop for stop in found.stops if stop.id == "time.closed")
    assert stop.limit == "12 min closed assembly"
    # by hand: after the first joint three of 0.6/(0.1 n) + 0.5 min, and 10/n for the clamps
    fewest = next(n for n in range(1, 13) if 3 * (6 / n + 0.5) + 10 / n <= 12)
    assert found.people_needed == fewest
    assert f"{fewest} people" in stop.why
    assert "time.closed" not in [stop.id for stop in card(GlueUpPlan(people=fewest), slow).stops]


def test_other_stops():
    found = card(GlueUpPlan(clamps_at_hand=8), day=Conditions(6, 40, moisture=DAY.moisture))
    assert [stop.id for stop in found.stops] == ["temperature.low", "release.never", "clamps"]
    assert found.release.release_h is None
    hasty = data_sheet("resorcinol", {"open_min": 2})
    assert "time.open" in [stop.id for stop in card(sheet=hasty).stops]
    tiny = data_sheet("epoxy", {"pot_mass_g": 100})
    assert "pot" in [stop.id for stop in card(sheet=tiny).stops]


def test_a_night_that_grew_cold():
    log = ((0.0, 20.0), (6.0, 20.0), (12.0, 12.0))
    found = card(day=Conditions(20, 50, moisture=DAY.moisture, log=log))
    assert found.release.projected
    assert found.release.release_h > 24
    assert "if it stays at 12 °C" in next(w for w in found.workings if w.figure == "Earliest release").value


def test_faces_and_order():
    found = card()
    assert [each.number for each in found.laid] == [1, 2, 3, 4, 5]
    assert found.laid[0].spread.startswith("outside face; the inside face stays dry")
    assert found.laid[2].spread == "both faces"
    turned = card(bearing="outside")
    assert [each.number for each in turned.laid] == [5, 4, 3, 2, 1]
    assert turned.laid[0].spread.startswith("inside face; the outside face stays dry")
    one_face = card(sheet=data_sheet("polyurethane"))
    assert [each.spread for each in one_face.laid][1:] == ["outside face"] * 3 + ["none"]
    assert len(one_face.pots) == 1
    assert one_face.pots[0].good_until_min is None


def test_clamps_from_the_middle_out():
    for count in range(1, 12):
        row = [ClampPlace(100.0 * n, n) for n in range(1, count + 1)]
        order = clamp_order(row)
        assert sorted(order) == list(range(1, count + 1))
        away = [abs(n - order[0]) for n in order]
        assert away == sorted(away)
        assert abs(order[0] - (count + 1) / 2) <= 0.5
        assert clamp_order(row, "heel") == tuple(range(1, count + 1))
    assert [step.at for step in card(GlueUpPlan(clamp_from="head"), clamps=3).clamps] == [3, 2, 1]


def test_nothing_is_pressed_between_brackets_that_are_still_open():
    design = design_frame(circle(1400.0, 1.5), FrameChoice(frame="14", timber="larch", pitch_mm=300.0))
    for start in ("middle", "heel", "head"):
        steps = card_for(design, Conditions(18, 55), GlueUpPlan(clamp_from=start)).clamps
        between = [step for step in steps if not step.bracket]
        assert between
        for step in between:
            left, right = (max(s.s_mm for s in steps if s.bracket and s.s_mm < step.s_mm),
                           min(s.s_mm for s in steps if s.bracket and s.s_mm > step.s_mm))  # fmt: skip
            assert all(s.order < step.order for s in steps if s.s_mm in (left, right))
        # brackets in the turn for which the pulls in closing are told
        if start == "middle":
            turn = {each.number: each.turn for each in design.closing.brackets}
            assert [turn[s.bracket] for s in steps if s.bracket] == sorted(turn.values())


def test_pull_of_a_clamp_is_pressure_times_area():
    found = card(sheet=data_sheet("resorcinol"))
    # 0.69 N/mm² over 100 × 3000 mm by ten clamps
    assert found.clamp_force_n[0] == pytest.approx(0.69 * 100 * 3000 / 10)


def test_weak_clamps_are_set_two_and_three_to_a_bracket():
    # a clamp of 300 N: what each bracket's pull over that asks for, and so much longer to the last of them
    strong, weak = (
        card_for(design_frame(circle(900.0, 1.5), FrameChoice(frame="14", clamp_n=force)), Conditions(18, 55))
        for force in (1e5, 300.0)
    )
    assert {step.clamps for step in strong.clamps} == {1}
    design = design_frame(circle(900.0, 1.5), FrameChoice(frame="14", clamp_n=300.0))
    asked = {each.number: max(math.ceil(max(-each.force_n, each.pull_n) / 300), 1) for each in design.closing.brackets}
    assert {step.bracket: step.clamps for step in weak.clamps if step.bracket} == asked
    assert weak.clamp_count > strong.clamp_count
    assert weak.closed_min - strong.closed_min == pytest.approx((weak.clamp_count - strong.clamp_count) / 2)
    (why,) = [each for each in weak.workings if each.figure == "Clamps to close the packet"]
    assert why.value.startswith(f"{weak.clamp_count} of 300 N")
    few = card_for(design, Conditions(18, 55), GlueUpPlan(clamps_at_hand=weak.clamp_count - 1))
    assert "clamps" in [stop.id for stop in few.stops]


def test_a_sheet_that_asks_for_pressure_asks_for_more_clamps():
    design = design_frame(circle(900.0, 1.5), FrameChoice(frame="14", glue="epoxy"))
    pressed = card_for(
        design, Conditions(18, 55), sheet=data_sheet("epoxy", {"pressure_low_mpa": 0.4, "pressure_high_mpa": 0.7})
    )
    width, places = design.packet.width_mm, sorted(step.s_mm for step in pressed.clamps)
    # clamps of 3000 N: none may have more than its own share of joint to press
    assert np.diff(places).max() <= 3000 / (0.4 * width) + 1e-6
    assert pressed.clamp_count > card_for(design, Conditions(18, 55)).clamp_count


def test_every_figure_has_its_working_and_every_own_figure_shows():
    found = card()
    assert {"Glue to mix", "Pots", "Time open", "Time until the last clamp", "Earliest release", "Dew point"} <= {
        working.figure for working in found.workings
    }
    assert all(working.source and working.inputs for working in found.workings)
    assert next(w for w in found.workings if w.figure == "Glue to mix").source == SHEET.figure("spread_g_m2").source
    assert len(found.dry_run) >= 8


def test_settling_to_the_air_of_the_shed_is_told():
    damp = card(day=Conditions(20, 40, moisture=tuple((i, 12.0) for i in range(1, 6))))
    drying = next(w for w in damp.workings if w.figure.startswith("Bend as larch"))
    assert drying.value.startswith("+")
    assert not [w for w in card(day=Conditions(20, 40)).workings if w.figure.startswith("Bend as")]


def test_the_card_of_a_designed_frame():
    design = design_frame(circle(1400.0, 1.5), FrameChoice(frame="14", timber="larch", glue="epoxy"))
    found = card_for(design, Conditions(18, 55))
    assert found.frame == "14"
    assert [step.bracket for step in found.clamps if step.bracket]
    assert found.clamp_count == design.closing.clamps
    assert found.joints == len(design.packet.laminations) - 1
    assert found.gross_g == pytest.approx(design.glue.gross_g, rel=1e-9)
    assert [stop.id for stop in found.stops] == ["moisture.missing"]
    own = card_for(design_frame(circle(1400.0, 1.5), FrameChoice(frame="14", spread_g_m2=200.0)), Conditions(18, 55))
    assert own.sheet.own == ("spread_g_m2",)
    (pull,) = [each for each in in_units(own.workings, "ft") if each.figure == "Pull of each clamp"]
    assert re.search(r", 0-\d+-\d[+-]? wide", dict(pull.inputs)["joint"])


@pytest.mark.parametrize(
    ("call", "said"),
    [
        (lambda: card(lengths=[3000.0]), "1 laminations; a glue-up needs two"),
        (lambda: card(clamps=0), "no clamps; give their places"),
        (lambda: GlueUpPlan(people=0), "0 people; give 1 to 12"),
        (lambda: GlueUpPlan(pot_share=1.5), "pot_share: 1.5"),
        (lambda: GlueUpPlan(clamp_min=-1), "clamp_min: -1; give minutes"),
        (lambda: GlueUpPlan(clamp_from="side"), "found 'side'; say middle"),
    ],
)
def test_what_cannot_be(call, said):
    with pytest.raises(BadLamination, match=said):
        call()
