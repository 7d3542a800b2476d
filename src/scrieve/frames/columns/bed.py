"""How the figures of a frame set on the bed came about, bracket by bracket and bay by bay; and of an order's turns."""

from __future__ import annotations

import math
from collections.abc import Sequence

from scrieve.frames.columns.jig import proof_columns, swivel_working
from scrieve.frames.columns.rows import Columns, degrees, put_in
from scrieve.frames.jig.bed import ERROR_LIMIT_MM, TRAVEL_STEP_MM, JigBed
from scrieve.frames.jig.setting import SWIVEL_STEP_RAD, Change, ChangeList, travel_told
from scrieve.frames.jig.setting_checks import SettingCheck, setting_checks
from scrieve.frames.jig.setting_kept import FrameOnBed, Planned
from scrieve.frames.jig.setting_workings import travel_minutes
from scrieve.frames.packet.lying import Lie
from scrieve.frames.parts import BenchCheck, Bracket, Jig
from scrieve.units import Units
from scrieve.wording import Length, by_itself, length, small, tell
from scrieve.working import Working

_CHANGE = "from the present setting"
_TIMES = "the jig's own times as described, else shop defaults without a source; docs/jig.md"


class _Travel(Length):
    """A travel as the bench reads it: to half a millimetre, or inches and 32nds."""

    def told(self, units: Units) -> str:
        """The travel with its unit."""
        return ("-" if self.mm < 0 else "") + travel_told(abs(self.mm), units) + (" mm" if units == "mm" else " in")


def bed_columns(found: FrameOnBed) -> dict[str, Columns]:
    """Return the workings of the tables of a frame on the bed: setting, checks at the bench, departure in each bay."""
    return {
        "setting": setting_columns(found.jig, found.change, found.bed),
        "proof": bench_columns(found.jig),
        "bays": bay_columns(found.jig, found.lie),
    }


def setting_columns(jig: Jig, change: ChangeList, bed: JigBed) -> Columns:
    """Of a frame's brackets on the bed as described: place, row of holes, travel, swivel, and the change from now."""
    found: dict[str, list[Working]] = {name: [] for name in ("from rail 1", "row", "travel", "swivel", _CHANGE)}
    changes = {each.bracket: each for each in change.changes if each.bracket}
    for each in jig.brackets:
        figure = f"bracket {each.number}"
        at, place = ("along the moulded line", length(each.s_mm)), ("from rail 1", length(each.along_mm))
        rail = tell("({n} - 1) × {p}", n=each.rail, p=length(bed.pitch_mm))
        found["from rail 1"].append(
            put_in(
                f"{figure}, from rail 1",
                rail if each.rail else "clamped between rails",
                length(each.along_mm),
                "(rail - 1) × pitch; between rails: where it holds the end of the packet best",
                (at,),
                "bed as described",
            )
        )
        if bed.row_mm:
            found["row"].append(_row(figure, each, bed))
        found["travel"].append(_travel(figure, each, bed, (place, at)))
        found["swivel"].append(swivel_working(figure, math.tan(each.swivel_rad), each.swivel_rad, (at, place)))
        found[_CHANGE].append(_change(figure, changes[each.number], bed))
    return {name: tuple(rows) for name, rows in found.items() if rows}


def _row(figure: str, each: Bracket, bed: JigBed) -> Working:
    row, _ = bed.reach(each.travel_mm) or (0, 0.0)
    apart = small(bed.row_mm or 0.0, None)
    return put_in(
        f"{figure}, row of holes",
        tell(
            "({t} - {l}) / {w}, rounded down, + 1", t=_Travel(each.travel_mm), l=_Travel(bed.travel_least_mm), w=apart
        ),
        f"{row}",
        "(height of the face - least travel) / rows apart, rounded down, + 1: the row farthest out (a short arm)",
        (("least travel", _Travel(bed.travel_least_mm)), ("rows apart", apart)),
        "bed as described",
    )


def _travel(figure: str, each: Bracket, bed: JigBed, places: tuple[tuple[str, Length], ...]) -> Working:
    left = abs(each.travel_mm - each.exact_travel_mm) > TRAVEL_STEP_MM / 2 + 1e-6
    row, rest = bed.reach(each.travel_mm) or (0, each.travel_mm)
    numbers = tell("{e}, to the nearest {t}", e=small(each.exact_travel_mm, 2), t=_Travel(TRAVEL_STEP_MM))
    if left:
        numbers = tell("left where it stood; computed {e}", e=small(each.exact_travel_mm, 2))
    if bed.row_mm and row:
        high = by_itself(_Travel(each.travel_mm))
        numbers = tell("{n}: {h} - ({r} - 1) × {w}", n=numbers, h=high, r=row, w=small(bed.row_mm, None))
    return put_in(
        f"{figure}, travel",
        numbers,
        _Travel(rest),
        "height of the bearing face over the datum line + stand-off w² κ / 8 of a flat face, rounded as it is "
        "read; with holes: less the row's own height",
        (
            *places,
            ("computed height", small(each.exact_travel_mm, 2)),
            ("width of a bracket's face", tell("{w}, {f}", w=small(bed.face_width_mm, None), f=bed.face)),
        ),
        "geometry of the posed packet; sagitta of a chord w on curvature κ (docs/jig.md)",
    )


