"""Taking marks off on the page: every kind typed, pasted and as a file; what is refused, what is stored, once.

The small boat is a Wigley hull (boats.py): half-breadth B(x)·(1 − ((600 − z)/700)²), so each true place is known.
"""

import io
import json
import math
import re
import time
from dataclasses import replace
from pathlib import Path

import pytest
from boats import HOME, client_of, make_small, ready
from openpyxl import Workbook

from scrieve import store
from scrieve.boat import Boat
from scrieve.fairing.judging import Line, judge_by_hull
from scrieve.fairing.result import FairHull
from scrieve.takeoff.marks import Mark
from scrieve.takeoff.reading import read_taken
from scrieve.web import create_app
from scrieve.web.forms import MOST_PARCEL_BYTES
from scrieve.web.takeoff.forms import FORMS

HERE = {"Origin": HOME}
EXAMPLES = Path(__file__).parents[2] / "examples" / "formats"


def half_breadth(station, height):
    """Half-breadth of the small boat."""
    return 750.0 * (1 - (2 * station / 6000 - 1) ** 2) * (1 - ((600 - height) / 700) ** 2)


def offsets(rows, frame="9", station="3400", side="", **more):
    """Fields of the offsets form."""
    fields = {"way": "offsets", "frame": frame, "station": station, "side": side, "key": "k"} | more
    for n, row in enumerate(rows, start=1):
        fields |= {f"r{n}.{name}": str(text) for name, text in row.items()}
    return fields


def good_rows(heights=(100, 250, 400, 500), station=3400.0):
    return [{"height": z, "half_breadth": f"{half_breadth(station, z):.1f}"} for z in heights]


def marks_of(client):
    return store.marks(client.app.state.boat.engine)


def test_every_form_has_its_example_and_its_fields(pages):
    for way, form in FORMS.items():
        page = pages.get(f"/marks/new?way={way}&frame=14").text
        assert all(f'name="r1.{one.column}"' in page for one in form.row)
        for name in (f"{way}.csv", f"{way}.xlsx"):
            assert pages.get(f"/static/examples/{name}").content == (EXAMPLES / name).read_bytes()
            assert f'href="/static/examples/{name}"' in page
        assert not re.search(r"<script>|style=|\son\w+=\"", page)
        for field in re.findall(r"<input [^>]*data-length[^>]*>", page):
            assert 'inputmode="decimal"' in field


def test_an_unknown_way_is_told(pages):
    reply = pages.get("/marks/new?way=sonar")
    assert (reply.status_code, "sonar" in reply.text) == (422, True)


def test_typed_marks_are_stored_once(small):
    client = small()
    before = len(marks_of(client))
    fields = offsets(good_rows())
    reply = client.post("/marks/new", data=fields, headers=HERE)
    assert (reply.status_code, len(marks_of(client))) == (303, before + 4)
    again = client.post("/marks/new", data=fields, headers=HERE)
    assert (again.status_code, len(marks_of(client))) == (303, before + 4)
    page = client.get(reply.headers["location"]).text
    assert "4 marks on 1 frame stored." in page
    assert "in the boat already" in client.get(again.headers["location"]).text
    new = marks_of(client)[-1]
    assert (new.frame, new.station_mm, new.height_mm, new.line) == ("9", 3400.0, 500.0, 4)


def test_bad_rows_are_told_and_nothing_typed_is_lost(small):
    client = small()
    before = len(marks_of(client))
    fields = offsets([*good_rows(), {"height": "23-10", "half_breadth": "412"}])
    reply = client.post("/marks/new", data=fields, headers=HERE)
    assert (reply.status_code, len(marks_of(client))) == (422, before)
    assert "row 5, height: found &#34;23-10&#34;; expected mm or feet-inches-eighths such as 3-4-5." in reply.text
    for name, text in fields.items():
        if name.startswith("r") and name != "r":
            assert f'name="{name}" value="{text}"' in reply.text
    assert "Store the good rows (4), leave these" in reply.text
    left = client.post("/marks/new", data=fields | {"do": "good"}, headers=HERE)
    assert (left.status_code, len(marks_of(client))) == (200, before + 4)
    assert 'name="r5.height" value="23-10"' in left.text
    assert 'name="r1.height" value=""' in left.text


