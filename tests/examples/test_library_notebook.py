"""Results draw themselves in a notebook: a stand-in with the formatters that a notebook's shell has."""

import importlib.util
from pathlib import Path
from types import SimpleNamespace
from xml.etree import ElementTree

import numpy as np
import pytest

from scrieve import notebook
from scrieve.fairing import lay_batten
from scrieve.planking.expansion import expand
from scrieve.planking.ruled import ruled_strip
from scrieve.sheets.drawing import Circle


class Formatter(dict):
    """What a notebook asks: the function of a kind, found along its bases."""

    def for_type(self, kind, function):
        self[kind] = function

    def __call__(self, result):
        found = next((self[kind] for kind in type(result).__mro__ if kind in self), None)
        return found(result) if found else None


@pytest.fixture
def shell():
    return SimpleNamespace(display_formatter=SimpleNamespace(formatters={"image/svg+xml": Formatter()}))


def beam():
    path = Path(__file__).parents[2] / "examples" / "laminated_beam.py"
    spec = importlib.util.spec_from_file_location("laminated_beam", path)
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module.beam()


def test_every_result_is_drawn_once_the_extension_is_loaded(shell):
    marks = [(0, 0), (500, 41), (1000, 62), (1500, 39), (2000, 0), (2500, -62)]
    edges = [(0, 0, 0), (4000, 0, 0)], [(0, 150, 0), (4000, 150, 0)]
    frame = beam()
    formatter = shell.display_formatter.formatters["image/svg+xml"]
    results = (lay_batten(marks), expand(ruled_strip(*edges)), frame, frame.section, notebook.drawing_of(frame))
    assert [formatter(each) for each in results] == [None] * 5
    notebook.load_ipython_extension(shell)
    for each in results:
        assert ElementTree.fromstring(formatter(each)).tag.endswith("svg")
    assert formatter(3) is None
    notebook.unload_ipython_extension(shell)
    assert formatter(results[0]) is None


def test_marks_stand_where_they_were_measured():
    marks = np.array([(0, 0), (500, 41), (1000, 62), (1500, 39), (2000, 0)], dtype=float)
    drawing = notebook.drawing_of(lay_batten(marks, 1.0))
    drawn = np.array([item.at for item in drawing.items if isinstance(item, Circle)])
    assert drawn == pytest.approx(marks, abs=0.2)  # the foot lies between nodes 10 mm apart


def test_what_has_no_drawing_is_told_with_what_has():
    with pytest.raises(TypeError, match=r"a dict has no drawing; there is one of: Drawing, Section"):
        notebook.svg({})


def test_lengths_are_in_the_units_asked_for():
    assert "feet" not in notebook.svg(lay_batten([(0, 0), (500, 40), (1000, 45), (1500, 0)]))
    assert notebook.drawing_of(lay_batten([(0, 0), (500, 40), (1000, 45), (1500, 0)]), "ft").title.startswith(
        "Batten, 4-11-"
    )
