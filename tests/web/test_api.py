"""The JSON for scripts: what the document says is taken and answered, and what is sent twice stands once."""

from __future__ import annotations

import io
import json
import math
import re
from base64 import b64encode
from pathlib import Path

import ezdxf
import pytest
from boats import HOME, ready

from scrieve import store
from scrieve.jobs.work_plan import PLAN
from scrieve.stock.board import rectangular
from scrieve.stock.forms import mapping_of
from scrieve.web.api.document import document
from scrieve.web.people.rules import WRITES, rule

DOC = (Path(__file__).parents[2] / "docs" / "api.md").read_text(encoding="utf-8")


@pytest.fixture(scope="module")
def boat(tmp_path_factory):
    """A small boat that all tests here write to; its hull is faired again where a test asks for it."""
    from boats import client_of, make_small

    from scrieve.web import create_app

    path = make_small(tmp_path_factory.mktemp("api") / "small.scrieve", slip_mm=30.0)
    with client_of(ready(create_app(path))) as client:
        client.headers["origin"] = HOME
        yield client


def asked(client, path, **headers):
    ready(client.app)
    reply = client.get(path, headers=headers)
    assert reply.status_code == 200, f"{path}: {reply.text}"
    return reply.json()


def sent(client, path, body, status=200, **headers):
    ready(client.app)
    reply = client.post(path, json=body, headers=headers)
    assert reply.status_code == status, f"{path}: {reply.text}"
    return reply.json()


def examples():
    """Every body that the document gives as an example, in the order in which a frame is made."""
    found = document()
    for path, methods in found["paths"].items():
        if "post" in methods:
            name = methods["post"]["requestBody"]["content"]["application/json"]["schema"]["$ref"].rpartition("/")[2]
            yield path, found["components"]["schemas"][name]["examples"][0]


ORDER = ("/api/marks", "/api/answers", "/api/boat", "/api/choices", "/api/frames", "/api/planks", "/api/jig/setting",
         "/api/glue-up/sign", "/api/glue-up/done", "/api/glue-up/cure", "/api/release", "/api/fitted",
         "/api/plan/work", "/api/jobs", "/api/log", "/api/bevels", "/api/used", "/api/boards", "/api/fastenings",
         "/api/made-from", "/api/planks/file", "/api/readings", "/api/forget", "/api/undo")  # fmt: skip


def test_every_example_of_the_document_is_taken_and_what_it_stored_is_read_back(boat):
    bodies = dict(examples())
    assert set(bodies) == set(ORDER)
    for path in ORDER:
        body = bodies[path]
        if path == "/api/glue-up/sign":
            card = asked(boat, "/api/glue-up?frame=3&air=18&rh=60")
            body = body | {"stop": card["stops"][0]["key"]}
        if path == "/api/boards":
            board = mapping_of(rectangular("B1", 4000, 200, 50, timber="larch"))
            sent(boat, "/api/choices", {"part": "board", "name": "B1", "choice": board})
        if path == "/api/undo":  # the plank forgotten just before
            assert [plank["name"] for plank in asked(boat, "/api/planks")["planks"]] == ["of a file"]
            acts = asked(boat, "/api/acts?limit=20")["acts"]  # a search may have ended since, and been stored
            body = {"acts": [next(act["number"] for act in acts if "trial" in str(act))]}
        sent(boat, path, body)
        if path == "/api/boards":
            sent(boat, "/api/choices", {"part": "board", "name": "B1", "choice": None})
    marks = {row["id"]: row for row in asked(boat, "/api/marks?after=49")["marks"]}
    assert set(marks) == {50, 51}
    taped = marks[51]["half_breadth_mm"], marks[51]["height_mm"]
    assert math.dist(taped, (1000, 0)) == pytest.approx(630, abs=0.01)  # the two tapes, from their nails
    assert math.dist(taped, (1000, 900)) == pytest.approx(764, abs=0.01)
    assert "630" in json.dumps(marks[51]["readings"])
    frame = next(row for row in asked(boat, "/api/frames")["frames"] if row["label"] == "3")
    assert frame["step"] == "fitted"
    assert asked(boat, "/api/frame?at=3")["design"]["choice"]["moulded_mm"] == 60
    assert {row["name"] for row in asked(boat, "/api/planks")["planks"]} == {"trial", "of a file"}
    assert asked(boat, "/api/choices?part=yard")["choices"]["fastenings of frame 3"] == {"s_mm": [100, 400, 700]}
    assert asked(boat, "/api/release?frame=3")["measured"][0]["verdict"] in ("within", "outside", "doubtful")
    assert asked(boat, "/api/boat")["settings"]["thickness_mm"] == 22
    assert asked(boat, "/api/choices?part=glue")["choices"]["epoxy"]["own"] == {"pot_life_min": 30}
    assert asked(boat, "/api/log?find=rot")["entries"][0]["text"].startswith("rot at the heel")
    assert {row["kind"] for row in asked(boat, "/api/records")["records"]} >= {"release", "glue-up", "fitted", "found"}