def test_a_likely_slip_is_asked_about_before_it_is_stored(small):
    client = small()
    before = len(marks_of(client))
    rows = good_rows()
    rows[2]["half_breadth"] = f"{half_breadth(3400.0, 400.0) + 304.8:.1f}"
    reply = client.post("/marks/new", data=offsets(rows), headers=HERE)
    assert (reply.status_code, len(marks_of(client))) == (422, before)
    assert "Likely a slip." in reply.text
    assert "Half-breadth a foot too great?" in reply.text
    kept = client.post("/marks/new", data=offsets(rows, do="anyway"), headers=HERE)
    assert (kept.status_code, len(marks_of(client))) == (303, before + 4)  # the builder decides


@pytest.mark.parametrize("way", ["offsets", "ordinates", "tapes", "templates", "arcs"])
def test_every_example_is_stored_from_a_file_and_told_by_its_columns(tmp_path, way):
    client = client_of(create_app(_new_boat(tmp_path)))
    data = (EXAMPLES / f"{way}.csv").read_bytes()
    reply = client.post("/marks/file", data={"key": "k"}, files={"file": (f"{way}.csv", data)}, headers=HERE)
    assert reply.status_code == 303, reply.text[:3000]
    stored = marks_of(client)
    assert {mark.way for mark in stored} == {way}
    sheet = (EXAMPLES / f"{way}.xlsx").read_bytes()  # the same as a spreadsheet holds nothing that is new
    again = client.post("/marks/file", data={"key": "x"}, files={"file": (f"{way}.xlsx", sheet)}, headers=HERE)
    assert (again.status_code, len(marks_of(client))) == (303, len(stored))
    if way != "offsets":
        assert f"Read as {FORMS[way].name.lower()}" in client.get(reply.headers["location"]).text


def _new_boat(folder):
    path = folder / "new.scrieve"
    store.create(path, Boat("New", sigma_mm=1.0)).dispose()
    return path


#: What the example files hold, typed: once, positions, and rows.
TYPED = {
    "ordinates": (
        {"from_height": "80", "from_half_breadth": "0", "to_height": "80", "to_half_breadth": "1000", "lies": "above",
         "edge": "floor", "end_sigma": "2"},
        {"mark": "m1", "along": "291", "off": "148.5"},
    ),
    "tapes": (
        {"lies": "in", "k1.nail": "A", "k1.nail_height": "-250", "k1.nail_half_breadth": "1050", "k2.nail": "B",
         "k2.nail_height": "1250", "k2.nail_half_breadth": "2100"},
        {"mark": "m1", "tape1": "778", "tape2": "1890"},
    ),
    "templates": (
        {"turned": "yes", "template": "bilge", "k1.mark": "WL", "k1.x": "-661.5", "k1.y": "353.5", "k1.height": "900",
         "k1.half_breadth": "1150", "k2.mark": "sheer line", "k2.x": "-1051", "k2.y": "834", "k2.height": "1500",
         "k2.half_breadth": "1300", "k3.mark": "plumb", "k3.x": "-78.5", "k3.y": "405", "k3.height": "700",
         "k3.half_breadth": "600"},
        {"mark": "m1", "x": "-267.5", "y": "100.5"},
    ),
    "arcs": (
        {"how": "offset", "lies": "out"},
        {"mark": "o0", "at_height": "1098.5", "at_half_breadth": "1250", "opening": "81.5"},
    ),
}  # fmt: skip


@pytest.mark.parametrize("way", TYPED)
def test_what_is_typed_gives_the_same_mark_as_the_file(tmp_path, way):
    client = client_of(create_app(_new_boat(tmp_path)))
    once, row = TYPED[way]
    fields = {"way": way, "frame": "14", "station": "3600", "side": "P", "key": "k"} | once
    fields |= {f"r1.{name}": text for name, text in row.items()}
    reply = client.post("/marks/new", data=fields, headers=HERE)
    assert reply.status_code == 303, re.findall(r"<li>.*", reply.text)
    (mine,) = marks_of(client)
    _, taken = read_taken((EXAMPLES / f"{way}.csv").read_bytes(), way)
    theirs = next(mark for mark in taken.marks if mark.label == row["mark"])
    assert (mine.height_mm, mine.half_breadth_mm) == pytest.approx((theirs.height_mm, theirs.half_breadth_mm), abs=1e-9)
    assert mine.way == way


