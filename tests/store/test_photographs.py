"""Photographs are kept once, byte for byte, and told when they are not what was kept."""

import pytest
from sqlalchemy import update

from scrieve import store
from scrieve.errors import ScrieveError
from scrieve.store import schema


def test_the_same_photograph_is_kept_once_and_comes_back_whole(engine):
    jpeg = bytes(range(256)) * 40
    digest = store.keep_photograph(engine, jpeg)
    with engine.connect() as db:
        rows = db.execute(schema.photographs.select()).all()
    assert store.keep_photograph(engine, jpeg) == digest
    assert store.photograph(engine, digest) == jpeg
    with engine.connect() as db:
        assert db.execute(schema.photographs.select()).all() == rows


def test_one_that_was_changed_in_the_file_is_not_shown(engine):
    digest = store.keep_photograph(engine, b"as it was")
    with engine.begin() as db:
        db.execute(update(schema.photographs).values(content="YXMgaXQgaXM="))
    with pytest.raises(ScrieveError, match="not those that were kept"):
        store.photograph(engine, digest)


def test_one_that_is_not_there_is_told(engine):
    with pytest.raises(ScrieveError, match="no photograph"):
        store.photograph(engine, "0" * 64)
