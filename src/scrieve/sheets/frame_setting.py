"""The jig on paper: a frame's setting with its change list, the order of a set of frames, and the tables of both."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

from scrieve.boat import Boat
from scrieve.frames.jig.bed import ERROR_LIMIT_MM
from scrieve.frames.jig.setting import SWIVEL_STEP_RAD, Change, JigSetting, Stand, travel_told
from scrieve.frames.jig.setting_checks import bench_rows
from scrieve.frames.jig.setting_kept import FrameOnBed, PlanKept
from scrieve.sheets.bench import BenchSheet, Table
from scrieve.sheets.drawing import Drawing, Line
from scrieve.sheets.figures import degrees, length, off_by, plus_minus, sized, unit, workings_table
from scrieve.sheets.figures import thin_unit as small_unit
from scrieve.sheets.frame_drawings import jig_drawing
from scrieve.sheets.frame_sheet import OUT_IN
from scrieve.units import Units
from scrieve.wording import in_units, small, tell
from scrieve.working import Check

_BOX = "[  ]"
_CAUTIONS = (
    tell(
        "Prove the setting with the tape before the glue is mixed; if a figure is more than {out} out, find the "
        "bracket that is wrong and do not split the difference.",
        out=small(1.0, None),
    ),
    "Clamps slip and brackets creep under load: keep hands clear of a bent packet, and stand clear of its ends.",
)


def bed_drawing(found: FrameOnBed, units: Units) -> Drawing:
    """Return the packet on the bed, with the bed's edge and its brackets."""
    drawing = jig_drawing(replace(found.design, jig=found.jig), units)
    left, right = found.bed.ends_mm
    high = 1.15 * float(max(found.jig.face_mm[:, 1].max(), found.jig.other_mm[:, 1].max()))
    far = min(found.bed.depth_mm, high)  # of a bed much deeper than the packet only the near part is drawn
    ends = [((left, 0.0), (left, far)), ((right, 0.0), (right, far))]
    if far < high:
        ends.append(((left, far), (right, far)))
    edge = tuple(Line(a, b, "OTHER FACE", title="edge of the bed") for a, b in ends)
    return replace(drawing, items=(*edge, *drawing.items))


def bracket_table(found: FrameOnBed, units: Units) -> Table:
    """Return the setting: every bracket's place, travel and swivel, and the change from now."""
    changes = {change.bracket: change for change in found.change.changes if change.bracket}
    thin = small_unit(units)
    extra = any(not each.rail for each in found.jig.brackets)
    rows = tuple(
        (
            str(each.number),
            str(each.rail) if each.rail else "between",
            *([length(each.along_mm, units)] if extra else []),
            *([str(row_of(found, each.travel_mm, units)[0])] if found.bed.row_mm else []),
            row_of(found, each.travel_mm, units)[1],
            degrees(each.swivel_rad),
            change_words(changes[each.number], units),
        )
        for each in found.jig.brackets
    )
    head = (
        "bracket",
        "rail",
        *([f"from rail 1 ({unit(units)})"] if extra else []),
        *(["row"] if found.bed.row_mm else []),
        f"travel ({thin})",
        "swivel (°)",
        "from the present setting",
    )
    note = (
        f"Brackets from the heel, which lies to the {found.jig.heel}. Travel: "
        + ("hole" if found.bed.row_mm else "datum line")
        + f" to the bearing face, to {'half a millimetre' if units == 'mm' else '1/32 in'}. "
        "Swivel: above zero turned anticlockwise, seen from above."
    )
    return Table("Setting", head, rows, note, big=True, name="setting")


def bay_table(found: FrameOnBed, units: Units) -> Table:
    """Return how far the packet leaves the wanted curve in each bay."""
    rows = tuple(
        (
            f"{bay.first or 'heel'} – {bay.last or 'head'}",
            off_by(bay.departure_mm, units),
            length(bay.s_mm, units),
        )
        for bay in found.lie.bays
    )
    head = ("between brackets", f"departs by ({small_unit(units)})", f"along the packet ({unit(units)})")
    note = "The packet's true shape on the brackets as set, against the wanted curve; above zero inboard of it."
    return Table("Departure in each bay", head, rows, note, name="bays")