def test_a_refused_spreadsheet_comes_back_as_text_to_be_put_right(small):
    client = small()
    before = len(marks_of(client))
    book, out = Workbook(), io.BytesIO()
    book.active.append(["frame", "station", "height", "half_breadth", "note"])
    for z in (100, 300, 500):
        book.active.append(["9", 3400, z, half_breadth(3400.0, z), "thick, grey paint"])
    book.active.append(["9", 3400, "x", 300])
    book.save(out)
    reply = client.post(
        "/marks/file", data={"key": "k"}, files={"file": ("my marks.xlsx", out.getvalue())}, headers=HERE
    )
    assert (reply.status_code, len(marks_of(client))) == (422, before)
    assert "my marks.xlsx line 5, height: found &#34;x&#34;" in reply.text
    text = re.search(r"<textarea[^>]*>(.*?)</textarea>", reply.text, re.S)[1].replace("&#34;", '"')
    assert '"thick, grey paint"' in text
    right = client.post(
        "/marks/file",
        data={"key": "k", "text": text.replace(",x,300", f",550,{half_breadth(3400.0, 550):.1f}")},
        headers=HERE,
    )
    assert (right.status_code, len(marks_of(client))) == (303, before + 4)


def test_good_rows_of_a_table_are_stored_and_the_whole_adds_the_rest_once(small):
    client = small()
    before = len(marks_of(client))
    head = "frame,station,height,half_breadth\n"
    rows = [f"9,3400,{z},{half_breadth(3400.0, z):.1f}" for z in (100, 300, 500)]
    bad = head + "\n".join([*rows, "9,3400,550,none"])
    reply = client.post("/marks/file", data={"key": "k", "text": bad, "do": "good"}, headers=HERE)
    assert (reply.status_code, len(marks_of(client))) == (303, before + 3)
    page = client.get(reply.headers["location"]).text
    assert "line 5, half_breadth: found &#34;none&#34;" in page
    whole = bad.replace("none", f"{half_breadth(3400.0, 550):.1f}")
    reply = client.post("/marks/file", data={"key": "k", "text": whole}, headers=HERE)
    assert len(marks_of(client)) == before + 4
    assert "3 rows are in the boat already" in client.get(reply.headers["location"]).text
    client.post("/marks/file", data={"key": "k", "text": whole, "second": "yes"}, headers=HERE)
    assert len(marks_of(client)) == before + 8


def test_traps_are_told_of_what_was_stored(small):
    client = small()
    rows = "frame,station,height,half_breadth\n" + "".join(
        f"1,600,{z},{half_breadth(600.0, z) + 30:.1f}\n" for z in (310,)
    )
    twice = "frame,station,height,half_breadth,mark\n4,3000,300,620,\n4,3000,300,620,\n"
    reply = client.post("/marks/file", data={"text": twice, "key": "k", "do": "anyway"}, headers=HERE)
    page = client.get(reply.headers["location"]).text
    assert "Look at this" in page
    assert "lies within 1 mm of" in page
    assert client.post("/marks/file", data={"text": rows, "key": "k2", "do": "anyway"}, headers=HERE).status_code == 303


def test_a_refused_file_is_told_where_the_page_opens_and_no_hand_is_chosen_unasked(tmp_path):
    rows = "".join(f"{n},{1000 * n},{side},{z},{half_breadth(1000.0 * n, z):.1f}\n"
                   for n in (1, 2, 3, 4, 5) for side in "PS" for z in (0, 200, 400, 600))  # fmt: skip
    store.create(tmp_path / "a.boat", Boat("Two hands")).dispose()
    client = client_of(ready(create_app(tmp_path / "a.boat")))
    head = "frame,station,side,height,half_breadth\n"
    client.post("/marks/file", data={"key": "k", "text": head + rows, "do": "anyway"}, headers=HERE)
    page = client.get("/marks/new").text
    assert 'action="/marks/file#table"' in page  # the refusal stands there, below the form that is typed
    refused = client.post("/marks/file", files={"file": ("e.csv", b" \n")}, headers=HERE)
    assert refused.status_code == 422
    assert "e.csv: the file is empty" in refused.text
    assert '<option value="?" selected>choose…</option>' in refused.text
    board = client.post("/marks/bevels", files={"file": ("b.csv", b"")}, headers=HERE)
    assert "b.csv: the file is empty" in board.text


