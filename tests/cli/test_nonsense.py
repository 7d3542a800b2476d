"""Nonsense ends with exit code 1 or 2 and a message; never with a traceback, never with a changed boat."""

import random
import shutil

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

#: Every option that takes a value, each command with the words it needs.
OPTIONS = {
    ("new", "NEW", "--name", "B", "--planking", "inside"): ("--name", "--thickness", "--sigma", "--beam", "--units"),
    ("shape", "BOAT"): ("--at", "--points"),
    ("frame", "BOAT", "5"): [
        "--from",
        "--station",
        "--timber",
        "--sided",
        "--moulded",
        "--moulded-head",
        "--lamination",
        "--count",
        "--pitch",
        "--bearing",
        "--moulding-edge",
        "--kerf",
        "--cleaning",
        "--planing",
        "--trim",
        "--margin",
        "--spring-factor",
        "--glue",
        "--spread",
        "--waterline",
    ],
    ("plank", "BOAT", "x", "--seams", "SEAMS"): [
        "--thickness",
        "--side",
        "--first",
        "--last",
        "--across",
        "--first-end",
        "--last-end",
        "--scarf-slope",
        "--seam-rule",
        "--seam-opening",
        "--tolerance",
        "--keep",
        "--units",
    ],
    ("sheets", "BOAT", "--to", "DIR", "--no-roll"): ("--roll", "--paper"),
    ("marks", "BOAT", "list"): ("--frame",),
    ("serve", "TEXT"): ("--port", "--host"),
}
VALUES = ("", " ", "nan", "-inf", "-1", "0", "1e308", "9" * 300, "1/0", "5-12-9", "(", "ÿ\u202e🚣", "../..", "0.0001mm")

FILES = {
    "empty.csv": b"",
    "random.csv": random.Random(1).randbytes(3000),
    "random.xlsx": b"PK\x03\x04" + random.Random(2).randbytes(3000),
    "zeros.csv": bytes(3000),
    "prose.csv": b"Dear shed,\nthe marks are on the wall.\n",
    "quotes.csv": b'frame,edge,kind,x,height,"station\n' + b'"' * 501,
    "heads.csv": b"frame,station,edge,kind,x,height,half_breadth\n",
    "huge.csv": b"frame,station,edge,kind,x,y,height,half_breadth\n" + b"9" * 400 + b",1e999,lower,block,1,1,1,1\n",
    "utf16.csv": "främe,höhe\n1,2\n".encode("utf-16"),
}
READERS = (
    ("marks", "BOAT", "add", "FILE"),
    ("frame", "BOAT", "--from", "FILE"),
    ("plank", "BOAT", "x", "--seams", "FILE"),
    ("plank", "BOAT", "x", "--spiling", "FILE"),
)
ON_A_BOAT = (
    ("marks", "BOAT", "list"),
    ("marks", "BOAT", "drop", "1"),
    ("fair", "BOAT"),
    ("shape", "BOAT", "--csv"),
    ("frame", "BOAT", "5"),
    ("plank", "BOAT", "x"),
    ("sheets", "BOAT", "--to", "DIR"),
    ("serve", "BOAT", "--port", "0"),
)


def told(said):
    """Hold that the user was told, in words, and nothing was printed as a result."""
    assert said.code in (1, 2), said
    assert said.out == ""
    assert "scrieve: " in said.err if said.code == 1 else "Error: " in said.err
    assert "Traceback" not in said.err
    assert len(said.err) < 5000


def fill(words, **places):
    return [places.get(word, word) for word in words]


@pytest.mark.parametrize("value", VALUES)
@pytest.mark.parametrize("words", OPTIONS, ids=lambda words: words[0])
def test_nonsense_after_every_option(boat, run, written, tmp_path, words, value):
    seams = written("seams.csv", "frame,edge,height\n" + "".join(f"{n},lower,400\n{n},upper,500\n" for n in (3, 4, 5)))
    text = written("text.boat", "no boat\n")
    if words[0] == "sheets":
        run("frame", boat, "5")
    for option in OPTIONS[words]:
        new = tmp_path / "new.boat"
        new.unlink(missing_ok=True)
        typed = fill(words, BOAT=boat, NEW=new, SEAMS=seams, TEXT=text, DIR=tmp_path / "sheets")
        said = run(*typed, f"{option}={value}")
        if said.code:
            told(said)
            assert not new.exists()


