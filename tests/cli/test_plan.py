"""`scrieve plan` and `scrieve project`: a plan from nothing, what was done, the yard as JSON, a project of a file."""

import json
from dataclasses import asdict
from datetime import datetime
from pathlib import Path

import pytest

from scrieve import store
from scrieve.boat import Boat
from scrieve.planking import SpilingChoice, read_spiling
from scrieve.web.workplan import work as plan_work
from scrieve.workplan import Project, Task, write_project

SPILING = Path(__file__).parents[2] / "examples" / "merganser" / "spiling.csv"


@pytest.fixture
def boat(tmp_path, monkeypatch):
    """A boat with one spiled plank, on a Monday morning."""
    engine = store.create(tmp_path / "s.boat", Boat("Small", thickness_mm=25.0))
    marks = [asdict(mark) for mark in read_spiling(SPILING.read_bytes(), "s.csv").batten.marks]
    choice = asdict(SpilingChoice("strake 9", 25.0, side="P"))
    store.keep_plank(engine, "strake 9", {"kind": "spiled", "choice": choice, "marks": marks})
    engine.dispose()
    monkeypatch.setattr(plan_work, "clock", lambda: datetime(2026, 3, 2, 8))
    return tmp_path / "s.boat"


def test_without_a_plan_the_way_to_one_is_told(boat, run):
    said = run("plan", boat, "show")
    assert (said.code, said.out) == (1, "")
    assert "make one with 'scrieve plan BOAT make'" in said.err
    assert "the boat comes first: scrieve plan" in run("plan", "show", boat).err


def test_from_a_plan_to_what_was_done_and_a_plan_anew(boat, done, run):
    made = json.loads(done("plan", boat, "make", "--seconds", "1", "--json"))
    assert made["entries"][0][0] == "plank strake 9: stock"
    assert made["finish"] > "2026-03-16", "fourteen days for the stock to settle"
    today = json.loads(done("plan", boat, "today", "--who", "lead hand", "--json"))
    assert {"op": "plank strake 9: stock", "from": "2026-03-02T08:00:00", "to": "2026-03-02T09:00:00"} in (
        today["people"][0]["work"]
    )
    refused = run("plan", boat, "did", "plank strake 9: fasten", "begun")
    assert "waits for plank strake 9: hang" in refused.err
    assert "record 1" in done("plan", boat, "did", "plank strake 9: stock", "finished", "--took", "1:45")
    anew = json.loads(done("plan", boat, "make", "--seconds", "1", "--json"))
    assert "plank strake 9: stock" not in {entry[0] for entry in anew["entries"]}
    costs = json.loads(done("plan", boat, "costs", "--json"))
    assert {line["what"]: line["used"] for line in costs["lines"]}["time of lead hand"] == 1.75


def test_the_yard_goes_out_and_comes_back(boat, done, run, tmp_path):
    yard = json.loads(done("plan", boat, "yard", "--json"))
    yard["hull"]["sound_between"] = 3
    (tmp_path / "yard.json").write_text(json.dumps(yard))
    assert "3 sound frames between" in done("plan", boat, "yard", tmp_path / "yard.json")
    yard["hull"]["sound_between"] = 0  # two neighbours out at once
    (tmp_path / "yard.json").write_text(json.dumps(yard))
    said = run("plan", boat, "yard", tmp_path / "yard.json")
    assert (said.code, said.err) == (1, "scrieve: sound between: 0; give a whole number from 1 to 20.\n")
    assert "3 sound frames between" in done("plan", boat, "yard")


def test_a_project_of_a_file(done, run, tmp_path):
    tasks = Task(3, (1,), (2,)), Task(4, (1,)), Task(2, (0,))
    (tmp_path / "shed.sm").write_text(write_project(Project(tasks, (1,))))
    found = json.loads(done("project", tmp_path / "shed.sm", "--json"))
    assert (found["length"], found["proved"]) == (7, True)
    assert "expected a project in the .sm text format" in run("project", SPILING).err


def test_a_hold_point_is_signed_with_a_pin_where_the_yard_has_people_and_stands_in_the_book(boat, done, run, tmp_path):
    did = ("plan", boat, "did", "plank strake 9: shored", "signed", "--who", "Lead Hand")
    done("plan", boat, "did", "plank strake 9: shore", "finished", "--who", "lead hand")
    engine = store.open_boat(boat)
    store.people.add_person(engine, "lead hand", "keeper", "a long enough password")
    store.people.change_person(engine, "lead hand", pin="4711")
    (tmp_path / "pin").write_text("4711\n")
    assert "not the PIN of lead hand" in run(*did).err
    done(*did, "--pin-file", tmp_path / "pin")
    assert store.records(engine, "work")[-1].detail["signed_by"] == "lead hand"
    done("plan", boat, "did", "plank strake 9: shored", "undone")
    store.people.change_person(engine, "lead hand", pin="")
    assert "has no PIN yet" in run(*did).err
    engine.dispose()
