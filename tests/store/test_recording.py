"""Records at the bench: only added to, once each, and a correction leaves the old one standing in the file."""

import pytest

from scrieve.errors import BadBoat
from scrieve.store import acts, add_record, choices, keep_choice, open_boat, records


def test_a_record_sent_twice_is_stored_once(engine):
    first = add_record(engine, "release", "14", {"offsets": [1.5, -0.5]}, key="k1")
    assert add_record(engine, "release", "14", {"offsets": [1.5, -0.5]}, key="k1") == first
    assert [record.detail["offsets"] for record in records(engine)] == [[1.5, -0.5]]


def test_a_correction_stands_for_the_old_one_which_stays_in_the_acts(engine):
    old = add_record(engine, "release", "14", {"offset": 15.0})
    new = add_record(engine, "release", "14", {"offset": 1.5}, corrects=old)
    assert [(record.number, record.corrects) for record in records(engine, "release", "14")] == [(new, old)]
    assert [act.detail["number"] for act in acts(engine) if act.what == "recorded: release"] == [old, new]


def test_records_are_found_by_kind_and_member(engine):
    for kind, member in (("release", "14"), ("glue-up", "14"), ("release", "15")):
        add_record(engine, kind, member, {})
    assert [record.member for record in records(engine, "release")] == ["14", "15"]
    assert [record.kind for record in records(engine, member="14")] == ["release", "glue-up"]


@pytest.mark.parametrize(("detail", "corrects"), [({"mm": float("nan")}, None), ({}, 99)])
def test_what_cannot_be_kept_is_refused_and_nothing_stored(engine, detail, corrects):
    with pytest.raises(BadBoat):
        add_record(engine, "release", "14", detail, corrects=corrects)
    assert records(engine) == ()


def test_the_jig_and_other_choices_are_kept_by_name(engine, where):
    keep_choice(engine, "jig", "bed", {"length_mm": 4000.0})
    keep_choice(engine, "jig", "bed", {"length_mm": 4200.0})
    keep_choice(engine, "jig", "setting", {"3": 120.5})
    engine.dispose()
    again = open_boat(where)
    assert choices(again, "jig") == {"bed": {"length_mm": 4200.0}, "setting": {"3": 120.5}}
    keep_choice(again, "jig", "setting", None)
    assert list(choices(again, "jig")) == ["bed"]
    again.dispose()
