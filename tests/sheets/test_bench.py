"""The bench sheet: every word is data, tables run on, verdicts are words."""

import io
import re
import shutil
import subprocess

import numpy as np
import pikepdf
import pytest
import typst

from scrieve.errors import BadGeometry
from scrieve.sheets import typeset as setter
from scrieve.sheets.bench import BenchSheet, Table
from scrieve.sheets.csvs import table_csv
from scrieve.sheets.drawing import Drawing, Line
from scrieve.sheets.pdf import bench_sheet_pdf
from scrieve.sheets.typeset import SheetFault, typeset
from scrieve.working import Check

from .conftest import NASTY

LONG = Table("Bevels", ("no.", "bevel (°)"), tuple((str(n), f"{n / 2:.1f}") for n in range(150)))
LINK = "HTTP://127.0.0.1:8000/FRAMES/14"


def sheet(hand, **other):
    values = {
        "title": "Frame 14",
        "boat": "Merganser",
        "member": "frame 14",
        "revision": "ABCD1234",
        "link": LINK,
        "drawings": (("Frame", hand),),
        "tables": (LONG,),
        "checks": (Check("strain", "0.4 %", "0.6 %", True, "a"), Check("radius", "1/60", "1/80", False, "b")),
        "cautions": ("Keep fingers clear.",),
    }
    return BenchSheet(**(values | other))


def words(pdf: bytes, tmp_path) -> str:
    if not shutil.which("pdftotext"):
        pytest.skip("no pdftotext (poppler-utils) on this machine")
    (tmp_path / "x.pdf").write_bytes(pdf)
    return subprocess.run(
        ["pdftotext", "-layout", "x.pdf", "-"], cwd=tmp_path, check=True, capture_output=True, text=True, timeout=60
    ).stdout


def test_pages_are_a4_and_say_what_they_are(hand, tmp_path):
    pdf = bench_sheet_pdf(sheet(hand), date="2026-11-25")
    with pikepdf.open(io.BytesIO(pdf)) as file:
        count = len(file.pages)
        for page in file.pages:  # ISO 216
            assert [float(v) / 72 * 25.4 for v in page.mediabox[2:]] == pytest.approx([210, 297], abs=0.05)
    text = words(pdf, tmp_path)
    for expected in ("Merganser", "ABCD1234", "2026-11-25", f"page {count} of {count}", "NOT OK", "scale 1:8"):
        assert expected in text
    assert text.count("NOT OK") == 2  # at the head of the sheet and in its row
    assert text.count("bevel (°)") >= 3  # the heading is repeated where the table runs on


def test_user_text_is_never_markup(hand, tmp_path):
    text = words(
        bench_sheet_pdf(sheet(hand, title="#panic() *a* $x$ <b> \\", boat="= Top", notes=("- [x]",))), tmp_path
    )
    for expected in ("#panic() *a* $x$ <b> \\", "= Top", "- [x]"):
        assert expected in text


def test_any_text_anywhere(hand):
    table = Table(NASTY, (NASTY, "b"), ((NASTY, "1"),), note=NASTY)
    pdf = bench_sheet_pdf(
        sheet(
            hand,
            title=NASTY,
            boat=NASTY,
            member=NASTY,
            link="",
            drawings=((NASTY, hand),),
            tables=(table,),
            checks=(Check(NASTY, NASTY, NASTY, False, NASTY),),
            cautions=(NASTY,),
            notes=(NASTY,),
            summary=((NASTY, NASTY),),
        ),
        date=NASTY,
    )
    assert pdf.startswith(b"%PDF")


def test_an_empty_sheet_is_still_a_sheet(hand):
    pdf = bench_sheet_pdf(sheet(hand, drawings=(), tables=(), checks=(), cautions=(), link="x" * 3000))
    assert pdf.startswith(b"%PDF")


