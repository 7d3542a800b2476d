"""The program run in-process on a small Wigley boat: nine frames of nine exact marks."""

import csv
import io
import shutil
import sys
from contextlib import redirect_stderr, redirect_stdout
from pathlib import Path
from typing import NamedTuple

import numpy as np
import pytest

from scrieve.cli import main

sys.path.insert(0, str(Path(__file__).parents[1] / "published"))
from wigley import Wigley

HULL = Wigley(length_mm=6000, beam_mm=2000, draught_mm=800)


class Said(NamedTuple):
    """What a command ended with."""

    code: int
    out: str
    err: str


def call(*words):
    """Run one command as typed, through the program's own handling of errors."""
    out, err, code = io.StringIO(), io.StringIO(), 0
    with redirect_stdout(out), redirect_stderr(err):
        try:
            main([str(word) for word in words])
        except SystemExit as end:
            code = end.code or 0
    return Said(code, out.getvalue(), err.getvalue())


def _wigley_rows():
    """Return marks of the Wigley hull: frames 1 to 9, 600 mm apart from station 600; heights from the keel."""
    rows = []
    for i, x in enumerate(np.linspace(-2400, 2400, 9)):
        for j, z in enumerate(np.linspace(-HULL.draught_mm, 0, 9)):
            y = float(HULL.half_breadth(x, z))
            rows.append([str(i + 1), f"{x + 3000:.4f}", f"{z + HULL.draught_mm:.4f}", f"{y:.4f}", "", f"WL {j}"])
    return rows


def _csv(rows, head=("frame", "station_mm", "height_mm", "half_breadth_mm", "side", "mark")):
    """Return rows as the bytes of a CSV file."""
    out = io.StringIO()
    csv.writer(out, lineterminator="\n").writerows([head, *rows])
    return out.getvalue().encode()


@pytest.fixture
def run():
    """Run a command that may fail."""
    return call


@pytest.fixture
def done():
    """Run a command that must succeed; return its stdout."""

    def do(*words):
        said = call(*words)
        assert said.code == 0, said.err
        return said.out

    return do


@pytest.fixture(scope="session")
def wigley():
    """The hull behind the marks; its x is the station less 3000 mm, its z the height less 800 mm."""
    return HULL


@pytest.fixture
def rows():
    """Rows of the Wigley marks, to be changed at will."""
    return _wigley_rows()


@pytest.fixture
def as_csv():
    """Make a CSV file of rows under the columns of the marks file."""
    return _csv


@pytest.fixture(scope="session")
def _with_marks(tmp_path_factory):
    folder = tmp_path_factory.mktemp("wigley")
    marks = folder / "marks.csv"
    marks.write_bytes(_csv(_wigley_rows()))
    boat = folder / "wigley.boat"
    for words in (
        ("new", boat, "--name", "Wigley", "--planking", "inside", "--thickness", "20mm"),
        ("marks", boat, "add", marks),
    ):
        said = call(*words)
        assert said.code == 0, said.err
    return boat


@pytest.fixture
def boat(_with_marks, tmp_path):
    """A boat file of one's own with the Wigley marks in it."""
    return Path(shutil.copy(_with_marks, tmp_path / "wigley.boat"))


@pytest.fixture
def empty(tmp_path, done):
    """A boat without marks."""
    done("new", tmp_path / "empty.boat", "--name", "Empty", "--planking", "inside")
    return tmp_path / "empty.boat"


@pytest.fixture
def written(tmp_path):
    """Write a file of the given bytes or text; return its path."""

    def write(name, data):
        place = tmp_path / name
        place.write_bytes(data.encode() if isinstance(data, str) else data)
        return place

    return write
