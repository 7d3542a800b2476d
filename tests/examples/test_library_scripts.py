"""The three short examples run as their reader would run them, and find what the books say of their shapes."""

import importlib.util
import math
import runpy
import sys
from dataclasses import replace
from pathlib import Path
from xml.etree import ElementTree

import numpy as np
import pytest

from scrieve.errors import BadPlank
from scrieve.frames.design import design_frame
from scrieve.planking.expansion import expand
from scrieve.planking.ruled import ruled_strip

EXAMPLES = Path(__file__).parents[2] / "examples"


def loaded(name):
    spec = importlib.util.spec_from_file_location(name, EXAMPLES / f"{name}.py")
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


@pytest.mark.parametrize(
    ("name", "says"),
    [
        ("fair_a_curve", "mark 12 is 23 mm off what the others say"),
        ("laminated_beam", "springback 2.04% of the jig's curvature"),  # 1/7²
        ("expand_a_plank", "edges 3860 and 3780 mm long"),  # 0.7 × 0.6 × 9190 and 9000
    ],
)
def test_a_script_runs_and_draws(name, says, tmp_path, monkeypatch, capsys):
    monkeypatch.setattr(sys, "argv", [f"{name}.py", "--to", str(tmp_path)])
    runpy.run_path(str(EXAMPLES / f"{name}.py"), run_name="__main__")
    told = capsys.readouterr().out
    assert says in told
    assert "NOT MET" not in told
    drawing = ElementTree.parse(tmp_path / f"{name}.svg").getroot()
    assert len(drawing.findall(".//{*}path")) > 1


def test_the_batten_finds_the_arc_under_its_marks():
    """Closed form: the marks lie on a circle through (0, 9000 (1 - cos 0.32)) of 9000 mm radius, told in their file."""
    line = loaded("fair_a_curve").fair(EXAMPLES / "curves" / "sheer.csv")
    off = np.hypot(line.points_mm[:, 0] - 9000 * math.sin(0.32), line.points_mm[:, 1] - 9000) - 9000
    assert np.all(np.abs(off) < 2 * line.sd_mm + 0.3)  # readings were taken to the whole mm
    assert [suspect.mark for suspect in line.suspects] == [11]


def test_the_beam_springs_back_as_the_rule_of_equal_laminations_says():
    """Closed form: n equal laminations lose 1/n² of their curvature, so the jig's is 1/(1 - 1/n²) of the beam's.

    Also an epoxy maker's note on laminated bends (2003): of a rise x, x/n² is lost.
    """
    script = loaded("laminated_beam")
    line = script.arc(script.SPAN_MM, script.CAMBER_MM)
    radius = (1400**2 + 120**2) / 240
    assert line.points_mm[0] == pytest.approx(line.points_mm[-1] * (0, 1), abs=1e-6)
    assert float(np.ptp(line.height_mm)) == pytest.approx(120, rel=1e-4)  # no point stands quite at the middle
    plain = design_frame(line, replace(script.CHOICE, allow_for_cleaning=False))
    assert plain.packet.springback == pytest.approx(1 / 49, rel=1e-3)
    lies = radius - (plain.blank.inside_mm - plain.packet.neutral_mm)  # the radius of the neutral line
    assert 1 / plain.jig.curvature_per_mm.mean() == pytest.approx(lies * (1 - 1 / 49), rel=1e-3)


def test_a_strip_of_a_cone_lies_flat_on_two_arcs():
    """Closed form: a cone unrolls into a sector, its circles into arcs of their slant, the angle times sin 36.87°."""
    plank = loaded("expand_a_plank").expanded(EXAMPLES / "curves" / "plank_edges.csv")
    half = 0.35 * 0.6
    for line, slant in ((plank.lower_mm, 9190.0), (plank.upper_mm, 9000.0)):
        assert np.hypot(*(line[-1] - line[0])) == pytest.approx(2 * slant * math.sin(half), abs=0.05)
        assert np.ptp(line[:, 1]) == pytest.approx(slant * (1 - math.cos(half)), abs=0.05)
    assert plank.strain_max < 1e-5
    assert plank.bend_radius_mm == pytest.approx(0.6 * 9095 / 0.8, rel=1e-2)  # r / cos α; points to 0.01 mm


def test_a_screw_between_two_helices_is_strained_and_twisted_as_it_must():
    """Closed form: between an axis and a helix of radius a and pitch 2πc the twist over a length L is L/c."""
    t = np.linspace(0, 0.5, 21)
    axis = np.column_stack([3000 * t, 0 * t, 0 * t])
    helix = np.column_stack([3000 * t, 150 * np.cos(t), 150 * np.sin(t)])
    screw = expand(ruled_strip(axis, helix))
    # the normal turns by atan(L/c ...) of the ruling itself: half a radian, less what the middle line climbs (75/3000)
    assert abs(screw.twist_rad) == pytest.approx(0.5, rel=2e-3)
    assert screw.strain_max > 1e-5


@pytest.mark.parametrize(
    ("lower", "says"),
    [
        ([(0, 0, 0)], r"lower edge: found points of shape \(1, 3\)"),
        ([(0, 0, 0), (0, 0, 0)], "points 1 and 2 lie on one another"),
        ([(0, 0, 0), (9, 0, math.nan)], "point 2: found a figure that is no number"),
        ([(9, 0, 0), (0, 0, 0)], "opposite ways"),
        ([("a", 0, 0), (0, 0, 0)], "no table of numbers"),
    ],
)
def test_edges_that_cannot_be_are_refused(lower, says):
    with pytest.raises(BadPlank, match=says):
        ruled_strip(lower, [(0, 100, 0), (9, 100, 0)])
