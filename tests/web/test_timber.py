"""The timber page: boards added, planks laid in the background or by hand, a board cut, off-cuts in the rack."""

import io
import time
import zipfile
from dataclasses import asdict, replace
from pathlib import Path

import pytest
from boats import HOME, MERGANSER, client_of, ready, until, with_words

from scrieve import store
from scrieve.boat import Boat
from scrieve.frames.parts import StripOrder
from scrieve.planking import SpilingChoice, read_spiling
from scrieve.stock import rectangular
from scrieve.stock.forms import mapping_of
from scrieve.stock.layout import Shop
from scrieve.stock.rip_kept import RIPPING, FrameStrips, kept_ripping, rip, rip_revision
from scrieve.web import create_app

EXAMPLE = Path(__file__).parents[2] / "examples" / "formats" / "boards.csv"
BOARD = {
    "do": "add",
    "name": "A1",
    "length": "6000",
    "width": "500",
    "thickness": "60",
    "timber": "Larch",
    "cost": "80",
}


def post(client, **fields):
    return client.post("/timber", data=fields, headers={"origin": HOME}, follow_redirects=False)


@pytest.fixture
def spiled(tmp_path):
    """A boat of no marks with one spiled plank."""
    engine = store.create(tmp_path / "s.boat", Boat("Small", thickness_mm=25.0))
    marks = [asdict(mark) for mark in read_spiling((MERGANSER / "spiling.csv").read_bytes(), "s.csv").batten.marks]
    store.keep_plank(engine, "strake 9", {"kind": "spiled", "choice": asdict(SpilingChoice("strake 9", 25.0, side="P")),
                                          "marks": marks})  # fmt: skip
    engine.dispose()
    return client_of(ready(create_app(tmp_path / "s.boat")))


def wait(client):
    return until(lambda: "Stop, with the best so far" not in (text := client.get("/timber").text) and text)


def laid_all(client):
    """Lay the one part there is, however slow the machine: stop when it lies on a board; return the page."""
    post(client, do="lay")
    until(lambda: "1 of 1 parts on" in (text := client.get("/timber").text) or "Stop, with the best so far" not in text)
    post(client, do="stop")
    return wait(client)


def test_the_empty_page_says_what_to_do(spiled):
    text = spiled.get("/timber").text
    assert "No boards yet" in text
    assert "1 part to be cut, 0 boards in the rack" in text
    reply = post(spiled, do="lay")
    assert reply.status_code == 422
    assert "there are no boards to lay anything on" in reply.text


def test_from_a_board_typed_to_its_off_cut_in_the_rack(spiled):
    assert "On no board yet" in with_words(spiled, "/planks/strake%209", "On no board")
    assert post(spiled, **BOARD).status_code == 303
    assert "larch" in spiled.get("/timber").text
    assert post(spiled, do="shop", grain_run="0", seconds="600").status_code == 303
    text = laid_all(spiled)
    assert "strake 9" in text
    assert '<b class="fig">1</b> of 1 parts' in text
    listed = spiled.get("/timber/cutting-list.csv").text
    assert listed.splitlines()[1].startswith("A1,strake 9,")
    plank = with_words(spiled, "/planks/strake%209", "is laid on board")
    assert '<a href="/timber?part=strake%209#hand"><bdi>A1</bdi></a>' in plank
    assert post(spiled, do="cut", board="A1").status_code == 303
    assert "was cut from board <bdi>A1</bdi>" in spiled.get("/planks/strake%209").text
    after = spiled.get("/timber").text
    assert "0 parts to be cut" in after
    assert "cut already: 1" in after
    assert "A1 a" in after
    assert "Take A1 off the rack" not in after


def test_a_plank_has_rules_of_its_own(spiled):
    typed = "strake 9: seen outside, knots 20 any face, no pair"
    assert post(spiled, do="shop", grain_run="0", seconds="1", own=typed).status_code == 303
    assert typed in spiled.get("/timber").text
    for wrong, said in (("strake 9: tight", "tight"), ("no such: pair", "there is no plank")):
        refused = post(spiled, do="shop", own=wrong)
        assert refused.status_code == 422
        assert said in refused.text


def test_a_changed_rack_makes_the_laying_out_of_date(spiled):
    post(spiled, **BOARD)
    post(spiled, do="shop", grain_run="0", seconds="600")
    assert "out of date" not in laid_all(spiled)
    post(spiled, **{**BOARD, "name": "A2"})
    assert "out of date" in spiled.get("/timber").text
    assert post(spiled, do="cut", board="A1").status_code == 422


