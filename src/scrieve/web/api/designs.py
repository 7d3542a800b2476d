"""The hull, one frame and one plank as JSON; a trial of a mark moved. A number that is none is null."""

from __future__ import annotations

import json
import math
from collections.abc import Mapping
from typing import Annotated, Any

from fastapi import Query, Request
from starlette.exceptions import HTTPException
from starlette.responses import Response

from scrieve.errors import BadLength
from scrieve.frames.columns.design import design_columns
from scrieve.frames.columns.rows import plain_columns
from scrieve.web.addresses import frame_path, plank_path
from scrieve.web.api.route import router
from scrieve.web.boat.pages import frame_states
from scrieve.web.fairing.frame import frame_view, told, try_as_typed
from scrieve.web.fairing.look import By, Look
from scrieve.web.fairing.sides import hull_by
from scrieve.web.fairing.trial import numbers
from scrieve.web.frames.pages import see
from scrieve.web.planks.pages import see_plank
from scrieve.web.views import View, drawn
from scrieve.working import Check, Working

pages = router("hull, frames, planks")

#: Whether an answer is to hold how each figure of its tables came about too.
WithColumns = Annotated[
    bool, Query(description="With `columns`: how each figure of the tables came about, by table, column and row.")
]


def checks(found: tuple[Check, ...]) -> list[dict[str, Any]]:
    """Checks as plain values."""
    return [{"name": c.name, "found": c.found, "limit": c.limit, "ok": c.ok} for c in found]


def workings(found: tuple[Working, ...]) -> list[dict[str, Any]]:
    """Figures with what they were reckoned from, as plain values."""
    return [
        {"figure": w.figure, "value": w.value, "formula": w.formula, "inputs": [list(pair) for pair in w.inputs],
         "source": w.source, "caution": w.caution}
        for w in found
    ]  # fmt: skip


def plain(value: Any) -> Any:
    """Return `value` fit for JSON: arrays as lists, numbers that are not finite as None.

    Examples
    --------
    >>> plain({"a": (1.0, float("nan"))})
    {'a': [1.0, None]}
    """
    if hasattr(value, "tolist"):
        value = value.tolist()
    if isinstance(value, Mapping):
        return {str(key): plain(each) for key, each in value.items()}
    if isinstance(value, (list, tuple)):
        return [plain(each) for each in value]
    if isinstance(value, float) and not math.isfinite(value):
        return None
    return value


def written(view: View, found: Mapping[str, Any]) -> Response:
    """Return what was found as JSON, under the name of the state that it was found in."""
    text = json.dumps(plain(found), ensure_ascii=False, allow_nan=False)
    headers = {"ETag": view.etag, "Cache-Control": "no-cache"}
    return Response(text, media_type="application/json", headers=headers)


@pages.get("/hull", summary="The hull")
def hull(request: Request) -> Response:
    """The hull: what the marks say, its frames and planks."""
    view = View(request)
    fair = view.ready()
    frames = [
        {
            "label": state.label,
            "station_mm": state.station_mm,
            "marks": state.marks,
            "suspects": state.suspects,
            "designed": state.designed,
            "page": frame_path(state.label),
        }
        for state in frame_states(view.kept, fair)
    ]
    found = {
        "boat": view.boat.name,
        "revision": view.state.revision,
        "rms_mm": fair.rms_mm,
        "error_mm": fair.error_mm,
        "first_station_mm": fair.x_range[0],
        "last_station_mm": fair.x_range[1],
        "marks": [
            {
                "id": off.number,
                "frame": off.frame,
                "side": off.side,
                "residual_mm": off.residual_mm,
                "out_by_sd": off.out_by_sd,
                "suspect": off.suspect,
                "guess": off.guess,
            }
            for off in fair.offs
        ],
        "frames": frames,
        "planks": [{"name": name, "page": plank_path(name)} for name in view.kept.planks],
    }
    return written(view, found)


