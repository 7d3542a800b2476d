"""The chart of the work: words stand clear of the hatching, and no scale is told of a drawing that has none."""

from datetime import date, datetime, timedelta

import numpy as np

from scrieve.sheets.drawing import Hatch, Text
from scrieve.sheets.pdf import fitted
from scrieve.sheets.plan_chart import plan_chart
from scrieve.workplan import Entry, Plan, Yard

MONDAY = datetime(2026, 3, 2, 8)


def test_words_stand_clear_of_the_hatching_of_their_bar():
    row = [("frame 14: fit", 0, 24), ("frame 14: stock", 30, 8), ("frame 15: out", 0, 20)]
    entries = tuple(Entry(op, MONDAY + timedelta(minutes=15 * at), MONDAY + timedelta(minutes=15 * (at + n)), n,
                          ("lead hand",)) for op, at, n in row)  # fmt: skip
    drawing = plan_chart(Plan(MONDAY, entries), Yard(), first=date(2026, 3, 2), last=date(2026, 3, 3))
    boxes = [(item.polygon.min(axis=0), item.polygon.max(axis=0)) for item in drawing.items if isinstance(item, Hatch)]
    words = [
        item for item in drawing.items if isinstance(item, Text) and item.level == "middle" and item.align == "middle"
    ]
    told = [word.text for word in words]
    assert {"fit", "out"} <= set(told)
    for word in words:
        at = np.asarray(word.at)
        assert not any(np.all(low < at) and np.all(at < high) for low, high in boxes), word.text
    assert fitted("chart", drawing)["scale"] == ""
