"""What needs attention stands first on the boat's page, each thing leading to where it is seen to."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime, timedelta

import numpy as np
import pytest
from boats import ready
from starlette.requests import Request

from scrieve import store
from scrieve.athand import AtHand
from scrieve.fairing import Dent
from scrieve.frames.design import FrameChoice
from scrieve.sheets.drawing import Hatch
from scrieve.web.boat.attention import attention
from scrieve.web.boat.pages import hull_drawings, with_states
from scrieve.web.frames.progress import Progress
from scrieve.web.views import View
from scrieve.web.workplan import work as plan_work
from scrieve.workplan.members import on_jigs
from scrieve.workplan.plan import Entry, Plan
from scrieve.workplan.status import detail_of
from scrieve.workplan.yard import Yard

HERE = {"Origin": "http://127.0.0.1:8777"}


def _view(client) -> View:
    scope = {"type": "http", "method": "GET", "path": "/", "query_string": b"", "headers": [], "app": client.app}
    return View(Request(scope))


def test_a_suspect_mark_is_told_until_it_is_answered(small):
    client = small(slip_mm=150.0)
    page = client.get("/").text
    assert "<strong>One suspect mark</strong>: frame 3; off the fair hull, not counted." in page
    assert page.index("What needs attention") < page.index("<figure"), "before the drawings"
    store.answer(client.app.state.boat.engine, 18, "drop")
    boat = client.app.state.boat
    boat.fairing(boat.state(), patience_s=60)
    assert "One suspect mark" not in client.get("/").text


def _dented(monkeypatch):
    """Frame 3 stands in, whatever was found of the same hull before and kept at hand."""
    dent = Dent("3", "", 1200.0, ("2", "4"), (13, 14, 15), False, off_mm=-6.0, most_mm=-9.0, sd_mm=0.8)
    monkeypatch.setattr("scrieve.web.fairing.dented._dented", AtHand(8))
    monkeypatch.setattr("scrieve.web.fairing.dented.dents", lambda hull: (dent,))


def test_a_dented_frame_is_told_in_the_builders_units(small, monkeypatch):
    _dented(monkeypatch)
    (matter,) = [each for each in attention(_view(small()), ()) if each.what.startswith("A dent")]
    assert "its marks 13 to 15 stand 6.0 mm inside of where frames 2 and 4" in matter.told
    assert matter.path == "/fairing?show=frame&frame=3#dents"


def test_a_dent_is_told_no_more_once_the_builder_has_said_that_the_hull_is_so(small, monkeypatch):
    _dented(monkeypatch)
    client = small()
    page = client.get("/").text
    assert '<input type="hidden" name="number" value="13 14 15">' in page
    reply = client.post("/marks/answer", data={"number": "13 14 15", "what": "keep", "back": "/"}, headers=HERE)
    assert reply.status_code == 303
    assert store.answers(client.app.state.boat.engine) == {13: "keep", 14: "keep", 15: "keep"}
    ready(client.app)
    assert "A dent, or a frame out of place" not in client.get("/").text
    assert "give the number of a mark" in client.post("/marks/answer", data={"number": "13 x"}, headers=HERE).text


@pytest.fixture
def glued(small):
    client = small()
    choice = FrameChoice("4", moulded_mm=30.0, lamination_mm=4.0, sided_mm=30.0, pitch_mm=160.0, trim_mm=50.0)
    engine = client.app.state.boat.engine
    store.keep_frame(engine, "4", {"choice": choice.to_mapping(), "station_mm": None})
    fields = {"frame": "4", "air": "18", "rh": "60", "name": "A. Hand"}
    reply = client.post("/glue-up/done", data=fields | {"back": "/glue-up?frame=4&air=18&rh=60"}, headers=HERE)
    assert reply.status_code == 303, reply.text
    return client


def test_a_frame_is_ready_to_release_once_its_hour_has_passed(glued):
    far = (Progress("4", "glued", "", 3, "measure it off the jig", "/release?frame=4"),)
    glued_at = datetime.fromisoformat(store.records(glued.app.state.boat.engine, "glue-up")[0].at)
    early, late = (attention(_view(glued), far, glued_at + timedelta(hours=h)) for h in (0.5, 500))
    assert "ready to release" not in " ".join(matter.what for matter in early)
    assert [(matter.what, matter.path) for matter in late if "release" in matter.what] == [
        ("Frame 4 is ready to release", "/release?frame=4#measure")
    ]
    released = (Progress("4", "released", "", 4, "", ""),)
    assert not [
        each for each in attention(_view(glued), released, glued_at + timedelta(hours=500)) if "ready" in each.what
    ]


def test_the_boats_page_and_the_plan_tell_the_same_of_a_frame_that_is_off_the_jig(glued):
    """Another glued on the only jig, or the plan told that it was released: it is off, and is still to be measured."""
    engine = glued.app.state.boat.engine
    far = (Progress("4", "glued", "", 3, "measure it off the jig", "/release?frame=4"),)
    later = datetime.fromisoformat(store.records(engine, "glue-up")[0].at) + timedelta(hours=500)

    def told():
        (matter,) = [each for each in attention(_view(glued), far, later) if each.what.startswith("Frame 4 is ")]
        stands = plan_work.done(store.records(engine), plan_work.yard_of(engine).jigs)
        return matter.what.removeprefix("Frame 4 is "), matter.told.split(",")[0], on_jigs(stands)

    assert told()[0::2] == ("ready to release", {"4": 1})
    store.add_record(engine, "glue-up", "6", {"glue": "epoxy"})
    assert told() == ("off the jig, not measured", "another frame has been glued on its jig since", {"6": 1})
    plan_work.keep_yard(engine, Yard(jigs=2))
    assert told()[0::2] == ("ready to release", {"4": 1, "6": 2})
    at = plan_work.clock() + timedelta(hours=1)
    store.add_record(engine, "work", "frame 4", detail_of("frame 4: release", "finished", at, ["Ada"], jig=1))
    assert told() == ("off the jig, not measured", f"it was released {at:%Y-%m-%d}", {"6": 2})
    store.add_record(engine, "work", "frame 4", detail_of("frame 4: rip", "finished", at, ["Ada"]))
    assert not [each for each in attention(_view(glued), far, later) if each.what.startswith("Frame 4 is ")]


def test_a_frame_glued_under_an_older_design_is_out_of_date(glued):
    engine = glued.app.state.boat.engine
    choice = FrameChoice("4", moulded_mm=34.0, lamination_mm=4.0, sided_mm=30.0, pitch_mm=160.0, trim_mm=50.0)
    assert "Frame 4 is out of date" not in glued.get("/").text
    store.keep_frame(engine, "4", {"choice": choice.to_mapping(), "station_mm": None})
    assert "Frame 4 is out of date" in glued.get("/").text


def test_a_hold_point_waits_when_all_before_it_is_finished(small):
    client = small()
    engine = client.app.state.boat.engine
    start = datetime(2026, 3, 2, 8)
    entries = tuple(
        Entry(f"frame 4: {kind}", start + timedelta(days=n), start + timedelta(days=n, hours=1), 4, ("lead hand",))
        for n, kind in enumerate(("release", "accept", "rip", "shore", "shored"))
    )
    plan = Plan(start, entries, "finish", 1.0, 1.0, 0.0, True, False, 1.0, "x", None)
    plan_work.keep_plan(engine, plan)

    def waiting() -> list[str]:
        return [m.told for m in attention(_view(client), (), start.astimezone()) if m.what.startswith("A hold point")]

    assert waiting() == [], "what is to be signed has not been done"
    detail = {"op": "frame 4: release", "what": "finished", "at": "2026-03-02T09:00", "people": ["lead hand"]}
    store.add_record(engine, "work", "frame 4", detail)
    assert waiting() == ["sign: measured shape accepted"]
    store.add_record(engine, "work", "frame 4", detail | {"op": "frame 4: shore"})
    assert waiting() == ["sign: measured shape accepted", "sign: shored, hull true"], "two rows of work, side by side"
    store.add_record(engine, "work", "frame 4", detail | {"op": "frame 4: accept", "what": "signed"})
    assert waiting() == ["sign: shored, hull true"]


def test_tiles_tell_the_step_by_letter_and_hatching(glued):
    page = glued.get("/").text
    assert 'class="tile step-3" href="/frames/4" aria-label="Frame 4: 7 marks, designed, glued"' in page
    assert "<em>G</em>" in page


def test_every_drawing_of_the_hull_hatches_what_is_begun_and_nothing_else(glued):
    figures = glued.get("/").text.split("<figure")[1:]
    assert len(figures) == 3
    assert all("ly-hatching" in figure for figure in figures), "frame 4 is glued: cross-hatched"
    boat = glued.app.state.boat
    drawings = hull_drawings(boat.state().kept, boat.fairing(boat.state()).hull)
    hull = boat.fairing(boat.state()).hull
    far = {"4": Progress("4", "glued", "", 3, "", ""), "5": Progress("5", "not designed", "", 0, "", "")}
    for (_, plain), (title, drawn) in zip(drawings, with_states(drawings, hull, far, dict(hull.stations)), strict=True):
        hatches = [item for item in drawn.items if isinstance(item, Hatch)]
        x = hull.stations["4"]
        middle = float(np.mean(hatches[0].polygon[:, 0]))
        assert {hatch.style for hatch in hatches} == {"cross"}
        assert len(drawn.items) - len(plain.items) == len(hatches) <= 2
        if title != "Body plan":
            assert middle == pytest.approx(x), "at the frame's own station"


def test_a_jig_proved_for_an_older_design_is_out_of_date(small):
    client = small()
    engine = client.app.state.boat.engine
    choice = FrameChoice("4", moulded_mm=30.0, lamination_mm=4.0, sided_mm=30.0, pitch_mm=160.0, trim_mm=50.0)
    store.keep_frame(engine, "4", {"choice": choice.to_mapping(), "station_mm": None})
    proved = {"frame": "4", "what": "proved"}
    assert client.post("/jig/bench", data=proved, headers=HERE).status_code == 303
    assert "Frame 4 is out of date" not in client.get("/").text
    store.keep_frame(engine, "4", {"choice": replace(choice, moulded_mm=34.0).to_mapping(), "station_mm": None})
    page = client.get("/").text
    assert "Frame 4 is out of date" in page
    assert "since the jig was proved: set and prove it again" in page