@pages.get("/moved", summary="A mark moved, as a trial")
def moved(
    request: Request,
    mark: Annotated[int, Query(ge=1, lt=10**9)],
    height: Annotated[str, Query(max_length=40)],
    half_breadth: Annotated[str, Query(max_length=40)],
    hold: Annotated[bool, Query()] = False,
    revision: Annotated[str, Query(max_length=40)] = "",
    by: Annotated[By, Query()] = "",
    times: Annotated[int, Query(ge=0, le=1000)] = 0,
    teeth: Annotated[int, Query(ge=1, le=1000)] = 100,
    marks: Annotated[bool, Query()] = True,
    bands: Annotated[bool, Query()] = True,
    combs: Annotated[bool, Query()] = False,
) -> Response:
    """The line faired again with one mark moved, as a trial: nothing is stored.

    `revision` is that of the hull the asker sees: of another, 409. A length that cannot be read is answered with
    `error`. The rest of the choices are those of the drawing.
    """
    view = View(request)
    fair = view.ready()
    if revision and revision != view.state.revision:
        raise HTTPException(409, "The marks have changed meanwhile; open this page again.")
    if by:
        alone, cannot = hull_by(view, by, 5.0)
        if alone is None:
            raise cannot or HTTPException(
                503, "That side is being faired; ask again in a moment.", {"Retry-After": "1"}
            )
        fair = alone
    look = Look("frame", times, marks, bands, combs, by=by, teeth=teeth)
    try:
        trial, *texts = try_as_typed(view, fair, mark, height, half_breadth, hold=hold)
    except BadLength as error:  # half a length is typed before the whole of it: no fault
        return _trial({"mark": mark, "error": str(error)})
    drawing = frame_view(view, fair, look, trial.mark.frame).drawn(trial.hull, mark)
    found: dict[str, Any] = {
        "mark": mark,
        "frame": trial.mark.frame,
        "revision": view.state.revision,
        "height": texts[0],
        "half_breadth": texts[1],
        "height_mm": trial.mark.height_mm,
        "half_breadth_mm": trial.mark.half_breadth_mm,
        **numbers(trial, view.boat.units),
        "told": told(trial, view),
        "drawing": drawn(drawing),
    }
    return _trial(found)


def _trial(found: Mapping[str, Any]) -> Response:
    text = json.dumps(plain(found), ensure_ascii=False, allow_nan=False)
    return Response(text, media_type="application/json", headers={"Cache-Control": "no-store"})


@pages.get("/frame", summary="One frame")
def frame(
    request: Request, at: Annotated[str, Query(max_length=120, examples=["14"])], columns: WithColumns = False
) -> Response:
    """The section at a frame label, with the jig where the pair has been designed."""
    view = View(request)
    fair = view.ready()
    sight = see(view, at)
    section, design = sight.section, sight.design
    if section is None and sight.said:
        raise sight.said
    found: dict[str, Any] = {"frame": at, "station_mm": sight.station_mm, "hull_revision": view.state.revision}
    if section is not None:
        found["section"] = {
            name: getattr(section, name)
            for name in ("s_mm", "half_breadth_mm", "height_mm", "sd_mm", "bevel_rad", "curvature_per_mm")
        }
    found["marks"] = [
        {"id": off.number, "side": off.side, "residual_mm": off.residual_mm, "suspect": off.suspect}
        for off in fair.offs
        if off.frame == at
    ]
    found["design"] = None
    if design is not None:
        found["design"] = {
            "revision": sight.revision,
            "choice": design.choice.to_mapping(),
            "moulding_edge": design.moulding_edge,
            "laminations": [
                {"timber": lam.timber, "thickness_mm": lam.thickness_mm, "length_mm": lam.length_mm}
                for lam in design.packet.laminations
            ],
            "springback": design.packet.springback,
            "brackets": [
                {"number": b.number, "along_mm": b.along_mm, "travel_mm": b.travel_mm, "swivel_rad": b.swivel_rad}
                for b in design.jig.brackets
            ],
            "checks": checks(design.checks),
            "workings": workings(design.workings),
        }
        if columns:
            found["design"]["columns"] = plain_columns(design_columns(design))
    return written(view, found)


@pages.get("/plank", summary="One plank")
def plank(request: Request, name: Annotated[str, Query(max_length=120, examples=["garboard"])]) -> Response:
    """One plank: outline, frame lines, board."""
    view = View(request)
    view.ready()
    sight = see_plank(view, name)
    if sight.design is None:
        assert sight.said is not None
        raise sight.said
    design = sight.design
    found = {
        "plank": design.name,
        "side": design.side,
        "kind": design.kind,
        "revision": sight.revision,
        "thickness_mm": design.thickness_mm,
        "outline_mm": design.outline_mm,
        "frames": [
            {
                "label": line.label,
                "lower_mm": line.lower_mm,
                "upper_mm": line.upper_mm,
                "width_mm": line.width_mm,
                "lower_bevel_rad": line.lower_bevel_rad,
                "upper_bevel_rad": line.upper_bevel_rad,
                "hollow_mm": line.hollow_mm,
            }
            for line in design.frames
        ],
        "board_mm": {
            "length": design.board.length_mm,
            "width": design.board.width_mm,
            "thickness": design.board.thickness_mm,
        },
        "checks": checks(design.checks),
    }
    return written(view, found)
