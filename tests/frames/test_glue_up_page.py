"""docs/glue-up.md says what the code does: its defaults are read there."""

import re
from pathlib import Path

from scrieve.frames.glue_up.minutes import GlueUpPlan
from scrieve.frames.release.deviation import SUSPECT, TOLERANCE_MM
from scrieve.frames.release.learning import MISFIT_LIMIT, Prior
from scrieve.timber.data_sheet import data_sheet
from scrieve.timber.glue import glue, glue_names

DOC = (Path(__file__).parents[2] / "docs" / "glue-up.md").read_text(encoding="utf-8")


def says(text):
    return text in DOC


def test_defaults():
    plan, prior, sheet = GlueUpPlan(), Prior(), data_sheet("epoxy")
    assert says(f"Pace {plan.spread_m2_min:g} m² of face a minute each, {plan.mixing_min:g} min a pot")
    assert says(f"{plan.lay_min:g} min to lay, {plan.clamp_min:g} min a clamp")
    assert says(f"a share of the pot life ({plan.pot_share:g}, common practice)")
    assert says(f"waste {plan.waste_share:.0%}".replace("%", " %"))
    assert says(f"tolerance ({TOLERANCE_MM:g} mm, common practice)")
    assert says(f"more than {SUSPECT:g} standard deviations is named")
    assert says(f"c ~ N({prior.mean:g}, {prior.sd:g}²)")
    assert says(f"in {prior.botched_share * 100:.0f} % of frames, N(c, q² + {prior.botched_sd:g}²)")
    assert says(
        f"q half-normal of scale {prior.scatter_scale:g}, or none at all with probability {prior.steady_share:g}"
    )
    assert says(f"*misfit*: above {MISFIT_LIMIT:g} standard deviations")
    assert says(f"H = {sheet['halving_k']:g} K")
    assert says(f"It is to be {sheet['dew_margin_k']:g} K above") or says(f"{sheet['dew_margin_k']:g} K above it")


def test_figures_with_a_source_are_listed():
    sourced = {where.split(":")[0] for name in glue_names() for _, _, where in glue(name).figures}
    for where in sourced - {"common practice, no source; the maker's data sheet comes first"}:
        key = re.sub(r" of about.*|, .*| \(.*| for full.*", "", where)
        assert key.split("'")[0] in DOC or "gluing guide" in where, where


def test_no_figure_is_left_to_fill_in():
    assert "BENCH" not in DOC
