"""The pages of the jig: described, set frame by frame, ticked bracket by bracket, planned."""

import re
from urllib.parse import urlencode

import pytest
from boats import HOME, HOSTILE_FRAME, TestClient

from scrieve import store
from scrieve.frames.choice import FrameChoice
from scrieve.frames.jig.setting_kept import JigKept
from scrieve.web.jig import form as jig_form
from scrieve.web.jig.planning import Planning


def engine_of(client: TestClient):
    return client.app.state.boat.engine


def kept(client: TestClient) -> JigKept:
    return JigKept.of(store.choices(engine_of(client), "jig"))


@pytest.fixture
def framed(small):
    """A small boat with two frames designed."""

    def make(**how):
        client = small(**how)
        client.headers["origin"] = HOME
        for label in ("4", "5"):
            choice = FrameChoice(label, moulded_mm=30.0, lamination_mm=4.0, sided_mm=30.0, pitch_mm=160.0, trim_mm=50.0)
            store.keep_frame(engine_of(client), label, {"choice": choice.to_mapping(), "station_mm": None})
        return client

    return make


def hidden(page: str) -> dict[str, str]:
    form = re.search(r'action="/jig/bench".*?</form>', page, re.DOTALL)
    assert form
    return dict(re.findall(r'name="(\w+)" value="([^"]*)"', form[0].split("<a ")[0].split("<button")[0]))


def test_a_boat_without_frames_is_told_what_to_do(small):
    client = small()
    page = client.get("/jig").text
    for words in ("The jig is not described yet", "No frame designed yet", "Not known: the next frame sets every"):
        assert words in page
    assert 'href="/frames"' in page
    assert client.get("/jig?frame=77").status_code == 404


def test_the_bed_is_kept_as_typed_and_what_was_not_changed_stays(framed):
    client = framed(units="ft")
    before = client.get("/jig").text
    fields = dict(re.findall(r'<input name="(\w+)" value="([^"]*)"', before)) | {"face": "flat", "bearing": "inside"}
    fields |= {"between": "yes", "depth_mm": "5-0-0", "row_mm": "0-4-0"}
    refused = client.post("/jig/bed", data=fields)  # the most travel is still that of the usual bed, 1900 mm
    assert refused.status_code == 422
    assert "Most travel: found &#39;6-2-6+&#39;; give 5-0-0 at most, the depth of the bed" in refused.text
    fields["travel_most_mm"] = "0-10-0"
    assert client.post("/jig/bed", data=fields).status_code == 303
    bed = kept(client).bed
    assert (bed.depth_mm, bed.row_mm) == (1524.0, 101.6)
    assert bed.pitch_mm == 160.0, "shown to a sixteenth, it must not creep"
    refused = client.post("/jig/bed", data=fields | {"rails": "1000"})
    assert refused.status_code == 422
    assert "of rails lie on" in refused.text
    assert 'value="1000"' in refused.text
    assert kept(client).bed == bed
    assert {each.name for _, group in jig_form.GROUPS for each in group} == set(bed.to_mapping())


def test_a_frame_on_the_bed_and_why_another_does_not_go(framed):
    client = framed()
    page = client.get("/jig?frame=4").text
    for words in ("Packet on the bed", "Prove the setting", "Departure in each bay", "How the figures came about"):
        assert words in page
    store.keep_choice(engine_of(client), "jig", "bed", {"pitch_mm": 120.0, "rails": 20, "depth_mm": 150.0})
    refused = client.get("/jig?frame=4")
    assert refused.status_code == 422
    assert "over the far edge of the bed" in refused.text
    assert client.get("/jig/bench?frame=4").status_code == 422


def test_brackets_are_ticked_off_one_by_one_and_the_setting_is_true_all_along(framed):
    client = framed()
    seen = []
    for _ in range(40):
        page = client.get("/jig/bench?frame=4").text
        if "Every bracket is set" in page:
            break
        sent = hidden(page)
        seen.append(int(sent["bracket"]))
        travel = float(re.search(r"data-travel>([\d.]+)<", page)[1])
        for _ in range(2 if len(seen) == 1 else 1):  # the first is pressed twice
            assert client.post("/jig/bench", data=sent | {"what": "tick"}).status_code == 303
        assert travel in [stand.travel_mm for stand in kept(client).setting.stands]
        assert len(kept(client).setting.stands) == len(seen)
    assert seen == list(range(1, len(seen) + 1))
    assert "Now the tape, before the glue is mixed" in page
    assert "0 of" in client.get("/jig?frame=4").text
    client.post("/jig/bench", data=hidden(page) | {"what": "proved"})
    assert [record.member for record in store.records(engine_of(client), "jig proved")] == ["4"]
    assert "Proved 2" in client.get("/jig/bench?frame=4").text
    one = hidden(client.get("/jig/bench?frame=4&bracket=2").text)
    back = client.post("/jig/bench", data=one | {"what": "undo"})
    assert back.headers["location"] == "/jig/bench?frame=4&bracket=2"
    assert len(kept(client).setting.stands) == len(seen) - 1
    assert "where it stands now is not known" in client.get("/jig/bench?frame=4").text


