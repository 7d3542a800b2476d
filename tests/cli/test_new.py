"""`scrieve new`: what it makes, and what it refuses."""

import pytest

from scrieve import store


def kept(boat):
    engine = store.open_boat(boat)
    try:
        return store.boat(engine)
    finally:
        engine.dispose()


def test_a_boat_is_made_and_the_next_step_named(tmp_path, done):
    place = tmp_path / "teal.boat"
    said = done("new", place, "--name", "Teal", "--planking", "outside", "--thickness", "28mm", "--beam", "2.9m")
    assert said == f"Teal: {place} made. Next: scrieve marks {place} add FILE\n"
    boat = kept(place)
    assert (boat.name, boat.planking, boat.thickness_mm, boat.half_beam_mm) == ("Teal", "outside", 28.0, 1450.0)


@pytest.mark.parametrize(
    ("typed", "mm"),  # the rule of feet-inches-eighths: an eighth is 3.175 mm exactly, + a sixteenth more
    [("0-1-1", 28.575), ("0-1-1+", 30.1625), ('1 1/8"', 28.575), ("2.8cm", 28.0)],
)
def test_thickness_as_the_trade_writes_it(tmp_path, done, typed, mm):
    done("new", tmp_path / "b", "--name", "B", "--planking", "outside", "--units", "ft", "--thickness", typed)
    assert kept(tmp_path / "b").thickness_mm == pytest.approx(mm, rel=1e-12)
    assert kept(tmp_path / "b").units == "ft"


def test_bare_numbers_of_a_boat_in_feet_are_inches(tmp_path, done):
    done("new", tmp_path / "b", "--name", "B", "--planking", "outside", "--units", "ft", "--thickness", "1")
    assert kept(tmp_path / "b").thickness_mm == 25.4


def test_a_file_that_is_there_is_not_touched(boat, run):
    before = boat.read_bytes()
    said = run("new", boat, "--name", "Other", "--planking", "inside")
    assert (said.code, said.out) == (1, "")
    assert "there is a file of that name already" in said.err
    assert boat.read_bytes() == before


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (("--planking", "outside"), "need the planking's thickness; give --thickness"),
        (("--planking", "inside", "--thickness", "28 ells"), "--thickness: found '28 ells'; expected mm or feet"),
        (("--planking", "inside", "--sigma", "0"), "measuring error: 0 mm; give a value above 0"),
        (("--planking", "inside", "--beam=-3m"), "half-beam: -1500 mm; give a value above zero"),
        (("--planking", "inside", "--name", " "), "the boat has no name"),
    ],
)
def test_a_setting_that_cannot_be_leaves_no_file(tmp_path, run, words, told):
    said = run("new", tmp_path / "b", "--name", "B", *words)
    assert (said.code, said.out) == (1, "")
    assert told in said.err
    assert not list(tmp_path.iterdir())


def test_whether_marks_are_inside_or_outside_must_be_said(tmp_path, run):
    said = run("new", tmp_path / "b", "--name", "B")
    assert said.code == 2
    assert "--planking" in said.err
    assert not (tmp_path / "b").exists()


def test_a_folder_that_is_not_there_is_named(tmp_path, run):
    said = run("new", tmp_path / "shed" / "b", "--name", "B", "--planking", "inside")
    assert said.code == 1
    assert f"the folder {tmp_path / 'shed'} does not exist" in said.err