def test_everything_that_can_be_read_answers_with_finite_numbers(boat):
    given = {"at": "3", "frame": "3", "name": "trial", "part": "jig", "mark": "20", "height": "600",
             "half_breadth": "700", "what": "plan"}  # fmt: skip
    if not asked(boat, "/api/planks")["planks"]:
        sent(boat, "/api/frames", dict(examples())["/api/frames"])
        sent(boat, "/api/planks", dict(examples())["/api/planks"])
    read = [(path, methods["get"]) for path, methods in document()["paths"].items() if "get" in methods]
    assert len(read) > 18
    for path, told in read:
        needed = [each["name"] for each in told.get("parameters", ()) if each.get("required")]
        text = json.dumps(asked(boat, path + "?" + "&".join(f"{name}={given[name]}" for name in needed)))
        assert not re.search(r"\b(NaN|-?Infinity)\b", text), path


def test_how_every_figure_of_the_tables_came_about_is_told_row_by_row_where_asked(boat):
    sent(boat, "/api/frames", dict(examples())["/api/frames"])
    jig = asked(boat, "/api/jig?frame=3&columns=true")
    told = jig["columns"]["setting"]["travel"]
    assert [float(each["value"].rpartition(" = ")[2].removesuffix(" mm")) for each in told] == [
        each["travel_mm"] for each in jig["brackets"]
    ]
    card = asked(boat, "/api/glue-up?frame=3&air=18&rh=60&columns=true")
    grams = [float(each["value"].rpartition(" = ")[2]) for each in card["columns"]["pots"]["g"]]
    assert grams == pytest.approx(card["pots_g"], abs=0.5)
    design = asked(boat, "/api/frame?at=3&columns=true")["design"]
    assert len(design["columns"]["laminations"]["thickness"]) == len(design["laminations"])
    assert set(asked(boat, "/api/release?frame=3&columns=true")["columns"]) >= {"strips", "cuts"}
    assert "columns" not in asked(boat, "/api/glue-up?frame=3&air=18&rh=60")


def test_a_script_on_the_same_machine_needs_no_header_of_a_browser(boat):
    """A browser says with every POST where it comes from (Fetch standard: Origin); what says nothing is no browser."""
    home = boat.headers.pop("origin")
    try:
        body = {"label": "5", "choice": {"timber": "larch"}, "keep": False}
        sent(boat, "/api/frames", body)
        sent(boat, "/api/frames", body, 403, origin="http://elsewhere.test")
        sent(boat, "/api/frames", body, 403, origin="null")
        sent(boat, "/api/frames", body, 403, **{"sec-fetch-site": "cross-site"})
        assert boat.post("/api/frames", content="{}", headers={"content-type": "text/plain"}).status_code == 415
    finally:
        boat.headers["origin"] = home


def test_a_trial_tells_what_would_come_of_it_and_stores_nothing(boat):
    before = asked(boat, "/api/boat")["act"]
    told = sent(boat, "/api/frames", {"label": "5", "choice": {"timber": "larch"}, "keep": False})
    assert 0 < told["springback"] < 1
    assert {check["name"] for check in told["checks"] if not check["ok"]} == set(told["unmet"])
    assert asked(boat, "/api/boat")["act"] == before


