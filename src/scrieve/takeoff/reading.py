"""Reading: which form a file of marks is, told by its columns, and the marks that it holds."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import get_args

from scrieve.errors import BadMarks
from scrieve.takeoff import arc_form, offsets, ordinates, tape_form, template_form
from scrieve.takeoff.columns import plain_name
from scrieve.takeoff.entries import Form
from scrieve.takeoff.marks import Way
from scrieve.takeoff.tables import Given, read_table
from scrieve.takeoff.taken import Taken

FORMS: dict[Way, Form] = {
    "offsets": offsets.FORM,
    "ordinates": ordinates.FORM,
    "tapes": tape_form.FORM,
    "templates": template_form.FORM,
    "arcs": arc_form.FORM,
}
#: Columns that no other form has.
_TELLING: dict[Way, tuple[str, ...]] = {
    "ordinates": ("along", "off"),
    "tapes": ("tape",),
    "templates": ("x", "y"),
    "arcs": ("opening",),
}
_READERS: dict[Way, Callable[..., Taken]] = {
    "ordinates": ordinates.read_ordinates,
    "tapes": tape_form.read_tapes,
    "templates": template_form.read_templates,
    "arcs": arc_form.read_arcs,
}


def recognised(data: Given, name: str) -> Way:
    """Return the form of a file of marks, by the columns that no other form has; offsets where there are none.

    Raises
    ------
    BadMarks
        The file is no table, has no rows, or has the columns of two forms.
    """
    rows = [row for row in read_table(data, name).rows if not row.is_remark]
    if not rows:
        raise BadMarks(f"{name}: no rows; the first row names the columns.")
    heads = [plain_name(cell) for cell in rows[0].cells]

    def there(column: str) -> bool:
        return any(head == column or (head.startswith(f"{column}_") and _unit(head, column)) for head in heads)

    found = [way for way, columns in _TELLING.items() if all(there(column) for column in columns)]
    if len(found) > 1:
        raise BadMarks(
            f"{name}: has the columns of {' and of '.join(found)}; put them into files of their own, or say which "
            "form it is."
        )
    return found[0] if found else "offsets"


def _unit(head: str, column: str) -> bool:
    return head.removeprefix(f"{column}_").strip("()[]") in ("mm", "cm", "m", "in", "ft")


def read_taken(
    data: Given,
    name: str,
    *,
    way: Way | None = None,
    units: str = "mm",
    known: Mapping[str, float] | None = None,
    sigma_mm: float = 2.0,
) -> tuple[Way, Taken]:
    """Read a file of marks taken off in any way; return the way and what it holds.

    Parameters
    ----------
    data : bytes or Table
        A CSV or XLSX file in one of the forms of docs/formats.md.
    name : str
        The file's name, for the messages.
    way : {'offsets', 'ordinates', 'tapes', 'templates', 'arcs'}, optional
        Its form; told by its columns where it is not given.
    units : {'mm', 'cm', 'm', 'in', 'ft'}
        Unit of bare numbers under a head without a unit.
    known : mapping of str to float, optional
        Station [mm] of each frame that the boat has already.
    sigma_mm : float
        Error of a reading that does not state its own, one standard deviation [mm].

    Raises
    ------
    BadMarks
        The file is no table, has no rows, lacks a required column, or has those of two forms.
    """
    if way is not None and way not in get_args(Way):
        raise BadMarks(f"form {way!r}; say one of {', '.join(get_args(Way))}.")
    settled = way or recognised(data, name)
    if settled == "offsets":
        return settled, offsets.read_marks(data, name, units=units, known=known)
    return settled, _READERS[settled](data, name, units=units, known=known, sigma_mm=sigma_mm)
