"""Revision: a short hash of what a result was computed from, so that paper and screen can be compared."""

from __future__ import annotations

import hashlib
import json
from dataclasses import asdict, is_dataclass
from typing import Any


def _plain(value: Any) -> Any:
    if is_dataclass(value) and not isinstance(value, type):
        return asdict(value)
    if hasattr(value, "tolist"):
        return value.tolist()
    raise TypeError(f"no plain form of {type(value).__name__} for a revision")


def revision(*inputs: Any) -> str:
    """Return eight characters that change when any of `inputs` (plain values, dataclasses, arrays) changes.

    Examples
    --------
    >>> revision({"a": 1}) == revision({"a": 1}), revision({"a": 1}) == revision({"a": 2})
    (True, False)
    """
    text = json.dumps(inputs, sort_keys=True, default=_plain, separators=(",", ":"), allow_nan=True)
    return hashlib.sha256(text.encode()).hexdigest()[:8].upper()
