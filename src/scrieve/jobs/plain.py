"""Values as JSON and back, so that what a job is given and gives can be stored: figures, dates, arrays, dataclasses.

A dataclass is written with its module and name. Only dataclasses of Scrieve's own are made when it is read, through
their constructors, so that a store somebody else has written to runs nothing.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import fields, is_dataclass
from datetime import date, datetime
from importlib import import_module
from typing import Any

import numpy as np

from scrieve.errors import ScrieveError

#: Stands beside what a JSON object is, where that is not a mapping of texts.
_IS = "~"


def plain(value: Any) -> Any:
    """Return a value as JSON has it; `read` gives it back.

    Raises
    ------
    TypeError
        It holds something that is neither plain, nor a date, an array or a dataclass of Scrieve's.

    Examples
    --------
    >>> read(plain({"lengths": (3.5, float("inf")), 4: frozenset({"a"})}))
    {'lengths': (3.5, inf), 4: frozenset({'a'})}
    """
    if value is None or isinstance(value, (bool, str)):
        return value
    if isinstance(value, (int, np.integer)):
        return int(value)
    if isinstance(value, (float, np.floating)):
        return float(value) if math.isfinite(value) else {_IS: "float", "of": repr(float(value))}
    if isinstance(value, list):
        return [plain(item) for item in value]
    if isinstance(value, tuple):
        return {_IS: "tuple", "of": [plain(item) for item in value]}
    if isinstance(value, (set, frozenset)):
        return {_IS: "set", "of": sorted((plain(item) for item in value), key=repr)}
    if isinstance(value, Mapping):
        if _IS not in value and all(isinstance(key, str) for key in value):
            return {key: plain(item) for key, item in value.items()}
        return {_IS: "mapping", "of": [[plain(key), plain(item)] for key, item in value.items()]}
    if isinstance(value, (datetime, date)):
        return {_IS: "datetime" if isinstance(value, datetime) else "date", "of": value.isoformat()}
    if isinstance(value, np.ndarray):
        return {_IS: "array", "of": plain(value.tolist()), "type": value.dtype.str}
    if is_dataclass(value) and not isinstance(value, type) and type(value).__module__.startswith("scrieve."):
        own = {field.name: plain(getattr(value, field.name)) for field in fields(value) if field.init}
        return {_IS: f"{type(value).__module__}:{type(value).__qualname__}", "of": own}
    raise TypeError(f"{type(value).__name__} has no form in JSON")


def read(given: Any) -> Any:
    """Return the value of which `plain` made this.

    Raises
    ------
    ScrieveError
        It is nothing that `plain` makes, or of another version.
    """
    if isinstance(given, list):
        return [read(item) for item in given]
    if not isinstance(given, dict):
        return given
    if _IS not in given:
        return {key: read(item) for key, item in given.items()}
    try:
        return _made(str(given[_IS]), given["of"], given)
    except (ImportError, AttributeError, KeyError, TypeError, ValueError) as error:
        raise ScrieveError(f"what was kept of a computation cannot be read ({error!r}); begin it anew.") from error


def _made(name: str, of: Any, given: Mapping[str, Any]) -> Any:
    if name in _READ:
        return _READ[name](of)
    if name == "array":
        return np.array(read(of), dtype=given["type"])
    module, _, called = name.partition(":")
    if not module.startswith("scrieve."):
        raise ValueError(f"{name} is none of ours")
    kind = getattr(import_module(module), called)
    if not (isinstance(kind, type) and is_dataclass(kind) and kind.__module__ == module):
        raise ValueError(f"{name} is no dataclass")
    return kind(**{key: read(item) for key, item in of.items()})


_READ: Mapping[str, Any] = {
    "float": float,
    "tuple": lambda of: tuple(read(item) for item in of),
    "set": lambda of: frozenset(read(item) for item in of),
    "mapping": lambda of: {read(key): read(item) for key, item in of},
    "date": date.fromisoformat,
    "datetime": datetime.fromisoformat,
}