def proof_table(found: FrameOnBed, units: Units) -> Table:
    """Return the checks with tape and line that show a bracket set wrongly."""
    rows = tuple((c.name, told(c.length_mm, units), told(c.sagitta_mm, units), c.how) for c in bench_rows(found.jig))
    thin = small_unit(units)
    head = ("measure", f"length ({thin})", f"sagitta ({thin})", "how")
    shows = tell("A bracket {far} out shows as {near} or more on some.", far=small(2.0, None), near=small(1.0, None))
    note = f"Of a sagitta the length is the line it is measured from. {OUT_IN} {in_units(shows, units)}"
    if found.bed.face == "flat":
        note += " " + in_units(swivel_note(found.bed.face_width_mm), units)
    return Table("Prove the setting before the glue is mixed", head, rows, note, name="proof")


def swivel_note(face_mm: float) -> str:
    """How a wrong swivel is found, for a flat face so wide; the tape, held to its middle, does not see it."""
    turned = f"{math.degrees(math.atan(1.0 / face_mm)):.1f}°"
    return tell(
        "A wrong swivel does not show on the tape: lay one lamination dry along the faces; where one edge of a face "
        "stands {near} off it, the swivel is {turned} out.",
        near=small(1.0, None),
        turned=turned,
    )


def told(mm: float | None, units: Units) -> str:
    """A length read on a tape at the bench; '–' where there is none."""
    if mm is None:
        return "–"
    return ("-" if mm < 0 and round(mm, 1) else "") + travel_told(abs(mm), units)


def setting_table(setting: JigSetting, units: Units) -> Table:
    """Return how the jig stands now."""
    rows = tuple(
        (
            f"rail {stand.rail}" if stand.rail else f"{sized(stand.along_mm, units)} from rail 1",
            travel_told(stand.travel_mm, units),
            degrees(stand.swivel_rad),
        )
        for stand in setting.stands
    )
    return Table("As it stands", ("place", f"travel ({small_unit(units)})", "swivel (°)"), rows, name="stands")


def change_table(found: FrameOnBed, units: Units) -> Table:
    """What is done to each bracket, in the order of the bench: those in the way first, each with a box to tick."""
    thin = small_unit(units)
    rows = tuple(
        (
            _BOX,
            str(change.bracket) if change.bracket else "take away",
            f"{change.rail}" if change.rail else f"{sized(change.along_mm, units)} from rail 1",
            "–" if change.was_mm is None else place_told(found, change.was_mm, units),
            "–" if not change.bracket else place_told(found, change.travel_mm, units),
            "off the bed" if not change.bracket else change_words(change, units),
            degrees(change.swivel_rad) if change.bracket else "–",
        )
        for change in (*found.away, *(each for each in found.change.changes if each.bracket))
    )
    head = ("done", "bracket", "rail", f"stands ({thin})", f"travel ({thin})", "change", "swivel (°)")
    note = "From how the jig stood when this was printed. One that stays is checked all the same."
    if found.bed.row_mm:
        note += " Travel: from its row of holes to the bearing face; row 1 is at the datum line."
    return Table("Change list", head, rows, note, big=True, name="changes", after=0)


def setting_bench_sheet(found: FrameOnBed, boat: Boat, revision: str, link: str = "") -> BenchSheet:
    """Return a frame's place on the jig as a bench sheet: where it lies, what to change, how to prove it."""
    units, jig, frame = boat.units, found.jig, found.design.choice.frame
    posed = "as the order kept has it" if found.turn else "its chord along the datum line"
    return BenchSheet(
        title=f"Frame {frame}: on the jig",
        boat=boat.name,
        member=f"frame {frame}",
        revision=revision,
        link=link,
        drawings=((f"Packet on the bed: travel from the datum line, {small_unit(units)}", bed_drawing(found, units)),),
        tables=(
            change_table(found, units),
            replace(proof_table(found, units), big=True),
            bay_table(found, units),
            workings_table(in_units(found.workings, units)),
        ),
        checks=in_units(found.limits, units),
        cautions=in_units(_CAUTIONS, units),
        summary=(
            ("lies", f"{posed}, heel to the {jig.heel}"),
            ("to move", f"{found.change.moved} of {len(jig.brackets)} brackets, {found.change.minutes:.0f} min"),
            ("bearing", f"packet's {jig.bearing} face to the brackets"),
            ("off its curve", f"{plus_minus(found.lie.error_mm, units)} at the most between brackets"),
        ),
    )