def test_five_megabytes_are_the_most(small):
    client = small()
    reply = client.post("/marks/file", files={"file": ("big.csv", b"x" * (MOST_PARCEL_BYTES + 1))}, headers=HERE)
    assert reply.status_code == 413
    assert "More than 5 MB were sent; nothing was stored. Split the file" in reply.text
    assert (
        client.post("/marks/answer", data={"note": "x" * 65_000}, headers=HERE).status_code == 413
    )  # others stay small


def test_forms_of_elsewhere_and_broken_ones_are_refused(small):
    client = small()
    before = len(marks_of(client))
    elsewhere = {"Origin": "http://elsewhere.example"}
    for path in ("/marks/new", "/marks/file", "/api/judge"):
        assert client.post(path, data=offsets(good_rows()), headers=elsewhere).status_code == 403
        assert client.post(path, content=b"{}", headers=HERE | {"Content-Type": "application/json"}).status_code == 415
        broken = HERE | {"Content-Type": "multipart/form-data; boundary=aa"}
        for body in (b"", b"--aa\r\nno head", b"--aa\r\nContent-Disposition: x\r\n\r\n1\r\n--aa--"):
            assert client.post(path, content=body, headers=broken).status_code == 400
    assert len(marks_of(client)) == before


def test_a_file_of_bytes_comes_through_as_it_is(small):
    """A boundary's look-alikes, bare line ends and nulls are part of the file."""
    client = small()
    body = b"PK\x03\x04\r\n--other\r\n\x00\n\r\xff"
    reply = client.post("/marks/file", files={"file": ("a.xlsx", body)}, headers=HERE)
    assert (reply.status_code, "neither a CSV nor an XLSX file" in reply.text) == (422, True)


@pytest.fixture
def judge(small):
    """Judge typed rows on the small boat; gives the rows' answers."""
    client = small()

    def ask(rows, **more):
        reply = client.post("/api/judge", data=offsets(rows, **more), headers=HERE)
        assert reply.status_code == 200
        return reply.json()

    return ask


def test_a_mark_on_the_true_line_is_good_and_one_off_it_is_measured(judge):
    """Square to a Wigley section the miss of a level step d is d·cos(slope), the slope from the closed form."""
    rows = good_rows()
    step = 4.0
    rows[1]["half_breadth"] = f"{half_breadth(3400.0, 250.0) + step:.1f}"
    found = judge(rows)["rows"]
    assert {row["state"] for row in (found["1"], found["3"], found["4"])} == {"good"}
    slope = (half_breadth(3400.0, 251.0) - half_breadth(3400.0, 249.0)) / 2
    assert found["2"]["off_mm"] == pytest.approx(step / (1 + slope**2) ** 0.5, abs=0.7)
    assert found["2"]["expected_sd_mm"] == pytest.approx(
        (found["2"]["mark_sd_mm"] ** 2 + found["2"]["line_sd_mm"] ** 2) ** 0.5
    )
    assert "outside the fair line, ± " in found["2"]["words"]


@pytest.mark.parametrize(
    ("height", "out", "words"),
    [(0.0, 304.8, "half-breadth a foot too great?"), (0.0, -25.4, "half-breadth an inch too small?"),
     (300.0, 0.0, "300 mm")],
)  # fmt: skip
def test_a_slip_is_named_while_it_is_typed(judge, height, out, words):
    z = 300.0
    row = {"height": f"{z + height}", "half_breadth": f"{half_breadth(3400.0, z) + out:.1f}"}
    found = judge([row])["rows"]["1"]
    assert found["state"] == "slip"
    assert words in " ".join(found["guesses"])
    assert found["title"] == "Likely a slip"


def written_wrongly(kind):
    """A mark of the small boat (closed form above), written down wrongly in one of the ways of the hand."""
    height, half = 270, round(half_breadth(3400.0, 270.0))
    figures = str(half)
    return {
        "half-breadth: two figures changed over?": (height, figures[:-2] + figures[:-3:-1]),
        "height: a minus too much?": (-height, half),
        "half-breadth: the last figure left out?": (height, figures[:-1]),
        "half-breadth: a figure too many?": (height, figures[0] + figures),
        "both written in cm?": (height / 10, half / 10),
        "both written in inches?": (round(height / 25.4, 2), round(half / 25.4, 2)),
    }[kind]


