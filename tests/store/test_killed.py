"""Kill -9 during writes, disk full, a store that takes no writes: what was acknowledged is there, the message clear.

bench/store.py kills three hundred times; here a few, with the same writer and the same eyes.
"""

import contextlib
import os
import re
import shutil
import subprocess
import sys
import tempfile
from pathlib import Path

import pytest

from scrieve import store
from scrieve.boat import Boat
from scrieve.errors import BadBoat
from scrieve.store.place import Place
from scrieve.takeoff.marks import Mark

sys.path.insert(0, str(Path(__file__).parent))

from killing import crash_of, fill, in_a_process, kill_writers, open_as_nobody


def test_what_was_acknowledged_outlives_killed_writers(engine, where):
    engine.dispose()
    acknowledged = kill_writers(where, 3, seed=1924)
    assert acknowledged >= 3
    assert [each for each in store.check(where) if not each.ok] == []


@contextlib.contextmanager
def small_disk(folder, megabytes):
    """A disk of a few MB; where none may be mounted, None: a limit on the size of files stands for it."""
    folder.mkdir()
    size = f"size={megabytes}m,mode=0777"
    mounted = subprocess.run(["mount", "-t", "tmpfs", "-o", size, "tmpfs", folder], capture_output=True, check=False)
    try:
        yield mounted.returncode == 0
    finally:
        if mounted.returncode == 0:
            subprocess.run(["umount", "-l", folder], check=True)


def test_a_full_disk_is_told_and_nothing_is_lost(tmp_path):
    with small_disk(tmp_path / "small", 2) as mounted:
        place = tmp_path / "small" / "a.boat"
        store.create(place, Boat("Merganser")).dispose()
        stored, message = in_a_process(fill, place, not mounted)
        assert "the disk is full or fails; make room and try again. What was stored before is safe" in message
        if mounted:  # there is room again: what was stored is carried to a larger disk
            place = Path(shutil.copytree(place.parent, tmp_path / "larger")) / "a.boat"
        engine = store.open_boat(place)
        assert len(store.marks(engine)) == stored > 0
        assert store.add_marks(engine, [Mark("14", 0.0, 1.0, 2.0)]) == [stored + 1]
        engine.dispose()
        assert [each for each in store.check(place) if not each.ok] == []


def test_a_full_disk_of_a_server_is_told_and_nothing_is_lost(server, tmp_path):
    folder = Path(server.folder) / "small"
    with small_disk(folder, 14) as mounted:
        if not mounted:
            pytest.skip("no disk can be mounted here, and a server's files cannot be limited from outside")
        owner = Path(server.folder).stat()
        os.chown(folder, owner.st_uid, owner.st_gid)
        server.sql(f"CREATE TABLESPACE small LOCATION '{folder}'")
        server.sql("CREATE DATABASE tight TABLESPACE small")
        try:
            place = Place(server.url.replace("/scrieve?", "/tight?"), "merganser")
            engine, stored = store.create(place, Boat("Merganser")), 0
            marks = [Mark("14", 3600.0, float(n), 2.0, note="x" * 1000) for n in range(1000)]
            with contextlib.suppress(BadBoat):
                while stored < 10**6:
                    stored = store.add_marks(engine, marks)[-1]
            with pytest.raises(BadBoat, match=r"the disk is full or fails; make room and try again"):
                store.add_marks(engine, marks)
            with engine.connect() as db:
                assert db.exec_driver_sql("SELECT count(*) FROM marks").scalar() == stored > 0
            engine.dispose()
        finally:
            server.sql("DROP DATABASE tight WITH (FORCE)")
            server.sql("DROP TABLESPACE small")


def test_a_server_that_takes_no_writes_is_told(server):
    place = Place(server.fresh(), "merganser")
    engine = store.create(place, Boat("Merganser"))
    name = re.search(r"/(test_\d+)\?", place.store)[1]
    engine.dispose()
    server.sql(f"ALTER DATABASE {name} SET default_transaction_read_only = on")
    engine = store.open_boat(place)
    with pytest.raises(BadBoat, match="the store takes no writes now; ask whoever keeps its server"):
        store.add_marks(engine, [Mark("14", 0.0, 1.0, 2.0)])
    assert store.marks(engine) == ()
    engine.dispose()


def test_a_file_that_may_only_be_read_is_told_and_left():
    with tempfile.TemporaryDirectory() as folder:  # one that others may look into
        place = Path(folder) / "a.boat"
        store.create(place, Boat("Merganser")).dispose()
        before = place.read_bytes()
        place.chmod(0o444)
        Path(folder).chmod(0o555)
        said = in_a_process(open_as_nobody, place)
        Path(folder).chmod(0o755)
        assert said.startswith("BadBoat(")
        assert "write-protected; copy the file to a folder you may write to, and open the copy" in said
        assert place.read_bytes() == before


def test_a_server_that_crashed_is_told_and_found_again(where, engine, server):
    if not where.is_server:
        engine.dispose()
        with pytest.raises(BadBoat, match="the server cannot be reached; see that it runs and that the address"):
            store.open_boat("postgresql://127.0.0.1:1/yard#teal")
        return
    store.add_marks(engine, [Mark("14", 0.0, 1.0, 2.0)], key="a")
    crash_of(server)()
    assert store.add_marks(engine, [Mark("14", 0.0, 1.0, 2.0)], key="a") == [1]  # pinged before use, and connected anew
    assert len(store.marks(engine)) == 1
