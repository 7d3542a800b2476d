"""`scrieve sheets`: the files of a job pack, their list, and the revisions on them."""

import csv
import io
import json
import os
from pathlib import Path

import pytest

SPILING = Path(__file__).parents[2] / "examples" / "formats" / "spiling.csv"


@pytest.fixture
def designed(boat, done):
    """The boat with one frame and one plank to be made."""
    done("frame", boat, "5", "--sided", "45", "--moulded", "60")
    done("plank", boat, "strake 9", "--spiling", SPILING, "--side", "P")
    return boat


def contents(folder):
    """Rows of contents.csv, by file."""
    rows = csv.DictReader(io.StringIO((folder / "contents.csv").read_text(encoding="utf-8-sig")))
    return {row["file"]: row for row in rows}


def write(done, boat, folder, *words):
    """Write the sheets; return the revision of each member."""
    done("sheets", boat, "--to", folder, "--no-roll", "--date", "1924-05-01", *words)
    return {row["member"]: row["revision"] for row in contents(folder).values()}


def test_every_file_is_there_and_listed(designed, done, tmp_path):
    folder = tmp_path / "new" / "sheets"
    said = done("sheets", designed, "--to", folder, "--paper", "A4", "--paper", "A3", "--date", "1924-05-01")
    listed = contents(folder)
    assert set(listed) | {"contents.csv"} == {path.name for path in folder.iterdir()}
    assert all(int(row["bytes"]) == (folder / name).stat().st_size for name, row in listed.items())
    for member in ("frame-5", "plank-strake-9_port"):
        for end in ("-bench.pdf", "-pattern-roll.pdf", "-pattern-A4.pdf", "-pattern-A3.pdf", ".dxf", ".svg"):
            assert member + end in listed
            assert int(listed[member + end]["bytes"]) > 1000
        assert any(name.startswith(member) and name.endswith(".csv") for name in listed)
    assert f"{len(listed)} files" in said
    assert {row["member"] for row in listed.values()} == {"frame 5", "plank strake 9"}


def test_as_json(designed, done, tmp_path):
    said = json.loads(done("sheets", designed, "--to", tmp_path / "s", "--no-roll", "--json"))
    assert {entry["file"]: str(entry["bytes"]) for entry in said} == {
        name: row["bytes"] for name, row in contents(tmp_path / "s").items()
    }
    assert not [entry for entry in said if "roll" in entry["file"]]


def test_revisions_change_with_what_they_hang_on_and_not_otherwise(designed, done, tmp_path):
    first = write(done, designed, tmp_path / "a")
    assert write(done, designed, tmp_path / "a", "--paper", "A4") == first  # once more, over the old ones
    done("fair", designed)
    done("frame", designed, "5", "--sided", "45")  # as it was
    assert write(done, designed, tmp_path / "b") == first
    done("marks", designed, "drop", "40")
    dropped = write(done, designed, tmp_path / "c")
    assert dropped["frame 5"] != first["frame 5"]
    assert dropped["plank strake 9"] == first["plank strake 9"]  # spiled: it does not hang on the hull
    done("plank", designed, "strake 9", "--thickness", "24")
    thicker = write(done, designed, tmp_path / "d")
    assert thicker["frame 5"] == dropped["frame 5"]
    assert thicker["plank strake 9"] != dropped["plank strake 9"]


def test_the_same_boat_gives_the_same_files(designed, done, tmp_path):
    for name in ("a", "b"):
        write(done, designed, tmp_path / name)
    for path in (tmp_path / "a").iterdir():
        assert path.read_bytes() == (tmp_path / "b" / path.name).read_bytes(), path.name


def test_the_revision_on_screen_is_the_one_on_the_sheets(designed, done, tmp_path):
    revision = json.loads(done("frame", designed, "5", "--json"))["revision"]
    assert write(done, designed, tmp_path / "a")["frame 5"] == revision


@pytest.mark.parametrize("label", ["../../etc/x", "14/A", "a\\b:c*?", "Ångström 5", "-rf", "CON", "x" * 300, "🚣", "."])
def test_hostile_labels_give_safe_names(boat, done, tmp_path, label):
    done("frame", boat, "--station", "3000", "--", label)
    folder = tmp_path / "sheets"
    write(done, boat, folder)
    names = [path.name for path in folder.iterdir()]
    assert {path.name for path in tmp_path.iterdir()} <= {"sheets", boat.name}
    assert all(name == "contents.csv" or name.startswith("frame-") for name in names)
    assert all(len(name) < 100 and name.isascii() and not set(name) & set('/\\:*?"<>| ') for name in names)
    assert {row["member"] for row in contents(folder).values()} == {f"frame {label}"}


def test_labels_alike_but_for_their_signs_do_not_share_files(boat, done, tmp_path):
    for label in ("14/A", "14 A", "14a", "14-a"):
        done("frame", boat, label, "--station", "3000")
    write(done, boat, tmp_path / "s")
    bench = [name for name in contents(tmp_path / "s") if name.endswith("-bench.pdf")]
    assert len(bench) == len({name.lower() for name in bench}) == 4


def test_nothing_designed_yet(boat, run, tmp_path):
    said = run("sheets", boat, "--to", tmp_path / "s")
    assert (said.code, said.out) == (1, "")
    assert "has no frame or plank designed yet; begin with scrieve frame" in said.err
    assert not (tmp_path / "s").exists()


def test_a_folder_that_cannot_be_written(designed, run, written, tmp_path):
    file = written("notes.txt", "mine")
    said = run("sheets", designed, "--to", file)
    assert (said.code, said.err) == (1, f"scrieve: {file} is a file; name a folder.\n")
    assert file.read_text() == "mine"
    said = run("sheets", designed, "--to", file / "inside")
    assert said.code == 1
    assert "cannot be written (Not a directory), so the sheets are not complete; name a folder" in said.err


@pytest.mark.skipif(not hasattr(os, "geteuid") or os.geteuid() == 0, reason="root may write anywhere")
def test_a_write_protected_folder(designed, run, tmp_path):
    shut = tmp_path / "shut"
    shut.mkdir(mode=0o500)
    said = run("sheets", designed, "--to", shut)
    assert said.code == 1
    assert "cannot be written (Permission denied)" in said.err


def test_a_file_that_cannot_be_replaced(designed, run, tmp_path):
    (tmp_path / "s" / "frame-5-bench.pdf").mkdir(parents=True)  # as a full or protected disk: one file cannot be made
    said = run("sheets", designed, "--to", tmp_path / "s")
    assert said.code == 1
    assert "frame-5-bench.pdf: cannot be written (Is a directory), so the sheets are not complete" in said.err
    assert not (tmp_path / "s" / "contents.csv").exists()


@pytest.mark.parametrize("roll", ["1mm", "-900", "900m", "wide"])
def test_a_roll_that_cannot_be(designed, run, tmp_path, roll):
    said = run("sheets", designed, "--to", tmp_path / "s", f"--roll={roll}")
    assert said.code == 1
    assert "roll" in said.err
    assert "Traceback" not in said.err