@pytest.mark.parametrize(
    "words",
    ["half-breadth: two figures changed over?", "height: a minus too much?", "half-breadth: the last figure left out?",
     "half-breadth: a figure too many?", "both written in cm?", "both written in inches?"],
)  # fmt: skip
def test_figures_written_down_wrongly_are_named_while_they_are_typed(judge, words):
    height, half = written_wrongly(words)
    found = judge([{"height": height, "half_breadth": half}])["rows"]["1"]
    assert (found["state"], found["guesses"]) == ("slip", [words])


def test_a_half_breadth_below_zero_asks_for_the_side(judge):
    found = judge([{"height": 300, "half_breadth": -400}])["rows"]["1"]
    assert found["state"] == "bad"
    assert "give it above zero and the side as P or S" in found["words"]


def test_a_plain_mark_called_the_heel_is_told_so(judge):
    found = judge([{"height": 300, "half_breadth": f"{half_breadth(3400.0, 300.0):.1f}", "kind": "heel"}])["rows"]["1"]
    assert (found["state"], found["guesses"]) == ("slip", ["not the heel? As a plain mark it lies on the line."])


def test_columns_changed_over_are_named(judge):
    z = 200.0
    row = {"height": f"{half_breadth(3400.0, z):.1f}", "half_breadth": f"{z}"}
    assert judge([row])["rows"]["1"]["guesses"][0] == "height and half-breadth changed over?"


def test_a_slip_of_one_tape_is_named_by_its_tape(small):
    client = small()
    y, z = half_breadth(3400.0, 300.0), 300.0
    nails = [(700.0, 1500.0), (-300.0, 1300.0)]  # height, half-breadth
    tapes = [((z - h) ** 2 + (y - b) ** 2) ** 0.5 for h, b in nails]
    fields = {"way": "tapes", "frame": "9", "station": "3400", "lies": "in", "r1.mark": "a"}
    for n, ((h, b), tape) in enumerate(zip(nails, tapes, strict=True), start=1):
        fields |= {f"k{n}.nail": "AB"[n - 1], f"k{n}.nail_height": f"{h}", f"k{n}.nail_half_breadth": f"{b}",
                   f"r1.tape{n}": f"{tape + (100 if n == 2 else 0):.1f}"}  # fmt: skip
    found = client.post("/api/judge", data=fields, headers=HERE).json()["rows"]["1"]
    assert found["state"] == "slip"
    assert "tape from B 100 mm too great" in found["guesses"][0]


def test_rows_still_being_typed_are_passed_over(judge):
    found = judge([{"height": "100"}, {"mark": "WL 2"}, {"height": "abc", "half_breadth": "1"}])["rows"]
    assert list(found) == ["3"]
    assert (found["3"]["state"], found["3"]["words"][:21]) == ("bad", 'Height: found "abc"; ')


def test_a_trap_is_told_while_typing(judge):
    row = {"height": "200", "half_breadth": f"{half_breadth(3400.0, 200.0):.1f}"}
    found = judge([row, row], station="3000", frame="4")["rows"]
    assert found["2"]["state"] != "good"
    assert "lies within 1 mm" in " ".join(found["2"]["doubts"]).lower()


def test_with_no_hull_yet_the_frames_own_marks_judge_and_the_page_says_so(tmp_path):
    client = client_of(create_app(make_small(tmp_path / "few.scrieve", frames=2)))
    rows = good_rows((50, 130, 210, 290, 370, 450, 530), 3400.0)
    rows[3]["half_breadth"] = f"{half_breadth(3400.0, 290.0) - 100:.1f}"
    found = client.post("/api/judge", data=offsets(rows), headers=HERE).json()
    assert "frame's own marks and the traps alone" in found["note"]
    states = {number: row["state"] for number, row in found["rows"].items()}
    assert states.pop("4") == "slip"
    assert set(states.values()) == {"good"}
    few = client.post("/api/judge", data=offsets(rows[:3]), headers=HERE).json()["rows"]["1"]
    assert few["state"] == "unjudged"


def test_the_hull_at_hand_judges_and_none_is_faired(small, monkeypatch):
    """A bound ten times what it takes, so that a busy machine does not fail it (docs/taking-off.md has the figure)."""
    client = small()
    monkeypatch.setattr("scrieve.web.boatfile.Kept.hull", lambda *_: pytest.fail("faired anew"))
    best = min(_timed(client) for _ in range(5))
    assert best < 0.5


def _timed(client):
    begun = time.perf_counter()
    assert client.post("/api/judge", data=offsets(good_rows()), headers=HERE).status_code == 200
    return time.perf_counter() - begun


