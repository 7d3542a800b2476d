"""The job pack: complete, under names that any system takes and that never meet."""

import csv
import io
import re

import ezdxf
import numpy as np
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from scrieve.sheets.pack import file_name, write_frame, write_plank

from .members import MM, frame, plank


def test_a_frame_pack_is_whole():
    design = frame()
    pack = write_frame(design, MM, "ABCD1234", link="HTTP://X/14", date="2026-11-25", papers=("A3",))
    tables = ("jig", "proof", "closing", "bevels", "shape", "laminations", "strips", "ripping", "marks", "strength",
              "workings")  # fmt: skip
    assert set(pack) == {
        "frame-14-bench.pdf",
        "frame-14-pattern-roll.pdf",
        "frame-14-pattern-A3.pdf",
        "frame-14.dxf",
        "frame-14.svg",
        *(f"frame-14-{name}.csv" for name in tables),
    }
    doc = ezdxf.read(io.StringIO(pack["frame-14.dxf"].decode()))
    moulded = doc.modelspace().query('LWPOLYLINE[layer=="MOULDED LINE"]').first
    assert np.array(moulded.get_points("xy")) == pytest.approx(design.outline.moulding_outer_mm, abs=1e-9)
    bevels = list(csv.reader(io.StringIO(pack["frame-14-bevels.csv"].decode("utf-8-sig"))))
    assert bevels[0][:2] == ["mark", "from heel (mm)"]
    assert len(bevels) == 1 + len(design.bevels)


def test_a_plank_pack_is_whole_and_the_same_twice():
    packs = [write_plank(plank(), MM, "ABCD1234", roll_width_mm=None, papers=("A4",)) for _ in range(2)]
    assert packs[0] == packs[1]
    assert {"plank-topside-3_port-bench.pdf", "plank-topside-3_port-pattern-A4.pdf", "plank-topside-3_port.dxf"} <= set(
        packs[0]
    )
    assert "plank-topside-3_port-pattern-roll.pdf" not in packs[0]


@settings(max_examples=200, deadline=None)
@given(st.text(min_size=1, max_size=60))
@example("../../etc/passwd")
@example("nul")
@example("14/A")
@example("Ø 7")
@example("\x00\n")
def test_names_are_safe(label):
    assert re.fullmatch(r"[A-Za-z0-9]+(-[A-Za-z0-9]+)*", file_name(label))
    assert len(file_name(label)) <= 47


@settings(max_examples=200, deadline=None)
@given(st.lists(st.text("aA1 -/_é", min_size=1, max_size=4), min_size=2, max_size=30, unique=True))
@example(["14a", "14A", "14 a", "14-a", "14/a", "14_a", "14  a", " 14 a", "14á"])
def test_names_do_not_meet_even_where_capitals_do_not_count(labels):
    names = [file_name(label).casefold() for label in labels]
    assert len(set(names)) == len(names)


@pytest.mark.parametrize("label", ['7½ <P> & "S" \\ #x *b* $y$', "日本", "x" * 400, "%%d^J", "=1+1"])
def test_any_label_makes_a_pack(label):
    pack = write_frame(frame(label), MM, "ABCD1234", roll_width_mm=None)
    assert all(data for data in pack.values())
