"""What was measured on a released frame is kept raw, and read back to the same deviation and factor."""

import json

import numpy as np
import pytest
from sections import circle
from test_off_jig import released

from scrieve.errors import BadMarks
from scrieve.frames.choice import FrameChoice
from scrieve.frames.design import design_frame
from scrieve.frames.release.kept import Released, course, learnt_of, learnt_springs, read_rows, springs_of
from scrieve.frames.release.learning import learn
from scrieve.frames.release.off_jig import Glued, as_glued

DESIGN = design_frame(circle(1300.0, 1.5), FrameChoice(frame="14", timber="larch", spring_factor=1.1, count=5))
GLUED = as_glued(DESIGN, "abc")


def measured(own, way="points", **how):
    girth, points = released(DESIGN, own, "outside")
    pick = np.linspace(0, len(girth) - 1, 14).astype(int)
    rows = np.column_stack([girth[pick], points[pick]]) if way == "placed points" else points[pick]
    return Released(GLUED, how.pop("when", "off the jig"), "", "outside", way, rows, 0.3, **how)


@pytest.mark.parametrize("way", ["points", "placed points"])
def test_kept_as_plain_values_it_says_the_same_of_the_frame(way):
    fresh = measured(1.3, way)
    back = Released.from_mapping(json.loads(json.dumps(fresh.to_mapping())))
    assert back.spring().factor == pytest.approx(1.3, abs=0.03)
    assert back.spring().factor == pytest.approx(fresh.spring().factor, abs=1e-3)
    line = fresh.against.target.s_mm
    again = np.interp(line, back.against.target.s_mm, back.deviation().deviation_mm)
    assert np.abs(again - fresh.deviation().deviation_mm).max() < 0.03  # chords of the places kept
    assert len(json.dumps(fresh.to_mapping())) < 25_000
    assert (back.glued.timber, back.glued.glue, back.glued.revision) == ("larch", "epoxy", "abc")


def test_offsets_are_from_the_fair_line_whatever_the_jig_was_set_for():
    """A frame that lies on the fair line: no offset anywhere, and the predicted line's own distance is not blamed."""
    design = design_frame(
        circle(1300.0, 1.5), FrameChoice(frame="14", timber="larch", count=5, allow_for_cleaning=True)
    )
    glued = as_glued(design)
    out = design.prediction.off_jig_out_mm
    assert np.abs(out).max() > 0.05
    places = np.linspace(0, glued.girth_mm[-1], 12)
    offsets = np.interp(places, glued.girth_mm, out)
    found = Released(glued, "off the jig", "", "moulded line", "offsets", np.column_stack([places, offsets]), 0.1)
    assert np.abs(found.deviation().deviation_mm).max() < 0.02


def test_only_what_was_measured_off_the_jig_teaches():
    kept = [measured(1.3).to_mapping(), measured(2.0, when="after ripping").to_mapping(), {"rows_mm": "torn"}]
    assert [each.frame for each in springs_of(kept)] == ["14"]
    ((key, (factor, sd)),) = learnt_springs(kept).items()
    assert key == ("larch", "epoxy")
    alone = learn([Released.from_mapping(kept[0]).spring()])
    assert (factor, sd) == (round(alone.factor, 4), round(alone.next_sd, 4))
    assert learnt_of(kept)[key].frames == ("14",)
    assert learnt_springs([]) == {}
    other = measured(1.3).to_mapping()
    other["glued"] = {**other["glued"], "frame": "15"}
    run = course(springs_of([*kept, other]))
    assert [len(each.frames) for each in run] == [0, 1, 2]
    assert run[0].factor == pytest.approx(1.0, abs=1e-6)
    assert run[2].sd < run[1].sd < run[0].sd


def test_a_piece_measured_twice_is_one_frame():
    once, again = measured(1.28).to_mapping(), measured(1.32).to_mapping()
    (both,) = springs_of([once, again])
    apart = [Released.from_mapping(each).spring() for each in (once, again)]
    assert both.factor == pytest.approx(np.average([1.28, 1.32], weights=[each.sd**-2 for each in apart]), abs=0.03)
    assert min(each.factor for each in apart) < both.factor < max(each.factor for each in apart)
    assert both.sd == pytest.approx(sum(each.sd**-2 for each in apart) ** -0.5, rel=1e-12)
    assert learnt_of([once, again])["larch", "epoxy"].frames == ("14",)
    anew = {**again, "glued": {**again["glued"], "revision": "def"}}  # made again, from another design
    assert learnt_of([once, anew])["larch", "epoxy"].frames == ("14", "14")


def test_a_frame_made_again_to_the_same_setting_is_another_piece():
    """Its glue-up tells it from the first; what was measured before that number was kept is of the first."""
    plain, third = measured(1.28).to_mapping(), measured(1.5).to_mapping() | {"glue_up": 9}
    first, again = ({**plain, "glue_up": 4}, measured(1.32).to_mapping() | {"glue_up": 4})
    apart = springs_of([first, third])
    assert [each.factor for each in apart] == pytest.approx([1.28, 1.5], abs=0.03)
    assert len(springs_of([first, again, third])) == 2
    assert len(springs_of([plain, again, third])) == 2  # the first, measured before and after the number was kept
    assert len(springs_of([plain, again])) == 1
    both = learnt_of([first, third])["larch", "epoxy"]
    assert both.frames == ("14", "14")
    assert both.factor == pytest.approx(learn(apart).factor)


def test_figures_as_typed():
    assert read_rows("# place offset\n\n0\t1,5\n 250 ; -2 ", "offsets", "mm").tolist() == [[0, 1.5], [250, -2]]
    inches = read_rows('0-8-0; 4 5/8"; 3\' 4"', "placed points", "ft")
    assert inches.round(3).tolist() == [[203.2, 117.475, 1016.0]]
    with pytest.raises(BadMarks) as refused:
        read_rows("0 1\n1 2 3\nx 2", "offsets", "mm")
    assert "line 2" in str(refused.value)
    assert "line 3" in str(refused.value)


@pytest.mark.parametrize(
    ("change", "told"),
    [
        ({"rows": np.zeros((4, 2))}, "5 or more"),
        ({"rows": np.full((6, 2), np.nan)}, "2 figures"),
        ({"face": "top"}, "face"),
        ({"hand": "L"}, "hand"),
        ({"sigma_mm": 0.0}, "0.01"),
        ({"way": "offsets", "rows": np.array([[k * 1000.0, 0.0] for k in range(6)])}, "runs from"),
    ],
)
def test_what_cannot_be_is_refused(change, told):
    with pytest.raises(BadMarks, match=told):
        Released(**({"glued": GLUED, "when": "off the jig", "hand": "", "face": "outside", "way": "points",
                     "rows": np.zeros((6, 2))} | change))  # fmt: skip


def test_a_torn_glue_up_is_refused():
    with pytest.raises(Exception, match="cannot be read"):
        Glued.from_mapping({"frame": "14"})