def test_while_a_new_hull_is_made_the_one_before_judges(small):
    """Also where nobody typed a mark since that one was made, but marks came in by another way."""
    client = small()
    boat = client.app.state.boat
    store.add_marks(boat.engine, [Mark("9", 3400.0, 250.0, half_breadth(3400.0, 250.0))])
    boat.fairing = lambda state, patience_s=0.0: type("Making", (), {"hull": None, "error": None})()
    found = client.post("/api/judge", data=offsets(good_rows((150,)), frame="10", station="3500"), headers=HERE).json()
    assert found["note"].startswith("Judged against the fair hull")


def test_outside_of_planking_a_mark_is_judged_where_it_was_taken(small):
    """The line is set out by the planking, so a good mark of this hull stays good."""
    client = small()
    boat = client.app.state.boat
    hull: FairHull = boat.fairing(boat.state()).hull
    outside = replace(hull, boat=replace(hull.boat, planking="outside", thickness_mm=20.0))
    on_line = Mark("9", 3400.0, 300.0, half_breadth(3400.0, 300.0))
    assert judge_by_hull(on_line, Line(hull, 3400.0)).off_mm == pytest.approx(0, abs=0.7)
    assert judge_by_hull(on_line, Line(outside, 3400.0)).off_mm == pytest.approx(-20, abs=1.0)  # t / cos β, β under 8°


def test_the_receipt_outlives_the_program_but_for_the_readers_remarks(small):
    client = small()
    where = client.post("/marks/new", data=offsets(good_rows()), headers=HERE).headers["location"]
    page = client.get(re.sub(r"receipt=\w+", "receipt=gone", where)).text
    assert "4 marks on 1 frame stored." in page
    assert client.get("/marks/stored?numbers=1-x").status_code == 422


def test_json_has_no_number_that_is_none(judge):
    json.dumps(judge(good_rows()), allow_nan=False)


def pasted(rows, **more):
    """Fields of a pasted table of offsets: frame, station, height, half-breadth."""
    lines = ["frame,station,mark,height,half_breadth", *(",".join(map(str, row)) for row in rows)]
    return {"text": "\n".join(lines) + "\n", "key": "p"} | more


def table_rows(frame="9", station=3400.0, heights=(0, 100, 200, 300, 400, 500, 600)):
    return [[frame, station, f"WL {z}", z, round(half_breadth(station, z), 1)] for z in heights]


def test_likely_slips_of_a_pasted_table_are_asked_about_row_by_row(small):
    client = small()
    before = len(marks_of(client))
    rows = table_rows()
    rows[3][4] += 304.8
    rows[5][3] += 100
    page = client.post("/marks/file", data=pasted(rows), headers=HERE)
    assert (page.status_code, len(marks_of(client))) == (422, before)
    assert "2 rows of <bdi>the pasted table</bdi> are likely slips" in page.text
    foot = page.text.split("Row 5</strong>")[1].split("</fieldset>")[0]  # line 5 of the text: the head is line 1
    assert "frame 9, WL 300" in foot
    said = re.search(r"(\d+\.\d) mm outside the fair line, ± \d\.\d mm expected", foot)
    nearest = min(math.hypot(rows[3][4] - half_breadth(3400.0, z), 300 - z) for z in range(601))  # of the closed form
    assert float(said[1]) == pytest.approx(nearest, abs=2)
    assert "a foot too great?" in foot
    assert "σ_mark² + σ_line²" in foot
    assert "WL 300,300," in page.text  # and the table comes back to be put right
    half = client.post("/marks/file", data=pasted(rows, **{"row.5": "leave"}), headers=HERE)
    assert (half.status_code, len(marks_of(client))) == (422, before)
    answers = {"row.5": "leave", "row.7": "keep"}
    stored = client.post("/marks/file", data=pasted(rows, **answers), headers=HERE)
    assert (stored.status_code, len(marks_of(client))) == (303, before + 6)
    assert "Left out as answered: 1." in client.get(stored.headers["location"]).text
    kept = [number for number, what in store.answers(client.app.state.boat.engine).items() if what == "keep"]
    assert [mark.label for mark in marks_of(client) if mark.number in kept] == ["WL 500"]


