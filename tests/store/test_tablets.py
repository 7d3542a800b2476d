"""Tablets at once against the served pages: none lost, none doubled. bench/store.py sends thirty for a minute."""

import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent))

from tablets import serve_and_post

from scrieve import store


def test_what_many_tablets_post_at_once_is_there_once(where):
    assert "none lost, none doubled" in serve_and_post(where, 6, seconds=0.6, pause=0.1, inside=True)
    assert [each for each in store.check(where) if not each.ok] == []
