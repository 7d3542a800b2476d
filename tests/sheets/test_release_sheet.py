"""The picture of a released frame and the course of the factor: what is drawn is what was found."""

import numpy as np

from scrieve.frames.release.deviation import deviation
from scrieve.frames.release.kept import course
from scrieve.frames.release.learning import Spring
from scrieve.frames.release.measured import measured_offsets
from scrieve.frames.shape.displacement import Target
from scrieve.sheets.drawing import Circle, Polyline, Text
from scrieve.sheets.release_sheet import course_drawing, deviation_drawing
from scrieve.sheets.svg import page_svg

from .conftest import overlapping


def bowed():
    s = np.linspace(0, 2000, 201)
    line = Target(s, np.column_stack([s, np.zeros_like(s)]))
    at = np.linspace(0, 2000, 15)
    return deviation(line, measured_offsets(line, at, 8e-6 * at * (2000 - at), 0.05))


def on(drawing, layer):
    return [item for item in drawing.items if isinstance(item, Polyline) and item.layer == layer]


def test_the_departure_is_drawn_so_many_times_its_size():
    found = bowed()
    drawing = deviation_drawing(found)
    (note,) = [item.text for item in drawing.items if isinstance(item, Text) and "departure" in item.text]
    scale = float(note.split("×")[1].split(";")[0])
    (drawn,) = on(drawing, "MOULDED LINE")
    off = -drawn.points[:, 1]  # the line runs along x: outward is below it
    assert np.abs(off - scale * found.deviation_mm).max() < 1e-9
    first, second = on(drawing, "OTHER FACE")
    assert np.allclose(np.abs(first.points[:, 1]), scale * found.tolerance_mm)
    assert np.allclose(first.points[:, 1], -second.points[:, 1])
    assert "mm" in note
    inches = deviation_drawing(found, "ft")
    assert not [item.text for item in inches.items if isinstance(item, Text) and "mm" in item.text]


def test_the_course_has_a_step_for_every_frame():
    springs = [Spring(str(i), "larch", "epoxy", factor, 0.1, 5.0) for i, factor in enumerate((1.2, 1.3, 1.15, 2.4))]
    run = course(springs)
    drawing = course_drawing(springs, run)
    (line,) = on(drawing, "MOULDED LINE")
    assert len(line.points) == len(springs) + 1
    labels = {item.text: item.at[1] for item in drawing.items if isinstance(item, Text) and item.align == "right"}
    names = sorted(labels, key=float)
    up = np.interp([each.factor for each in run], [float(name) for name in names], [labels[name] for name in names])
    assert np.allclose(line.points[:, 1], up)
    assert "<svg" in page_svg(course_drawing([], course([])))


def test_a_frame_that_went_wrong_presses_no_figure_into_another():
    for wrong in (-900.0, 2.4, 33000.0):
        factors = (1.02, wrong, 0.97, 1.05)
        springs = [Spring(str(i), "larch", "epoxy", each, 0.05, 5.0) for i, each in enumerate(factors)]
        run = course(springs)
        drawing = course_drawing(springs, run)
        assert overlapping(drawing) == []
        assert len([item for item in drawing.items if isinstance(item, Text) and item.align == "right"]) < 12
        (line,) = on(drawing, "MOULDED LINE")
        assert np.ptp(line.points[:, 1]) > 0.5  # the learnt factor's own course can still be read
        rings = [item for item in drawing.items if isinstance(item, Circle) and item.layer == "MARKS"]
        assert all(0 <= ring.at[1] <= 60 for ring in rings)
        beyond = [item.text for item in drawing.items if isinstance(item, Text) and item.layer == "FIGURES"]
        assert beyond == [f"{wrong:.1f}"]
