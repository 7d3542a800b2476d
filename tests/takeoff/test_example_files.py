"""The example files of the forms: as a spreadsheet each holds what its CSV holds."""

from pathlib import Path

import pytest

from scrieve.planking import read_seams, read_spiling
from scrieve.stock.forms import read_boards
from scrieve.takeoff.bevels import read_bevels
from scrieve.takeoff.reading import FORMS, read_taken
from scrieve.takeoff.tables import read_table

EXAMPLES = Path(__file__).parents[2] / "examples" / "formats"
READERS = dict.fromkeys(FORMS, read_taken) | {
    "bevels": read_bevels, "boards": read_boards, "seams": read_seams, "spiling": read_spiling,
}  # fmt: skip


def test_every_form_has_both_and_a_reader():
    assert {path.stem for path in EXAMPLES.glob("*.csv")} == {path.stem for path in EXAMPLES.glob("*.xlsx")}
    assert {path.stem for path in EXAMPLES.glob("*.csv")} == set(READERS)


@pytest.mark.parametrize("form", READERS)
def test_both_hold_the_same(form):
    texts = [(EXAMPLES / f"{form}.{kind}").read_bytes() for kind in ("csv", "xlsx")]
    plain, ruled = (READERS[form](text, form) for text in texts)
    assert plain == ruled
    assert len(read_table(texts[1], form).rows) == len(read_table(texts[0], form).rows) > 7
