"""Expand a plank between two curves in space, read from a CSV file (edge, x_mm, y_mm, z_mm).

    python examples/expand_a_plank.py [EDGES.csv] [--to FOLDER]

The edges at hand, curves/plank_edges.csv, lie on a cone, which can be laid flat without any strain.
"""

import argparse
import csv
from pathlib import Path

import numpy as np

from scrieve.notebook import svg
from scrieve.planking.expansion import Expansion, expand
from scrieve.planking.ruled import ruled_strip

CURVES = Path(__file__).parent / "curves"


def expanded(edges: Path) -> Expansion:
    """Read both edges and lay the strip between them flat."""
    found: dict[str, list[list[float]]] = {"lower": [], "upper": []}
    with edges.open(encoding="utf-8", newline="") as file:
        for row in csv.DictReader(line for line in file if not line.startswith("#")):
            found[row["edge"]].append([float(row[name]) for name in ("x_mm", "y_mm", "z_mm")])
    return expand(ruled_strip(found["lower"], found["upper"]))


def main() -> None:
    """Expand, tell the figures, draw."""
    parser = argparse.ArgumentParser(description="Expand a plank.")
    parser.add_argument("edges", type=Path, nargs="?", default=CURVES / "plank_edges.csv")
    parser.add_argument("--to", type=Path, default=Path.cwd(), help="where the drawing goes")
    asked = parser.parse_args()
    plank = expanded(asked.edges)
    print(f"edges {plank.true_lengths_mm[0]:.0f} and {plank.true_lengths_mm[1]:.0f} mm long, lower and upper")
    for name, line in (("lower", plank.lower_mm), ("upper", plank.upper_mm)):
        print(f"crown of the {name} edge: {np.ptp(line[:, 1]):.0f} mm")
    print(f"edge-set {plank.edge_set_mm:.2f} mm over its length, strain at most {plank.strain_max:.1e}")
    print(f"bent to a radius of {plank.bend_radius_mm:.0f} mm, twisted by {np.degrees(plank.twist_rad):.1f}°")
    asked.to.mkdir(parents=True, exist_ok=True)
    (asked.to / "expand_a_plank.svg").write_text(svg(plank), encoding="utf-8")


if __name__ == "__main__":
    main()
