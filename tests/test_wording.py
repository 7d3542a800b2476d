"""Texts that carry their lengths: in mm as they stand, in the builder's units where printed."""

import copy
import json
import pickle
from fractions import Fraction

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from scrieve.errors import BadPlank
from scrieve.fairing.section import Section
from scrieve.frames import FrameChoice, design_frame
from scrieve.units import format_length
from scrieve.wording import in_units, inches, length, said, small, tell
from scrieve.working import Check, Working


@given(st.integers(1, 64 * 40))
def test_inches_and_sixty_fourths_are_exact(parts):
    # an inch is 25.4 mm: every 64th comes back as the fraction itself
    text = inches(parts * 25.4 / 64)
    assert sum(Fraction(part) for part in text.removesuffix(" in").split()) == Fraction(parts, 64)


def test_an_error_tells_its_lengths_in_feet_but_not_what_was_typed():
    error = BadPlank("boards of 127 mm show 76.2 mm; give 3.175 to 1524 mm. Found '127 mm', 12 mm² and 3 of 40 frames.")
    assert said(error, "mm") == str(error)
    # 127 mm are 5 in, 76.2 mm 3 in, 3.175 mm 1/8 in, 1524 mm 5 ft
    assert said(error, "ft") == (
        "boards of 0-5-0 show 3 in; give 1/8 in to 5-0-0. Found '127 mm', 12 mm² and 3 of 40 frames."
    )


def test_a_text_reads_in_mm_and_tells_itself_in_feet():
    inner = tell("{t} on R {r}", t=small(8.0, None), r=length(914.4))
    text = tell("{n} of {what}, {left} left", n=3, what=inner, left=small(1.27))
    assert text == "3 of 8 mm on R 914 mm, 1.3 mm left"
    assert in_units(text, "mm") == text
    assert in_units(text, "ft") == "3 of 5/16 in on R 3-0-0, 3/64 in left"
    assert in_units("plain", "ft") == "plain"
    assert in_units(tell("{r}", r=length(float("inf"))), "ft") == "–"
    assert length(1234.4).told("ft") == format_length(1234.4, "ft")


def test_checks_and_workings_are_told_whole():
    check = Check("Least thickness", tell("{t}", t=small(2.5, None)), tell("{t}", t=small(3, None)), False, "shop")
    working = Working("R", tell("{r}", r=length(914.4)), "t / 2R", (("t", tell("{t}", t=small(6.35, None))),), "theory")
    assert in_units(check, "ft") == Check("Least thickness", "3/32 in", "1/8 in", False, "shop")
    (told,) = in_units((working,), "ft")
    assert (told.value, told.inputs) == ("3-0-0", (("t", "1/4 in"),))


def test_it_is_a_string_like_any_other():
    text = tell("{t} thick", t=small(6.35, None))
    assert json.dumps(text) == '"6.35 mm thick"'
    for other in (copy.deepcopy(text), pickle.loads(pickle.dumps(text))):
        assert other == text
        assert in_units(other, "ft") == "1/4 in thick"


def test_no_mm_are_left_in_a_frame_told_in_feet():
    a = np.linspace(0, np.pi / 2, 200)
    shape = Section(
        "7", 3000.0, 1500 * a, 1500 * np.sin(a), 1500 * (1 - np.cos(a)), 0 * a, 0 * a + 0.1, 0 * a + 1 / 1500
    )
    choice = FrameChoice(
        timber="sapele/larch", board_mm=1200.0, notches=(("riser", 900.0, "inner", 60.0, 20.0),), old_moulded_mm=70.0,
        heel_cut=("angle", 0.0, 20.0), waterlines_mm=(9000.0,),
    )  # fmt: skip
    design = design_frame(shape, choice)
    mine = [check for check in design.checks if check.name != "Packet between brackets"]  # the jig tells its own
    texts = [text for check in in_units(tuple(mine), "ft") for text in (check.name, check.found, check.limit)]
    texts += [text for working in in_units(design.workings, "ft") for text in (working.value, *sum(working.inputs, ()))]
    texts += list(in_units(design.cautions, "ft"))
    texts = [text for text in texts if "Packet between brackets" not in text]
    assert [text for text in texts if " mm" in text.replace("N mm", "").replace("mm × N/mm²", "")] == []
    assert any(" in" in text for text in texts)
