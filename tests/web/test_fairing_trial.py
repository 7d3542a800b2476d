"""A mark moved by way of trial: what comes of it, what is said of it, and that nothing is stored."""

from __future__ import annotations

import re
from dataclasses import replace

import numpy as np
import pytest
from boats import HOME, client_of, ready, settled

from scrieve import store
from scrieve.boat import Boat
from scrieve.errors import BadLength, BadMarks
from scrieve.fairing.hull import fair
from scrieve.takeoff.marks import Mark
from scrieve.units import parse_length
from scrieve.web import create_app
from scrieve.web.fairing.sides import lopsided
from scrieve.web.fairing.trial import as_shown, read, try_mark

SAME = {"Origin": HOME}
#: Mark 18 of the small boat: frame 3, 300 mm up.
ONE = "/fairing?show=frame&frame=3"


@pytest.fixture
def boat(small):
    client = small()
    return client, client.app.state.boat.state().kept


def test_the_line_follows_the_mark_less_far_and_its_neighbours_less_still(boat):
    _, kept = boat
    hull, mark = kept.hull(), kept.marks[17]
    trial = try_mark(hull, 18, mark.height_mm, mark.half_breadth_mm + 3.0)
    assert 0 < trial.here_mm < 3.0
    by_frame = {move.frame: abs(move.most_mm) for move in trial.frames}
    assert list(by_frame) == ["1", "2", "3", "4", "5"]
    assert by_frame["3"] > by_frame["4"] > by_frame["5"]
    back = try_mark(hull, 18, mark.height_mm, mark.half_breadth_mm)
    assert back.here_mm == pytest.approx(0, abs=0.02)
    assert back.gained == back.lost == ()


def test_a_trial_comes_close_to_the_hull_faired_anew(boat):
    """By the fairing itself, which is tested elsewhere: a trial keeps the stiffness, so they agree to a fifth."""
    _, kept = boat
    hull, mark = kept.hull(), kept.marks[17]
    trial = try_mark(hull, 18, mark.height_mm, mark.half_breadth_mm + 2.0)
    moved = replace(mark, half_breadth_mm=mark.half_breadth_mm + 2.0)
    anew = fair([moved if each.number == 18 else each for each in kept.marks], kept.boat)
    x, v = hull.stations["3"], np.array([trial.before.v])
    normal, _ = hull.normal(x, v)
    wanted = float(((anew.point(x, v) - hull.point(x, v))[0, 1:] * normal[0]).sum())
    assert trial.here_mm == pytest.approx(wanted, abs=0.4)


def test_a_mark_far_out_is_doubted_unless_it_is_held(boat):
    _, kept = boat
    mark = kept.marks[17]
    far = try_mark(kept.hull(), 18, mark.height_mm, mark.half_breadth_mm + 40)
    held = try_mark(kept.hull(), 18, mark.height_mm, mark.half_breadth_mm + 40, hold=True)
    assert far.gained == (18,)
    assert far.here_mm < 4
    assert held.here_mm > 10
    assert 18 not in held.gained


def test_a_mark_that_does_not_stand_cannot_be_moved(boat):
    _, kept = boat
    with pytest.raises(BadMarks, match="mark 999 does not count in this hull"):
        try_mark(kept.hull(), 999, 0, 0)


@pytest.mark.parametrize("units", ["mm", "ft"])
def test_what_is_tried_is_what_the_fields_show(units):
    height, half = as_shown(1234.5678, -3.0, units)
    assert half == 0
    assert abs(height - 1234.5678) <= {"mm": 0.05, "ft": 25.4 / 32}[units]
    assert as_shown(height, half, units) == (height, half)


def test_lengths_that_cannot_be_read_are_named():
    for typed, said in (
        (("", "1"), "height: nothing"),
        (("1", "x"), "half-breadth: found 'x'"),
        (("1", "-1"), "below"),
    ):
        with pytest.raises(BadLength, match=said):
            read(*typed, "mm")


