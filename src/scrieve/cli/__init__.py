"""The command line: the same work as the pages, from a terminal."""

from __future__ import annotations

import os

# the matrices of this work are small: threads of the linear algebra would only wait for each other
for _name in ("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS", "MKL_NUM_THREADS"):
    os.environ.setdefault(_name, "1")

from scrieve.cli.program import main, scrieve  # noqa: E402

__all__ = ["main", "scrieve"]
