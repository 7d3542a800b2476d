"""The code on each printed sheet leads to its page, and the page tells whether the sheet is out of date."""

from __future__ import annotations

import pytest
from boats import settled
from test_undo_kinds import DAY, Deed, boat, press  # noqa: F401

from scrieve import store
from scrieve.sheets import pdf
from scrieve.web import sheet_pages

#: Sheet, and a change that puts it out of date.
PAIR = Deed("/frames/design", "/frames/3", {"sided": "32"}, {"label": "3"})
BOARD = Deed("/timber", "/timber", {"kerf_mm": "6"}, {"do": "shop"})
SHEETS = {
    "/sheets/file?of=frame&label=3&kind=bench.pdf": PAIR,
    "/sheets/file?of=plank&label=strake+9&kind=bench.pdf": Deed(
        "/planks/settings", "/planks/strake 9", {"thickness_mm": "24"}),
    "/jig/sheet.pdf?frame=3": PAIR,
    "/jig/order.pdf": Deed("/jig/order", "/jig/order", having={"what": "forget"}),
    "/glue-up/card.pdf?" + DAY.partition("?")[2]: PAIR,
    "/release/ripping.pdf?frame=3": PAIR,
    "/timber/sheet.pdf": BOARD,
    "/timber/laminations.pdf": BOARD,
    "/plan/week.pdf": Deed("/plan/yard", "/plan/yard", {"jigs": "2"}, {"do": "shop"}),
}  # fmt: skip


@pytest.fixture(scope="module")
def printed(boat):  # noqa: F811
    """A boat of which every sheet can be printed."""
    press(boat, Deed("/timber", "/timber", having={"do": "rip"}))
    press(boat, Deed("/jig/order", "/jig/order", having={"what": "keep"}))
    return boat


@pytest.mark.parametrize("path", SHEETS)
def test_the_code_leads_to_the_page_that_tells_whether_the_sheet_is_out_of_date(printed, path, monkeypatch):
    codes = []
    monkeypatch.setattr(sheet_pages, "is_loopback", lambda host: False)  # as from another device
    make = pdf.segno.make
    monkeypatch.setattr(pdf.segno, "make", lambda text, **how: codes.append(text) or make(text, **how))
    sheet = printed.get(path)
    assert sheet.content[:4] == b"%PDF"
    assert len(set(codes)) == 1, codes
    where = codes[0].removeprefix(str(printed.base_url).rstrip("/"))
    assert where.startswith("/")
    assert "That sheet is of the present revision" in printed.get(where).text
    before = store.last_act(printed.app.state.boat.engine)
    press(printed, SHEETS[path])
    page = settled(printed, where).text
    assert "That sheet is out of date" in page
    for act in reversed(store.acts(printed.app.state.boat.engine, after=before)):
        store.undo(printed.app.state.boat.engine, number=act.number)
    assert "That sheet is of the present revision" in settled(printed, where).text
