"""What stands beside a designed frame on its page: other ways to build it, and what was settled and done so far."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from scrieve import store
from scrieve.athand import AtHand
from scrieve.errors import BadLamination, BadLength
from scrieve.frames.choice import LIMITS_MM, FrameChoice
from scrieve.frames.design import FrameDesign
from scrieve.frames.packet.options import Option, rank_options
from scrieve.frames.written import SETTINGS, read_setting, write_setting
from scrieve.sheets.bench import Table
from scrieve.sheets.figures import by_rule, sized, thickness
from scrieve.units import Units, parse_length
from scrieve.web.column_whys import ColumnWhy, column_whys
from scrieve.web.views import View
from scrieve.working import Working

#: More ways than these at a time keep the builder waiting.
MOST_WAYS = 24

_ways: AtHand[tuple[Option, ...]] = AtHand(40)


@dataclass(frozen=True, slots=True)
class Asked:
    """What other ways are asked for, as typed: timbers, thicknesses and shares steamed, parted by ';'."""

    timbers: str = ""
    thicknesses: str = ""
    steamed: str = "0"

    @classmethod
    def of(cls, choice: FrameChoice, units: Units) -> Asked:
        """What is asked at first: the frame's own timber, from thin to thick, straight."""
        sizes = "5; 6; 8; 10" if units == "mm" else '3/16"; 1/4"; 5/16"; 3/8"'
        return cls(choice.timber, sizes, f"{100 * choice.steamed_share:g}" if choice.steamed_share else "0")


def ways(design: FrameDesign, asked: Asked, units: Units, revision: str) -> tuple[Option, ...]:
    """Return the ways asked for, best first.

    Raises
    ------
    ScrieveError
        What was typed cannot be read, or not one way can be laid; the message says which.
    """
    timbers, sizes, shares = (
        [part.strip() for part in text.split(";") if part.strip()]
        for text in (asked.timbers, asked.thicknesses, asked.steamed or "0")
    )
    thick = [_thickness(size, units) for size in sizes]
    steamed = [read_setting("steamed_share", share) for share in shares] or [0.0]
    if wrong := next((text for text, share in zip(shares, steamed, strict=False) if not 0 <= share < 1), ""):
        raise BadLamination(f"Steamed to hold: found {wrong!r}; give a share from 0 (straight) to below 100 %.")
    number = max(len(timbers), 1) * len(thick) * len(steamed)
    if not 0 < number <= MOST_WAYS:
        raise BadLamination(f"{number} ways to build it: give 1 to {MOST_WAYS}, timbers × thicknesses × shares.")
    return _ways.get(
        (revision, asked, units),
        lambda: rank_options(design.section, design.choice, timbers, thick, steamed, lambda _: design.far),
    )


def _thickness(text: str, units: Units) -> float:
    try:
        size = parse_length(text, units)
    except BadLength as error:
        raise BadLength(f"Thicknesses: {error}") from error
    low, high = LIMITS_MM["lamination"]
    if not low <= size <= high:
        raise BadLength(f"Thicknesses: found {text!r}; give {low:g} to {high:g} mm.")
    return size


def way_words(option: Option, units: Units) -> str:
    """A way to build a frame in the builder's units: how many of what."""
    choice = option.choice
    held = f", steamed to hold {choice.steamed_share:.0%}" if choice.steamed_share else ""
    return f"{option.count} × {by_rule(choice.lamination_mm or option.depth_mm / option.count, units)} " + (
        f"{choice.timber}{held}"
    )


