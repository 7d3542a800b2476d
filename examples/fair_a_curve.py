"""Fair a curve: a batten along marks read from a CSV file (x_mm, y_mm).

    python examples/fair_a_curve.py [MARKS.csv] [--to FOLDER]

The marks at hand, curves/sheer.csv, lie on an arc of 9 m radius but for errors of about 1 mm, and one slip of the pen.
"""

import argparse
from pathlib import Path

import numpy as np

from scrieve.fairing import Batten, lay_batten
from scrieve.notebook import svg

CURVES = Path(__file__).parent / "curves"


def fair(marks: Path) -> Batten:
    """Lay the batten; no error is told, so the marks themselves must show it."""
    return lay_batten(np.loadtxt(marks, delimiter=",", skiprows=2))


def main() -> None:
    """Fair, tell the figures, draw."""
    parser = argparse.ArgumentParser(description="Fair a curve.")
    parser.add_argument("marks", type=Path, nargs="?", default=CURVES / "sheer.csv")
    parser.add_argument("--to", type=Path, default=Path.cwd(), help="where the drawing goes")
    asked = parser.parse_args()
    line = fair(asked.marks)
    print(f"batten {line.length_mm:.0f} mm along {line.counts.sum()} of {len(line.counts)} marks")
    print(f"error of the marks, found by themselves: {line.noise_mm:.1f} mm; the line ± {2 * line.sd_mm.max():.1f} mm")
    for suspect in line.suspects:
        print(f"mark {suspect.mark + 1} is {abs(suspect.out_mm):.0f} mm off what the others say: measure it again")
    middle = line.curvature_per_mm[len(line.s_mm) // 4 : 3 * len(line.s_mm) // 4]
    print(f"radius of the middle half: {1 / abs(middle.mean()):.0f} mm")
    asked.to.mkdir(parents=True, exist_ok=True)
    (asked.to / "fair_a_curve.svg").write_text(svg(line), encoding="utf-8")


if __name__ == "__main__":
    main()
