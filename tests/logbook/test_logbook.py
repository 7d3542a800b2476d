"""The logbook: nothing left out, photographs freed of all but the picture, a bundle that needs no program of ours.

Outside: Pillow's own EXIF writer and reader, Python's csv, json and zipfile, coreutils' format of SHA256SUMS.
"""

import csv
import hashlib
import io
import json
import zipfile
from dataclasses import dataclass, field
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from PIL import Image

from scrieve.errors import ScrieveError
from scrieve.logbook import bundle, entries, found, note_typed, prepared


@dataclass(frozen=True)
class Act:
    at: str
    who: str
    what: str
    detail: dict[str, Any] = field(default_factory=dict)
    number: int = 1
    undoes: int | None = None


@dataclass(frozen=True)
class Record:
    number: int
    kind: str
    member: str
    at: str
    who: str
    detail: dict[str, Any] = field(default_factory=dict)
    corrects: int | None = None


ACTS = [
    Act("2026-03-01T08:00:00.000+00:00", "Ada", "added marks", {"numbers": [1, 40], "source": "a.csv"}, 1),
    Act("2026-03-02T08:00:00.000+00:00", "Bo", "recorded: release", {"number": 1}, 2),
    Act("2026-03-03T08:00:00.000+00:00", "Ada", "kept frame", {"name": "14", "choice": {"sided_mm": 45}}, 3),
]
RECORDS = [
    Record(1, "release", "14", "2026-03-02T08:00:00+00:00", "Bo", {"offsets_mm": [1.5, 2.5], "temperature_c": 17.0}),
    Record(2, "release", "14", "2026-03-02T09:00:00+00:00", "Bo", {"offsets_mm": [1.5, 0.5]}, corrects=1),
    Record(3, "deviation", "plank 7", "2026-03-04T09:00:00+00:00", "Ada",
           {"text": "scarf short", "values": [["by", "9 mm"]]}),
]  # fmt: skip


def test_every_act_and_record_stands_once_the_latest_first():
    lines = entries(ACTS, RECORDS)
    assert [(e.what, e.member) for e in lines] == [
        ("deviation", "plank 7"),
        ("kept frame", "frame 14"),
        ("release", "frame 14"),
        ("release", "frame 14"),
        ("added marks", ""),
    ]
    assert lines[3].corrected_by == 2
    assert lines[2].corrects == 1
    assert lines[3].values == (("offsets", "1.5 mm, 2.5 mm"), ("temperature", "17 °C"))


def test_a_choice_made_anew_tells_what_was_changed_and_the_first_all_of_it():
    """sided 45 -> 48 and a timber put in: those two are told, not what stayed; another frame's is no change of this."""
    choices = [("14", {"sided_mm": 45, "moulded_mm": 60}), ("15", {"sided_mm": 45, "moulded_mm": 60}),
               ("14", {"sided_mm": 48, "moulded_mm": 60, "timber": "larch"}), ("14", None)]  # fmt: skip
    acts = [
        Act(f"2026-03-0{n}T08:00:00+00:00", "Ada", f"{'chose for' if choice else 'forgot'} a frame",
            {"name": name, "choice": choice and {"choice": choice, "label": name}}, n)
        for n, (name, choice) in enumerate(choices, 1)
    ]  # fmt: skip
    told = [entry.values for entry in reversed(entries(acts, []))]
    assert told[0] == (("sided", "45 mm"), ("moulded", "60 mm"), ("label", "14"))
    assert told[1] == (("sided", "45 mm"), ("moulded", "60 mm"), ("label", "15"))
    assert told[2] == (("sided", "45 mm → 48 mm"), ("timber", "none → larch"))
    assert told[3] == ()


@pytest.mark.parametrize(
    ("asked", "count"),
    [
        ({"words": "scarf"}, 1),
        ({"words": "SCARF plank"}, 1),
        ({"words": "scarf frame"}, 0),
        ({"member": "14"}, 3),
        ({"member": "Frame 14"}, 3),
        ({"day": "2026-03-02"}, 2),
        ({"who": "ada"}, 3),
        ({"what": "release"}, 2),
        ({}, 5),
    ],
)
def test_entries_are_found_by_what_is_asked(asked, count):
    assert len(found(entries(ACTS, RECORDS), **asked)) == count


