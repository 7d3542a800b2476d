"""Figures of the costs and of the order open workings whose numbers make the figure that stands in the table."""

import re
from datetime import datetime

import pytest
from yards import yard

from scrieve.sheets.plan_sheet import cost_table, order_table
from scrieve.workplan import Did
from scrieve.workplan.columns import cost_columns, order_columns
from scrieve.workplan.costs import Piece, Prices, costs

PIECES = (Piece("larch", 30, 200, 5000, 1, "plank 9"), Piece("larch", 30, 150, 4000, 2, "plank 8"),
          Piece("sapele", 8, 100, 2000, 12, "frame 14"))  # fmt: skip
PRICES = Prices({"larch": 1000.0}, {"glue": 20.0}, 0.4)


@pytest.fixture
def found():
    """By hand: larch 0.030 m × (5 × 0.2 + 2 × 4 × 0.15) m² = 0.066 m³, / 0.6 = 0.110 m³, at 1000: 110."""
    did = Did(datetime(2026, 3, 2, 8), datetime(2026, 3, 2, 10), ("Lead",), 0, 90.0)
    glue = (("frame 14", 1.5), ("frame 15", 2.25))
    used = {"larch": (("a", 0.05), ("b", -0.01)), "glue": (("c", 1.0),)}
    return costs(yard(1), None, PIECES, {"glue": glue}, PRICES, {"frame 14: bevel": did}, used)


def number(text):
    return float(re.search(r"-?[\d.]+", text)[0])


def test_the_numbers_put_in_make_the_figure_in_the_table(found):
    for table, columns in ((cost_table(found), cost_columns(found, 0.4)),
                           (order_table(found.orders, "mm"), order_columns(found.orders, 0.4))):  # fmt: skip
        for at, head in enumerate(table.columns):
            for row, working in zip(table.rows, columns.get(head.partition(" (")[0], ()), strict=False):
                if working.formula:
                    numbers, _, result = working.value.rpartition(" = ")
                    assert number(result) == pytest.approx(number(row[at]), abs=0.05), working
                    assert numbers


def test_worked_by_hand(found):
    larch = next(line for line in found.lines if line.what == "larch")
    assert (round(larch.planned, 9), round(larch.used, 9), round(larch.cost, 6)) == (0.11, 0.04, 110.0)
    columns = cost_columns(found, 0.4)
    assert columns["planned"][0].value == "0.066 m³ / (1 - 0.40) = 0.110 m³"
    assert columns["planned"][0].inputs == (("plank 9", "0.030 m³"), ("plank 8", "0.036 m³"))
    assert columns["cost planned"][-1].value == "110.00 + 75.00 = 185.00", "3.75 kg of glue at 20 beside the larch"
    hours = columns["used"][[line.what for line in found.lines].index("time of Lead")]
    assert hours.value == "1.5 h = 1.5 h", "90 min as typed"