def test_the_drawing_is_at_the_scale_stated(lines_of):
    drawing = Drawing((Line((0, 0), (1500, 0), "SEAM EDGE"), Line((0, 0), (0, 300), "SEAM EDGE")), "x", 10)
    pdf = bench_sheet_pdf(BenchSheet("t", "b", "m", "r", "", (("c", drawing),), ()))
    lengths = [np.hypot(*(p[1] - p[0])) for _, paths in lines_of(pdf) for p, _ in paths if len(p) == 2]
    assert any(length == pytest.approx(150, abs=0.01) for length in lengths)  # 1500 mm at 1:10


def test_the_same_sheet_gives_the_same_bytes(hand):
    assert bench_sheet_pdf(sheet(hand)) == bench_sheet_pdf(sheet(hand))


@pytest.mark.parametrize("wide", [False, True])
def test_no_word_of_a_table_lies_on_another_or_off_the_page(tmp_path, wide):
    if not shutil.which("pdftotext"):
        pytest.skip("no pdftotext (poppler-utils) on this machine")
    text = "WWW MMM WWW MMM WWW MMM WWW MMM WWW" if wide else "lll iii lll iii lll iii lll iii lll"
    table = Table("Made up", ("a", "b", "c", "figure"), tuple((text, text, text, f"{n}.5") for n in range(8)))
    (tmp_path / "x.pdf").write_bytes(bench_sheet_pdf(sheet(None, drawings=(), checks=(), tables=(table,))))
    found = subprocess.run(
        ["pdftotext", "-bbox", "x.pdf", "-"], cwd=tmp_path, check=True, capture_output=True, text=True, timeout=60
    ).stdout
    number = r'"([\d.]+)"'
    read = re.findall(rf"xMin={number} yMin={number} xMax={number} yMax={number}>(?:WWW|MMM|lll|iii|\d\.5)<", found)
    boxes = np.array(read, dtype=float)
    assert len(boxes) == 8 * (3 * 9 + 1)
    low, high = boxes[:, :2] + (0.2, 3.0), boxes[:, 2:] - (0.2, 3.0)  # letters' boxes are higher than letters are
    overlap = ((low[:, None] < high[None]) & (low[None] < high[:, None])).all(axis=-1)
    assert overlap.sum() == len(boxes)  # each with itself only
    assert boxes[:, 2].max() < (210 - 14) / 25.4 * 72
    lines = len(np.unique(boxes[:, 1].round(1)))
    assert lines > 8 if wide else lines == 8


@pytest.mark.parametrize(("text", "embedded_only"), [("Ålesund Жук Ωmega ½ – … “x”", True), ("日本", False)])
def test_the_machines_own_fonts_are_not_looked_at_unless_needed(hand, monkeypatch, text, embedded_only):
    asked = []
    real = typst.compile_with_warnings
    monkeypatch.setattr(
        setter.typst, "compile_with_warnings", lambda *a, **k: asked.append(k["ignore_system_fonts"]) or real(*a, **k)
    )
    bench_sheet_pdf(sheet(hand, title=text))
    assert asked == [embedded_only]


def test_a_warning_of_the_typesetter_is_a_fault(monkeypatch):
    real = typst.compile_with_warnings
    template = b'#set text(font: "No Such Face")\nx'
    monkeypatch.setattr(setter.typst, "compile_with_warnings", lambda _, **k: real(template, **k))
    with pytest.raises(SheetFault, match="unknown font"):
        typeset("bench.typ", {})


def test_figures_stand_to_the_right_and_words_to_the_left():
    table = Table("t", ("a", "b", "c", "d"), (("1.5", "3-4-5+", "14 P", "–"), ("-2", "(0-1-2)", "7", "")))
    assert table.figures == (True, True, False, False)


def test_a_row_of_the_wrong_length_is_named():
    with pytest.raises(BadGeometry, match="'Bevels' row 2: found 1 cells; there are 2"):
        Table("Bevels", ("a", "b"), (("1", "2"), ("1",)))


def test_csv_quotes_and_disarms():  # RFC 4180: quotes doubled, CR LF
    table = Table("t", ("label", "x (mm)"), (('a "b", c', "-1.5"), ("=SUM(A1)", "+2"), ("@x", "–")))
    assert table_csv(table) == 'label,x (mm)\r\n"a ""b"", c",-1.5\r\n\'=SUM(A1),+2\r\n\'@x,–\r\n'