def test_what_the_yard_and_its_rules_say_is_kept_as_read_and_the_rest_stays(boat):
    for part, name, changed, wrong in (
        ("yard", "work yard", {"jigs": 2}, {"jigs": -1}),
        ("yard", "work prices", {"goods": {"glue": 12.0}}, {"goods": {"gold": 1.0}}),
        ("yard", "release", {"tolerance_mm": 2.5}, {"tolerance_mm": "wide"}),
        ("layout", "rules", {"kerf_mm": 5.0}, {"kerf_mm": -5.0}),
    ):
        sent(boat, "/api/choices", {"part": part, "name": name, "choice": changed})
        kept = asked(boat, f"/api/choices?part={part}")["choices"][name]
        assert {key: kept[key] for key in changed} == changed
        assert len(kept) > 1
        act = asked(boat, "/api/boat")["act"]
        sent(boat, "/api/choices", {"part": part, "name": name, "choice": wrong}, 422)
        assert asked(boat, "/api/boat")["act"] == act, (part, name)


def test_acts_are_listed_with_what_they_would_restore_taken_back_and_done_again(boat):
    sent(boat, "/api/log", {"text": "wet at the heel"})
    made = asked(boat, "/api/acts?limit=1")["acts"][0]
    assert made["cannot"] == ""
    assert made["restores"]
    back = sent(boat, "/api/undo", {"acts": [made["number"]]})
    assert back["undone"] == [made["number"]]
    assert not [e for e in asked(boat, "/api/records")["records"] if e["detail"].get("text") == "wet at the heel"]
    assert "taken back already" in sent(boat, "/api/undo", {"acts": [made["number"]]}, 422)["error"]
    sent(boat, "/api/undo", {"acts": [back["act"]]})
    assert [e for e in asked(boat, "/api/records")["records"] if e["detail"].get("text") == "wet at the heel"]


def test_the_work_is_planned_under_changes_side_by_side(boat):
    sent(boat, "/api/frames", {"label": "3", "choice": {}})
    sent(boat, "/api/jobs", {"what": "what-if", "do": "begin", "seconds": 1, "away": ""})
    while (told := asked(boat, "/api/jobs?what=what-if&wait_s=10"))["state"] in ("waiting", "running"):
        pass
    assert told["state"] == "done"
    assert len(told["changes"]) >= 3
    assert all(one["finish"] or one["why_not"] for one in told["changes"])


def test_a_search_is_begun_once_looked_at_and_stopped_with_the_best_so_far(boat):
    sent(boat, "/api/frames", {"label": "3", "choice": {}})
    if asked(boat, "/api/jobs?what=plan")["state"]:  # that of the document's example
        sent(boat, "/api/jobs", {"what": "plan", "do": "stop", "wait_s": 30})
    begun = sent(boat, "/api/jobs", {"what": "plan", "do": "begin", "day": "2031-05-05"})
    assert sent(boat, "/api/jobs", {"what": "plan", "do": "begin"})["id"] == begun["id"]
    assert begun["state"] in ("waiting", "running", "done")
    while (told := asked(boat, "/api/jobs?what=plan&wait_s=0.2"))["state"] in ("waiting", "running"):
        if told["best_days"] is not None:
            break
    ended = sent(boat, "/api/jobs", {"what": "plan", "do": "stop", "wait_s": 30})
    assert ended["id"] == begun["id"]
    assert ended["state"] in ("done", "stopped")
    assert {row["op"] for row in asked(boat, "/api/plan")["operations"]}
    assert asked(boat, "/api/plan")["finish"] > "2031-05-05"
    assert "no boards to lay" in sent(boat, "/api/jobs", {"what": "laying", "do": "begin"}, 422)["error"]
    assert "is kept by itself" in sent(boat, "/api/jobs", {"what": "plan", "do": "keep"}, 422)["error"]
    assert "work it out first" in sent(boat, "/api/jobs", {"what": "jig order", "do": "keep"}, 422)["error"]
    assert asked(boat, "/api/jobs?what=laying")["state"] is None
    sent(boat, "/api/jobs", {"what": "laying", "do": "stop"}, 404)


