"""DXF, read back by a general reader of the format: audit, units, layers, coordinates, text."""

import io
import os
import subprocess
import sys

import ezdxf
import numpy as np
import pytest

from scrieve.sheets.drawing import Drawing, Line, Text, printable
from scrieve.sheets.dxf import to_dxf

from .conftest import NASTY


def read(data: bytes):
    return ezdxf.read(io.StringIO(data.decode("utf-8")))


def test_it_audits_clean_in_mm_at_r2010(hand):
    doc = read(to_dxf(hand))
    audit = doc.audit()
    assert (len(audit.errors), len(audit.fixes)) == (0, 0)
    assert doc.dxfversion == "AC1024"
    assert doc.header["$INSUNITS"] == 4  # 4 = millimetres, DXF reference, header variables


def test_the_outline_keeps_its_very_coordinates(hand):
    moulded = read(to_dxf(hand)).modelspace().query('LWPOLYLINE[layer=="MOULDED LINE"]').first
    assert np.array(moulded.get_points("xy")) == pytest.approx(hand.items[0].points, abs=1e-9)


def test_layers_have_trade_names_and_only_those_in_use(hand):
    names = {layer.dxf.name for layer in read(to_dxf(hand)).layers} - {"0", "Defpoints"}
    assert names == {"MOULDED LINE", "INNER FACE", "HATCHING", "CENTRELINE", "BEVEL MARKS", "DIMENSIONS", "TEXT"}


def test_the_same_drawing_gives_the_same_bytes(hand):
    assert to_dxf(hand) == to_dxf(hand)


def test_a_program_started_anew_writes_the_same_bytes():
    ask = (
        "import sys; from scrieve.sheets.dxf import to_dxf; from scrieve.sheets.drawing import Drawing, Line;"
        "sys.stdout.buffer.write(to_dxf(Drawing((Line((0, 0), (1, 1), 'GRID'),))))"
    )
    runs = [
        subprocess.Popen([sys.executable, "-c", ask], env=os.environ | {"PYTHONHASHSEED": seed}, stdout=subprocess.PIPE)
        for seed in ("1", "5")  # the library's own order differs under these two
    ]
    first, second = (run.communicate()[0] for run in runs)
    assert first
    assert first == second


def test_a_reader_finds_how_far_the_drawing_reaches():
    header = read(to_dxf(Drawing((Line((-3, 4.5), (10, 1), "GRID"),)))).header
    assert header["$EXTMIN"] == (-3.0, 1.0, 0.0)  # DXF reference, header variables
    assert header["$EXTMAX"] == (10.0, 4.5, 0.0)


@pytest.mark.parametrize("text", ["50%% of ^J", "%%d%%%", "<&\"'>", "Ålesund ½ 日本", NASTY[:200]])
def test_text_comes_back_as_it_was(text):
    data = to_dxf(Drawing((Text((0, 0), text, 5), Line((0, 0), (1, 1), "GRID"))))
    assert read(data).modelspace().query("TEXT").first.plain_text() == printable(text)


def test_very_long_text_is_cut_so_that_every_reader_takes_it():
    data = to_dxf(Drawing((Text((0, 0), "x" * 5000, 5),)))
    assert len(read(data).modelspace().query("TEXT").first.plain_text()) == 250
