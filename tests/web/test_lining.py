"""Lining off in the pages: settings typed, stealers taken, butts judged and planned, a strake made a plank."""

import csv
import io
import re

import pytest
from boats import HOME, TestClient, client_of, make_merganser, ready, until, with_words

from scrieve import store
from scrieve.stock.board import rectangular
from scrieve.stock.forms import mapping_of
from scrieve.web import create_app

FROM_HERE = {"Origin": HOME}
SETTINGS = {
    "side": "port",
    "widest": "180",
    "narrowest": "60",
    "end_narrowest": "40",
    "thickness": "28",
    "rule": "equal",
}


@pytest.fixture(scope="module")
def path(tmp_path_factory):
    return make_merganser(tmp_path_factory.mktemp("lining") / "merganser.scrieve")


@pytest.fixture(scope="module")
def pages(path):
    with client_of(ready(create_app(path))) as client:
        yield client


def send(pages: TestClient, form: str = "settings", **given: str):
    return pages.post("/planks/lining", data={"side": "port", "form": form, **given}, headers=FROM_HERE)


def test_before_anything_is_chosen_the_form_stands_alone(pages):
    text = pages.get("/planks/lining?side=starboard").text
    assert 'action="/planks/lining"' in text
    assert "drawn out flat" not in text


def test_a_side_is_lined_off_stored_and_shown(pages, path):
    answer = send(pages, **SETTINGS)
    assert (answer.status_code, answer.headers["location"]) == (303, "/planks/lining?side=port#shell")
    text = pages.get("/planks/lining?side=port").text
    assert "13 strakes" in text
    assert "every limit kept" in text
    assert text.count("<svg") == 1
    engine = store.open_boat(path)
    assert store.choices(engine, "lining")["port"]["choice"]["widest_mm"] == 180
    engine.dispose()


def test_marks_come_as_a_table_and_add_up(pages):
    rows = [list(csv.reader(io.StringIO(pages.get(f"/planks/lining.csv?side=port&what={what}").text)))
            for what in ("girth", "widths")]  # fmt: skip
    girth, widths = rows
    assert girth[0][:3] == ["frame", "lower edge", "1/2"]
    for g, w in zip(girth[1:], widths[1:], strict=True):
        assert g[0] == w[0]
        assert sum(map(float, w[1:])) == pytest.approx(float(g[-1]) - float(g[1]), abs=7)  # 13 widths, each rounded


def test_what_cannot_be_is_told_beside_what_was_typed(pages):
    answer = send(pages, **{**SETTINGS, "widest": "50"})
    assert answer.status_code == 422
    assert "narrowest 60 mm is not under widest 50 mm" in answer.text
    assert 'name="widest" value="50"' in answer.text
    for slip, said in (("seam 9 14 812", "write it as"), ("seam 9, height: 14", "write it as"),
                       ("<b>9</b>, 40 below, height: 14 812, 18 790, 22 771", "&lt;b&gt;9")):  # fmt: skip
        answer = send(pages, **SETTINGS, kept=slip)
        assert answer.status_code == 422
        assert said in answer.text
        assert "<b>9" not in answer.text
    assert send(pages, **SETTINGS, stealers="5 up 14").status_code == 422
    assert send(pages, **{**SETTINGS, "side": "both"}).status_code == 422
    assert pages.get("/planks/lining.csv?side=port&what=nothing").status_code == 422
    assert send(pages, "nothing").status_code == 422


