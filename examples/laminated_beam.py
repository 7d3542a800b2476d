"""Design a laminated deck beam with springback: curve in, laminations and jig out.

    python examples/laminated_beam.py [--to FOLDER]

A beam 2.8 m long with 120 mm of camber, an arc of a circle, of seven laminations of larch.
"""

import argparse
from pathlib import Path

import numpy as np

from scrieve.fairing.section import Section
from scrieve.frames.choice import FrameChoice
from scrieve.frames.design import FrameDesign, design_frame
from scrieve.geometry.arcs import radius_from_chord
from scrieve.notebook import svg

SPAN_MM, CAMBER_MM = 2800.0, 120.0
CHOICE = FrameChoice(
    "beam", "larch", sided_mm=60.0, moulded_mm=60.0, lamination_mm=10.0, count=7, allow_for_cleaning=True
)


def arc(span_mm: float, camber_mm: float, points: int = 400) -> Section:
    """Return an arc of a circle as the line that a beam's upper face must follow.

    A line runs from heel to head with the outside to its right, and a beam's outside is its round upper face: it turns
    to the left, as at the bilge. The beam lies here upside down.
    """
    radius = float(radius_from_chord(span_mm, camber_mm))
    half = np.arcsin(span_mm / 2 / radius)
    angle = np.linspace(-half, half, points)
    none = np.zeros(points)
    across, rise = span_mm / 2 + radius * np.sin(angle), radius * (1 - np.cos(angle))
    return Section("beam", 0.0, radius * (angle + half), across, rise, none, none, np.full(points, 1 / radius))


def beam() -> FrameDesign:
    """Design it; any other `Section` goes the same way, such as one from marks that a batten has faired."""
    return design_frame(arc(SPAN_MM, CAMBER_MM), CHOICE)


def main() -> None:
    """Design, tell the figures, draw."""
    parser = argparse.ArgumentParser(description="Design a laminated beam.")
    parser.add_argument("--to", type=Path, default=Path.cwd(), help="where the drawing goes")
    to = parser.parse_args().to
    design = beam()
    packet = design.packet
    print(f"{len(packet.laminations)} laminations of {packet.laminations[0].thickness_mm:g} mm, "
          f"cut {design.blank.length_mm:.0f} mm long")  # fmt: skip
    print(f"springback {packet.springback:.2%} of the jig's curvature, computed; measure the first beam")
    print(f"jig bent to a radius of {1 / design.jig.curvature_per_mm.mean():.0f} mm at the neutral line")
    for bracket in design.jig.brackets:
        print(f"  bracket {bracket.number}: at {bracket.along_mm:.0f}, out {bracket.travel_mm:.1f} mm")
    for check in design.checks:
        print(f"{'met' if check.ok else 'NOT MET'}: {check.name}: {check.found}, limit {check.limit}")
    to.mkdir(parents=True, exist_ok=True)
    (to / "laminated_beam.svg").write_text(svg(design), encoding="utf-8")


if __name__ == "__main__":
    main()