#: Of each column of the ways: its name, how it comes about, and the source.
_WAYS = {
    "packet": ("number × thickness, the least that holds the frame with its bevels and cleaning", "docs/frames.md, "
               "\"Laminations\""),
    "springback": ("r = c ΣEᵢIᵢ/(EI), less what was bent to hold beforehand", "beam theory; docs/frames.md, "
                   "\"Springback\""),
    "closing": ("M = ΣEᵢIᵢ (κ - κ₀ᵢ), the most along the packet", "beam theory; docs/frames.md, \"Closing effort\""),
    "clamps": ("at each bracket its force over that of one clamp, one at least; between brackets as many more as press "
               "every joint", "three-moment equations; pressure spread at 45°: common practice, no source"),
    "waste": ("1 - volume of the finished halves / volume of the timber bought", "geometry; docs/frames.md, "
              "\"Laminations\""),
    "margin": ("limit / strain t/2R, of the worst lamination", "beam theory; the limit is a share of MOR/(1.10 MOE): "
               "docs/frames.md, \"Laminations\""),
}  # fmt: skip


def ways_whys(found: Sequence[Option], units: Units) -> tuple[ColumnWhy, ...]:
    """How the figures of the ways came about, way by way; the numbers of one stand on its tabs once it is taken."""
    told = [_way_figures(option, units) for option in found]
    rows = tuple((way_words(option, units), *figures.values(), "") for option, figures in zip(found, told, strict=True))
    table = Table("Ways to build it", ("way", *_WAYS, "not met"), rows, name="ways")
    columns = {
        name: tuple(
            Working(name, figures[name], formula, _way_inputs(option, name, units), source)
            for option, figures in zip(found, told, strict=True)
        )
        for name, (formula, source) in _WAYS.items()
    }
    return column_whys(table, columns, units)


def _way_figures(option: Option, units: Units) -> dict[str, str]:
    depth, one = by_rule(option.depth_mm, units), by_rule(option.depth_mm / option.count, units)
    return {
        "packet": f"{option.count} × {one} = {depth}",
        "springback": f"{100 * option.springback:.2f} %",
        "closing": f"{option.effort_nmm / 1e6:.3f} kN m",
        "clamps": f"{option.clamps}",
        "waste": f"{100 * option.waste:.1f} %",
        "margin": f"{option.margin:.2f}" if option.margin < 100 else "–",
    }


def _way_inputs(option: Option, name: str, units: Units) -> tuple[tuple[str, str], ...]:
    choice = option.choice
    of = {
        "packet": (("moulded", sized(choice.moulded_mm, units)),
                   ("cleaning of each face", thickness(choice.cleaning_mm, units))),
        "springback": (("held beforehand", f"{100 * choice.steamed_share:g} %"),
                       ("gained again on cleaning off", f"{100 * option.later:.2f} %")),
        "closing": (("held beforehand", f"{100 * choice.steamed_share:g} %"),),
        "clamps": (("force of one clamp", f"{choice.clamp_n:g} N"),),
        "margin": (("share of the breaking strain allowed", f"{choice.margin:g}"),),
    }  # fmt: skip
    return of.get(name, ())


def taken(option: Option, units: Units) -> dict[str, str]:
    """Return the fields of the form that takes an option."""
    keys = ("stack", "count", "lamination_mm", "steamed_share")
    return {"timber": option.choice.timber} | {
        key: write_setting(key, getattr(option.choice, key), units) for key in keys
    }


#: The workings that belong to a tab, by how their figure begins; all others belong to the bend.
_TABS = {
    "strength": ("Section of the finished frame",),
    "bevel": ("Siding of the blank", "Depth of the blank"),
    "jig": ("Tightest radius in the jig", "Error between brackets"),
    "glue": ("Glue to mix", "Clamps to close the packet"),
}


def split_workings(found: Sequence[Working]) -> dict[str, tuple[Working, ...]]:
    """Return the workings by the tab on which they stand, each on one."""
    groups = {tab: tuple(w for w in found if w.figure.startswith(names)) for tab, names in _TABS.items()}
    there = [working for group in groups.values() for working in group]
    return groups | {"bend": tuple(working for working in found if working not in there)}


@dataclass(frozen=True, slots=True)
class Step:
    """One step in a frame's history: when, who, what, and what changed in it."""

    at: str
    who: str
    what: str
    changes: tuple[str, ...] = ()