def test_butts_of_a_side_are_planned_and_kept(boat):
    begin = {"what": "butts", "do": "begin", "side": "port", "wait_s": 20}
    assert "has not been lined off" in sent(boat, "/api/jobs", begin, 422)["error"]
    sent(boat, "/api/choices", {"part": "lining", "name": "port", "choice": {"strakes": 4, "widest_mm": 400.0}})
    assert "none given" in sent(boat, "/api/jobs", begin, 422)["error"]
    assert "'stok'" in sent(boat, "/api/jobs", begin | {"butts": {"stok": "4000"}}, 422)["error"]
    found = sent(boat, "/api/jobs", begin | {"butts": {"stock": "4000", "rules": "small yacht"}})
    assert (found["state"], found["proved"]) == ("done", True)
    assert found["joints"] == len(found["butts"]) == len(found["planks"]) - 4 > 0  # one more plank than butts in each
    assert all(plank["length_mm"] <= 4000 for plank in found["planks"])
    assert asked(boat, "/api/lining?side=port")["joints"] == []
    sent(boat, "/api/jobs", {"what": "butts", "do": "keep", "side": "port"})
    there = asked(boat, "/api/lining?side=port")
    assert {(one["strake"], one["x_mm"]) for one in there["joints"]} == {
        (one["strake"], one["x_mm"]) for one in found["butts"]}  # fmt: skip
    assert (there["breaches"], there["butts"]["rules"]) == ([], "small yacht")
    assert asked(boat, "/api/jobs?what=butts")["state"] is None  # of the pair none was sought


def test_a_traced_plank_is_sent_as_its_file_and_a_wrong_one_refused_whole(boat):
    drawing = ezdxf.new(units=ezdxf.units.MM)
    drawing.modelspace().add_lwpolyline([(0, 0), (2000, 0), (2000, 150), (0, 150)], close=True)
    text = io.StringIO()
    drawing.write(text)
    body = {"name": "old strake", "says": "traced", "thickness_mm": 22, "side": "P", "file_name": "old.dxf",
            "file": b64encode(text.getvalue().encode()).decode()}  # fmt: skip
    assert sent(boat, "/api/planks/file", body)["revision"]
    traced = asked(boat, "/api/plank?name=old strake")
    assert (traced["kind"], traced["side"], traced["thickness_mm"]) == ("spiled", "P", 22)
    across, along = (sorted(axis)[-1] - sorted(axis)[0] for axis in zip(*traced["outline_mm"], strict=True))
    assert sorted((across, along)) == pytest.approx([150, 2000], abs=0.1)
    assert "is there already" in sent(boat, "/api/planks/file", body, 422)["error"]
    assert sent(boat, "/api/planks/file", body | {"name": "x", "file_name": "x.dxf", "file": "AAAA"}, 422)["error"]


def test_rows_that_cannot_be_read_are_named_and_none_is_stored(boat):
    before = asked(boat, "/api/boat")["act"]
    row = {"frame": "3", "station_mm": 2200, "height": 350, "half_breadth": 471.5, "side": "P"}
    told = sent(boat, "/api/readings", {"way": "offsets", "rows": [row, row | {"height": "high"}]}, 422)["error"]
    assert 'rows line 2, height: found "high"' in told
    assert asked(boat, "/api/boat")["act"] == before
    assert sent(boat, "/api/readings", {"rows": [{}]}, 422)
    first = sent(boat, "/api/readings", {"rows": [row]})
    assert sent(boat, "/api/readings", {"rows": [row]}) | {"known": first["numbers"]} == first | {
        "numbers": [], "known": first["numbers"], "doubts": [], "warnings": []
    }  # fmt: skip
    keyed = [sent(boat, "/api/readings", {"rows": [row | {"height": 351}]}, **{"Idempotency-Key": "r"}) for _ in "12"]
    assert keyed[0]["numbers"] == keyed[1]["numbers"] != first["numbers"]


