"""The logbook's pages: written in, put right, signed, photographed, searched; the record and the bundle."""

import hashlib
import io
import json
import re
import zipfile

import pikepdf
import pytest
from boats import HOME
from PIL import Image

from scrieve import store
from scrieve.store import people

HERE = {"origin": HOME}


@pytest.fixture
def boat(small):
    with small() as client:
        client.headers["origin"] = HOME
        yield client


def engine(client):
    return client.app.state.boat.engine


def picture():
    out = io.BytesIO()
    Image.new("RGB", (2400, 1200), "brown").save(out, "JPEG")
    return out.getvalue()


def write(client, photographs=(), **fields):
    files = [("photograph", ("a.jpg", data, "image/jpeg")) for data in photographs]
    return client.post("/log", data=fields, files=files or [("photograph", ("", b"", "application/octet-stream"))])


def test_an_entry_is_written_once_shown_found_and_put_right(boat):
    given = {
        "kind": "fitted",
        "member": "frame 3",
        "text": "bedded <in> red lead",
        "values": "gap: 0.4 mm",
        "key": "k1",
    }
    assert write(boat, **given).status_code == 303
    assert write(boat, **given).status_code in (200, 303)
    assert [r.detail["text"] for r in store.records(engine(boat), "fitted")] == ["bedded <in> red lead"]
    text = boat.get("/log?find=bedded").text
    assert "bedded &lt;in&gt; red lead" in text
    assert "0.4 mm" in text
    assert "Nothing of that kind" in boat.get("/log?find=bedded&member=frame+4").text
    assert write(boat, kind="fitted", member="frame 3", text="bedded in white lead", corrects="1").status_code == 303
    text = boat.get("/log").text
    assert 'class="put-right" id="entry-1"' in text
    assert "Put right by" in text
    assert write(boat, text="again", corrects="1").status_code == 422


def test_what_cannot_be_stored_is_given_back_as_typed(boat):
    reply = write(boat, text="kept as typed", temperature="500")
    assert reply.status_code == 422
    assert "kept as typed" in reply.text
    assert "temperature" in reply.text
    assert write(boat, [b"no picture"], text="x").status_code == 422
    assert store.records(engine(boat)) == ()


def test_photographs_are_kept_small_and_shown(boat):
    assert write(boat, [picture(), picture()], text="garboard off").status_code == 303
    (record,) = store.records(engine(boat), "note")
    assert len(set(record.detail["photographs"])) == 1
    reply = boat.get(f"/log/photographs/{record.detail['photographs'][0]}")
    with Image.open(io.BytesIO(reply.content)) as kept:
        assert kept.size == (1600, 800)
    assert boat.get("/log/photographs/" + "0" * 64).status_code == 404
    assert boat.get("/log/photographs/xyz").status_code == 404


def test_a_signature_needs_the_persons_own_pin(boat):
    assert write(boat, text="seen", sign="Cy").status_code == 303
    assert store.records(engine(boat))[-1].detail["signed_by"] == "Cy (by name, no PIN)"
    people.add_person(engine(boat), "Ada", "keeper", "larch knee bevel")
    assert write(boat, text="seen", sign="Cy", pin="1").status_code == 422  # once there are people, they sign
    assert write(boat, text="seen", sign="Ada", pin="4711").status_code == 422  # none set yet
    people.change_person(engine(boat), "Ada", pin="4711")
    assert write(boat, text="seen", sign="Ada", pin="4712").status_code == 422
    assert write(boat, text="seen", sign="ada", pin="4711").status_code == 303
    assert store.records(engine(boat))[-1].detail["signed_by"] == "Ada"


def test_the_record_and_the_bundle_hold_what_was_written(boat):
    write(boat, [picture()], kind="deviation", member="frame 3", text="short by 9 mm")
    data = boat.get("/log/record.pdf").content
    with pikepdf.open(io.BytesIO(data)) as pdf:
        assert len(pdf.pages) >= 2
        assert any(each.get("/Subtype") == "/Image" for each in pdf.objects if isinstance(each, pikepdf.Stream))
    with zipfile.ZipFile(io.BytesIO(boat.get("/log/bundle.zip").content)) as archive:
        assert "short by 9 mm" in archive.read("logbook.csv").decode()
        assert archive.read("marks.csv").decode().count("\r\n") == 50
        assert sum(name.startswith("photographs/") for name in archive.namelist()) == 1


def entries_of(page):
    return re.findall(r'<li[^>]*>\s*<p class="head">.*?</li>', page.text, re.DOTALL)


def test_an_entry_leads_to_where_it_is_taken_back(boat):
    write(boat, kind="found", member="frame 3", text="rot at the heel", key="t1")
    act = store.last_act(engine(boat))
    (line,) = entries_of(boat.get("/log?find=rot+at+the+heel"))
    assert f'href="/undo?act={act}"' in line
    store.undo(engine(boat), number=act)
    (line,) = entries_of(boat.get("/log?find=rot+at+the+heel"))
    assert f'href="/undo?act={act}"' not in line
    assert '<nav class="crumbs"' in boat.get("/log?member=frame+3").text


def test_the_bundle_carries_the_chain_of_acts(boat):
    """The README of the bundle says how it is made: SHA-256 of the chain before it and of the act; so it is made here,
    from what stands in the bundle alone."""
    write(boat, text="a note for the archive", key="t2")
    with zipfile.ZipFile(io.BytesIO(boat.get("/log/bundle.zip").content)) as archive:
        (name,) = (name for name in archive.namelist() if name.endswith("acts.json"))
        acts = json.loads(archive.read(name))
    before = ""
    for act in acts:
        own = [act[part] for part in ("number", "at", "who", "what", "detail", "was", "now", "undoes")]
        text = json.dumps(own, sort_keys=True, ensure_ascii=False)
        before = hashlib.sha256(f"{before}\n{text}".encode()).hexdigest()
        assert act["chain"] == before