def history(view: View, label: str) -> tuple[Step, ...]:
    """Return what was settled for a frame and recorded of it, the latest first."""
    found: list[Step] = []
    before: Mapping[str, Any] = {}
    for act in store.acts(view.file.engine):
        if act.what not in ("chose for a frame", "forgot a frame") or act.detail.get("name") != label:
            continue
        kept = (act.detail.get("choice") or {}).get("choice", {})
        what = "taken off the list" if not kept else "designed anew" if before else "designed"
        changes = _changes(before, kept, view.boat.units) if before and kept else _first(kept, view.boat.units)
        found.append(Step(act.at, act.who, what, changes))
        before = kept
    records = store.records(view.file.engine)
    found += [
        Step(record.at, _by(record), *_told_of(record))
        for record in records
        if record.member in (label, f"frame {label}")
    ]
    found.sort(key=lambda step: step.at)
    return tuple(found[::-1])


def _by(record: store.Record) -> str:
    return str(record.detail.get("by") or record.detail.get("name") or record.who)


def _told_of(record: store.Record) -> tuple[str, tuple[str, ...]]:
    """What was done, and the figures of it."""
    d = record.detail
    if record.kind == "signature":
        return "signed a stop", (f"{d.get('what')}: {d.get('value')}, limit {d.get('limit')}",)
    if record.kind == "glue-up":
        on, pots = d.get("conditions", {}), len(d.get("pots_g", ()))
        day = f"{on.get('air_c', 0):g} °C, {on.get('humidity', 0):g} %"
        unsigned = sum(not stop.get("signed") for stop in d.get("stops", ()))
        told = [f"{d.get('glue')}, {day}, {pots} pot{'s' if pots != 1 else ''}"]
        told += [f"{unsigned} stop{'s' if unsigned != 1 else ''} not signed"] if unsigned else []
        return "glued up", (*told, *([d["note"]] if d.get("note") else []))
    if record.kind == "curing":
        return "looked at while it cured", (f"{d.get('glue_c', 0):g} °C after {d.get('hour', 0):.1f} h",)
    if record.kind == "release":
        hand = {"P": ", port half", "S": ", starboard half"}.get(d.get("hand", ""), "")
        corrects = f", corrects no. {record.corrects}" if record.corrects else ""
        told_ = f"no. {record.number}, {d.get('face')}, {len(d.get('rows_mm', ()))} places{corrects}"
        return f"measured {d.get('when')}{hand}", (told_, *([d["note"]] if d.get("note") else []))
    if record.kind == "fitted":
        hand = {"P": "port half", "S": "starboard half"}.get(d.get("hand", ""), "both halves")
        return "fitted in the hull", (hand, *([d["note"]] if d.get("note") else []))
    return {"jig proved": "jig proved with the tape"}.get(record.kind, record.kind), ()


def _first(kept: Mapping[str, Any], units: Units) -> tuple[str, ...]:
    """What was settled at first; of a frame taken off the list nothing."""
    if not kept:
        return ()
    choice = FrameChoice.from_mapping(kept)
    return (choice.timber, f"sided {sized(choice.sided_mm, units)}", f"moulded {sized(choice.moulded_mm, units)}")


def _changes(before: Mapping[str, Any], after: Mapping[str, Any], units: Units) -> tuple[str, ...]:
    old, new = (FrameChoice.from_mapping(choice) for choice in (before, after))
    plain = {"timber": "timber", "sided_mm": "sided", "moulded_mm": "moulded"}
    said = []
    for key in (*plain, *SETTINGS):
        was, now = getattr(old, key), getattr(new, key)
        if was != now:
            name = plain.get(key) or SETTINGS[key].name
            texts = [_told(key, value, units) for value in (was, now)]
            said.append(f"{name}: {texts[0]} → {texts[1]}")
    return tuple(said)


def _told(key: str, value: Any, units: Units) -> str:
    if key in SETTINGS:
        return write_setting(key, value, units) or "none"
    return write_setting("kerf_mm", value, units) if key.endswith("_mm") and math.isfinite(value) else str(value)