def test_a_seam_that_stays_is_kept(pages):
    widths = {row[0]: row for row in csv.reader(io.StringIO(pages.get("/planks/lining.csv?side=port&what=girth").text))}
    ends = list(widths)[1], list(widths)[-1]
    middle = list(widths)[len(widths) // 2]
    seam = ", ".join(f"{frame} {float(widths[frame][7]) + 4:.0f}" for frame in (ends[0], middle, ends[1]))
    assert send(pages, **SETTINGS, kept=f"old seam, 6 below, girth: {seam}").status_code == 303
    after = {row[0]: row for row in csv.reader(io.StringIO(pages.get("/planks/lining.csv?side=port&what=girth").text))}
    for frame in (ends[0], middle, ends[1]):
        assert float(after[frame][7]) == pytest.approx(float(widths[frame][7]) + 4, abs=1)
    assert f"old seam, 6 below, girth: {seam}" in pages.get("/planks/lining?side=port").text
    assert send(pages, **SETTINGS).status_code == 303


def test_stealers_are_proposed_and_taken(pages):
    narrow = {**SETTINGS, "side": "starboard", "widest": "130", "narrowest": "95", "end_narrowest": "80"}
    assert send(pages, **narrow).status_code == 303
    assert send(pages, "stealers", side="starboard").status_code == 303
    text = pages.get("/planks/lining?side=starboard").text
    assert "of them stealers" in text
    assert "every limit kept" in text
    assert re.search(r"\d+ forward \d+", text)


def test_a_region_above_a_plank_that_stays_takes_its_seam(pages, path):
    engine = store.open_boat(path)
    plank = store.choices(engine, "plank")["garboard"]["choice"]
    engine.dispose()
    region = {**SETTINGS, "side": "starboard", "stealers": "", "widest": "200", "narrowest": "60"}
    assert send(pages, **region, lower="Upper edge of garboard\r\n").status_code == 303
    text = pages.get("/planks/lining?side=starboard").text
    marks = plank["upper"]
    typed = ", ".join(f"{mark['frame']} {mark['value_mm']:.0f}" for mark in marks)
    assert f'name="lower" rows="2" spellcheck="false" placeholder="the rabbet">girth: {typed}</textarea>' in text
    girths = list(csv.reader(io.StringIO(pages.get("/planks/lining.csv?side=starboard&what=girth").text)))
    there = {row[0]: float(row[1]) for row in girths[1:]}
    assert [there[mark["frame"]] for mark in marks] == pytest.approx([mark["value_mm"] for mark in marks], abs=0.6)
    for what, said in (
        ("upper edge of strake 9", "was not drawn from seams"),
        ("upper edge of nothing", "are garboard"),
    ):
        answer = send(pages, **region, lower=what)
        assert (answer.status_code, said in answer.text) == (422, True)
        assert what in answer.text


def test_a_want_of_room_too_near_an_end_for_a_stealer_is_told(pages):
    seams = {"lower": "girth: 5 468, 10 498, 18 580, 26 625, 32 630, 38 618, 42 604",
             "upper": "girth: 5 928\n10 1004\n18 1182\n26 1276, 32 1272, 38 1216, 42 1153"}  # fmt: skip
    region = {**SETTINGS, **seams, "side": "starboard", "widest": "150", "narrowest": "120"}
    assert send(pages, **region).status_code == 303
    text = with_words(pages, "/planks/lining?side=starboard", "too near the end")
    assert "there is room for every strake" not in text
    assert re.search(r"At frame \d+ the strakes at their narrowest want \d+ mm of girth, and there are \d+ mm", text)
    checks = text.split('id="checks"')[1].split("</section>")[0]
    assert re.search(r"Seam marks.*?no mark stands out", checks, re.DOTALL)


def test_butts_are_judged_by_the_rules_chosen(pages):
    assert send(pages, "butts", do="check", rules="small yacht", there="3 14-15\n4 14-15").status_code == 303
    text = pages.get("/planks/lining?side=port").text
    breach = re.sub(r"<[^>]*>|\s+", " ", text.split('aria-label="Breaches"')[1].split("</table>")[0]).split("rule ")[1]
    assert " ".join(breach.split()) == (
        "strakes 3 and 4, bay 14-15 and bay 14-15 0 frame spaces 2 frame spaces adjacent strakes"
    )
    assert "a small-yacht builder" in text
    for slip, said in (({"there": "3 14-17"}, "no bay between two neighbours"), ({"there": "99 14-15"}, "strake 99"),
                       ({"renew": "x"}, "write them as"), ({"stock": "long"}, "long"), ({"rules": "mine"}, "not known"),
                       ({"seconds": "-1"}, "1 to 300"),
                       ({"unmarked": "20"}, "label and station")):  # fmt: skip
        answer = send(pages, "butts", **{"do": "check", "rules": "small yacht", **slip})
        assert (answer.status_code, said in answer.text) == (422, True), slip


def test_butts_are_planned_aside_and_kept(pages):
    asked = {"rules": "small yacht", "stock": "7000", "renew": "3-6", "there": "2 14-15", "seconds": "3"}
    assert send(pages, "butts", do="plan", **asked).status_code == 303
    text = with_words(pages, "/planks/lining?side=port", "Keep these butts")
    assert "5 butts; no plan with fewer" in text  # 12.4 m out of 7 m boards: one in each of four strakes, and the old
    assert send(pages, "butts", do="keep").status_code == 303
    text = pages.get("/planks/lining?side=port").text
    assert "5 butts that are there: every rule kept" in text
    assert "Keep these butts" not in text


def test_a_plan_is_stopped_with_the_best_so_far(pages):
    asked = {"rules": "army, usual frame spacing", "stock": "5000 x 30, 4000, 3500 x 9", "seconds": "100"}
    assert send(pages, "butts", do="plan", **asked).status_code == 303
    until(lambda: re.search("butts so far|Keep these", pages.get("/planks/lining?side=port").text))
    assert send(pages, "butts", do="stop").status_code == 303
    with_words(pages, "/planks/lining?side=port", "Keep these butts")


def test_a_strake_is_made_a_plank(pages, path):
    there = "5 20-21\n4 20-21\n6 22-24"
    assert send(pages, "butts", do="check", rules="small yacht", there=there).status_code == 303
    text = pages.get("/planks/lining?side=port&strake=5").text
    assert 'value="strake 5-2"' in text
    answer = send(pages, "plank", strake="5", which="2", name="strake 5-2")
    assert (answer.status_code, answer.headers["location"]) == (303, "/planks/strake%205-2")
    own = pages.get("/planks/strake%205-2").text
    assert "expanded from the hull" in own
    butts = own.split('<section id="butts"')[1].split("</section>")[0]
    assert "butt of the plank below, bay 20-21: 0 frame spaces; adjacent strakes, 2 frame spaces" in butts
    rows = [re.sub(r"<[^>]*>|\s+", " ", row).split() for row in butts.split("</table>")[0].split("<tr")[2:]]
    assert [(row[row.index("strake") + 1], " ".join(row[-2:])) for row in rows] == [
        ("4", "not ok"),
        ("6", "spaces ok"),
    ], rows
    assert "/planks/lining?side=port&amp;strake=4#strake" in butts
    assert "/planks/lining?side=port#butts" in butts
    text = pages.get("/planks/lining?side=port&strake=5").text
    assert "Made:" in text
    flat = text.split('id="shell"')[1].split("</svg>")[0]
    assert 'href="/planks/strake%205-2"' in flat  # the plank leads to its page, the rest of its strake to its making
    assert "strake=5#strake" in flat
    assert "plank strake 5-2, a plank" in flat
    engine = store.open_boat(path)
    detail = {"board": "A", "parts": ["strake 5-2"], "off_cuts": [], "made_from": "", "leaves": ""}
    cut = store.add_record(engine, "board cut", "A", detail)
    assert "plank strake 5-2, cut" in pages.get("/planks/lining?side=port").text
    store.add_record(engine, "board cut", "A", {"undone": True}, corrects=cut)
    engine.dispose()
    usual = pages.get("/planks/lining?side=port&strake=9").text.split('id="strake"')[1].split("</section>")[0]
    assert 'value="strake 9 port"' in usual  # a plank spiled long before is called strake 9
    again = send(pages, "plank", strake="5", which="1", name="garboard")
    assert again.status_code == 422
    assert "a plank &#39;garboard&#39; is there already" in again.text
    assert send(pages, "plank", strake="5", which="9", name="").status_code == 422


def test_fastenings_and_caulking(pages):
    answer = send(pages, "fastening", rule="two, three in wide planks", timber="oak, white", moulded="60", seam="inch",
                  cotton="12.5")  # fmt: skip
    assert answer.status_code == 303
    text = pages.get("/planks/lining?side=port").text
    assert "Wood Handbook eq. 8-10" in text
    assert "weighed on trial" in text
    answer = send(pages, "fastening", rule="two, three in wide planks", cotton="a lot", seam="inch")
    assert answer.status_code == 422
    assert "give grams" in answer.text


def test_widths_set_at_a_frame_are_held(pages):
    free = ", ".join(["-"] * 11)
    answer = send(pages, **{**SETTINGS, "strakes": "13"}, set_widths=f"14: 95, {free}, 150")
    assert answer.status_code == 303, answer.text
    rows = list(csv.reader(io.StringIO(pages.get("/planks/lining.csv?side=port&what=widths").text)))
    there = next(row for row in rows if row[0] == "14")
    assert (there[1], there[13]) == ("95", "150")
    assert "14: 95, -" in pages.get("/planks/lining?side=port").text
    assert "write the frame and the widths" in send(pages, **SETTINGS, set_widths="14 95").text
    assert send(pages, **SETTINGS).status_code == 303


def test_boards_to_hand_come_from_the_rack_and_joints_may_be_scarfs(pages, path):
    assert "no board in the rack" in send(pages, "butts", do="rack").text
    engine = store.open_boat(path)
    for name, size in {"A1": (5200, 240, 36), "A2": (5200, 250, 34), "B1": (3900, 230, 32), "thin": (6000, 300, 22),
                       "narrow": (6000, 60, 40)}.items():  # fmt: skip
        store.keep_choice(engine, "board", name, mapping_of(rectangular(name, *map(float, size))))
    answer = send(pages, "butts", do="rack", joint="glued, solid plank", opposite="14-15", keel="18-20")
    assert answer.status_code == 422  # 18-20 is no bay between neighbours
    assert "is no frame of this side and no bay between two neighbours" in answer.text
    assert send(pages, "butts", do="rack", joint="glued, solid plank", opposite="14-15").status_code == 303
    kept = store.choices(engine, "lining")["port"]["butts"]
    assert kept["stock"] == "3900 x 1, 5200 x 2"
    assert send(pages, "butts", do="check", joint="glued, solid plank", there="5 20-21").status_code == 303
    send(pages, "plank", strake="5", which="1", name="scarfed")
    choice = store.planks(engine)["scarfed"]["choice"]
    assert choice["ends"] == {"first": "hood", "last": "scarf", "scarf_slope": 12, "nib_mm": 0}
    engine.dispose()


def test_a_side_lined_off_for_clinker_has_nails_and_no_cotton(pages, path):
    try:
        clinker = {**SETTINGS, "build": "clinker", "lap": "30", "strakes": "14"}
        assert send(pages, **clinker).status_code == 303
        text = pages.get("/planks/lining?side=port").text
        assert "nails, and as many roves, to order" in text
        assert "litres" not in text
        assert "Thickness left at the land" in text
        assert "one every six" not in text
        assert "nails six thicknesses apart" in text
        send(pages, "plank", strake="3", which="1", name="lapped")
        engine = store.open_boat(path)
        choice = store.planks(engine)["lapped"]["choice"]
        engine.dispose()
        assert (choice["build"], choice["lap_mm"]) == ("clinker", 30)
        assert "say carvel or clinker" in send(pages, **{**clinker, "build": "strip"}).text
    finally:
        assert send(pages, **{**SETTINGS, "build": "carvel"}).status_code == 303


def test_scarfs_and_butts_stand_in_one_shell(pages):
    told = {"there": "3 14-15\n4 14-15 butt\n5 18-19", "joint": "glued, solid plank", "rules": "small yacht"}
    try:
        assert send(pages, "butts", do="check", **told).status_code == 303
        assert "strakes 3 and 4" in pages.get("/planks/lining?side=port").text  # a scarf beside a butt: as two butts
        both = told["there"].replace(" butt", "")
        assert send(pages, "butts", do="check", **{**told, "there": both}, shift="free").status_code == 303
        assert "every rule kept" in pages.get("/planks/lining?side=port").text
        assert "shift of scarfs &#39;any&#39;" in send(pages, "butts", do="check", **told, shift="any").text
    finally:
        send(pages, "butts", do="check", there="", joint="butt", shift="as butts")
