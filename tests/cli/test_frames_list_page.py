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
