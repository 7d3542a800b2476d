"""The bevel board on its page: pasted, sent or typed, kept once, held against the hull, taken back.

The small boat is a Wigley hull (boats.py): half-breadth Y = B(x)·v(z). Its bevel at (x, z) is atan of the slope fore
and aft, B′(x)·v(z), taken square to the section, ÷ √(1 + (B·v′)²): a closed form.
"""

import io
import math
import re

import pytest
from boats import HOME
from openpyxl import Workbook

from scrieve import store

HERE = {"Origin": HOME}
HEAD = ["frame", "mark", "height", "bevel", "face"]


def bevel_deg(station, height):
    """Bevel of the small boat towards aft."""
    b, slope = 750 * (1 - (station / 3000 - 1) ** 2), -750 * 2 * (station / 3000 - 1) / 3000
    v, rise = 1 - ((600 - height) / 700) ** 2, 2 * (600 - height) / 700**2
    return math.degrees(math.atan(slope * v / math.hypot(1, b * rise)))


def rows(out=0.0):
    """Four true bevels of frame 2, which stands at 1400 mm, from its fore face; `out` is added to the third."""
    true = {z: bevel_deg(1400, z) + (out if z == 300 else 0) for z in (100, 200, 300, 400)}
    return [["2", f"b{z}", z, round(bevel, 2), "fore"] for z, bevel in true.items()]


def pasted(found, **more):
    return {"text": "\n".join(",".join(map(str, row)) for row in [HEAD, *found]), "key": "k"} | more


def records(client):
    return store.records(client.app.state.boat.engine, "bevel board")


def figures(page):
    """Read, hull, its ± of 2 sd, and difference of each row of the table."""
    table = page.split("<h3>The bevel board beside the hull</h3>")[1].split("</table>")[0]
    cells = [re.findall(r"<td[^>]*>([^<]*)</td>", row) for row in table.split("<tr>")[2:]]
    return [[float(cell.replace("−", "-")) for cell in row[5:9]] for row in cells]


def test_a_pasted_board_is_kept_once_and_held_against_the_hull(small):
    client = small()
    reply = client.post("/marks/bevels", data=pasted(rows(8)), headers=HERE)
    assert (reply.status_code, len(records(client))) == (303, 1)
    page = client.get(reply.headers["location"]).text
    assert "4 bevels kept." in page
    assert "1 differs by more than 3.0°" in page
    assert page.count("look again</td>") == 1
    for (read, hull, doubt, off), z in zip(figures(page), (100, 200, 300, 400), strict=True):
        assert 0.05 < doubt < 0.5  # seven stations, 1 mm of error
        assert hull == pytest.approx(bevel_deg(1400, z), abs=1.5 * doubt + 0.1)  # 3 sd, and rounding
        assert off == pytest.approx(read - hull, abs=0.11)
    assert "<svg" in page
    assert "± of the hull&#39;s own bevel there" in page
    assert "JCGM 100:2008" in page
    assert "β_read − β_hull" in page
    again = client.post("/marks/bevels", data=pasted(rows(8)), headers=HERE)
    assert "Nothing new was kept" in client.get(again.headers["location"]).text
    assert len(records(client)) == 1


def test_a_spreadsheet_is_read_and_the_form_for_whole_tables_knows_a_bevel_board(small):
    client = small()
    book, out = Workbook(), io.BytesIO()
    for row in [HEAD, *rows()]:
        book.active.append(row)
    book.save(out)
    reply = client.post("/marks/file", files={"file": ("b.xlsx", out.getvalue())}, headers=HERE)
    assert (reply.status_code, reply.headers["location"].split("?")[0]) == (303, "/marks/bevels")
    assert "none differs by more than 3.0°" in client.get("/marks/bevels").text


def test_by_way_of_trial_nothing_is_kept(small):
    client = small()
    page = client.post("/marks/bevels", data=pasted(rows(8), do="judge"), headers=HERE).text
    assert "By way of trial" in page
    assert "1 differs by more than" in page
    assert "2,b300,300," in page
    assert records(client) == ()


def test_cells_that_cannot_be_read_come_back_and_the_good_rows_can_be_kept(small):
    client = small()
    bad = pasted([*rows(), ["2", "b500", 500, "wide", "fore"]])
    reply = client.post("/marks/bevels", data=bad, headers=HERE)
    assert (reply.status_code, records(client)) == (422, ())
    assert "the pasted table line 6, bevel: found &#34;wide&#34;" in reply.text
    assert "Keep the good rows (4)" in reply.text
    assert client.post("/marks/bevels", data=bad | {"do": "good"}, headers=HERE).status_code == 303
    assert len(records(client)[0].detail["bevels"]) == 4
    nothing = client.post("/marks/bevels", data={"text": " "}, headers=HERE)
    assert (nothing.status_code, "nothing was pasted" in nothing.text) == (422, True)


def test_bevels_are_typed_and_judged_and_of_one_place_the_later_stands(small):
    client = small()
    before = store.marks(client.app.state.boat.engine)
    fields = {"way": "bevels", "frame": "2", "face": "fore", "r1.mark": "a", "r1.height": "300", "r1.bevel": "40"}
    page = client.post("/marks/new", data=fields | {"do": "judge"}, headers=HERE).text
    assert "Differs." in page
    assert records(client) == ()
    bad = client.post("/marks/new", data=fields | {"r2.mark": "b", "r2.height": "x", "r2.bevel": "3"}, headers=HERE)
    assert (bad.status_code, records(client)) == (422, ())
    assert 'name="r2.height" value="x"' in bad.text
    assert client.post("/marks/new", data=fields, headers=HERE).status_code == 303
    fields["r1.bevel"] = f"{bevel_deg(1400, 300):.1f}"
    reply = client.post("/marks/new", data=fields, headers=HERE)
    page = client.get(reply.headers["location"]).text
    assert "1 bevel, " in page
    assert "none differs" in page
    assert store.marks(client.app.state.boat.engine) == before


def test_a_sending_is_taken_back(small):
    client = small()
    client.post("/marks/bevels", data=pasted(rows()), headers=HERE)
    number = records(client)[0].number
    assert client.post("/marks/bevels", data={"do": "back", "number": f"{number}"}, headers=HERE).status_code == 303
    assert "Nothing on the board yet." in client.get("/marks/bevels").text
    twice = client.post("/marks/bevels", data={"do": "back", "number": f"{number}"}, headers=HERE)
    assert (twice.status_code, "was it taken back before?" in twice.text) == (422, True)
    client.post("/marks/bevels", data=pasted(rows(), key="k2"), headers=HERE)
    assert len(records(client)) == 1


def test_a_frame_or_a_place_that_is_not_there_is_told(small):
    client = small()
    lost = [["2", "b9", 9000, 3, "fore"], ["77", "x", 300, 3, "fore"]]
    page = client.post("/marks/bevels", data=pasted(lost, do="judge"), headers=HERE).text
    assert "Not placed: line 2: bevel of frame 2: height 9000 mm, but the frame runs from" in page
    assert "Not placed: line 3: bevel of frame 77:" in page
