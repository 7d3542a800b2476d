"""The page that lays a diagonal skin over a side: one layer or two that cross, and their planks."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict, dataclass, replace
from functools import cached_property
from typing import Annotated, Any, Literal
from urllib.parse import urlencode

from fastapi import APIRouter, Query, Request
from starlette.responses import RedirectResponse, Response

from scrieve import store
from scrieve.athand import AtHand
from scrieve.errors import BadPlank, NoSuchPlank, ScrieveError
from scrieve.planking import Skin, SkinChoice, lay_skin
from scrieve.revision import revision
from scrieve.sheets.drawing import Drawing
from scrieve.sheets.figures import length
from scrieve.sheets.plank_skin import skin_drawing, skin_table
from scrieve.store import Conflict
from scrieve.units import Units
from scrieve.web.addresses import plank_path
from scrieve.web.forms import Sent, read_length
from scrieve.web.lining.forms import SIDES, read_seam, seam_text
from scrieve.web.lining.pages import HANDS, sent_side
from scrieve.web.lining.work import Hand
from scrieve.web.settling import as_seen, keep_plank, keep_settled
from scrieve.web.views import View

pages = APIRouter()
Layer = Literal[1, 2]
NAMES: Mapping[Layer, str] = {1: "inner", 2: "outer"}
_LENGTHS = ("thickness_mm", "width_mm")
_skins: AtHand[Skin] = AtHand(16)
_drawings: AtHand[Drawing] = AtHand(16)


def skin_path(hand: str, layer: int = 1, plank: int = 0, place: str = "") -> str:
    """Address of the page for one side.

    Examples
    --------
    >>> skin_path("pair"), skin_path("port", 2, 7, "plank")
    ('/planks/skin?side=pair', '/planks/skin?side=port&layer=2&plank=7#plank')
    """
    asked: dict[str, Any] = {"side": hand}
    asked |= {"layer": layer} if layer != 1 or plank else {}
    asked |= {"plank": plank} if plank else {}
    return "/planks/skin?" + urlencode(asked) + (f"#{place}" if place else "")


@dataclass
class Skins:
    """Both layers over one side, as stored of it."""

    view: View
    hand: Hand

    @cached_property
    def stored(self) -> Mapping[str, Any]:
        """What is stored of this side."""
        found: Mapping[str, Any] = store.choices(self.view.file.engine, "skin").get(self.hand, {})
        return found

    @cached_property
    def choices(self) -> dict[Layer, SkinChoice]:
        """The layers chosen: none yet, the inner one, or both."""
        return {layer: SkinChoice.from_mapping(self.stored[NAMES[layer]]) for layer in NAMES
                if self.stored.get(NAMES[layer])}  # fmt: skip

    def laid(self, choice: SkinChoice) -> Skin:
        """Lay one layer; raises as `lay_skin` does."""
        return _skins.get((self.view.state.revision, revision(choice)), lambda: lay_skin(self.view.ready(), choice))

    def made(self, layer: Layer) -> dict[int, str]:
        """Planks of a layer that are in the boat as this side has the layer now: number -> name."""
        choice, found = self.choices.get(layer), {}
        for name, entry in self.view.kept.planks.items():
            if choice is not None and entry["kind"] == "diagonal":
                other = SkinChoice.from_mapping(entry["choice"])
                if _layer_of(other) == _layer_of(choice):
                    found[other.plank] = name
        return found


def _layer_of(choice: SkinChoice) -> SkinChoice:
    """The layer a plank belongs to: what does not move its seams is left out."""
    plain = SkinChoice("layer", choice.thickness_mm)
    return replace(choice, name="layer", plank=1, planing_mm=plain.planing_mm, trim_mm=plain.trim_mm,
                   wany_margin_mm=plain.wany_margin_mm, timber="", note="")  # fmt: skip


@pages.get("/planks/skin")
def skin(
    request: Request,
    side: Annotated[Hand, Query()] = "pair",
    layer: Annotated[int, Query(ge=1, le=2)] = 1,
    plank: Annotated[int, Query(ge=0, le=150)] = 0,
) -> Response:
    """Diagonal skins of a side laid out, or the form to lay them."""
    view = View(request)
    return view.early() or _page(Skins(view, side), layer, plank)


@pages.post("/planks/skin")
def sent_skin(request: Request, sent: Sent) -> Response:
    """Lay the layers as typed, or make a plank of one of them: as the form's name says."""
    view, hand = sent_side(request, sent)
    here = Skins(view, hand)
    layer: Layer = 2 if sent.get("layer") == "2" else 1
    number = int(text) if (text := sent.get("plank", "")).isdecimal() else 0
    try:
        if sent.get("form") == "plank":
            return RedirectResponse(plank_path(_make(here, layer, number, sent)), 303)
        was = Skins(view, hand)
        was.stored = as_seen(view.file.engine, "skin", hand, sent) or {}
        chosen = _read(was, sent, view.boat.units)
        for choice in chosen.values():
            here.laid(choice)
        kept = {NAMES[one]: asdict(chosen[one]) if one in chosen else None for one in NAMES}
        keep_settled(view.file.engine, "skin", hand, kept, sent, fit=lambda both: _lay_all(here, both))
    except Conflict:
        raise
    except ScrieveError as error:
        return _page(here, layer, number, sent, error, 422)
    return RedirectResponse(skin_path(hand, place="layer-1"), 303)


def _lay_all(here: Skins, kept: Mapping[str, Any]) -> None:
    for layer in filter(None, kept.values()):
        here.laid(SkinChoice.from_mapping(layer))


