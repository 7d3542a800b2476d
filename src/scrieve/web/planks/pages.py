"""The list of planks, and one plank."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Annotated

from fastapi import APIRouter, Query, Request
from starlette.responses import RedirectResponse, Response

from scrieve.athand import AtHand
from scrieve.errors import ScrieveError
from scrieve.planking import BUTT_RULES, PlankDesign, SpilingChoice, compare_planks
from scrieve.sheets.bench import BenchSheet
from scrieve.sheets.drawing import Drawing
from scrieve.sheets.plank_views import comparison_drawing, comparison_table, plank_on_hull
from scrieve.store import Conflict
from scrieve.web.addresses import part_path, plank_path
from scrieve.web.forms import Sent
from scrieve.web.planks.boards import on_boards
from scrieve.web.planks.ends import EndsSight, ends_of
from scrieve.web.planks.forms import CHOICE_WORDS, changed, fields_of
from scrieve.web.settling import as_seen, keep_plank
from scrieve.web.views import View
from scrieve.wording import in_units

pages = APIRouter()
_drawings: AtHand[Drawing | None] = AtHand(40)


@dataclass(frozen=True)
class PlankSight:
    """One plank as its page shows it; `said` tells why there is no design."""

    name: str
    kind: str
    design: PlankDesign | None
    sheet: BenchSheet | None
    revision: str
    said: ScrieveError | None


def see_plank(view: View, name: str) -> PlankSight:
    """Return what there is to show of a plank.

    Raises
    ------
    NoSuchPlank
        It is not in this boat.
    """
    revision = view.kept.plank_revision(name)
    kind = view.kept.planks[name]["kind"]
    try:
        if kind != "spiled":
            view.ready()
        design, sheet = view.plank(name)
    except ScrieveError as error:
        return PlankSight(name, kind, None, None, revision, error)
    return PlankSight(name, kind, design, sheet, revision, None)


@pages.get("/planks")
def planks(
    request: Request,
    label: Annotated[str | None, Query()] = None,
    against: Annotated[str, Query()] = "",
    rules: Annotated[str, Query()] = "",
) -> Response:
    """The list of planks; with `label`, the page of a plank whose name no path can carry."""
    view = View(request)
    if early := view.early():
        return early
    if label is not None:
        return plank_page(view, label, against, rules=rules)
    return list_page(view)


def list_page(
    view: View, typed: Mapping[str, str] | None = None, refused: ScrieveError | None = None, status: int = 200
) -> Response:
    """Return the list of planks; with what was typed of a plank's file, and why it was refused."""
    return view.page(
        "planks.html", status, planks=[see_plank(view, name) for name in view.kept.planks], typed=typed or {},
        refused=refused,
    )  # fmt: skip


@pages.get("/planks/{name:path}")
def plank(
    request: Request, name: str, against: Annotated[str, Query()] = "", rules: Annotated[str, Query()] = ""
) -> Response:
    """One plank: on the hull, flat outline, setting out, bevels, verdicts, board; `against` lays it over another,
    `rules` names the set that its ends are held against.
    """
    view = View(request)
    return view.early() or plank_page(view, name, against, rules=rules)


@pages.post("/planks/settings")
def plank_settings(request: Request, sent: Sent) -> Response:
    """Keep the settings of a plank where it can be drawn with them; else give back what was typed."""
    view = View(request)
    name = sent.get("name", "")
    view.kept.plank_revision(name)
    try:
        seen = as_seen(view.file.engine, "plank", name, sent) or view.kept.planks[name]
        entry = changed(seen, sent, view.boat.units)
        if entry["kind"] != "spiled":
            view.ready()

        keep_plank(view, name, entry, sent)
    except Conflict:
        raise
    except ScrieveError as error:
        return plank_page(view, name, "", sent, error, 422)
    return RedirectResponse(plank_path(name), 303)


def plank_page(
    view: View,
    name: str,
    against: str = "",
    typed: Mapping[str, str] | None = None,
    refused: ScrieveError | None = None,
    status: int = 200,
    told: Sequence[str] = (),
    rules: str = "",
) -> Response:
    """Return the page of a plank; `told` is what to look at in the file that it has just been read from."""
    sight, units = see_plank(view, name), view.boat.units
    entry = view.kept.planks[name]
    drawing, compared, comparison_error = None, None, None
    ends: EndsSight | ScrieveError | None = None
    others = [other for other, there in view.kept.planks.items() if {there["kind"], sight.kind} == {"strake", "spiled"}]
    if sight.design is not None and view.hull is not None and sight.kind != "spiled":
        drawing = _drawings.get(sight.revision, lambda: _on_hull(view, sight))
    if sight.design is not None:
        try:
            ends = ends_of(view, name, rules)
        except ScrieveError as error:  # the side has changed under the plank: its own page stands all the same
            ends = error
    if against and sight.design is not None:
        try:
            other = view.plank(against)[0]
            one, two = (sight.design, other) if sight.kind == "spiled" else (other, sight.design)
            found = compare_planks(one, two)
            compared = {"found": found, "drawing": comparison_drawing(found, two, units),
                        "table": comparison_table(found, units), "spiled": one.name, "expanded": two.name}  # fmt: skip
        except ScrieveError as error:
            comparison_error = error
    given = [(field, label, (typed or {}).get(field, value), values)
             for field, label, value, values in fields_of(entry, units)]  # fmt: skip
    return view.page(
        "plank.html", status, sight=sight, on_hull=drawing, others=others, against=against, compared=compared,
        comparison_error=comparison_error, fields=given, choice_words=CHOICE_WORDS, refused=refused,
        told=told, on_boards=on_boards(view.file.engine, name), part_path=part_path, ends=ends,
        ends_error=isinstance(ends, ScrieveError), butt_rules=list(BUTT_RULES), in_units=in_units,
    )  # fmt: skip


def _on_hull(view: View, sight: PlankSight) -> Drawing | None:
    assert sight.design is not None
    choice = sight.design.choice
    if isinstance(choice, SpilingChoice):
        return None
    return plank_on_hull(sight.design, view.kept.hull(made_from=choice.hull), view.boat.units)