def shot(size, orientation):
    picture = Image.new("RGB", size, "white")
    picture.paste((255, 0, 0), (0, 0, size[0] // 2, size[1] // 2))  # red in the upper left as the sensor saw it
    exif = Image.Exif()
    exif[0x0112] = orientation
    exif[0x010F] = "A maker of telephones"
    exif.get_ifd(0x8825)[2] = (50.0, 1.0, 2.0)  # GPS latitude
    out = io.BytesIO()
    picture.save(out, "JPEG", exif=exif, quality=95)
    return out.getvalue()


@pytest.mark.parametrize(
    ("orientation", "corner"), [(1, "left upper"), (3, "right lower"), (6, "right upper"), (8, "left lower")]
)
def test_a_photograph_is_upright_small_and_holds_the_picture_only(orientation, corner):
    # EXIF 2.3, tag 0x0112: 3 turned by 180 degrees, 6 by 90 to the right, 8 by 90 to the left
    given = shot((3000, 2000), orientation)
    assert b"telephones" in given
    jpeg = prepared(given)
    assert b"telephones" not in jpeg
    with Image.open(io.BytesIO(jpeg)) as kept:
        assert kept.format == "JPEG"
        assert not kept.getexif()
        assert "exif" not in kept.info
        assert max(kept.size) == 1600
        assert kept.size == ((1600, 1067) if orientation in (1, 3) else (1067, 1600))
        across = (
            "left"
            if kept.getpixel((30, kept.height // 4))[1] < 90 or kept.getpixel((30, 3 * kept.height // 4))[1] < 90
            else "right"
        )
        x = kept.width // 4 if across == "left" else 3 * kept.width // 4
        up = "upper" if kept.getpixel((x, kept.height // 4))[1] < 90 else "lower"
        assert f"{across} {up}" == corner


NO_PICTURES = [b"", b"no picture", b"\xff\xd8\xff\xe0 cut off", shot((400, 300), 1)[:900]]


@pytest.mark.parametrize("data", NO_PICTURES, ids=range(len(NO_PICTURES)))
def test_what_is_no_photograph_is_told(data):
    with pytest.raises(ScrieveError, match="photograph"):
        prepared(data)


@pytest.mark.parametrize(
    ("typed", "told"),
    [
        ({}, "says nothing"),
        ({"text": "x", "temperature": "200"}, "temperature"),
        ({"text": "x", "humidity": "wet"}, "humidity"),
        ({"text": "x", "values": "gap 4 mm"}, "line 1"),
        ({"text": "x" * 5000}, "signs long"),
    ],
)
def test_an_entry_that_cannot_be_stored_says_why(typed, told):
    with pytest.raises(ScrieveError, match=told):
        note_typed(typed)


TEXT = st.text(st.characters(codec="utf-8", exclude_categories=["Cs", "Cc"]), max_size=30)


@settings(max_examples=25, deadline=None)
@given(st.lists(st.tuples(TEXT, TEXT), min_size=1, max_size=4))
def test_the_bundle_is_read_back_by_any_program(words):
    records = [Record(n + 1, "note", a, "2026-03-04T09:00:00+00:00", b, {"text": a}) for n, (a, b) in enumerate(words)]
    rows = [vars(record) for record in records]
    acts = [vars(act) | {"chain": "ab"} for act in ACTS]
    jpeg = b"\xff\xd8 picture"
    digest = hashlib.sha256(jpeg).hexdigest()
    data = bundle(
        {"name": "Ø"}, [{"frame": words[0][0], "height_mm": 1.5}], acts, rows, entries(ACTS, records), {digest: jpeg}
    )
    assert data == bundle(
        {"name": "Ø"}, [{"frame": words[0][0], "height_mm": 1.5}], acts, rows, entries(ACTS, records), {digest: jpeg}
    )
    with zipfile.ZipFile(io.BytesIO(data)) as archive:
        files = {name: archive.read(name) for name in archive.namelist()}
    assert json.loads(files["records.json"]) == rows
    book = list(csv.DictReader(io.StringIO(files["logbook.csv"].decode(), newline="")))
    assert sorted(row["text"] for row in book if row["what"] == "note") == sorted(a for a, _ in words)
    listed = dict(line.split("  ")[::-1] for line in files.pop("SHA256SUMS").decode().splitlines())
    assert listed == {name: hashlib.sha256(content).hexdigest() for name, content in files.items()}
    assert files[f"photographs/{digest}.jpg"] == jpeg