def test_a_bracket_off_the_bed_and_a_plan_forgotten(boat):
    if "3" not in {row["label"] for row in asked(boat, "/api/frames")["frames"] if row["step"] != "not designed"}:
        sent(boat, "/api/frames", dict(examples())["/api/frames"])
    sent(boat, "/api/jig/setting", {"frame": "3", "what": "set"})
    sent(boat, "/api/jig/setting", {"frame": "3", "what": "away", "along_mm": 123})
    assert "none is kept" in sent(boat, "/api/jobs", {"what": "jig order", "do": "forget"}, 422)["error"]
    assert "'forget' is for" in sent(boat, "/api/jobs", {"what": "laying", "do": "forget"}, 422)["error"]
    sent(boat, "/api/jobs", {"what": "plan", "do": "begin", "wait_s": 30})
    assert PLAN in asked(boat, "/api/choices?part=yard")["choices"]
    sent(boat, "/api/jobs", {"what": "plan", "do": "forget"})
    assert PLAN not in asked(boat, "/api/choices?part=yard")["choices"]


def test_every_form_of_the_pages_has_its_place_in_the_interface():
    """What a page takes, JSON takes; by hand, so that a new form of a page asks for its own."""
    here = {path for path in WRITES if not path.startswith("/api/")}
    as_json = {
        "/settings": "boat", "/frames/try": "frames", "/marks/answer": "answers", "/marks/again": "answers",
        "/marks/new": "readings", "/marks/file": "readings", "/marks/bevels": "bevels",
        "/fairing/made-from": "made-from", "/frames/design": "frames", "/glue-up/sheet": "choices",
        "/glue-up/plan": "choices", "/glue-up/sign": "glue-up/sign", "/glue-up/done": "glue-up/done",
        "/glue-up/cure": "glue-up/cure", "/jig/bed": "choices", "/jig/setting": "jig/setting",
        "/jig/bench": "jig/setting", "/jig/order": "jobs", "/log": "log", "/planks": "planks",
        "/release/store": "release", "/release/shop": "choices", "/release/fastenings": "fastenings",
        "/release/fitted": "fitted", "/timber": "boards", "/undo": "undo", "/forget": "forget", "/plan": "jobs",
        "/plan/work": "plan/work",
    }  # fmt: skip
    of_people = {"/sign-in", "/sign-out", "/me", "/people"}  # no script makes others, or signs in as somebody
    assert here == set(as_json) | of_people
    assert {f"/api/{path}" for path in as_json.values()} <= set(document()["paths"])


def test_sent_twice_under_one_key_it_is_stored_once_and_answered_alike(boat):
    key = {"Idempotency-Key": "tablet-3-000117"}
    body = {"marks": [{"frame": "4", "station_mm": 3000, "height_mm": 333, "half_breadth_mm": 500}]}
    first = sent(boat, "/api/marks", body, **key)
    assert sent(boat, "/api/marks", body, **key)["numbers"] == first["numbers"]
    assert sent(boat, "/api/marks", body)["numbers"] != first["numbers"]
    other = {"marks": [body["marks"][0] | {"height_mm": 334}]}
    assert "used before for other content" in sent(boat, "/api/marks", other, 422, **key)["error"]


def test_a_change_that_somebody_else_made_meanwhile_is_told(boat):
    seen = asked(boat, "/api/boat")["act"]
    sent(boat, "/api/frames", {"label": "2", "choice": {"sided_mm": 40}, "seen": seen})
    told = sent(boat, "/api/frames", {"label": "2", "choice": {"sided_mm": 50}, "seen": seen}, 409)
    assert told["now"]["choice"]["sided_mm"] == 40
    assert told["sent"]["choice"]["sided_mm"] == 50


