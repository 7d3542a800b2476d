"""The new frame's section against the old one's: stiffness, section modulus and bending strength, place by place."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from scrieve.errors import BadLamination
from scrieve.frames.choice import FrameChoice
from scrieve.frames.packet.laminations import Lay
from scrieve.frames.parts import Outline
from scrieve.frames.shape.line import Line
from scrieve.timber.bending import curvature_factor
from scrieve.timber.species import species
from scrieve.wording import length, small, tell
from scrieve.working import Check, Working

SURVEYOR = "agree with a surveyor or naval architect; class or flag rules come first"


@dataclass(frozen=True, slots=True)
class SectionAt:
    """The finished section of one half at a place along the moulded line.

    `ei_nmm2` is its bending stiffness in the frame's plane, `modulus_mm3` its section modulus, that of a section of one
    timber with the same greatest strain, `strength_nmm` the moment at which the first fibre reaches its timber's
    bending strength, the curvature factor taken off (clear wood: to compare by, not to design by). `neutral_mm` is the
    neutral line from the packet's outside, `reach_mm` the farthest fibre from it, `mean_mpa` the mean modulus of what
    is left in the section, `left` each lamination left in it as (thickness, modulus), inside outwards.
    """

    name: str
    s_mm: float
    moulded_mm: float
    ei_nmm2: float
    modulus_mm3: float
    strength_nmm: float
    neutral_mm: float = 0.0
    reach_mm: float = 0.0
    mean_mpa: float = 0.0
    left: tuple[tuple[float, float], ...] = ()


@dataclass(frozen=True, slots=True)
class Equivalent:
    """The new frame's sections, and the old frame's where it was given (None else)."""

    new: tuple[SectionAt, ...]
    old: SectionAt | None
    old_words: str

    def ratios(self, which: str) -> list[float]:
        """New over old at each place, of one of the figures of `SectionAt`."""
        if self.old is None:
            return []
        return [getattr(each, which) / getattr(self.old, which) for each in self.new]


def rectangle(timber: str, sided_mm: float, moulded_mm: float, name: str = "old frame") -> SectionAt:
    """A solid section: EI = E b h³/12, Z = b h²/6, M = MOR Z.

    Examples
    --------
    >>> rectangle("larch", 45, 60).modulus_mm3
    27000.0
    """
    wood = species(timber)
    modulus = sided_mm * moulded_mm**2 / 6
    return SectionAt(
        name, 0.0, moulded_mm, wood.bending_modulus_mpa * modulus * moulded_mm / 2, modulus, wood.mor_mpa * modulus
    )


def section_at(line: Line, found: Lay, outline: Outline, choice: FrameChoice, s_mm: float, name: str) -> SectionAt:
    """The finished section at one place, notches there taken off; transformed section of the laminations left in it.

    References
    ----------
    .. [1] Transformed section: EI = b Σ E (t³/12 + t (c - y_N)²); a fibre breaks at M = MOR EI / (E y), the curvature
       factor 1 - 2000 (t/R)² taken off (docs/frames.md, "Old frame and new").
    """
    along = found.along(np.array([s_mm]))
    moulded = float(np.interp(s_mm, outline.s_mm, outline.moulded_mm))
    here = [(edge, depth) for _, place, edge, long, depth in choice.notches if abs(s_mm - place) <= long / 2]
    off = {edge: max([0.0, *(depth for at, depth in here if at == edge)]) for edge in ("outer", "inner")}
    top, bottom = found.outside_mm + off["outer"], found.outside_mm + moulded - off["inner"]
    half = along.thick_mm[0] / 2
    low, high = np.maximum(along.middles_mm[0] - half, top), np.minimum(along.middles_mm[0] + half, bottom)
    high = np.maximum(low, high)
    e, thick, middle = along.modulus_mpa, high - low, (high + low) / 2
    area = float((e * thick).sum())
    neutral = float((e * thick * middle).sum()) / area
    stiff = choice.sided_mm * float((e * (thick**3 / 12 + thick * (middle - neutral) ** 2)).sum())
    some = thick > 1e-9
    reach = np.maximum(np.abs(low - neutral), np.abs(high - neutral))
    mean = area / float(thick.sum())
    kappa = abs(float(np.interp(s_mm, line.s_mm, line.curvature_per_mm)))
    kept = curvature_factor(along.thickness_mm, 1 / max(kappa, 1e-9))
    breaking = np.array([ply.timber.mor_mpa for ply in found.plies]) * kept / (e * np.maximum(reach, 1e-9)) * stiff
    far = float(reach[some].max())
    left = tuple((float(each), float(of)) for each, of in zip(thick[some], e[some], strict=True))
    return SectionAt(
        name, s_mm, moulded, stiff, stiff / (mean * far), float(breaking[some].min()), neutral, far, mean, left
    )


def equivalent_section(line: Line, found: Lay, outline: Outline, choice: FrameChoice) -> Equivalent:
    """Sections at heel, quarters, middle and head, at the tightest place, at each notch and where the builder asks, and
    the old one.

    Raises
    ------
    NoSuchTimber
        The old frame's timber is not in the table.
    BadLamination
        A place asked for lies past the head.
    """
    s = line.s_mm
    places = [
        ("heel", float(s[0])),
        ("quarter", float(s[0] + line.length_mm / 4)),
        ("middle", float(s[0] + line.length_mm / 2)),
        ("three quarters", float(s[0] + 3 * line.length_mm / 4)),
        ("head", float(s[-1])),
        ("tightest", float(s[int(np.argmax(np.abs(line.curvature_per_mm)))])),
        *((name, place) for name, place, *_ in choice.notches),
    ]
    for number, place in enumerate(choice.strength_at_mm, start=1):
        if place > s[-1] - s[0]:
            raise BadLamination(
                f"frame {choice.frame}, strength_at_mm: found {place:.0f} mm; give places from the heel along the "
                f"moulded line, 0 to {s[-1] - s[0]:.0f} mm."
            )
        places.append((f"place {number}", float(s[0] + place)))
    new = tuple(section_at(line, found, outline, choice, place, name) for name, place in places)
    if choice.old_timber is None and choice.old_sided_mm is None and choice.old_moulded_mm is None:
        return Equivalent(new, None, "")
    timber = choice.old_timber or found.timbers[0].name
    sided, moulded = choice.old_sided_mm or choice.sided_mm, choice.old_moulded_mm or choice.moulded_mm
    words = tell(
        "{kind} {timber}, {sided} × {moulded}",
        kind=choice.old_kind,
        timber=species(timber).name,
        sided=small(sided, None),
        moulded=small(moulded, None),
    )
    return Equivalent(new, rectangle(timber, sided, moulded), words)


_FIGURES = {
    "ei_nmm2": ("Stiffness against the old frame", "EI"),
    "modulus_mm3": ("Section modulus against the old frame", "Z"),
    "strength_nmm": ("Bending strength against the old frame", "MOR × C_c × EI / (E y), clear wood"),
}


def strength_checks(seen: Equivalent) -> tuple[Check, ...]:
    """New over old at the weakest place; below it is flagged."""
    checks = []
    for which, (name, formula) in _FIGURES.items():
        ratios = seen.ratios(which)
        if ratios:
            worst = int(np.argmin(ratios))
            ok = ratios[worst] >= 1 - 1e-9
            checks.append(
                Check(
                    name,
                    tell(
                        "{r:.2f} × the old at the {name}, {s} from the heel",
                        r=ratios[worst],
                        name=seen.new[worst].name,
                        s=length(seen.new[worst].s_mm),
                    ),
                    "1 or more",
                    ok,
                    tell("{formula}; transformed section; old: {old}", formula=formula, old=seen.old_words),
                    "" if ok else f"below the old: {SURVEYOR}",
                )
            )
    return tuple(checks)


def strength_working(seen: Equivalent, choice: FrameChoice) -> Working:
    """The new frame's section at its weakest, and the old one's."""
    weakest = min(seen.new, key=lambda each: each.ei_nmm2)
    inputs = [
        (each.name, f"EI {each.ei_nmm2 / 1e9:.2f} kN m², Z {each.modulus_mm3 / 1e3:.1f} cm³") for each in seen.new
    ]
    if seen.old is not None:
        inputs.append(
            (
                tell("old: {old}", old=seen.old_words),
                f"EI {seen.old.ei_nmm2 / 1e9:.2f} kN m², Z {seen.old.modulus_mm3 / 1e3:.1f} cm³",
            )
        )
    grain = "; grain that runs out in a sawn frame is not allowed for" if choice.old_kind == "sawn" else ""
    return Working(
        "Section of the finished frame",
        f"EI {weakest.ei_nmm2 / 1e9:.2f} kN m², Z {weakest.modulus_mm3 / 1e3:.1f} cm³ at the {weakest.name}",
        "EI = b Σ E (t³/12 + t (c - y_N)²), notches taken off; Z = EI / (mean E × y)",
        tuple(inputs),
        f"transformed section; clear-wood averages, not design values{grain}",
        f"sizes and strength: {SURVEYOR}",
    )
