"""The pages of the work plan: from nothing to a plan, a day recorded, a hold point that holds, costs, the week."""

import re
from dataclasses import asdict
from datetime import datetime, timedelta
from types import SimpleNamespace

import pytest
from boats import HOME, MERGANSER, client_of, ready, until

from scrieve import store
from scrieve.boat import Boat
from scrieve.planking import PlankEnds, SpilingChoice, StrakeChoice, read_spiling
from scrieve.web import create_app
from scrieve.web.workplan import work as plan_work
from scrieve.workplan.status import RECORD


def post(client, path="/plan", **fields):
    return client.post(path, data=fields, headers={"origin": HOME}, follow_redirects=False)


@pytest.fixture
def yard(tmp_path, monkeypatch):
    """A boat of no marks with two spiled planks of far strakes, on a Monday morning."""
    engine = store.create(tmp_path / "s.boat", Boat("Small", thickness_mm=25.0))
    marks = [asdict(mark) for mark in read_spiling((MERGANSER / "spiling.csv").read_bytes(), "s.csv").batten.marks]
    for name in ("strake 3", "strake 9"):
        choice = asdict(SpilingChoice(name, 25.0, side="P"))
        store.keep_plank(engine, name, {"kind": "spiled", "choice": choice, "marks": marks})
    engine.dispose()
    monkeypatch.setattr(plan_work, "clock", lambda: datetime(2026, 3, 2, 7, 58))
    return client_of(ready(create_app(tmp_path / "s.boat")))


@pytest.fixture
def planned(yard):
    assert post(yard, "/plan/yard", do="aim", aim="finish", seconds="1", calm_days="0.5").status_code == 303
    assert post(yard, do="make").status_code == 303
    until(lambda: "Stop, with the best so far" not in yard.get("/plan").text, "still planning")
    return yard


def test_an_empty_boat_says_what_to_do(small):
    client = small()
    for path in ("/plan", "/plan/waits", "/plan/costs"):
        page = client.get(path)
        assert page.status_code == 200
        assert "Design a frame pair" in page.text
    assert post(client, do="make").status_code == 422
    assert client.get("/plan/week.pdf").headers["location"] == "/plan"


def test_a_plan_is_made_shown_and_printed(planned):
    page = planned.get("/plan").text
    assert "finish of all" in page
    assert re.search(r"no better is possible|at most \d+ % better", page)
    assert "<svg" in page
    assert "Remove nothing before the support beside it stands" in page
    assert planned.get("/plan/week.pdf").content.startswith(b"%PDF")
    assert "get out stock" in planned.get("/plan/today").text
    plan = plan_work.yard_of(planned.app.state.boat.engine)
    assert plan.seconds == 1


@pytest.mark.parametrize(
    ("now", "heading", "why"),
    [
        (datetime(2026, 3, 6, 16, 29), "Today, Friday 6 March", ""),
        (datetime(2026, 3, 6, 16, 30), "Next working day, Monday 9 March", "The shop shut at 16:30: this is what"),
        (datetime(2026, 3, 7, 9, 0), "Next working day, Monday 9 March", "The shop is closed today: this is what"),
    ],
)
def test_after_closing_time_and_on_a_day_off_the_next_working_days_list_is_shown(
    planned, monkeypatch, now, heading, why
):
    monkeypatch.setattr(plan_work, "clock", lambda: now)
    page = planned.get("/plan/today").text
    assert f"<h1>{heading}</h1>" in page
    assert (why in page) if why else ("this is what" not in page)
    asked = planned.get("/plan/today?day=2026-03-06").text
    assert "Friday 6 March</h1>" in asked
    assert "this is what" not in asked
    if now.hour == 16 and now.minute == 30:
        assert planned.get("/plan/week.pdf").headers["content-disposition"].endswith('"week-2026-03-09.pdf"')
        post(planned, "/plan/yard", do="person", name="Third hand", hull="yes", off="2026-03-06, 2026-03-09")
        monkeypatch.setattr(plan_work, "clock", lambda: datetime(2026, 3, 6, 8, 0))
        away = planned.get("/plan/today?who=Third+hand").text
        assert "Next working day, Tuesday 10 March</h1>" in away
        assert "Third hand is away today" in away
        assert "Today, Friday" in planned.get("/plan/today").text