def turn_table(number: int, frame: str, now: JigSetting, before: JigSetting | None, units: Units) -> Table:
    """How every bracket stands after one turn of an order, and by how much it moves."""
    stood = {} if before is None else {(each.rail, round(each.along_mm)): each for each in before.stands}
    thin = small_unit(units)

    def moved(stand: Stand) -> str:
        was = stood.get((stand.rail, round(stand.along_mm)))
        if was is None:
            return "–" if before is None else "anew"
        by = stand.travel_mm - was.travel_mm
        turned = abs(stand.swivel_rad - was.swivel_rad) >= SWIVEL_STEP_RAD
        if not by:
            return "stays, swivel" if turned else "stays"
        return f"{'out' if by > 0 else 'in'} {travel_told(abs(by), units)}"

    rows = tuple(
        (
            str(stand.rail) if stand.rail else sized(stand.along_mm, units),
            travel_told(stand.travel_mm, units),
            degrees(stand.swivel_rad),
            moved(stand),
        )
        for stand in now.stands
    )
    head = ("rail", f"travel ({thin})", "swivel (°)", "change")
    return Table(f"Turn {number}: frame {frame}", head, rows, name=f"turn-{number}")


def order_table(plan: PlanKept, units: Units, stale: Sequence[str] = ()) -> Table:
    """Return the turns of an order; `stale` names frames whose design or bed has changed since."""
    thin = small_unit(units)
    return Table(
        "Order of gluing",
        ("turn", "frame", "moved", "stay", f"travel ({unit(units)})", "minutes", f"off its curve ({thin})", ""),
        tuple(
            (
                f"{n}",
                turn.frame,
                f"{len(turn.moved)}",
                f"{len(turn.kept)}",
                length(turn.travel_mm, units),
                f"{turn.minutes:.1f}",
                off_by(turn.departure_mm, units).lstrip("+"),
                "OUT OF DATE" if turn.frame in stale else "",
            )
            for n, turn in enumerate(plan.turns, 1)
        ),
        "Moved and stay: rails. Set each turn from its own change list, printed when its turn comes.",
        name="order",
    )


def turn_checks(plan: PlanKept, units: Units) -> tuple[Check, ...]:
    """Frames that no setting of this jig holds to the limit between brackets; none where all are held."""
    return tuple(
        Check(
            f"Frame {turn.frame} between brackets",
            plus_minus(turn.departure_mm, units) + " off the wanted curve",
            plus_minus(ERROR_LIMIT_MM, units),
            False,
            "the packet's true shape on its brackets; limit: shop default, no source",
            "its own change list has brackets clamped between rails besides; their minutes are not counted in this plan"
            if plan.bed.between
            else "rails so far apart cannot hold it: its own sheet says where a block is to be screwed to the bed",
        )
        for turn in plan.turns
        if turn.departure_mm > 1.05 * ERROR_LIMIT_MM
    )


def plan_bench_sheet(
    plan: PlanKept, boat: Boat, revision: str, stale: Sequence[str] = (), link: str = ""
) -> BenchSheet:
    """Return the order of gluing as a bench sheet: frame after frame, and how the jig stands for each.

    `stale` names frames whose design or bed has changed since; `link` is the address for the sheet's code, or ''.
    """
    units = boat.units
    order = order_table(plan, units, stale)
    settings = [plan.before, *(turn.setting for turn in plan.turns)]
    turns = tuple(
        turn_table(n, turn.frame, turn.setting, settings[n - 1], units) for n, turn in enumerate(plan.turns, 1)
    )
    bound = "not stated for more than ten" if plan.bound_minutes is None else f"{plan.bound_minutes:.0f} min"
    return BenchSheet(
        title="Setting plan of the jig",
        boat=boat.name,
        member="jig",
        revision=revision,
        link=link,
        drawings=(),
        tables=(order, *turns, workings_table(in_units(plan.workings, units))),
        checks=turn_checks(plan, units),
        cautions=in_units(_CAUTIONS, units),
        summary=(
            ("frames", ", ".join(plan.order)),
            ("setting time", f"{plan.minutes:.0f} min; as numbered on one datum {plan.naive_minutes:.0f} min"),
            ("saved", f"{plan.saving:.0%}"),
            ("bound", bound),
        ),
    )


def place_told(found: FrameOnBed, travel_mm: float, units: Units) -> str:
    """Where a bracket's face comes to stand: its travel, and on a grid of holes the row from which that is measured."""
    row, travel = row_of(found, travel_mm, units)
    return f"row {row}: {travel}" if row else travel


def row_of(found: FrameOnBed, travel_mm: float, units: Units) -> tuple[int, str]:
    """Row of holes (0: rails) and the travel from it."""
    reached = found.bed.reach(travel_mm)
    row, rest = reached if reached else (0, travel_mm)
    return row, travel_told(rest, units)


def change_words(change: Change, units: Units) -> str:
    """The change as a table tells it; 'anew' where it is not known how the bracket stands."""
    if change.bracket and change.was_mm is None:
        return "anew"
    return change.words(units).partition(": ")[2]