def test_a_tick_from_a_page_that_is_out_of_date_is_not_kept(framed):
    client = framed()
    sent = hidden(client.get("/jig/bench?frame=4").text)
    store.keep_choice(engine_of(client), "jig", "bed", {"pitch_mm": 100.0, "rails": 25})
    answer = client.post("/jig/bench", data=sent | {"what": "tick"})
    assert kept(client).setting is None
    assert "has changed since that page was opened" in client.get(answer.headers["location"]).text


def test_the_order_is_worked_out_kept_and_followed(framed):
    client = framed()
    refused = client.post("/jig/order", data={"after": "4 after 99"})
    assert refused.status_code == 422
    assert "fitted first: frame &#39;99&#39; is not among" in refused.text
    assert client.post("/jig/order", data={"without": "77"}).status_code == 422
    client.post("/jig/order", data={"after": "4 after 5"})
    _wait(client)
    assert "Keep this order" in client.get("/jig/order").text
    client.post("/jig/order", data={"what": "keep"})
    plan = kept(client).plan
    assert plan.order == ("5", "4")
    assert "Posed as the" in client.get("/jig?frame=5").text
    choice = FrameChoice("5", moulded_mm=34.0, lamination_mm=4.0, pitch_mm=120.0)
    store.keep_frame(engine_of(client), "5", {"choice": choice.to_mapping(), "station_mm": None})
    told = client.get("/jig/order").text
    assert "Work the order out anew" in told
    assert "<td>out of date</td>" in told
    assert "does not hold for it" in client.get("/jig?frame=5").text
    client.post("/jig/order", data={"what": "forget"})
    assert kept(client).plan is None


def test_why_no_order_was_found_is_told_until_the_bed_has_changed(framed):
    client = framed()
    before = dict(re.findall(r'<input name="(\w+)" value="([^"]*)"', client.get("/jig").text))
    before |= {"face": "flat", "bearing": "inside", "between": "yes"}
    assert client.post("/jig/bed", data=before | {"swivel_most_rad": "1"}).status_code == 303
    assert client.post("/jig/order", data={"after": ""}).status_code == 303
    _wait(client)
    told = client.get("/jig/order").text
    assert "does not go on this jig" in told
    assert re.search(r'href="/jig\?frame=[45]">Frame', told)  # where every reason stands
    refused = client.post("/jig/order", data={"without": "77"})
    assert refused.text.count('role="alert"') == 1
    assert "does not go on this jig" not in refused.text
    assert client.post("/jig/bed", data=before).status_code == 303
    assert "does not go on this jig" not in client.get("/jig/order").text


def test_the_figures_at_the_bench_open_their_workings(framed):
    client = framed()
    setting = client.get("/jig?frame=4").text
    row = re.search(r"<td[^>]*>2</td>.*?</tr>", setting.split("Setting</h3>")[1], re.S)[0]
    travel = re.findall(r'<td class="fig">([\d.]+)</td>', row)[-1]
    page = client.get("/jig/bench?frame=4&bracket=2").text
    assert f"data-travel>{travel}<" in page
    why = page.split('class="why-rows"')[1].split("</details>")[0]
    assert re.search(rf"= {re.escape(travel)}", why)
    assert "swivel" in why
    assert 'class="formula"' in why
    assert "Source:" in why
    prove = client.get("/jig/bench?frame=4&prove=1").text
    assert prove.count("data-column=") == 2  # length and sagitta, as on the jig's own page


def _wait(client: TestClient) -> None:
    assert Planning(client.app.state.boat.engine).job.done.wait(30)


def test_the_jig_stands_for_a_frame_and_is_forgotten(framed):
    client = framed()
    assert client.post("/jig/setting", data={"what": "set", "frame": "4"}).status_code == 303
    page = client.get("/jig").text
    assert "Last set for frame <bdi>4</bdi>" in page
    assert re.search(r"0 of \d+<", client.get("/jig?frame=4").text)
    client.post("/jig/setting", data={"what": "forget"})
    assert kept(client).setting is None


def test_names_that_try_to_be_misread_are_only_names(pages):
    for path in ("/jig", "/jig/bench"):
        answer = pages.get(f"{path}?{urlencode({'frame': HOSTILE_FRAME})}")
        assert answer.status_code in (200, 422)
        assert '<b onclick="x()"' not in answer.text
    assert '<b onclick="x()"' not in pages.get("/jig").text + pages.get("/jig/order").text