@pytest.mark.parametrize("words", READERS, ids=lambda words: "-".join(words[:1] + words[2:-1]))
@pytest.mark.parametrize("name", [*FILES, "nosuch.csv", "folder"])
def test_files_that_are_no_tables(boat, run, written, tmp_path, words, name):
    before = boat.read_bytes()
    if name in FILES:
        written(name, FILES[name])
    (tmp_path / "folder").mkdir()
    said = run(*fill(words, BOAT=boat, FILE=tmp_path / name))
    told(said)
    assert said.code == 1
    assert name in said.err
    assert boat.read_bytes() == before


@pytest.mark.parametrize("words", ON_A_BOAT, ids=lambda words: "-".join(words[:1] + words[2:3]))
@pytest.mark.parametrize("kind", ["missing", "empty", "text", "folder", "random", "database", "cut"])
def test_what_is_no_boat(boat, run, tmp_path, words, kind):
    place = tmp_path / f"{kind}.boat"
    if kind == "folder":
        place.mkdir()
    elif kind == "database":  # of another program: SQLite's head, without our mark
        place.write_bytes(boat.read_bytes()[:68] + bytes(4) + boat.read_bytes()[72:])
    elif kind != "missing":
        data = {"empty": b"", "text": b"frame,station\n" * 30, "random": random.Random(3).randbytes(9000)}
        place.write_bytes(data.get(kind, boat.read_bytes()[:6000]))
    before = place.read_bytes() if place.is_file() else None
    said = run(*fill(words, BOAT=place, DIR=tmp_path / "sheets"))
    told(said)
    assert f"{kind}.boat" in said.err
    assert not (tmp_path / "sheets").exists()
    assert (place.read_bytes() if place.is_file() else None) == before


@pytest.mark.parametrize("words", [(), ("fare",), ("fair",), ("fair", "a", "b"), ("marks",), ("marks", "b", "ad"),
                                   ("shape", "b", "--at"), ("frame",), ("plank", "b"), ("sheets", "b"),
                                   ("new", "b", "--planking", "both"), ("fair", "b", "--jsn"), ("marks", "b", "drop"),
                                   ("marks", "b", "drop", "one"), ("new",)])  # fmt: skip
def test_words_that_are_no_command_show_how_it_is_used(run, words):
    said = run(*words)
    assert said.code == 2
    assert "Usage: scrieve" in said.err + said.out or "Error: Option '--at' requires" in said.err
    assert "Traceback" not in said.err


WORDS = st.text(st.characters(exclude_categories=["Cs"], exclude_characters="\0"), max_size=12)


@settings(max_examples=40, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(label=WORDS, at=WORDS, sided=WORDS, name=WORDS)
def test_any_words(boat, run, tmp_path, label, at, sided, name):
    copy = shutil.copy(boat, tmp_path / "copy.boat")
    for words in (
        ("shape", copy, f"--at={at}", "--points", "5"),
        ("frame", copy, f"--sided={sided}", "--station=3000", "--", label),
        ("plank", copy, "--thickness=20", "--", name),
        ("marks", copy, "list", f"--frame={label}"),
        ("marks", copy, "drop", "--", at),
    ):
        said = run(*words)
        assert said.code in (0, 1, 2)
        if said.code:
            told(said)


@settings(max_examples=40, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(data=st.data())
def test_a_spoilt_marks_file(empty, run, written, tmp_path, rows, as_csv, data):
    """A good file with a few bytes changed is stored, or told; whatever of it is stored can be faired or is told."""
    good = as_csv(rows[:45])
    spoilt = bytearray(good)
    for place in data.draw(st.lists(st.integers(0, len(good) - 1), min_size=1, max_size=4)):
        spoilt[place] = data.draw(st.integers(0, 255))
    boat = shutil.copy(empty, tmp_path / "spoilt.boat")
    said = run("marks", boat, "add", written("marks.csv", bytes(spoilt)))
    if said.code:
        told(said)
        return
    said = run("fair", boat)
    if said.code:
        told(said)
