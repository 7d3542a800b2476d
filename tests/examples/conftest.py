"""The demo boat's formula and its script, loaded from examples/merganser as the script itself loads them."""

import importlib
import sys
from importlib.util import module_from_spec, spec_from_file_location
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


@pytest.fixture(scope="session")
def demo() -> ModuleType:
    found = spec_from_file_location("demo", MERGANSER.parent / "demo.py")
    module = module_from_spec(found)
    found.loader.exec_module(module)
    return module