def test_the_answer_as_json_and_nothing_is_stored(boat):
    client, kept = boat
    engine = client.app.state.boat.engine
    acts, mark = store.acts(engine), kept.marks[17]
    reply = client.get(
        f"/api/moved?mark=18&height={mark.height_mm}&half_breadth={mark.half_breadth_mm + 3:.1f}mm&combs=1"
    )
    assert reply.status_code == 200
    assert reply.headers["cache-control"] == "no-store"
    found = reply.json()
    trial = try_mark(kept.hull(), 18, mark.height_mm, round(mark.half_breadth_mm + 3, 1))
    assert found["line_moves_mm"] == pytest.approx(trial.here_mm, abs=1e-6)
    assert [each["id"] for each in found["residuals"]] == [
        each.number for each in kept.hull().offs if each.frame == "3"
    ]
    assert (found["frame"], found["height"]) == ("3", "300.0")
    assert found["half_breadth"] == f"{mark.half_breadth_mm + 3:.1f}"
    assert "as stored</title>" in found["drawing"]
    assert "curvature of frame 3" in found["drawing"]
    assert f"the line at this mark moves {trial.here_mm:.1f} mm out" in found["told"]
    assert store.acts(engine) == acts
    assert client.app.state.boat.state().revision == found["revision"]


def test_the_answer_tells_what_is_wrong(boat):
    client, _ = boat
    wrong = client.get("/api/moved?mark=18&height=two&half_breadth=3")
    assert wrong.status_code == 200  # half a length is typed before the whole of it
    assert "height: found 'two'" in wrong.json()["error"]
    assert client.get("/api/moved?mark=18&height=2&half_breadth=3&revision=OLD").status_code == 409
    assert client.get("/api/moved?mark=999&height=2&half_breadth=3").status_code == 422


def test_a_frame_enlarged_lists_its_marks_and_a_touch_on_the_body_plan_leads_to_it(boat):
    client, kept = boat
    text = settled(client, "/fairing?places=0").text
    assert 'href="/fairing?show=frame&amp;places=0&amp;frame=3#drawing"' in text
    text = settled(client, ONE).text
    assert len(re.findall(r'<tr[^>]* data-mark="\d+"', text)) == 7
    assert f"revision={kept.hull_revision}" in text
    assert client.get("/fairing?show=frame&frame=nowhere").text.count("choose one that was measured") == 1
    assert settled(client, "/fairing?show=frame").status_code == 200  # some frame that wants looking at


def test_without_scripts_the_fields_try_and_put_back(boat):
    client, kept = boat
    mark = kept.marks[17]
    text = settled(client, f"{ONE}&mark=18&height=300&half_breadth={mark.half_breadth_mm + 3:.1f}").text
    assert "the line at this mark moves" in text
    assert "as stored</title>" in text
    assert f'value="{mark.half_breadth_mm + 3:.1f}"' in text
    assert f'data-do="back" href="{ONE.replace("&", "&amp;")}&amp;mark=18#drawing"' in text
    wrong = settled(client, f"{ONE}&mark=18&height=two&half_breadth=3").text
    assert "height: found &#39;two&#39;" in wrong
    assert 'value="two"' in wrong


def test_a_trial_that_is_stored_is_the_act_of_measuring_again(boat):
    client, kept = boat
    engine = client.app.state.boat.engine
    text = settled(client, f"{ONE}&mark=18").text
    form = dict(re.findall(r'<input type="hidden" name="(\w+)" value="([^"]*)"', text[text.index('id="try"') :]))
    sent = {name: value.replace("&amp;", "&") for name, value in form.items()} | {"height": "300.0"}
    refused = client.post("/marks/again", data=sent | {"half_breadth": "x"}, headers=SAME)
    assert refused.status_code == 422
    assert "half-breadth: found &#39;x&#39;" in refused.text
    assert 'data-trial="3"' in refused.text
    reply = client.post("/marks/again", data=sent | {"half_breadth": "600.5"}, headers=SAME)
    assert (reply.status_code, reply.headers["location"]) == (303, ONE)
    assert store.answers(engine) == {18: "measured again"}
    assert store.marks(engine)[-1].half_breadth_mm == 600.5
    assert store.marks(engine)[-1].height_mm == kept.marks[17].height_mm


