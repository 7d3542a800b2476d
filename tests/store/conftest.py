"""Every test of the store runs on both: a boat file, and a PostgreSQL server started here for the purpose."""

import itertools
import subprocess
from pathlib import Path

import psycopg
import pytest

from scrieve import store
from scrieve.boat import Boat
from scrieve.store.place import Place

TOOL = Path(__file__).parents[2] / "tools" / "postgres"
_count = itertools.count(1)


class Server:
    """A PostgreSQL server in a folder of its own."""

    def __init__(self):
        said = subprocess.run(["sh", TOOL, "start"], capture_output=True, text=True, check=False)
        assert said.returncode == 0, said.stderr + "\n'make test' installs what the tests need"
        self.folder, self.url = said.stdout.split()

    def sql(self, text, database="scrieve"):
        with psycopg.connect(self.url.replace("/scrieve?", f"/{database}?"), autocommit=True) as raw:
            raw.execute(text)

    def fresh(self):
        """Make an empty database; return its address."""
        name = f"test_{next(_count)}"
        self.sql(f"CREATE DATABASE {name}")
        return self.url.replace("/scrieve?", f"/{name}?")

    def again(self):
        subprocess.run(["sh", TOOL, "again", self.folder], check=True)

    def stop(self):
        subprocess.run(["sh", TOOL, "stop", self.folder], check=True)


@pytest.fixture(scope="session")
def server():
    found = Server()
    yield found
    found.stop()


@pytest.fixture(scope="session")
def yard(server):
    """The address of one store for all tests: each makes a boat of her own in it."""
    store.create(Place(server.url, "first"), Boat("First")).dispose()
    return server.url


@pytest.fixture(params=["file", "server"])
def where(request, tmp_path):
    """A place where a boat may be made: a file that is not there yet, or a name in a store that holds others."""
    if request.param == "file":
        return Place(str(tmp_path / "a.boat"))
    return Place(request.getfixturevalue("yard"), f"boat {next(_count)}")


@pytest.fixture
def engine(where):
    engine = store.create(where, Boat("Merganser"))
    yield engine
    engine.dispose()