def test_a_pasted_table_is_stored_as_it_is_when_asked_to_or_when_nothing_is_doubted(small):
    client = small()
    before = len(marks_of(client))
    assert client.post("/marks/file", data=pasted(table_rows()), headers=HERE).status_code == 303
    wild = table_rows("10", 3500.0)
    wild[2][4] += 200
    assert client.post("/marks/file", data=pasted(wild), headers=HERE).status_code == 422
    assert client.post("/marks/file", data=pasted(wild, do="anyway"), headers=HERE).status_code == 303
    assert len(marks_of(client)) == before + 14


def test_why_a_table_is_judged_by_its_frames_alone_stands_beside_the_slips(small):
    client = small()
    rows = [row for n in range(3) for row in table_rows(f"2{n}", 6500.0 + 500 * n, range(0, 601, 50))]
    for row in rows:
        row[4] = round(half_breadth(3400.0, row[3]) - row[1] / 100, 1)  # past the last frame: no hull reaches there
    rows[2][4] += 304.8
    text = "frame,station,mark,height,half_breadth,kind\n" + "".join(
        ",".join(map(str, row)) + (",knuckle" if row[0] != "22" and row[2] == "WL 300" else ",") + "\n" for row in rows
    )
    page = client.post("/marks/file", data={"text": text, "way": "offsets"}, headers=HERE)
    assert page.status_code == 422
    assert "judged by its own marks alone, for no hull can be faired: the knuckle" in page.text
    assert "is marked on too few frames (20, 21)" in page.text


def test_of_many_cells_that_say_the_same_the_page_tells_a_few_and_the_lines_of_the_others(small):
    rows = [["9", 3400.0, f"WL {n}", f"{n}x", 300.0] for n in range(80)]
    page = small().post("/marks/file", data=pasted(rows), headers=HERE)
    assert page.status_code == 422
    assert "80 things to put right" in page.text
    assert page.text.count("<li>the pasted table line") == 3
    assert "77 more like these of height, in the lines 5 to 81." in page.text


def test_the_working_of_a_judged_row_is_told(judge):
    found = judge(good_rows((250,)))["rows"]["1"]["workings"][0]
    assert found["value"].endswith(" sd")
    assert dict(found["inputs"])["mark's own error"].endswith(" mm")
    assert "over 4: likely a slip" in found["caution"]


def test_a_likely_slip_that_was_typed_is_answered_beside_its_row(small):
    client = small()
    before = len(marks_of(client))
    rows = good_rows()
    rows[1]["half_breadth"] = f"{float(rows[1]['half_breadth']) + 304.8:.1f}"
    page = client.post("/marks/new", data=offsets(rows), headers=HERE)
    assert (page.status_code, len(marks_of(client))) == (422, before)
    assert re.findall(r'name="(row\.\d+)" value="leave"', page.text) == ["row.2"]
    left = client.post("/marks/new", data=offsets(rows, **{"row.2": "leave"}), headers=HERE)
    assert (left.status_code, len(marks_of(client))) == (303, before + 3)
    kept = client.post("/marks/new", data=offsets(rows, **{"row.2": "keep"}), headers=HERE)
    assert (kept.status_code, len(marks_of(client))) == (303, before + 4)
    assert list(store.answers(client.app.state.boat.engine).values()) == ["keep"]


def test_the_receipt_repeats_what_was_said_of_a_slip_that_is_stored(small):
    client = small()
    rows = good_rows()
    rows[1]["half_breadth"] = f"{float(rows[1]['half_breadth']) + 304.8:.1f}"

    def receipt(reply):
        assert reply.status_code == 303
        return client.get(reply.headers["location"]).text.split("<h2>Marks</h2>")[0]

    doubted = receipt(client.post("/marks/new", data=offsets(rows, **{"row.2": "store"}), headers=HERE))
    assert "stored to be doubted" in doubted
    assert "foot too great?" in doubted
    assert "nothing to say" not in doubted
    table = table_rows("10", 3500.0)
    table[3][4] += 304.8
    kept = receipt(client.post("/marks/file", data=pasted(table, **{"row.5": "keep"}), headers=HERE))
    assert "frame 10, WL 300, stored and kept: " in kept
    unasked = receipt(client.post("/marks/file", data=pasted(table_rows("11", 3600.0), do="anyway"), headers=HERE))
    assert "how they lie to the fair line is told under Fairing" in unasked  # they were not judged: nothing is claimed
    good = receipt(client.post("/marks/file", data=pasted(table_rows("12", 3300.0)), headers=HERE))
    assert "No likely slip is among them" in good
