"""Finding: a name leads to its page, part of a name to a list; whatever is typed."""

import pytest
from boats import HOSTILE_FRAME, HOSTILE_PLANK

from scrieve.web.addresses import frame_path, plank_path
from scrieve.web.boat.finding import PLACES


@pytest.mark.parametrize(
    ("what", "path"),
    [
        ("14", "/frames/14"),
        ("Frame 14", "/frames/14"),
        ("garboard", "/planks/garboard"),
        (HOSTILE_FRAME, frame_path(HOSTILE_FRAME)),
        (HOSTILE_PLANK, plank_path(HOSTILE_PLANK)),
        ("jig", "/jig"),
    ],
)
def test_a_name_leads_to_its_page(pages, what, path):
    reply = pages.get("/find", params={"what": what})
    assert reply.status_code == 303
    assert reply.headers["location"] == path


def test_part_of_a_name_gives_a_list_the_likeliest_first(pages):
    text = pages.get("/find?what=topside").text
    assert text.index("/planks/topside%2011%20port") < text.index("/planks/topside%2012%20port")
    assert "/planks/garboard" not in text


def test_what_is_not_there_is_said_and_nothing_typed_is_taken_for_markup(pages):
    text = pages.get("/find", params={"what": "<script>x</script>"}).text
    assert "Nothing is called" in text
    assert "<script>x" not in text


@pytest.mark.parametrize("path", [path for _, path in PLACES])
def test_every_place_that_words_lead_to_answers(pages, path):
    assert pages.get(path).status_code in (200, 303)
