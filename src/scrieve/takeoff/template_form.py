"""The form of templates: reference marks and points as read on a template -> marks."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import NamedTuple

import numpy as np

from scrieve.errors import BadMarks
from scrieve.takeoff.columns import Cells
from scrieve.takeoff.entries import Entry, Form, Sheet, gathered, one_sigma, pair, stated_sigma
from scrieve.takeoff.tables import Given
from scrieve.takeoff.taken import Taken
from scrieve.takeoff.template import TemplateFit, fit_template

REQUIRED = ("frame", "station", "x", "y", "height", "half_breadth")
OPTIONAL = ("template", "mark", "turned", "side", "sigma", "kind", "note")
LENGTHS = ("station", "x", "y", "height", "half_breadth", "sigma")
FORM = Form(REQUIRED, OPTIONAL, LENGTHS)

_TURNED = {"": None, "yes": True, "y": True, "no": False, "n": False}


class _Own(NamedTuple):
    template: str
    drawn: tuple[float, float]
    known: tuple[float, float] | None
    turned: bool | None


def read_templates(
    data: Given, name: str, *, units: str = "mm", known: Mapping[str, float] | None = None, sigma_mm: float = 2.0
) -> Taken:
    """Read a file of templates; the rows alike in frame, side and template are of one.

    Rows with a height and half-breadth are its reference marks, the others the points to be placed.

    Parameters
    ----------
    data : bytes or Table
        A CSV or XLSX file with the columns of docs/formats.md, "Templates".
    name, units, known
        As in `read_marks`.
    sigma_mm : float
        Error of a row that does not state its own, one standard deviation [mm].

    Raises
    ------
    BadMarks
        The file is no table, has no rows, or lacks a required column.
    """
    sheet = Sheet.open(data, name, FORM, units)
    entries = sheet.entries(_own, "template", known or {})
    for key, rows in gathered(entries, lambda one: one.own.template).items():
        if sheet.whole(key, rows):
            _template(sheet, rows, sigma_mm)
    return sheet.taken()


def _template(sheet: Sheet, rows: Sequence[Entry[_Own]], sigma_mm: float) -> None:
    known = [(one, one.own.known) for one in rows if one.own.known is not None]
    references = [one for one, _ in known]
    points = [one for one in rows if one.own.known is None]
    said = {one.own.turned for one in rows} - {None}
    called = f"template {rows[0].own.template}" if rows[0].own.template else "the template"
    if len(said) > 1:
        sheet.complain(rows, f"{called} is both turned over and not; write one of them.")
        return
    if len(references) < 2:
        sheet.complain(
            rows,
            f"{called} has {len(references)} reference marks; give two or more, each with its height and half_breadth "
            "on the hull.",
        )
        return
    if not points:
        sheet.warnings.append(
            f"{sheet.name} line {rows[0].line}: {called} has reference marks, but no points to place."
        )
    drawn = np.array([one.own.drawn for one in references])
    places = np.array([place for _, place in known])
    sigma = one_sigma(references, sigma_mm)
    turned = said.pop() if said else None
    try:
        fit = fit_template(drawn, places, sigma=sigma, turned=turned)
    except BadMarks as error:
        sheet.complain(references, f"{called}: {error}")
        return
    lines = ", ".join(str(one.line) for one in references)
    sheet.warnings += [f"{sheet.name} line {lines}: {called}: {text}" for text in fit.warnings]
    read = {
        "template": rows[0].own.template, "drawn_mm": drawn.tolist(), "known_mm": places.tolist(),
        "sigma_mm": stated_sigma(references), "turned": turned,
    }  # fmt: skip
    found = {"turned": fit.turned, "residuals_mm": fit.residuals_mm.tolist(), "sigma_mm": sigma.tolist()}
    for one in points:
        _point(sheet, one, fit, read, found, sigma_mm)


def _point(
    sheet: Sheet,
    one: Entry[_Own],
    fit: TemplateFit,
    read: Mapping[str, object],
    found: Mapping[str, object],
    sigma_mm: float,
) -> None:
    sigma = one_sigma([one], sigma_mm)
    point, covariance = fit.place([one.own.drawn], sigma)
    own = {"point_mm": list(one.own.drawn), "point_sigma_mm": one.sigma_mm}
    advised = "look at the column turned, and at the reference marks"
    sheet.place(
        one,
        "templates",
        point[0],
        covariance[0],
        {**read, **own},
        {**found, "point_sigma_mm": float(sigma[0])},
        advised,
    )


def _own(cells: Cells) -> _Own:
    x, y = cells.length("x"), cells.length("y")
    known = pair(cells, "height", "half_breadth")
    word = cells.text("turned").lower()
    if word not in _TURNED:
        cells.complain("turned", "yes where the template lies with its other face up, no where not, or nothing")
    return _Own(cells.text("template"), (x or 0.0, y or 0.0), known, _TURNED.get(word))