def test_a_search_can_be_stopped(spiled):
    post(spiled, **BOARD)
    post(spiled, do="shop", grain_run="0", seconds="600")
    began = time.monotonic()
    post(spiled, do="lay")
    assert "Stop, with the best so far" in spiled.get("/timber").text
    post(spiled, do="stop")
    wait(spiled)
    assert time.monotonic() - began < 20


@pytest.mark.parametrize(
    ("change", "said"),
    [({"length": "long"}, "length: found"), ({"name": " "}, "the board has no name"), ({"width": "-3"}, "width -3 mm"),
     ({"cost": "dear"}, "cost: found"), ({"best_face": "left"}, "say top, under, or neither")],
)  # fmt: skip
def test_a_slip_comes_back_with_what_was_typed(spiled, change, said):
    reply = post(spiled, **{**BOARD, **change})
    assert reply.status_code == 422
    assert said in reply.text
    assert 'value="500"' in reply.text or "width" in change
    assert "0 boards in the rack" in reply.text


def test_a_table_pasted_and_as_a_file(spiled):
    assert post(spiled, do="table", table=EXAMPLE.read_text(encoding="utf-8")).status_code == 303
    text = spiled.get("/timber").text
    assert all(f"Board {name}" in text for name in ("A1", "B2", "C3"))
    file = {"file": ("b.csv", EXAMPLE.read_bytes())}
    reply = spiled.post("/timber", data={"do": "table"}, files=file, headers={"origin": HOME}, follow_redirects=False)
    assert reply.status_code == 303
    wrong = post(spiled, do="table", table="board,kind,length,width,thickness\nZ,board,2000,x,30\n")
    assert wrong.status_code == 422
    assert "the pasted table line 2, width: found" in wrong.text
    assert "Board Z" not in wrong.text


def test_a_board_of_the_same_name_is_refused_and_one_can_be_taken_off(spiled):
    post(spiled, **BOARD)
    assert "is in the rack already" in post(spiled, **{**BOARD, "length": "4000"}).text
    assert post(spiled, do="forget", board="A1").status_code == 303
    assert "0 boards in the rack" in spiled.get("/timber").text
    assert post(spiled, do="forget", board="A1").status_code == 422


def test_names_are_shown_as_text(spiled):
    post(spiled, **{**BOARD, "name": "<b>x</b>"})
    assert "<b>x</b>" not in spiled.get("/timber").text


def test_a_builder_of_feet_and_inches(small):
    client = small(units="ft")
    store.keep_choice(client.app.state.boat.engine, "board", "B", mapping_of(rectangular("B", 3048, 203.2, 38.1)))
    text = client.get("/timber").text
    assert "10-0-0 long" in text
    assert "1.500 in thick" in text
    bare = post(client, do="add", name="C", length="120", width="0-8-0", thickness="0-1-4")
    assert "feet-inches-eighths are expected" in bare.text


def laid(client):
    """Board A1 with the strake laid on it."""
    post(client, **BOARD)
    post(client, do="shop", grain_run="0", seconds="600")
    laid_all(client)
    return client.get("/timber/try", params={"part": "strake 9"}).json()


def test_a_part_is_tried_and_told_what_it_breaks_and_nothing_is_stored(spiled):
    lies = laid(spiled)
    assert (lies["board"], lies["clear"], lies["tried"]) == ("A1", True, False)
    moved = spiled.get("/timber/try", params={"part": "strake 9", "by_x": "0", "by_y": "-2000"}).json()
    assert [one["what"] for one in moved["breaches"]] == ["wood"]
    assert (moved["clear"], moved["sawable"]) == (False, False)
    assert moved["lowest_mm"] == pytest.approx(lies["lowest_mm"] - 2000, abs=1e-3)
    assert "<svg" in moved["drawing"]
    assert "runs into wane" in moved["panel"]
    again = spiled.get("/timber/try", params={"part": "strake 9"}).json()
    assert (again["first_mm"], again["lowest_mm"]) == (lies["first_mm"], lies["lowest_mm"])


def test_the_nearest_clear_place_turned_and_turned_over(spiled):
    lies = laid(spiled)
    asked = {"part": "strake 9", "by_y": "-2000", "move": "nearest"}
    assert spiled.get("/timber/try", params=asked).json()["clear"]
    over = spiled.get("/timber/try", params={"part": "strake 9", "move": "face"}).json()
    assert over["fields"]["up"] != lies["fields"]["up"]
    left = spiled.get("/timber/try", params={"part": "strake 9", "move": "left"}).json()
    assert float(left["fields"]["turned"]) == pytest.approx(float(lies["fields"]["turned"]) + 0.1, abs=0.011)
    assert "turned: found" in spiled.get("/timber/try", params={"part": "strake 9", "turned": "much"}).json()["said"]
    # what the fields show is rounded, in feet to 1/16 in: left as they are, a button moves it from where it is
    step = {"part": "strake 9", "first": "1000.0", "at_x": "1000.04", "lowest": "60.0", "at_y": "60.03"}
    nudged = spiled.get("/timber/try", params={**step, "move": "lastward"}).json()
    assert (nudged["first_mm"], nudged["lowest_mm"]) == pytest.approx((1001.04, 60.03), abs=1e-3)


