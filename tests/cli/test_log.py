"""`scrieve log`, `record`, `bundle`: what is written by a command is in the book, the record and the archive."""

import hashlib
import io
import json
import zipfile

import pikepdf
import pytest
from PIL import Image

from scrieve.store import open_boat, people


@pytest.fixture
def picture(tmp_path):
    Image.new("RGB", (2400, 1200), "brown").save(tmp_path / "scarf.png")
    return tmp_path / "scarf.png"


def test_an_entry_is_written_listed_found_and_put_right(boat, done, run, picture):
    words = ("--kind", "fitted", "--member", "frame 3", "--figure", "gap: 0.4 mm", "--temperature", "17,5")
    assert done("log", boat, "add", "bedded in red lead", *words, "--photograph", picture) == "entry 1 stored\n"
    done("log", boat, "add", "bedded in white lead", "--kind", "fitted", "--member", "frame 3", "--corrects", "1")
    assert (
        "frame 3, fitted: bedded in red lead gap: 0.4 mm; temperature: 17.5 °C (1 photograph; put right by entry 2)"
        in (done("log", boat, "list"))
    )
    assert "no entry" in done("log", boat, "search", "lead", "--member", "frame 4")
    found = json.loads(done("log", boat, "search", "RED", "lead", "--json"))
    assert [e["number"] for e in found["entries"]] == [1]
    assert "added marks" in done("log", boat, "list")  # acts are entries too
    assert "1 earlier" in done("log", boat, "list", "--last", "1", "--member", "frame 3")
    said = run("log", boat, "add")
    assert (said.code, said.out) == (1, "")
    assert "says nothing yet" in said.err


def test_signing_asks_for_the_pin_where_the_yard_has_people(boat, run, done, tmp_path):
    engine = open_boat(boat)
    people.add_person(engine, "Ada", "keeper", "a long enough password")
    people.change_person(engine, "Ada", pin="4711")
    engine.dispose()
    pin = tmp_path / "pin"
    pin.write_text("4712\n")
    said = run("log", boat, "add", "looked at", "--sign", "ada", "--pin-file", pin)
    assert said.code == 1
    assert "not the PIN of Ada" in said.err
    pin.write_text("4711\n")
    done("log", boat, "add", "looked at", "--sign", "ada", "--pin-file", pin)
    assert "(signed Ada)" in done("log", boat, "list")


def test_the_record_is_a_pdf_of_what_was_done(boat, done, tmp_path):
    done("log", boat, "add", "rust at the bolts", "--kind", "found", "--member", "keelson")
    done("record", boat, "--to", tmp_path / "record.pdf")
    with pikepdf.open(tmp_path / "record.pdf") as pdf:
        assert len(pdf.pages) >= 2


def test_the_bundle_holds_what_its_list_says(boat, done, run, tmp_path, picture):
    done("log", boat, "add", "--photograph", picture)
    assert json.loads(done("bundle", boat, "--to", tmp_path / "b.zip", "--json"))["bytes"] > 1000
    with zipfile.ZipFile(io.BytesIO((tmp_path / "b.zip").read_bytes())) as archive:
        lines = archive.read("SHA256SUMS").decode().splitlines()
        sums = dict(reversed(line.split("  ")) for line in lines)
        assert any(name.startswith("photographs/") for name in sums)
        assert all(hashlib.sha256(archive.read(name)).hexdigest() == digest for name, digest in sums.items())
    assert "cannot be written" in run("bundle", boat, "--to", tmp_path / "no" / "b.zip").err
