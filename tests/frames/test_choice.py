import dataclasses
import json

import numpy as np
import pytest
from sections import circle, s_shape

from scrieve.errors import BadLamination
from scrieve.frames import FrameChoice, design_frame
from scrieve.revision import revision
from scrieve.working import Working


def test_through_json_and_back():
    choice = FrameChoice(
        frame="14",
        timber="sapele/larch",
        stack=(("sapele", 8.0), ("larch", 9.0)),
        waterlines_mm=(600.0, 900.0),
        count=7,
        ends=((2, None, 900.0),),
        prebent=((1, 0.5),),
        prebent_radius=((2, 900.0),),
        moulded_table=((0.0, 70.0), (900.0, 50.0)),
        heel_cut=("level", 20.0, 0.0),
        notches=(("limber hole", 60.0, "outer", 30.0, 15.0),),
    )
    again = FrameChoice.from_mapping(json.loads(json.dumps(choice.to_mapping())))
    assert again == choice
    assert revision(again) == revision(choice)


@pytest.mark.parametrize(
    ("given", "said"),
    [
        ({"sided": 45}, r"setting 'sided' is not known; the settings are frame, timber, "),
        ({"sided_mm": 0}, r"frame \(no label\), sided_mm: found 0; give a value above zero"),
        ({"frame": "14", "moulded_mm": "60"}, r"frame 14, moulded_mm: found '60'"),
        ({"cleaning_mm": -1}, r"cleaning_mm: found -1; give zero or more"),
        ({"timber": 5}, r"timber: found 5; give text"),
        ({"count": 2.5}, r"count: found 2\.5; give a whole number"),
        ({"count": 1}, r"count: found 1; give a whole number of laminations, two or more"),
        ({"moulding_edge": "port"}, r"moulding_edge: found 'port'; say fore or aft"),
        ({"bearing": "under"}, r"bearing: found 'under'; say inside or outside"),
        ({"margin": 1.5}, r"margin: found 1\.5; give a share up to 1"),
        ({"stack": [["larch", 0], ["larch", 8]]}, r"stack, larch: found 0\.0; give a value above zero"),
        ({"stack": [["larch", 8]]}, r"stack: found .*two laminations or more"),
        ({"stack": ["larch"]}, r"stack: found \['larch'\]; give pairs of timber and thickness"),
        ({"waterlines_mm": ["high"]}, r"waterlines_mm: found \['high'\]; give heights in mm"),
        ({"waterlines_mm": [float("nan")]}, r"waterlines_mm: found nan"),
        ({"pitch_mm": 0.001}, r"pitch_mm: found 0\.001; give 50 to 5000 mm"),
        ({"trim_mm": 1e7}, r"trim_mm: found 10000000\.0; give 0 to 1000 mm"),
        ({"count": 5000}, r"count: found 5000; give 200 laminations at most"),
        ({"ends": [[1, 500, 200]]}, r"ends, lamination 1: found \(500\.0, 200\.0\); give where it begins"),
        ({"ends": [[1, 500]]}, r"ends: found \[\[1, 500\]\]; give a number, where it begins"),
        ({"prebent": [[2, 1.0]]}, r"prebent, lamination 2: found 1\.0; give a share from 0"),
        ({"prebent_radius": [[2, 0]]}, r"prebent_radius, lamination 2: found 0\.0; give a radius"),
        ({"steamed_share": -0.1}, r"steamed_share: found -0\.1"),
        ({"moulded_table": [[500, 60], [0, 50]]}, r"moulded_table: found \[500\.0, 0\.0\]; give two places or more"),
        ({"heel_cut": ["round", 0, 0]}, r"heel_cut: found 'round'; say square, level, plumb, angle"),
        ({"notches": [["riser", 600, "top", 40, 10]]}, r"notches, riser: found 'top'; say outer or inner"),
        ({"notches": [["riser", 600, "inner", 0, 10]]}, r"notches, riser: found \(600\.0, 0\.0, 10\.0\)"),
        ({"scarf_slope": 90}, r"scarf_slope: found 90; give length over thickness"),
        ({"old_kind": "grown"}, r"old_kind: found 'grown'; say steamed or sawn"),
        ({"spring_factor": 60.0}, r"spring_factor: found 60.0; give 0 to 5\."),
        ({"clamp_n": 1e-9}, r"clamp_n: found 1e-09; give 10 to 100000 N"),
        ({"spread_g_m2": 1e9}, r"spread_g_m2: found 1000000000.0; give 10 to 5000 g/m²"),
        ({"step_mm": 25.0}, r"step_mm: found 25.0; give 0.1 to 10 mm"),
        ({"strength_at_mm": (-1.0,)}, r"strength_at_mm: found -1.0; give places from the heel"),
    ],
)
def test_what_cannot_be_used_is_named(given, said):
    with pytest.raises(BadLamination, match=said):
        FrameChoice.from_mapping(given)


def test_the_section_gives_the_label_where_the_choice_has_none():
    assert design_frame(circle(), FrameChoice(timber="larch")).choice.frame == "14"
    assert design_frame(circle(), FrameChoice(frame="14a", timber="larch")).choice.frame == "14a"


def test_headline_figures_show_their_working():
    design = design_frame(s_shape(bevel=0.1), FrameChoice(timber="sapele/larch"))
    figures = {working.figure: working for working in design.workings}
    assert {"Springback", "Siding of the blank", "Depth of the blank", "Greatest strain", "Glue to mix"} <= set(figures)
    for working in design.workings:
        assert isinstance(working, Working)
        assert working.formula
        assert working.source
        assert all(name and value for name, value in working.inputs)
    assert "unverified" in figures["Glue to mix"].source
    assert "surveyor or naval architect" in design.cautions[0]
    text = " ".join(design.cautions)
    for word in ("Ripping", "dust", "data sheet", "fully cured", "opposite hands"):
        assert word in text


def test_curves_run_heel_to_head_on_one_set_of_places():
    design = design_frame(s_shape(bevel=0.1), FrameChoice(timber="larch"))
    jig = design.jig
    assert {0.0, design.section.girth_mm} <= set(np.round(jig.s_mm, 9)) | {design.section.girth_mm}
    assert np.isclose(jig.s_mm, 0).any()
    assert np.isclose(jig.s_mm, design.section.girth_mm).any()
    for name in ("face_mm", "other_mm", "neutral_mm"):
        assert getattr(jig, name).shape == (len(jig.s_mm), 2)
    for field in dataclasses.fields(design.outline):
        assert len(getattr(design.outline, field.name)) == len(design.outline.s_mm)
    np.testing.assert_allclose(design.outline.moulding_outer_mm[[0, -1]], design.section.points_mm[[0, -1]], atol=1e-6)