def _change(figure: str, change: Change, bed: JigBed) -> Working:
    name = f"{figure}, change"
    turned = abs(change.swivel_by_rad) >= SWIVEL_STEP_RAD
    costs = (("minutes it takes", f"{change.minutes:.1f}"),)
    if change.was_mm is None:
        return put_in(
            name, "how it stands is not known", "set anew", "travel wanted - travel it stands at", costs, _TIMES
        )
    by = change.by_mm or 0.0
    words = tell("{w} {t}", w="out" if by > 0 else "in", t=_Travel(abs(by))) if by else "stays"
    swivel = (
        ("swivel", f"{degrees(change.swivel_rad)}, {degrees(change.swivel_by_rad)} from where it stands"),
        ("swivels left alone", f"under {math.degrees(SWIVEL_STEP_RAD):g}°"),
    )
    return put_in(
        name,
        tell("{t} - {w}", t=_Travel(change.travel_mm), w=_Travel(change.was_mm)),
        tell("{w}{s}", w=words, s=f", swivel {degrees(change.swivel_by_rad)}" if turned else ""),
        "travel wanted - travel it stands at: out above zero",
        (
            *swivel,
            *costs,
            ("per bracket, and its travel", tell("{b} min; {m}", b=f"{bed.move_min:g}", m=travel_minutes(bed))),
        ),
        _TIMES,
    )


def bench_columns(jig: Jig) -> Columns:
    """Of the measurements that prove a setting on the bed: lengths and sagittas between the brackets' faces."""
    faces = {each.number: (each.along_mm, each.travel_mm) for each in jig.brackets}
    rows: list[BenchCheck] = []
    ends: tuple[tuple[float, float], ...] = ()
    for check in setting_checks(jig):
        points = tuple(faces[number] for number in check.brackets)
        if check.kind == "sagitta":
            rows.append(BenchCheck(check.name, check.how, 0.0, check.length_mm, points[:2], points[2]))
            continue
        ends = _ends(check, points)
        rows.append(BenchCheck(check.name, check.how, check.length_mm, None, ends))
    return proof_columns(rows, "sagitta", _Travel)


def _ends(check: SettingCheck, points: tuple[tuple[float, float], ...]) -> tuple[tuple[float, float], ...]:
    if check.kind in ("diagonal", "travel"):  # from the datum line
        return ((points[0][0], 0.0), points[-1])
    return points[:2]


def bay_columns(jig: Jig, lie: Lie) -> Columns:
    """Of the bays between brackets: the packet's departure there and where."""
    along = {each.number: each.along_mm for each in jig.brackets}
    departs, places = [], []
    for bay in lie.bays:
        figure = f"{bay.first or 'heel'} – {bay.last or 'head'}"
        inputs: list[tuple[str, object]] = [("limit", small(ERROR_LIMIT_MM, None))]
        if bay.first and bay.last:
            inputs.append(("bay along the datum line", length(abs(along[bay.last] - along[bay.first]))))
        departs.append(
            put_in(
                f"{figure}, departs by",
                "packet's true line - wanted curve, at the worst place of the bay",
                small(bay.departure_mm),
                "line of least ∫κ² ds through the brackets as set, M = B (κ - κ₀), against the curve wanted",
                tuple(inputs),
                "Love, Mathematical Theory of Elasticity, art. 262-263; limit: shop default, no source; docs/jig.md",
                "friction under clamps can hold the packet off this line",
            )
        )
        places.append(
            put_in(
                f"{figure}, along the packet",
                "where it departs most",
                length(bay.s_mm),
                "along the neutral line from the packet's heel end, trimming allowance included",
                (),
                "the packet's true line",
            )
        )
    return {"departs by": tuple(departs), "along the packet": tuple(places)}


def turn_columns(turns: Sequence[Planned], bed: JigBed) -> Columns:
    """Of the turns of an order: brackets moved and left, travel, minutes, departure."""
    found: dict[str, list[Working]] = {name: [] for name in ("moved", "stay", "travel", "minutes", "off its curve")}
    for each in turns:
        figure = f"frame {each.frame}"
        moved, kept = len(each.moved), len(each.kept)
        found["moved"].append(
            put_in(figure, "rails " + ", ".join(map(str, each.moved)) if moved else "none", f"{moved}",
                   "rails whose travel changes", (), "the plan: pose and order (docs/jig.md)")
        )  # fmt: skip
        found["stay"].append(
            put_in(figure, "rails " + ", ".join(map(str, each.kept)) if kept else "none", f"{kept}",
                   "rails whose travel is the same as for the frame before: a pose has three freedoms, and the "
                   "packet's true line may lie within its tolerance on more", (), "the plan (docs/jig.md)")
        )  # fmt: skip
        found["travel"].append(
            put_in(figure, f"all {moved} together", length(each.travel_mm), "Σ |travel wanted - travel it stands at|",
                   (), "change from the frame before")
        )  # fmt: skip
        rest = each.minutes - bed.frame_min - moved * bed.move_min - each.travel_mm * bed.mm_min
        numbers = f"{bed.frame_min:g} + {moved} × {bed.move_min:g} + {each.travel_mm * bed.mm_min:.1f}"
        if abs(rest) >= 0.05:
            numbers += f" + {rest:.1f} for swivels and extra brackets"
        found["minutes"].append(
            put_in(
                figure,
                numbers,
                f"{each.minutes:.1f}",
                "per frame + brackets moved × per bracket + minutes of travel, and what swivels and brackets between "
                "rails take",
                (("travel", tell("{t}, {m}", t=length(each.travel_mm), m=travel_minutes(bed))),),
                _TIMES,
            )
        )
        found["off its curve"].append(
            put_in(
                figure,
                "the worst bay on these travels",
                small(each.departure_mm),
                "the packet's true line between brackets against the curve wanted",
                (("limit", small(ERROR_LIMIT_MM, None)),),
                "least bending energy (docs/jig.md); limit: shop default, no source",
            )
        )
    return {name: tuple(rows) for name, rows in found.items()}