def record(client, op, what, **more):
    return post(client, "/plan/work", op=op, what=what, **more)


def test_what_is_recorded_stands_and_a_hold_point_holds(planned):
    engine = planned.app.state.boat.engine
    assert record(planned, "plank strake 3: stock", "finished", minutes="1:45").status_code == 303
    [kept] = store.records(engine, RECORD)
    assert (kept.member, kept.detail["minutes"]) == ("plank strake 3", 105)
    assert sorted(kept.detail["people"]) == ["lead hand", "second hand"]
    log = planned.get("/log?member=plank+strake+3&what=work").text
    assert "get out stock: finished" in log
    assert "105 min" in log
    assert record(planned, "plank strake 3: shore", "finished").status_code == 303
    refused = record(planned, "plank strake 3: out", "begun")
    assert refused.status_code == 422
    assert "have it signed" in refused.text
    not_theirs = record(planned, "plank strake 3: shored", "signed", who="second hand")
    assert "may not sign hold points" in not_theirs.text
    assert record(planned, "plank strake 3: shored", "signed", who="lead hand").status_code == 303
    assert store.records(engine, RECORD)[-1].detail["signed_by"] == "lead hand (by name, no PIN)"
    book = planned.get("/log?what=work").text
    assert "lead hand (by name, no PIN)" in book[book.index("sign: shored, hull true: signed") :]
    assert "plank strake 3: prime" in record(planned, "plank strake 3: out", "begun").text, "the new one is not made"
    assert len(store.records(engine, RECORD)) == 3
    assert "stock settles to its moisture" in planned.get("/plan/waits?member=plank+strake+3").text
    assert record(planned, "plank strake 3: stock", "undone").status_code == 303
    assert "plank strake 3: stock" not in plan_work.done(store.records(engine))


def test_a_scarfed_planks_glue_is_waited_for(yard):
    """An end scarfed to its neighbour is glued as it is hung; two sheets of ply scarfed to one panel, at the bench."""
    engine = yard.app.state.boat.engine
    kept = store.planks(engine)["strake 3"]
    store.keep_plank(engine, "strake 3", kept | {"choice": kept["choice"] | {"ends": asdict(PlankEnds(last="scarf"))}})
    page = yard.get("/plan/waits?member=plank+strake+3").text
    assert "steam and hang, then cure in the clamps" in page
    assert "steam and hang, then cure to full strength" in page
    assert "cure in the clamps" not in yard.get("/plan/waits?member=plank+strake+9").text
    panel = SimpleNamespace(joints=("one",), choice=StrakeChoice("side", (), (), 9.0, build="panel"))
    assert plan_work._glued(panel) == ("bench",)
    assert plan_work._glued(SimpleNamespace(joints=(), choice=panel.choice)) == ()


def test_a_glue_up_recorded_at_the_bench_stands_done_in_the_plan(yard):
    engine = yard.app.state.boat.engine
    assert plan_work.done(store.records(engine)) == {}
    store.add_record(engine, "glue-up", "14", {"glue": "epoxy", "gross_g": 900.0})
    done = plan_work.done(store.records(engine))
    assert abs((done["frame 14: glue"].finished - datetime.now()).total_seconds()) < 300, "by the clock of the shop"
    assert "frame 14: release" not in done
    store.add_record(engine, "release", "14", {})
    assert plan_work.done(store.records(engine))["frame 14: release"].finished