def _make(here: Skins, layer: Layer, number: int, sent: Mapping[str, str]) -> str:
    """Put one plank of a layer into the boat's planks, once it has been drawn; return its name."""
    if layer not in here.choices:
        raise NoSuchPlank(f"there is no {NAMES[layer]} layer on this side; lay it first.")
    choice = here.choices[layer]
    hand = "" if here.hand == "pair" else f" {here.hand}"
    name = sent.get("name", "").strip() or f"{NAMES[layer]} {number}{hand}"
    kept = here.view.kept
    before = kept.planks.get(name)
    if before is not None and before["kind"] != "diagonal":
        raise NoSuchPlank(f"a plank {name!r} is there already, made from something else; give another name.")
    marks = {edge: [asdict(mark) for mark in getattr(choice, edge)] for edge in ("lower", "upper")}
    entry = {"kind": "diagonal", "choice": asdict(replace(choice, name=name, plank=max(number, 1))) | marks}

    keep_plank(here.view, name, entry, sent)
    return name


def form_of(here: Skins, units: Units) -> dict[str, str]:
    """Return the form filled with what is chosen, or with what is usual."""
    inner, outer = here.choices.get(1), here.choices.get(2)
    usual = SkinChoice("usual", here.view.boat.thickness_mm / 2 if here.view.boat.thickness_mm else 10.0)
    one = inner or usual

    def told(mm: float) -> str:
        return length(mm, units, 0 if mm == round(mm) else 1)

    form = {f"inner_{name}": told(getattr(one, name)) for name in _LENGTHS} | {"inner_angle_deg": f"{one.angle_deg:g}"}
    two = outer or replace(usual, angle_deg=180.0 - one.angle_deg)
    form |= {f"outer_{name}": told(getattr(two, name)) for name in _LENGTHS} | {"outer_angle_deg": f"{two.angle_deg:g}"}
    form["outer"] = "yes" if outer is not None or inner is None else ""
    form |= {"first": one.first, "last": one.last, "lower": seam_text(one.lower, units),
             "upper": seam_text(one.upper, units)}  # fmt: skip
    return form


def _read(here: Skins, sent: Mapping[str, str], units: Units) -> dict[Layer, SkinChoice]:
    """Return the layers typed; what still reads as before keeps its exact value."""
    before = form_of(here, units)
    region: dict[str, Any] = {"first": sent.get("first", "").strip(), "last": sent.get("last", "").strip()}
    for edge in ("lower", "upper"):
        text = sent.get(edge, "").strip()
        old = here.choices.get(1)
        same = old is not None and text == before[edge]
        region[edge] = getattr(old, edge) if same else read_seam(f"{edge} seam, {text}", units).marks if text else ()
    found: dict[Layer, SkinChoice] = {}
    for layer, name in NAMES.items():
        if layer == 2 and not sent.get("outer"):
            continue
        old = here.choices.get(layer)
        values: dict[str, Any] = {}
        for field in _LENGTHS:
            text = sent.get(f"{name}_{field}", "").strip()
            same = old is not None and text == before[f"{name}_{field}"]
            values[field] = (
                getattr(old, field)
                if same
                else read_length(f"{field.removesuffix('_mm').capitalize()} of the {name} layer", text, units)
            )
        angle = sent.get(f"{name}_angle_deg", "").strip()
        try:
            values["angle_deg"] = float(angle)
        except ValueError:
            raise BadPlank(f"angle of the {name} layer: found {angle!r}; give degrees.") from None
        under = found[1].thickness_mm if layer == 2 else 0.0
        found[layer] = SkinChoice(f"{name} layer", side=SIDES[here.hand], skin=layer, under_mm=under,  # type: ignore[arg-type]
                                  **values, **region)  # fmt: skip
    return found


def _page(here: Skins, layer: int, plank: int, typed: Mapping[str, str] | None = None,
          refused: ScrieveError | None = None, status: int = 200) -> Response:  # fmt: skip
    view, u = here.view, here.view.boat.units
    form = form_of(here, u)
    if typed and typed.get("form") != "plank":
        form = {name: typed.get(name, "") for name in form}
    shown, cannot = [], view.cannot
    if view.hull is not None:
        try:
            shown = [_layer(here, one) for one in here.choices]
        except ScrieveError as error:
            cannot = error
    return view.page(
        "plank_skin.html", status, side=here, hand_names=HANDS, form=form, refused=refused, typed=typed or {},
        skin_path=skin_path, layers=shown, cannot=cannot, layer=layer, plank=plank,
        frames=list(view.hull.stations) if view.hull else [],
    )  # fmt: skip


def _layer(here: Skins, layer: Layer) -> dict[str, Any]:
    """What the page shows of one layer: a plank that has been made leads to its page, another to its making."""
    view, choice, made = here.view, here.choices[layer], here.made(layer)
    other = here.choices.get(1 if layer == 2 else 2)
    units = view.boat.units
    laid, crossing = here.laid(choice), here.laid(other) if other else None

    def link(number: int) -> str:
        return plank_path(made[number]) if number in made else skin_path(here.hand, layer, number, f"layer-{layer}")

    key = (
        view.state.revision,
        revision(choice),
        revision(other) if other else "",
        tuple(made.items()),
        units,
        here.hand,
    )
    drawing = _drawings.get(key, lambda: skin_drawing(laid, view.ready(), crossing, made, units, link))
    return {"number": layer, "name": NAMES[layer], "choice": choice, "skin": laid, "drawing": drawing, "made": made,
            "table": skin_table(laid, made, units)}  # fmt: skip
