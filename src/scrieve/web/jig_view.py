"""What the pages of the jig show: the packet on the bed, its tables, and the steps at the bench."""

from __future__ import annotations

from dataclasses import dataclass, replace

from scrieve.frames.setting import SWIVEL_STEP_RAD, Change, JigSetting, travel_told
from scrieve.frames.setting_checks import bench_rows
from scrieve.frames.setting_kept import FrameOnBed, JigKept
from scrieve.sheets.bench import Table
from scrieve.sheets.drawing import Drawing, Line
from scrieve.sheets.figures import degrees, length, off_by, sized, unit
from scrieve.sheets.figures import thin_unit as small_unit
from scrieve.sheets.frame_drawings import jig_drawing
from scrieve.units import Units


@dataclass(frozen=True, slots=True)
class Step:
    """One thing to do at the bench: set bracket `number`, or (0) take away the extra one at `along_mm`."""

    number: int
    along_mm: float
    place: str
    travel: str
    row: str
    swivel: str
    change: str
    done: bool
    stays: bool

    @property
    def query(self) -> str:
        """Names the step in an address."""
        return f"bracket={self.number}" if self.number else f"away={self.along_mm:.3f}"


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
    rows = tuple(
        (
            str(each.number),
            str(each.rail) if each.rail else length(each.along_mm, units),
            *([str(_row(found, each.travel_mm, units)[0])] if found.bed.row_mm else []),
            _row(found, each.travel_mm, units)[1],
            degrees(each.swivel_rad),
            _change_words(changes[each.number], units),
        )
        for each in found.jig.brackets
    )
    head = (
        "bracket",
        "rail",
        *(["row"] if found.bed.row_mm else []),
        f"travel ({thin})",
        "swivel (°)",
        "from the present setting",
    )
    extra = any(not each.rail for each in found.jig.brackets)
    note = (
        f"Brackets from the heel, which lies to the {found.jig.heel}. Travel: "
        + ("hole" if found.bed.row_mm else "datum line")
        + " to the bearing face, to half a millimetre. Swivel: above zero turned anticlockwise, seen from above."
        + (f" A bracket between rails is told by its place from rail 1 ({unit(units)})." if extra else "")
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
    rows = tuple((c.name, c.how, told(c.length_mm, units), told(c.sagitta_mm, units)) for c in bench_rows(found.jig))
    thin = small_unit(units)
    head = ("measure", "how", f"length ({thin})", f"sagitta ({thin})")
    note = "Of a sagitta the length is the line it is measured from. A bracket 2 mm out shows as 1 mm or more on some."
    return Table("Prove the setting before the glue is mixed", head, rows, note, name="proof")


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


def steps(found: FrameOnBed, kept: JigKept, units: Units) -> tuple[Step, ...]:
    """Return what is to be done at the bench: brackets in the way first, then every bracket from the heel."""
    ticked = found.ticked(kept)
    listed = []
    for change in (*found.away, *(each for each in found.change.changes if each.bracket)):
        place = f"rail {change.rail}" if change.rail else f"{sized(change.along_mm, units)} from rail 1"
        row, travel = _row(found, change.travel_mm, units)
        listed.append(
            Step(
                change.bracket,
                change.along_mm,
                place,
                travel,
                f"row {row} of holes" if row else "",
                degrees(change.swivel_rad),
                _change_words(change, units),
                change.bracket in ticked,
                not change.moved and abs(change.swivel_by_rad) < SWIVEL_STEP_RAD and change.bracket > 0,
            )
        )
    return tuple(listed)


def _row(found: FrameOnBed, travel_mm: float, units: Units) -> tuple[int, str]:
    """Row of holes (0: rails) and the travel from it."""
    reached = found.bed.reach(travel_mm)
    row, rest = reached if reached else (0, travel_mm)
    return row, travel_told(rest, units)


def _change_words(change: Change, units: Units) -> str:
    if change.bracket and change.was_mm is None:
        return "anew"
    return change.words(units).partition(": ")[2]