@pytest.mark.parametrize(
    ("path", "body", "says"),
    [
        ("/api/marks", {"marks": []}, "marks: List should have at least 1 item"),
        ("/api/marks", {"marks": [{"frame": "4", "station_mm": 1e9, "height_mm": 0, "half_breadth_mm": 1}]},
         "marks.0.station_mm: Input should be less than or equal to 100000"),
        ("/api/answers", {"marks": [18], "what": "perhaps"}, "what: Input should be 'keep', 'drop'"),
        ("/api/answers", {"marks": [999], "what": "drop"}, "999"),
        ("/api/frames", {"label": "3", "choice": {"sided": 3}}, "setting 'sided' is not known"),
        ("/api/frames", {"label": "3", "choice": {"prebent": 7}}, "prebent"),
        ("/api/frames", {"label": "3", "more": 1}, "more: Extra inputs are not permitted"),
        ("/api/planks", {"name": "x", "kind": "strake", "choice": {"lower": 3}}, ""),
        ("/api/choices", {"part": "jig", "name": "bed", "choice": {"rails": "many"}}, ""),
        ("/api/choices", {"part": "board", "name": "B9", "choice": None}, "not there to be taken off"),
        ("/api/log", {}, "the entry says nothing yet"),
        ("/api/log", {"photographs": ["bm90IGEgcGljdHVyZQ=="]}, "no photograph that can be read"),
    ],
)  # fmt: skip
def test_what_cannot_be_is_refused_with_what_to_do_and_nothing_is_stored(boat, path, body, says):
    before = asked(boat, "/api/boat")["act"]
    told = sent(boat, path, body, 422)
    assert set(told) == {"error", "do"}
    assert says in told["error"]
    assert asked(boat, "/api/boat")["act"] == before


def test_what_is_not_in_the_boat_is_not_found(boat):
    assert "give station_mm" in sent(boat, "/api/frames", {"label": "99"}, 404)["error"]
    for path in ("/api/frame?at=99", "/api/section?at=99000", "/api/plank?name=none", "/api/release?frame=99"):
        reply = boat.get(path)
        assert reply.status_code == 404, f"{path}: {reply.text}"
        assert reply.json()["do"]


def test_numbers_that_are_none_and_what_is_no_json_are_refused(boat):
    headers = {"content-type": "application/json"}
    bad = '{"marks":[{"frame":"4","station_mm":NaN,"height_mm":0,"half_breadth_mm":1}]}'
    assert "finite" in boat.post("/api/marks", content=bad, headers=headers).json()["error"]
    assert boat.post("/api/marks", content="[" * 5000, headers=headers).status_code == 400
    assert boat.post("/api/marks", content="x=1").status_code == 415
    assert boat.post("/api/marks", content=b" " * 5_000_001, headers=headers).status_code == 413
    assert boat.post("/api/marks", json={}, headers={"origin": "http://elsewhere.test"}).status_code == 403


def test_the_document_names_every_address_with_a_title_a_scheme_and_its_refusals():
    found = document()
    assert found["components"]["securitySchemes"]["bearer"] == {
        "type": "http", "scheme": "bearer",
        "description": found["components"]["securitySchemes"]["bearer"]["description"],
    }  # fmt: skip
    for path, methods in found["paths"].items():
        for method, told in methods.items():
            assert told["summary"], path
            assert told["description"], path
            ref = told["responses"]["422"]["content"]["application/json"]["schema"]["$ref"]
            assert ref.endswith("/Refusal")
            assert rule(method.upper(), path) is not None
    assert {path for path in WRITES if path.startswith("/api/") and path != "/api/judge"} <= {
        *found["paths"], "/api/glue-up"
    }  # fmt: skip


def test_the_docs_examples_do_what_they_say(small):
    """docs/api.md: each block of a request is sent as it stands, in order; what follows '->' is in the answer."""
    client = small(slip_mm=30.0)
    client.headers["origin"] = HOME
    blocks = re.findall(r"```\n(GET|POST) (/api/\S+)\n(.*?)-> (.*?)\n```", DOC, re.S)
    assert len(blocks) >= 8
    for method, path, body, says in blocks:
        ready(client.app)
        head = dict(re.findall(r"^([A-Z][\w-]+): (.*)$", body, re.M))
        plain = re.sub(r"^[A-Z][\w-]+: .*$", "", body, flags=re.M).strip()
        how = {"content": plain.encode(), "headers": head | {"content-type": "application/json"}} if plain else {}
        reply = client.request(method, path, **how)
        found, wanted = reply.json(), json.loads(says)
        for name, value in wanted.items():
            if isinstance(value, float):
                assert found[name] == pytest.approx(value, rel=1e-3), f"{path}, {name}"
            else:
                assert found[name] == value, f"{path}, {name}: {found}"
    assert store.records(client.app.state.boat.engine, "found")
    assert not math.isnan(asked(client, "/api/hull")["rms_mm"])
