"""`scrieve jig`: the bed described once, a frame set on it, how it stands, the order of gluing."""

import json

import pytest

from scrieve import store
from scrieve.frames.jig.setting_kept import JigKept

BED = ("--bed", "rails=20", "--bed", "pitch=120mm", "--bed", "brackets=24", "--bed", "swivel-most=60")


def kept(boat):
    engine = store.open_boat(boat)
    try:
        return JigKept.of(store.choices(engine, "jig"))
    finally:
        engine.dispose()


@pytest.fixture
def framed(boat, done):
    for label in ("4", "5"):
        done("frame", boat, label, "--timber", "larch", "--sided", "40", "--moulded", "40", "--lamination", "4")
    return boat


def test_the_bed_is_described_once_and_a_frame_set_on_it(framed, done):
    assert done("jig", framed).startswith("Jig, not described yet")
    assert "20 rails 120 mm apart" in done("jig", framed, *BED)
    assert kept(framed).bed.swivel_most_rad == pytest.approx(1.0471975512)
    found = json.loads(done("jig", framed, "5", "--json"))
    count = len(found["brackets"])
    assert found["moved"] == count
    assert all(each["travel_mm"] % 0.5 == 0 for each in found["brackets"])
    assert {each["along_mm"] % 120.0 for each in found["brackets"] if each["rail"]} == {0.0}
    said = done("jig", framed, "5", "--stands")
    assert f"{count} of {count} brackets to move" in said
    assert "Before the glue is mixed:" in said
    assert f"0 of {count} brackets to move" in done("jig", framed, "5")
    assert "It stands for frame 5" in done("jig", framed)
    done("jig", framed, "--forget")
    assert kept(framed).setting is None


def test_the_order_is_found_and_kept_for_the_settings(framed, done):
    done("jig", framed, *BED, "--bed", "between=no")
    found = json.loads(done("jig", framed, "--order", "--after", "4:5", "--json"))
    assert [turn["frame"] for turn in found["turns"]] == ["5", "4"]
    assert kept(framed).plan is None
    said = done("jig", framed, "--order", "--keep")
    assert f"Setting time {kept(framed).plan.minutes:.0f} min" in said
    first = kept(framed).plan.turns[0]
    assert "posed as the order kept has it" in done("jig", framed, first.frame)


def test_the_change_list_and_the_plan_are_printed(framed, done, run, tmp_path):
    sheet = tmp_path / "jig.pdf"
    done("jig", framed, "5", "--pdf", sheet)
    assert sheet.read_bytes().startswith(b"%PDF")
    assert "no order is kept" in run("jig", framed, "--pdf", tmp_path / "plan.pdf").err
    done("jig", framed, *BED, "--bed", "between=no")
    done("jig", framed, "--order", "--keep")
    done("jig", framed, "--pdf", tmp_path / "plan.pdf")
    assert (tmp_path / "plan.pdf").read_bytes().startswith(b"%PDF")


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (("--bed", "rails=two"), "give a number"),
        (("--bed", "wheels=4"), "NAME=VALUE, NAME being one of"),
        (("--bed", "travel-most=0"), "--bed travel-most: found 0.0;"),
        (("--stands",), "Give its LABEL"),
        (("--keep",), "go with --order"),
        (("--order", "--without", "77"), "frame '77' is not among those designed"),
    ],
)
def test_what_cannot_be_is_told_and_nothing_stored(boat, run, words, says):
    said = run("jig", boat, *words)
    assert said.code == 1
    assert says in said.err
    assert kept(boat) == JigKept()
