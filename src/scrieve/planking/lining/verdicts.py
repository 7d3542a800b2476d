"""What to say of a lining: limits that could not be kept, figures held against limits, and their workings."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from scrieve.planking.clinker import LEFT_SHARE
from scrieve.planking.lining.lands import lining_lands
from scrieve.planking.lining.lines import Task
from scrieve.planking.lining.result import Lining
from scrieve.planking.seams import place
from scrieve.wording import by_itself, joined, length, small, tell
from scrieve.working import Check, Working

Array = NDArray[np.float64]

COMMON = "common practice, no source"
DERIVED = "derived: docs/lining-off.md"
#: A limit passed by less than this is kept [mm].
KEPT_MM = 0.01


def remarks(task: Task, width: Array, hollow: Array) -> tuple[str, ...]:
    """One line for each strake that passes a limit, at its worst frame."""
    there, hull = task.is_there & np.isfinite(width), task.girths.hull
    deepest = np.full(width.shape[1], task.hollow_mm)
    said = []
    for j in range(len(width)):
        for name, over, limit, value in (
            ("narrower than", task.limits.narrowest[j] - width[j], task.limits.narrowest[j], width[j]),
            ("wider than", width[j] - task.limits.widest[j], task.limits.widest[j], width[j]),
            ("to be hollowed deeper than", hollow[j] - task.hollow_mm, deepest, hollow[j]),
        ):  # fmt: skip
            passed = np.where(there[j], over, -np.inf)
            k = int(np.argmax(passed))
            if passed[k] > KEPT_MM:
                count = int(np.sum(passed > KEPT_MM))
                more = f", and at {count - 1} more" if count > 1 else ""
                said.append(tell("strake {j} at {at}: {value}, {name} {limit}{more}.", j=j + 1,
                                 at=place(hull, float(task.girths.x[k])), value=small(value[k]), name=name,
                                 limit=small(limit[k]), more=more))  # fmt: skip
    return tuple(said)


def checks(lining: Lining, task: Task, strays: Sequence[str]) -> tuple[Check, ...]:
    """Hold widths, hollows and fairness against their limits; `strays` are marks given that stand out."""
    choice, there = lining.choice, task.is_there & np.isfinite(lining.width_mm)
    width = np.where(there, lining.width_mm, np.nan)
    narrow, wide = (np.nan_to_num(width - task.limits.narrowest, nan=np.inf),
                    np.nan_to_num(task.limits.widest - width, nan=np.inf))  # fmt: skip
    found = []
    for name, spare, sign, limit in (
        ("Narrowest strake", narrow, "not under", task.limits.narrowest),
        ("Widest strake", wide, "not over", task.limits.widest),
    ):
        j, k = np.unravel_index(int(np.argmin(spare)), spare.shape)
        found.append(Check(
            name,
            tell("strake {j} at {at}: {it}", j=j + 1, at=place(lining.hull, lining.frames[k].x_mm),
                 it=small(lining.width_mm[j, k])),
            tell("{sign} {limit} there", sign=sign, limit=small(limit[j, k])),
            bool(spare.min() >= -KEPT_MM),
            "the builder's choice",
            "More or fewer strakes, other limits there, or a stealer.",
        ))  # fmt: skip
    deepest = np.where(there, lining.hollow_mm, -np.inf)
    j, k = np.unravel_index(int(np.argmax(deepest)), deepest.shape)
    if np.isfinite(choice.hollow_mm):
        found.append(Check(
            "Backing out",
            tell("strake {j} at {at}: {it}", j=j + 1, at=place(lining.hull, lining.frames[k].x_mm),
                 it=small(deepest[j, k])),
            tell("{spare}, which the stock has to spare", spare=small(choice.hollow_mm)),
            bool(deepest.max() <= choice.hollow_mm + KEPT_MM),
            "stock less thickness less planing",
            "Narrower strakes there, or thicker stock.",
        ))  # fmt: skip
    if choice.lower or choice.upper or choice.kept:
        found.append(Check(
            "Seam marks",
            joined(strays) if strays else "fair",
            "no mark stands out from its neighbours",
            not strays,
            DERIVED,
            "Measure these again; the seams have been drawn through them as they stand.",
        ))  # fmt: skip
    inner = range(1, lining.strakes)
    if choice.build == "clinker" and inner:
        left = lining_lands(lining).left_mm
        j, k = np.unravel_index(int(np.nanargmin(left)), left.shape)
        least = LEFT_SHARE * choice.thickness_mm
        found.append(Check(
            "Thickness left at the land",
            tell("strake {j} at {at}: {it}", j=j + 1, at=place(lining.hull, lining.frames[k].x_mm),
                 it=small(left[j, k])),
            tell("{it}, half of the thickness", it=small(least)),
            bool(left[j, k] >= least - KEPT_MM),
            "shop default, no source; change to suit",
            "Narrower strakes there, or a narrower lap.",
        ))  # fmt: skip
    if inner:
        worst = max(inner, key=lambda j: lining.fairness[j].off_mm)
        plain = max(lining.equal[j].off_mm for j in inner)
        stays = bool(choice.kept) and np.count_nonzero(task.unknowns.index[worst] < 0) > 2  # three make a line
        found.append(Check(
            "Fair lines",
            tell("seam {j} at {at}: {off} off straight", j=worst, at=lining.fairness[worst].off_at,
                 off=small(lining.fairness[worst].off_mm)),
            tell("{off}, that of equal division (second difference in the surface)", off=small(plain)),
            lining.fairness[worst].off_mm <= plain + KEPT_MM,
            DERIVED,
            "This seam stays as it was measured: measure it again near there, and sight it with a batten."
            if stays
            else "Limits or set widths pull this seam about; ease one near there, and sight it with a batten.",
        ))  # fmt: skip
    return tuple(found)


def workings(lining: Lining) -> tuple[Working, ...]:
    """How the number of strakes and their mean width come about."""
    choice, total = lining.choice, lining.girth_mm[-1] - lining.girth_mm[0]
    k = int(np.argmax(total))
    stock = (("to back out", by_itself(small(choice.hollow_mm, None))),) if np.isfinite(choice.hollow_mm) else ()
    by = "boards and backing out allow"
    if choice.build == "clinker":
        stock = (("lap", by_itself(small(choice.lap, None))),)
        by = "boards less the lap, and half the thickness left at the land, allow"
    told = []
    for i, (proposal, count) in enumerate(zip(lining.proposals, lining.counts, strict=True)):
        where = f", region {i + 1} from below" if len(lining.counts) > 1 else ""
        told.append(Working(
            f"Strakes{where}",
            f"{count} ({proposal.strakes} proposed)",
            f"planks set one above the other, each as wide as {by}; a twelfth in hand",
            (
                ("least", tell("{n}, at {at}", n=proposal.least, at=proposal.least_at)),
                ("most that the narrowest width allows there", f"{proposal.most}"),
                ("room at the tightest frame", tell("{n}, at {at}", n=proposal.most_at_ends, at=proposal.most_at)),
                *stock,
            ),
            DERIVED,
            "Strakes are more than the tightest frame has room for: stealers." if count > proposal.most_at_ends else "",
        ))  # fmt: skip
    told.append(Working(
        "Mean width at the greatest girth",
        tell("{it} at {at}", it=small(total[k] / lining.strakes), at=place(lining.hull, lining.frames[k].x_mm)),
        "girth / number of strakes",
        (("girth", by_itself(length(total[k]))), ("strakes", f"{lining.strakes}")),
        COMMON,
    ))  # fmt: skip
    return tuple(told)