def test_temperatures_read_in_the_shop_are_what_the_plan_waits_by(yard):
    """Of the logbook and a glue-up they are the shed's, of a look at the glue line that frame's; one put right counts
    as it was put right."""
    engine = yard.app.state.boat.engine
    assert "What was read in the shop" not in yard.get("/plan/yard").text
    post(yard, "/log", kind="conditions", text="cold", temperature="4")
    wrong = store.records(engine, "conditions")[-1].number
    post(yard, "/log", kind="conditions", text="not so cold", temperature="8", corrects=str(wrong))
    conditions = {"air_c": 12.0, "timber_c": 11.0, "glue_c": None}
    glued = store.add_record(engine, "glue-up", "14", {"glue": "epoxy", "conditions": conditions})
    store.add_record(engine, "curing", "14", {"glue_up": glued, "hour": 2.0, "glue_c": 25.0})
    read = plan_work.readings(store.records(engine))
    assert [(each.celsius, each.member) for each in read] == [(8, ""), (12, ""), (11, "frame 14"), (25, "frame 14")]
    assert read[-1].at - read[-2].at == timedelta(hours=2)
    page = yard.get("/plan/yard").text
    assert f"last 12 °C, {read[1].at:%a %-d %b %H:%M}" in page
    assert abs(read[0].at - datetime.now()) < timedelta(minutes=5), "by the clock of the shop"


def test_the_same_button_twice_is_one_record(planned):
    fields = {"op": "plank strake 9: stock", "what": "begun", "key": "abc"}
    assert post(planned, "/plan/work", **fields).status_code == 303
    again = post(planned, "/plan/work", **fields)
    assert again.status_code == 303
    assert len(store.records(planned.app.state.boat.engine, RECORD)) == 1


def test_the_yard_is_typed_and_what_cannot_be_comes_back_beside_it(planned):
    bad = post(planned, "/plan/yard", do="hours", Mon="8 to 25")
    assert bad.status_code == 422
    assert "ends before it begins" in bad.text
    assert post(planned, "/plan/yard", do="person", name="Third hand", hull="yes", off="2026-03-09 to 2026-03-13",
                cost="31.5").status_code == 303  # fmt: skip
    yard = plan_work.yard_of(planned.app.state.boat.engine)
    assert [len(p.off) for p in yard.people] == [0, 0, 5]
    assert yard.people[2].hour_cost == 31.5
    assert "has changed since this plan was made" in planned.get("/plan").text
    assert post(planned, "/plan/yard", do="times", **{"plank stock": "3 h"}).status_code == 303
    assert plan_work.yard_of(planned.app.state.boat.engine).minutes == {"plank stock": 180.0}


def test_costs_put_used_beside_planned(planned):
    assert post(planned, "/plan/costs", do="prices", **{"timber 0": "1000", "waste": "50"}).status_code == 303
    assert post(planned, "/plan/costs", do="used", what="planking", amount="0.02", who="lead hand").status_code == 303
    page = planned.get("/plan/costs").text
    pieces, _ = plan_work.materials(stand_of(planned), None, planks_of(planned))
    bought = sum(piece.volume_m3 for piece in pieces) / 0.5
    assert f"{1000 * bought:.2f}" in page
    assert "20.00" in page


def planks_of(client):
    return client.app.state.boat.state().kept.plank


def stand_of(client):
    boat = client.app.state.boat
    return plan_work.stand(boat.engine, boat.state().kept, None, planks_of(client))


def test_the_record_of_a_boat_without_a_hull_holds_what_was_written(yard):
    post(yard, "/log", kind="found", member="stem", text="sound to 900 mm")
    reply = yard.get("/log/record.pdf")
    assert (reply.status_code, reply.content[:5]) == (200, b"%PDF-")


def test_a_frame_that_may_stand_unknown_between_others_is_told():
    """Frames at every 300 mm, one of them without a mark; where it is to be made, or all are alike, nothing is told."""
    marks = [SimpleNamespace(frame=str(n), station_mm=300.0 * n) for n in (1, 2, 3, 5, 6, 7)]
    (said,) = plan_work.unknown_between(SimpleNamespace(marks=marks, frames={}))
    assert said.startswith("between frames 3 – 5 the hull's frames stand further apart")
    assert plan_work.unknown_between(SimpleNamespace(marks=marks, frames={"4": {"station_mm": 1200.0}})) == ()
    assert plan_work.unknown_between(SimpleNamespace(marks=marks[:3], frames={})) == ()
