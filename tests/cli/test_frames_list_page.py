"""docs/formats.md, "The list of frames", says what the reader does."""

import re
from pathlib import Path

from scrieve.frames.forms import LENGTHS, LIMITS_MM, MOST_LAMINATIONS, OTHERS, read_frames

PART = (Path(__file__).parents[2] / "docs" / "formats.md").read_text(encoding="utf-8")
PART = PART.split("## The list of frames\n")[1].split("\n## ")[0]
ROWS = {
    row[0].strip(" `"): row[1:] for row in (line.strip("|").split("|") for line in PART.splitlines() if "| `" in line)
}


def test_every_column_is_there_and_no_other():
    assert set(ROWS) == {"frame", *LENGTHS, *OTHERS}
    assert [name for name, (needed, _) in ROWS.items() if needed.strip() == "yes"] == ["frame"]


def test_the_limits():
    for name, (_, text) in ROWS.items():
        said = [tuple(map(float, pair)) for pair in re.findall(r"([\d.]+) to ([\d.]+) mm", text)]
        assert said == ([LIMITS_MM[name]] if name in LIMITS_MM else [])
    assert f"2 to {MOST_LAMINATIONS};" in ROWS["count"][1]


def test_the_example_is_read_without_a_remark():
    reading = read_frames(PART.split("```csv\n")[1].split("```")[0].encode(), "example.csv")
    assert (reading.bad, reading.warnings) == ((), ())
    first, second = reading.rows
    assert (first.frame, first.station_mm) == ("4", None)
    assert first.settings == {"timber": "sapele/larch", "sided_mm": 45.0, "moulded_mm": 60.0}
    assert (second.frame, second.station_mm) == ("5a", 3300.0)
    assert second.settings["moulded_mm"] == 2.375 * 25.4


def test_only_the_frame_is_needed():
    (row,) = read_frames(b"frame\n14\n", "f.csv").rows
    assert (row.frame, row.station_mm, row.settings) == ("14", None, {})


def test_any_setting_may_stand_in_the_list_and_a_bad_one_is_named():
    head = "frame,heel_cut,notches,allow_for_cleaning,old_sided\n"
    good = read_frames((head + '4,plumb at 20,"limber: outer at 300, 30 x 12",no,38\n').encode(), "f.csv")
    assert good.rows[0].settings == {
        "heel_cut": ("plumb", 20.0, 0.0),
        "notches": (("limber", 300.0, "outer", 30.0, 12.0),),
        "allow_for_cleaning": False,
        "old_sided_mm": 38.0,
    }
    bad = read_frames((head + "4,plumb 20 30,,,\n").encode(), "f.csv")
    assert bad.rows == ()
    assert "plumb at 20" in bad.bad[0]
