"""The demo boat's formula and its script, loaded from examples/merganser as the script itself loads them."""

import importlib
import sys
from pathlib import Path
from types import ModuleType

import pytest

MERGANSER = Path(__file__).parents[2] / "examples" / "merganser"


def _load(name: str) -> ModuleType:
    sys.path.insert(0, str(MERGANSER))
    try:
        return importlib.import_module(name)
    finally:
        sys.path.remove(str(MERGANSER))


@pytest.fixture(scope="session")
def folder() -> Path:
    return MERGANSER


@pytest.fixture(scope="session")
def form() -> ModuleType:
    return _load("form")


@pytest.fixture(scope="session")
def script() -> ModuleType:
    return _load("make_merganser")


@pytest.fixture(scope="session")
def batten() -> ModuleType:
    return _load("batten")