def test_a_part_put_by_hand_is_held_and_can_be_taken_back(spiled):
    laid(spiled)
    place = {"part": "strake 9", "board": "A1", "first": "1000mm"}
    assert post(spiled, do="put", **place).status_code == 303
    assert "Hold no part any longer (1 held)" in spiled.get("/timber").text
    now = spiled.get("/timber/try", params={"part": "strake 9"}).json()
    assert now["first_mm"] == pytest.approx(1000, abs=1e-3)
    laid_all(spiled)
    kept = spiled.get("/timber/try", params={"part": "strake 9"}).json()
    assert kept["first_mm"] == now["first_mm"]
    assert post(spiled, do="off", part="strake 9").status_code == 303
    assert "On no board yet" in spiled.get("/timber").text
    assert post(spiled, do="back").status_code == 303
    assert spiled.get("/timber/try", params={"part": "strake 9"}).json()["first_mm"] == kept["first_mm"]
    refused = post(spiled, do="put", part="strake 9", board="A1", lowest="-2000mm")
    assert refused.status_code == 422
    assert "cannot be cut there" in refused.text


def test_without_a_script_the_page_shows_the_trial(spiled):
    laid(spiled)
    text = spiled.get("/timber", params={"part": "strake 9", "board": "A1", "first": "5500"}).text
    assert "runs into wane, sapwood or an end" in text
    assert 'value="5500.0"' in text


def test_a_board_cut_is_one_act_and_can_be_put_right(spiled):
    laid(spiled)
    engine = spiled.app.state.boat.engine
    acts = len(store.acts(engine))
    assert post(spiled, do="cut", board="A1").status_code == 303
    assert len(store.acts(engine)) == acts + 1
    assert "has been cut already" in post(spiled, **BOARD).text
    assert post(spiled, do="uncut", board="A1").status_code == 303
    text = spiled.get("/timber").text
    assert '<b class="fig">1</b> of 1 parts' in text
    assert "out of date" not in text
    assert "Board A1 a" not in text


def test_an_off_cut_is_taken_off_the_rack_and_stays_off(spiled):
    laid(spiled)
    post(spiled, do="cut", board="A1")
    assert "Board A1 a" in spiled.get("/timber").text
    assert post(spiled, do="forget", board="A1 a").status_code == 303
    assert "Board A1 a" not in spiled.get("/timber").text


def test_sheets_of_the_boards(spiled):
    assert spiled.get("/timber/sheet.pdf", follow_redirects=False).headers["location"] == "/timber#laying"
    laid(spiled)
    assert spiled.get("/timber/sheet.pdf").content[:4] == b"%PDF"
    with zipfile.ZipFile(io.BytesIO(spiled.get("/timber/sheets.zip").content)) as pack:
        names = pack.namelist()
    assert {"boards-bench.pdf", "boards-cutting-list.csv", "boards-order.csv"} <= set(names)
    assert any(name.endswith(".dxf") for name in names)
    assert "/timber/sheet.pdf" in spiled.get("/sheets").text


def test_laminations_are_in_the_pack_unless_out_of_date(spiled):
    laid(spiled)
    engine, free = spiled.app.state.boat.engine, rectangular("F", 2400, 200, 80, timber="oak", cost=50.0)
    store.keep_choice(engine, "board", "F", mapping_of(free))
    laid_all(spiled)
    strips = FrameStrips("14", "", (StripOrder("oak", 4, 6.0, 8.0, 70.0, 1900.0, 0.004),))
    shop = Shop.from_mapping(store.choices(engine, "layout")["rules"])
    ripped = rip([free], [strips], shop, seconds=1.0)
    for made_from, there in ((rip_revision([free], {}, shop), True), ("of before", False)):
        store.keep_choice(engine, "layout", RIPPING, kept_ripping(replace(ripped, made_from=made_from)))
        with zipfile.ZipFile(io.BytesIO(spiled.get("/timber/sheets.zip").content)) as pack:
            names = set(pack.namelist())
        assert ({"laminations-bench.pdf", "laminations-rip.csv"} <= names) == there


def test_laminations_of_no_frame(spiled):
    reply = post(spiled, do="rip")
    assert reply.status_code == 422
    assert "no frame pair is designed yet" in reply.text
    assert spiled.get("/timber/laminations.pdf", follow_redirects=False).headers["location"] == "/timber#ripping"
