"""What is written of the pages is checked: every address stands in docs/pages.md, and every address there answers."""

import re
from pathlib import Path

from boats import all_routes

from scrieve.web.app import PARTS

DOC = (Path(__file__).parents[2] / "docs" / "pages.md").read_text(encoding="utf-8")


def test_every_address_is_documented():
    paths = {re.sub(r"/?\{.*", "", route.path) or "/" for part in PARTS for route in all_routes(part.pages)}
    assert len(paths) >= 13
    for path in paths:
        assert f"`{path}" in DOC, f"docs/pages.md says nothing of {path}"


def test_every_documented_address_answers(pages):
    found = re.findall(r"`(/[^`]*)`", DOC)
    sent_to = {route.path for part in PARTS for route in all_routes(part.pages) if "GET" not in route.methods}
    assert len(found) > 12
    for path in found:
        if path not in sent_to and "%" not in path:
            reply = pages.get(path)
            assert reply.status_code in (200, 303), path


def test_every_kind_of_file_answers(pages):
    kinds = re.search(r"one file: (.*?)\|", DOC, re.S)[1]
    for kind in re.findall(r"`([\w.-]+)`", kinds):
        assert pages.get(f"/sheets/file?of=frame&label=14&kind={kind}").status_code == 200, kind
