"""The card, the cure and the ripping on paper: what is signed is printed, and drawings hold what the figures say."""

from dataclasses import replace
from fractions import Fraction
from itertools import pairwise

import numpy as np
import pytest

from scrieve.frames.glue_up.card import card_for
from scrieve.frames.ripping import plan_for
from scrieve.sheets.drawing import Circle, Dimension, Line, Polyline, Text
from scrieve.sheets.glue_sheet import (
    clamp_drawing,
    curing_drawing,
    glue_bench_sheet,
    halves_drawing,
    ripping_bench_sheet,
    ripping_drawing,
)
from scrieve.sheets.pdf import bench_sheet_pdf, fitted
from scrieve.timber.conditions import Conditions
from scrieve.timber.cure import cure
from scrieve.timber.data_sheet import data_sheet

from .conftest import overlapping
from .members import FT, MM, frame
from .test_bench import words


@pytest.fixture(scope="module")
def design():
    return frame()


@pytest.mark.parametrize("boat", [MM, FT])
def test_a_name_under_a_stop_is_printed_and_so_is_its_lack(design, boat, tmp_path):
    card = card_for(design, Conditions(7.0, 60.0))
    cold = next(stop for stop in card.stops if stop.id == "temperature.low")
    sheet = glue_bench_sheet(card, boat, "ABCD1234", start_min=510.0, signed={cold.key: "A. Wright, that morning"})
    said = words(bench_sheet_pdf(sheet), tmp_path)
    assert "A. Wright" in said
    assert said.count("NOT SIGNED") == len(card.stops) - 1
    assert "08:30" in said


def test_every_clamp_stands_at_its_place_with_its_turn(design):
    card = card_for(design, Conditions(20.0, 60.0))
    drawn = clamp_drawing(card, "mm")
    turns = {each.text: each.at for each in drawn.items if isinstance(each, Text) and each.layer == "FIGURES"}
    feet = {}
    for ring, place, *_ in (each.points for each in drawn.items if isinstance(each, Polyline) and not each.closed):
        (order,) = [order for order, at in turns.items() if abs(at[0] - ring[0]) < 1e-6]
        feet[order] = place[0]
    assert feet == pytest.approx({str(step.order): step.s_mm for step in card.clamps})


def test_clamps_close_together_have_rings_and_figures_apart(design):
    card = card_for(design, Conditions(20.0, 60.0))
    low = min(step.s_mm for step in card.clamps)
    span = max(step.s_mm for step in card.clamps) - low
    close = [low + span * at for at in (0.0, 0.02, 0.05, 0.3, 0.32, 0.33, 0.345, 0.6, 0.98, 1.0)]
    steps = [replace(card.clamps[0], order=i + 1, s_mm=at, clamps=1 + i % 2) for i, at in enumerate(close)]
    for units in ("mm", "ft"):
        drawn = clamp_drawing(replace(card, clamps=tuple(steps)), units)
        assert overlapping(drawn) == []
        rings = sorted((each.at[0], each.radius_mm) for each in drawn.items if isinstance(each, Circle))
        assert all(b[0] - a[0] > a[1] + b[1] for a, b in pairwise(rings))


def test_the_cure_reaches_full_at_the_release(design):
    sheet = data_sheet("epoxy", {"clamp_h": 10})
    log = ((0.0, 20.0), (4.0, 20.0))
    found = cure(sheet, log)
    drawn = curing_drawing(found, log)
    looks = [each.at for each in drawn.items if isinstance(each, Circle)]
    assert looks[1][1] / 50.0 == pytest.approx(0.4, abs=1e-6)  # 4 of 10 hours at the sheet's own temperature
    dashed = [each for each in drawn.items if isinstance(each, Polyline) and each.layer == "OTHER FACE"]
    assert dashed[-1].points[-1][1] == pytest.approx(50.0)
    assert dashed[-1].points[-1][0] / looks[1][0] == pytest.approx(found.release_h / 4.0)


@pytest.mark.parametrize("edge", ["fore", "aft"])
def test_the_two_halves_are_drawn_as_mirror_images_each_heel_where_it_lies(edge):
    """From forward the port half has its heel at the left (port lies to the right of whoever looks aft)."""
    drawn = halves_drawing(plan_for(frame(moulding_edge=edge)), "mm")
    heels = [each for each in drawn.items if isinstance(each, Text) and each.text == "heel"]
    assert [each.align for each in heels] == (["right", "left"] if edge == "fore" else ["left", "right"])
    lines = [each.start[0] for each in drawn.items if isinstance(each, Line) and each.title]
    long = max(lines) + min(lines)
    port, starboard = lines[: len(lines) // 2], lines[len(lines) // 2 :]
    assert [long - x for x in port] == pytest.approx(starboard)
    assert overlapping(drawn) == []


@pytest.mark.parametrize("boat", [MM, FT])
def test_the_blank_on_its_end_is_drawn_at_full_size(design, boat):
    plan = plan_for(design)
    drawn = ripping_drawing(plan, boat.units)
    halves = [each for each in drawn.items if isinstance(each, Polyline) and each.layer == "MOULDED LINE"]
    assert [float(np.ptp(each.points[:, 0])) for each in halves] == pytest.approx([plan.sizes.sided_mm] * 2)
    whole = [each for each in drawn.items if isinstance(each, Dimension)][-1]
    assert whole.end[0] - whole.start[0] == pytest.approx(plan.siding_mm)
    assert fitted("", drawn)["scale"] == "full size"  # so that it can be held to the blank
    assert overlapping(drawn) == []
    narrow = ripping_drawing(plan_for(design, found_siding_mm=plan.sizes.needed_mm - 8.0), boat.units)
    names = [each.text for each in narrow.items if isinstance(each, Text) and each.angle_deg]
    assert sum(name.endswith(" short") for name in names) == 2
    assert not [name for name in names if ", -" in name]
    sheet = ripping_bench_sheet(plan, boat, "ABCD1234")
    told = [float(sum(map(Fraction, row[2].split()))) for row in sheet.tables[0].rows]
    step = 25.4 if boat.units == "ft" else 1.0
    finest = step / (128 if boat.units == "ft" else 20)  # a saw is set by 64ths of an inch, or tenths of a mm
    assert [step * place for place in told] == pytest.approx([each.from_mm for each in plan.layers], abs=finest)
    assert bench_sheet_pdf(sheet).startswith(b"%PDF")
