"""What is typed about a glue-up: the day, the shop, and the data sheet of the glue."""

from __future__ import annotations

import math
import re
from collections.abc import Mapping
from dataclasses import asdict, dataclass
from typing import Any, get_type_hints

from scrieve.errors import BadLamination, ScrieveError
from scrieve.frames.glue_up.minutes import GlueUpPlan
from scrieve.sheets.figures import thin
from scrieve.timber.conditions import Conditions
from scrieve.timber.data_sheet import FIGURES, TIMES, DataSheet
from scrieve.units import MM_PER_INCH, Units, parse_length
from scrieve.web.forms import TextForm

#: The air that a card is reckoned with until the day's has been typed [°C, %].
AS_IF = (20.0, 65.0)


def number(text: str, what: str) -> float:
    """Read a figure as typed; a comma may be the decimal sign.

    Raises
    ------
    BadLamination
        It is not a number.
    """
    try:
        value = float(text.strip().replace(",", ".").replace("−", "-"))
    except ValueError:
        value = math.nan
    if not math.isfinite(value):
        raise BadLamination(f"{what}: found {text.strip()!r}; give a number.")
    return value


@dataclass(frozen=True, slots=True)
class Day(TextForm):
    """The day as typed; figures still text. Kept in the page's address, so that it survives a reload."""

    air: str = ""
    rh: str = ""
    timber: str = ""
    glue: str = ""
    mc: str = ""
    people: str = ""
    hour: str = ""
    log: str = ""

    @property
    def given(self) -> bool:
        """Whether temperature and humidity of the air were typed."""
        return bool(self.air and self.rh)

    @property
    def asked(self) -> dict[str, str]:
        """What stands in the address."""
        return {name: value for name, value in asdict(self).items() if value}

    def conditions(self) -> Conditions:
        """The conditions; `AS_IF` where the air was not typed.

        Raises
        ------
        BadLamination
            A figure cannot be read or used.
        """
        moisture = [part for part in re.split(r"[\s;]+", self.mc) if part]
        return Conditions(
            number(self.air, "air") if self.air else AS_IF[0],
            number(self.rh, "humidity") if self.rh else AS_IF[1],
            number(self.timber, "temperature of the timber") if self.timber else None,
            number(self.glue, "temperature of the glue") if self.glue else None,
            tuple((i, number(part, f"moisture of lamination {i}")) for i, part in enumerate(moisture, 1)),
            self._log(),
        )

    def _log(self) -> tuple[tuple[float, float], ...]:
        rows = []
        for line in re.split(r"[\n/]+", self.log):
            parts = line.split()
            if parts:
                if len(parts) != 2:
                    raise BadLamination(
                        f"log of temperatures: found {line.strip()!r}; give an hour and °C in each line."
                    )
                rows.append((number(parts[0], "hour of the log"), number(parts[1], "temperature of the log")))
        return tuple(rows)

    @property
    def start_min(self) -> float | None:
        """Minute of the day at which the first pot is mixed.

        Raises
        ------
        BadLamination
            It is no hour of the day.
        """
        if not self.hour:
            return None
        match = re.fullmatch(r"(\d{1,2})(?:[:.](\d\d))?", self.hour)
        if match is None or int(match[1]) > 23 or int(match[2] or 0) > 59:
            raise BadLamination(f"hour of the start: found {self.hour!r}; give it as 8:30.")
        return 60.0 * int(match[1]) + int(match[2] or 0)


#: Figures of the shop's plan: what each is, its unit.
PLAN: dict[str, tuple[str, str]] = {
    "people": ("people at work", ""),
    "spread_m2_min": ("face that one spreads in a minute", "m²"),
    "mixing_min": ("mixing a pot", "min"),
    "lay_min": ("laying one lamination", "min"),
    "clamp_min": ("one person, one clamp", "min"),
    "pot_share": ("share of the pot life used", ""),
    "clamps_at_hand": ("clamps at hand", ""),
    "clamp_from": ("clamping starts from", ""),
    "waste_share": ("share of the glue wasted", ""),
}


def plan_typed(sent: Mapping[str, str]) -> dict[str, Any]:
    """Settings of a GlueUpPlan as typed; what is left empty is left out.

    Raises
    ------
    BadLamination
        A figure cannot be read or used.
    """
    hints = get_type_hints(GlueUpPlan)
    found: dict[str, Any] = {}
    for name, (what, _) in PLAN.items():
        text = sent.get(name, "").strip()
        if text:
            value: Any = text if name == "clamp_from" else number(text, what)
            if hints[name] is not float and name != "clamp_from":
                if value != int(value):
                    raise BadLamination(f"{what}: found {text!r}; give a whole number.")
                value = int(value)
            found[name] = value
    GlueUpPlan(**found)
    return found


def plan_kept(kept: Mapping[str, Any] | None, people: str = "") -> GlueUpPlan:
    """The shop's plan as it was kept, with the people of the day."""
    values = {name: value for name, value in (kept or {}).items() if name in PLAN}
    if people:
        values["people"] = plan_typed({"people": people})["people"]
    return GlueUpPlan(**values)


def own_typed(sent: Mapping[str, str], units: Units) -> dict[str, Any]:
    """Figures of the maker's data sheet as typed: a number each, a time also as '15: 50; 25: 22' (°C: time).

    Raises
    ------
    ScrieveError
        A figure cannot be read.
    """
    found: dict[str, Any] = {}
    for name, (what, _, _, _) in FIGURES.items():
        text = sent.get(name, "").strip()
        if not text:
            continue
        if name == "line_mm":
            found[name] = float(parse_length(_inches(text) if units == "ft" else text, units))
        elif name in TIMES and ":" in text:
            pairs = [pair.split(":") for pair in re.split(r"[;\n]+", text) if pair.strip()]
            if any(len(pair) != 2 for pair in pairs):
                raise BadLamination(f"{what}: found {text!r}; give °C: time, the next after a semicolon.")
            found[name] = [[number(at, f"{what}, °C"), number(time, what)] for at, time in pairs]
        else:
            found[name] = number(text, what)
    return found


def _inches(text: str) -> str:
    """A glue line's thickness is read in inches where lengths are in feet and inches."""
    try:
        return f"{float(text.replace(',', '.')) * MM_PER_INCH} mm"
    except ValueError:
        return text


def own_shown(sheet: DataSheet, name: str, units: Units) -> str:
    """A figure as its form shows it."""
    figure = sheet.figure(name)
    if name == "line_mm":
        return thin(figure.value, units)
    if figure.points and (len(figure.points) > 1 or figure.points[0][0] != 20):
        return "; ".join(f"{at:g}: {time:g}" for at, time in figure.points)
    return f"{figure.value:g}"


def described(error: ScrieveError | None) -> str:
    """What went wrong, for the page."""
    return "" if error is None else str(error)
