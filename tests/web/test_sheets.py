"""Files of the sheets, made when they are asked for."""

import io
import re
import zipfile

import pikepdf
import pytest
from boats import HOSTILE_FRAME, HOSTILE_PLANK
from starlette.requests import Request

from scrieve.web.addresses import file_path, frame_path, plank_path, printed_path
from scrieve.web.sheet_pages import link_to
from scrieve.web.views import View


@pytest.mark.parametrize(("of", "label"), [("frame", "14"), ("plank", "garboard"), ("plank", HOSTILE_PLANK)])
@pytest.mark.parametrize(
    ("kind", "starts"),
    [
        ("bench.pdf", b"%PDF-"),
        ("pattern-roll.pdf", b"%PDF-"),
        ("pattern-A4.pdf", b"%PDF-"),
        ("dxf", b"  0\nSECTION"),
        ("svg", b"<svg "),
        ("workings.csv", b"\xef\xbb\xbffigure,"),
    ],
)
def test_each_file_is_what_it_says(pages, of, label, kind, starts):
    reply = pages.get(file_path(of, label, kind))
    assert reply.status_code == 200
    assert reply.content.startswith(starts)
    name = re.fullmatch(r'attachment; filename="([A-Za-z0-9._-]+)"', reply.headers["content-disposition"])
    assert name
    assert name[1].endswith(kind.rsplit(".", 1)[-1])


def test_one_zip_holds_every_file(pages):
    reply = pages.get(file_path("frame", HOSTILE_FRAME, "all.zip"))
    names = zipfile.ZipFile(io.BytesIO(reply.content)).namelist()
    ends = {re.sub(r"^frame-.*?-[0-9a-f]{6}[-.]", "", name) for name in names}
    assert {"bench.pdf", "pattern-roll.pdf", "pattern-A4.pdf", "pattern-A3.pdf", "dxf", "svg", "jig.csv"} <= ends


def test_the_list_leads_to_every_file_with_its_revision(pages, merganser):
    kept = merganser.state.boat.state().kept
    page = pages.get("/sheets").text
    for label in kept.frames:
        assert kept.frame_revision(label) in page
        assert file_path("frame", label, "bench.pdf").replace("&", "&amp;") in page
    for name in kept.planks:
        assert kept.plank_revision(name) in page
    links = set(re.findall(r'href="(/sheets/file\?of=plank&amp;label=garboard&amp;[^"]+)"', page))
    # bench, roll, A4, A3, tick-strip, DXF, SVG, all; setting out, edges, rabbet, workings
    assert len(links) == 8 + 4
    for link in links:
        if link.endswith(".csv"):
            assert pages.get(link.replace("&amp;", "&")).status_code == 200, link


def test_the_roll_is_as_wide_as_the_builders(pages):
    page = pages.get("/sheets?roll=2-0-0").text
    assert file_path("frame", "14", "pattern-roll.pdf", "2-0-0").replace("&", "&amp;") in page
    reply = pages.get(file_path("frame", "14", "pattern-roll.pdf", "2-0-0"))
    with pikepdf.open(io.BytesIO(reply.content)) as file:
        box = [float(side) * 25.4 / 72 for side in file.pages[0].mediabox]  # PDF: 1/72 inch
    assert min(abs(side - 609.6) for side in box) < 0.5
    assert pages.get("/sheets?roll=wide").status_code == 422
    narrow = pages.get(file_path("frame", "14", "pattern-roll.pdf", "5"))
    assert narrow.status_code == 422
    assert "roll" in narrow.text


@pytest.mark.parametrize("path", [frame_path("14"), frame_path(HOSTILE_FRAME), plank_path("garboard")])
def test_the_code_on_a_sheet_leads_to_its_own_page(pages, merganser, path):
    """From a network address; at this machine alone no code is printed, since it would lead a telephone to itself."""
    head = {"type": "http", "method": "GET", "path": "/", "scheme": "http", "server": ("192.168.1.20", 80)}

    def link(host: bytes) -> str:
        asked = head | {"query_string": b"", "headers": [(b"host", host)], "app": merganser}
        return link_to(View(Request(asked)), path)

    assert link(b"127.0.0.1:8777") == ""
    assert link(b"192.168.1.20:8777") == "http://192.168.1.20:8777" + path
    assert pages.get(link(b"192.168.1.20:8777").removeprefix("http://192.168.1.20:8777")).status_code == 200


@pytest.mark.parametrize("path", [frame_path("14"), frame_path(HOSTILE_FRAME), plank_path("garboard")])
def test_a_sheet_of_an_older_revision_is_told_to_be_out_of_date(pages, path):
    """The code on a sheet carries its revision; the page says whether that is the present one."""
    now = re.search(r"<dt>revision of the (?:pair|plank)</dt><dd class=\"fig\">(\w+)", pages.get(path).text)[1]
    page = pages.get(printed_path(path, "0LD<i>")).text
    assert "That sheet is out of date." in page
    assert "0LD&lt;i&gt;" in page
    same = pages.get(printed_path(path, now)).text
    assert "That sheet is of the present revision" in same
    assert "out of date." not in same.split("<h2")[0]
    assert "That sheet" not in pages.get(path).text
