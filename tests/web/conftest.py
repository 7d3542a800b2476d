"""The demo boat's pages, faired once for all tests here; `boats` hands out others."""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from fastapi import FastAPI
from playwright.sync_api import expect

sys.path.insert(0, str(Path(__file__).parent))

from boats import PATIENCE_S, TestClient, client_of, make_merganser, make_small, ready

from scrieve.web import create_app

expect.set_options(timeout=1000 * PATIENCE_S)


@pytest.fixture(scope="session")
def merganser(tmp_path_factory: pytest.TempPathFactory) -> FastAPI:
    """The demo boat's pages; nothing may be stored in her."""
    return ready(create_app(make_merganser(tmp_path_factory.mktemp("web") / "merganser.scrieve")))


@pytest.fixture(scope="session")
def pages(merganser: FastAPI) -> Iterator[TestClient]:
    with client_of(merganser) as client:
        yield client


@pytest.fixture
def small(tmp_path: Path) -> Callable[..., TestClient]:
    """Make the pages of a small boat, to be written to."""

    def make(**how: object) -> TestClient:
        return client_of(ready(create_app(make_small(tmp_path / "small.scrieve", **how))))  # type: ignore[arg-type]

    return make
