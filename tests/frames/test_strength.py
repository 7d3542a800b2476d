"""The new frame's section against the old: closed forms for rectangles, quadrature for mixed stacks and notches."""

import numpy as np
import pytest
from scipy.integrate import quad
from sections import circle, straight

from scrieve.errors import BadLamination
from scrieve.frames import FrameChoice, design_frame
from scrieve.frames.packet.strength import rectangle
from scrieve.timber.species import species

LARCH, OAK, SAPELE = (species(name).bending_modulus_mpa for name in ("larch", "oak", "sapele"))


def test_one_timber_is_a_rectangle():
    design = design_frame(straight(), FrameChoice(timber="larch", sided_mm=45, moulded_mm=60))
    for each in design.strength.new:
        assert each.ei_nmm2 == pytest.approx(LARCH * 45 * 60**3 / 12)
        assert each.modulus_mm3 == pytest.approx(45 * 60**2 / 6)
        assert each.strength_nmm == pytest.approx(species("larch").mor_mpa * 45 * 60**2 / 6)
    assert design.strength.old is None
    assert not [check for check in design.checks if "against the old" in check.name]


def test_a_mixed_stack_by_quadrature():
    stack = (("oak", 16.0), ("larch", 10.0), ("larch", 10.0), ("larch", 10.0), ("sapele", 18.0))
    design = design_frame(straight(), FrameChoice(stack=stack, moulded_mm=58.0, cleaning_mm=2.0))
    out = design.blank.outside_mm
    tops = np.cumsum([18, 10, 10, 10, 16])
    e = lambda u: [SAPELE, LARCH, LARCH, LARCH, OAK][int(np.searchsorted(tops, u, side="right"))]  # noqa: E731
    total = lambda f: quad(f, out, out + 58, points=tops[:-1], limit=200)[0]  # noqa: E731
    middle = total(lambda u: e(u) * u) / total(e)
    stiff = 45 * total(lambda u: e(u) * (u - middle) ** 2)
    found = design.strength.new[2]
    assert found.ei_nmm2 == pytest.approx(stiff, rel=1e-6)
    reach = max(middle - out, out + 58 - middle)
    assert found.modulus_mm3 == pytest.approx(stiff / (total(e) / 58) / reach, rel=1e-6)


def test_a_notch_is_taken_off():
    # by hand: 12 off the outer edge leaves 48 deep: (48/60)³ of the stiffness, (48/60)² of the modulus
    notch = (("limber hole", 300.0, "outer", 40.0, 12.0),)
    design = design_frame(straight(), FrameChoice(timber="larch", notches=notch))
    places = {each.name: each for each in design.strength.new}
    assert places["limber hole"].ei_nmm2 / places["middle"].ei_nmm2 == pytest.approx(0.8**3)
    assert places["limber hole"].modulus_mm3 / places["middle"].modulus_mm3 == pytest.approx(0.8**2)


def test_below_the_old_is_flagged():
    old = {"old_timber": "oak", "old_sided_mm": 45.0, "old_moulded_mm": 60.0}
    assert rectangle("oak", 45, 60).ei_nmm2 == pytest.approx(OAK * 45 * 60**3 / 12)
    for moulded, ok in ((52.0, False), (60.0, True)):
        design = design_frame(straight(), FrameChoice(timber="larch", moulded_mm=moulded, **old))
        check = next(check for check in design.checks if check.name == "Stiffness against the old frame")
        assert check.ok is ok
        assert ("agree with a surveyor or naval architect" in check.caution) is not ok
        # by hand: modulus ratio × depth ratio cubed
        assert check.found.startswith(f"{LARCH / OAK * (moulded / 60) ** 3:.2f} × the old")
        assert "steamed oak, European, 45 mm × 60 mm" in check.source


def test_the_curvature_factor_is_taken_off():
    # R/t = 125 in larch: 1 - 2000/125² = 0.872 (NDS), in the curved part
    design = design_frame(circle(1250.0), FrameChoice(timber="larch", lamination_mm=10.0))
    middle = next(each for each in design.strength.new if each.name == "middle")
    full = species("larch").mor_mpa * middle.modulus_mm3
    assert middle.strength_nmm / full == pytest.approx(0.872, abs=1e-4)


def test_sawn_frames_say_what_is_left_out():
    design = design_frame(straight(), FrameChoice(timber="larch", old_moulded_mm=60.0, old_kind="sawn"))
    working = next(each for each in design.workings if each.figure == "Section of the finished frame")
    assert "grain that runs out" in working.source
    assert "sawn larch" in working.inputs[-1][0]


def test_the_section_is_told_where_the_builder_asks():
    # a taper, even along the girth: 60 at the heel of 1200 mm, 40 at the head, so 60 - 20 × 450/1200 = 52.5 at 450
    choice = FrameChoice(timber="larch", moulded_mm=60, moulded_head_mm=40, strength_at_mm=(450.0, 90.0))
    line = straight(1200.0)
    design = design_frame(line, choice)
    asked = [(each.name, each.s_mm) for each in design.strength.new[-2:]]
    assert asked == [("place 1", 450.0), ("place 2", 90.0)]
    assert design.strength.new[-2].ei_nmm2 == pytest.approx(LARCH * 45 * 52.5**3 / 12)
    with pytest.raises(BadLamination, match=r"strength_at_mm: found 1201 mm; give places from the heel .* 0 to 1200"):
        design_frame(line, FrameChoice(strength_at_mm=(1201.0,)))


def test_two_notches_of_one_name_are_both_told():
    notches = (("limber", 300.0, "outer", 40.0, 12.0), ("limber", 600.0, "outer", 40.0, 20.0))
    design = design_frame(straight(), FrameChoice(timber="larch", notches=notches))
    assert [each.s_mm for each in design.strength.new if each.name == "limber"] == [300.0, 600.0]


def test_notches_over_each_other_take_off_what_the_deeper_does():
    notches = (("limber", 300.0, "outer", 40.0, 12.0), ("stringer", 310.0, "outer", 80.0, 20.0))
    design = design_frame(straight(), FrameChoice(timber="larch", notches=notches))
    for each in design.strength.new[-2:]:  # by hand: 60 - 20 = 40 of 60 left
        assert each.ei_nmm2 == pytest.approx(LARCH * 45 * 40**3 / 12)
