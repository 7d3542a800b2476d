from dataclasses import replace

import numpy as np
import pytest
from sections import circle

from scrieve.errors import BadLamination
from scrieve.frames import FrameChoice, design_frame
from scrieve.frames.packet.options import rank_options

SHAPE = circle(1200.0)


def test_options_are_told_as_designed_and_set_in_order():
    options = rank_options(SHAPE, FrameChoice(frame="14"), ("larch", "sapele"), (5.0, 8.0, 12.0))
    assert len(options) == 6
    fine = [option.score for option in options if not option.failed]
    assert fine == sorted(fine)
    whole = [bool(option.failed) for option in options]
    assert whole == sorted(whole)  # those that meet every limit come first
    for option in options:
        assert 0 <= option.score <= 1
        again = design_frame(SHAPE, option.choice)
        assert option.effort_nmm == again.closing.moment_nmm
        assert option.springback == again.packet.springback == pytest.approx(1 / option.count**2)
        # volumes by hand: an arc, 60 moulded on 45 sided, two of them, mean radius 1170
        pair = 2 * 45 * 60 * 1170 * np.pi / 2 / 1e9
        assert option.waste == pytest.approx(1 - pair / sum(order.volume_m3 for order in again.order), abs=1e-3)
    thin = next(option for option in options if option.words == "13 × 5 mm larch")
    thick = next(option for option in options if option.words == "6 × 12 mm larch")
    assert thin.effort_nmm < thick.effort_nmm
    assert thin.springback < thick.springback
    assert thin.waste > thick.waste
    assert thin.margin > 1 > thick.margin
    assert "Strain of larch, European" in thick.failed


def test_steaming_is_an_option():
    options = rank_options(SHAPE, FrameChoice(timber="larch"), thicknesses_mm=(10.0,), steamed=(0.0, 0.6))
    held = next(option for option in options if "steamed" in option.words)
    plain = next(option for option in options if "steamed" not in option.words)
    assert held.words.endswith("10 mm larch, steamed to hold 60%")
    assert held.margin == pytest.approx(plain.margin / 0.4, rel=0.02)
    assert held.springback == pytest.approx(0.4 * plain.springback)


def test_nothing_to_choose_from():
    with pytest.raises(BadLamination, match="no timber and no thickness"):
        rank_options(SHAPE, FrameChoice(), thicknesses_mm=())
    with pytest.raises(BadLamination, match="folds"):
        rank_options(circle(60.0), FrameChoice(timber="larch"))


def test_every_way_is_judged_on_the_hull_cut_at_the_far_face():
    # by the slope the hull runs level here; the section cut at the far face stands 12 mm outside all along
    a = SHAPE.s_mm / 1200.0
    far = replace(SHAPE, half_breadth_mm=1212 * np.sin(a), height_mm=1200 - 1212 * np.cos(a), s_mm=1212 * a)
    choice = FrameChoice(frame="14")
    plain, cut = (rank_options(SHAPE, choice, thicknesses_mm=(6.0,), cut=each)[0] for each in (None, lambda _: far))
    assert cut.depth_mm == plain.depth_mm + 12
    assert cut.depth_mm == design_frame(SHAPE, replace(choice, lamination_mm=6.0), lambda _: far).packet.depth_mm