def test_a_reading_that_was_not_touched_is_not_rounded(small):
    client = small(units="ft")
    engine = client.app.state.boat.engine
    old = store.marks(engine)[17]
    text = settled(client, f"{ONE}&mark=18").text
    height = re.search(r'name="height"[^>]* value="([^"]*)"', text[text.index('id="try"') :])[1]
    assert parse_length(height, "ft") != old.height_mm  # 300 mm is no sixteenth
    found = client.get(f"/api/moved?mark=18&height={height.replace('+', '%2B')}&half_breadth=2-0-0").json()
    assert found["height_mm"] == old.height_mm
    assert re.search(r"The mark lies (\d+ )?\d+/\d+ in (inside|outside) the line", found["told"])
    assert " mm" not in found["told"]
    sent = {"number": "18", "height": height, "half_breadth": "2-0-0", "back": ONE}
    assert client.post("/marks/again", data=sent, headers=SAME).status_code == 303
    assert store.marks(engine)[-1].height_mm == old.height_mm


def test_combs_of_one_frame_or_of_all(boat):
    client, _ = boat
    one = settled(client, "/fairing?combs=1&frame=3&places=0").text
    assert "curvature of frame 3" in one
    assert "curvature of frame 4" not in one
    both = settled(client, "/fairing?combs=1&places=0").text
    assert "curvature of frame 4" in both
    assert both.count("ly-hatching") == 0  # of all frames only the tips are drawn


def _unlike_sides(path, wider_mm):
    engine = store.create(path, Boat("Unlike", sigma_mm=1.0))
    rng, marks = np.random.default_rng(5), []
    for i in range(9):
        x = 600.0 + 600.0 * i
        along = 1 - (2 * x / 6000 - 1) ** 2
        for z in range(0, 800, 100):
            half = 750.0 * along * (1 - ((700 - z) / 800) ** 2)
            out = wider_mm * np.exp(-(((x - 3000) / 1500) ** 2))
            marks += [Mark(str(i + 1), x, z, half + out * (side == "P") + rng.normal(0, 0.7), side) for side in "PS"]
    store.add_marks(engine, marks)
    engine.dispose()
    return client_of(ready(create_app(path)))


def test_sides_that_differ_too_much_are_told_of_first_and_each_can_be_faired_alone(tmp_path):
    client = _unlike_sides(tmp_path / "unlike.scrieve", 60.0)
    kept = client.app.state.boat.state().kept
    found = lopsided(kept.marks, kept.hull())
    assert len(found) >= 3
    text = settled(client, "/fairing?places=0").text
    assert text.index("look at port against starboard first") < text.index("Suspect marks")
    assert 'href="/fairing?places=0&amp;by=P#drawing"' in text
    alone = settled(client, "/fairing?places=0&by=P").text
    assert "port by itself" in alone
    assert "what they are made from" in alone
    assert f'frames</dt><dd class="fig">{sum(mark.side == "P" for mark in kept.marks)}</dd>' in alone
    assert "No mark is suspect" in alone
    number = next(mark.number for mark in kept.marks if mark.side == "P" and mark.frame == "5")
    assert client.get(f"/api/moved?mark={number}&height=0&half_breadth=10&by=P").status_code == 200
    other = next(mark.number for mark in kept.marks if mark.side == "S")
    assert client.get(f"/api/moved?mark={other}&height=0&half_breadth=10&by=P").status_code == 422


def test_sides_alike_are_not_told_of(tmp_path):
    client = _unlike_sides(tmp_path / "alike.scrieve", 0.0)
    kept = client.app.state.boat.state().kept
    assert lopsided(kept.marks, kept.hull()) == ()
    assert "do not belong to one line" not in settled(client, "/fairing?places=0").text
