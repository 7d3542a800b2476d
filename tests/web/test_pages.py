"""The pages of the demo boat: every one answers, says what the core says, and leads on; labels cannot break them."""

import json
import re
from html.parser import HTMLParser
from urllib.parse import quote

import numpy as np
import pytest
from boats import HOSTILE_FRAME, HOSTILE_PLANK, client_of

from scrieve import store
from scrieve.frames.design import FrameChoice
from scrieve.web.addresses import file_path, frame_path, plank_path

EVERY = ["/", "/marks", "/marks?frame=17", "/frames", "/frames/14", "/frames/17", "/frames/19", "/stations/3610",
         "/planks", "/planks/garboard", "/planks/strake%209", "/sheets", frame_path(HOSTILE_FRAME),
         plank_path(HOSTILE_PLANK)]  # fmt: skip


class _Reader(HTMLParser):
    def __init__(self, text):
        super().__init__()
        self.tags = []
        self.feed(text)

    def handle_starttag(self, tag, attrs):
        self.tags.append((tag, {name: value or "" for name, value in attrs}))


def not_allowed(text):
    """Tags that the content policy would stop, or that would fetch from elsewhere."""
    for tag, attrs in _Reader(text).tags:
        inline = tag == "style" or (tag == "script" and "src" not in attrs)
        inline |= any(name == "style" or name.startswith("on") for name in attrs)
        targets = [attrs[name] for name in ("src", "href", "action", "xlink:href") if name in attrs]
        if inline or any(not re.match(r"[#/](?!/)", target) for target in targets):
            yield tag, attrs


def test_the_reader_sees_what_is_not_allowed():
    found = list(
        not_allowed('<p style="x"><b onclick="x()"><script>1</script><img src="//a/b"><a href="javascript:x">')
    )
    assert [tag for tag, _ in found] == ["p", "b", "script", "img", "a"]


@pytest.mark.parametrize("path", EVERY)
def test_every_page_answers_and_runs_nothing_inline(pages, path):
    page = pages.get(path)
    assert page.status_code == 200, page.text
    assert '<html lang="en"' in page.text
    title = re.search(r"<title>(.+?)</title>", page.text)[1]
    assert "Merganser" in title
    assert page.text.count("<h1>") == 1
    assert list(not_allowed(page.text)) == []


def test_the_boat_shows_what_the_marks_say(pages, merganser):
    state = merganser.state.boat.state()
    hull = state.kept.hull()
    page = pages.get("/").text
    assert f"{hull.rms_mm:.1f} mm" in page
    assert f"± {hull.error_mm:.1f} mm" in page
    assert ">1001<" in page  # rows of examples/merganser/marks.csv
    assert page.count("<svg") == 3
    for label in hull.stations:
        assert f'href="{frame_path(label)}"' in page
    for off in hull.suspects:
        assert re.search(rf'name="number" value="{off.number}"', page)


def test_the_hull_stands_before_its_suspects_and_a_line_leads_to_them(pages):
    page = pages.get("/").text
    notice, last_drawing, suspects = page.index('href="#suspects"'), page.rindex("<svg"), page.index('id="suspects"')
    assert notice < page.index("<svg") < last_drawing < suspects


def test_suspects_are_told_with_side_height_and_departure(pages):
    """The script that makes the marks says which reading it spoiled: frame 17 port, over 200 mm inside."""
    assert re.search(
        r"frame <bdi>17</bdi> port, mark <bdi>6</bdi>, 921 mm up.*?20\d\.\d mm inside", pages.get("/").text, re.S
    )


def test_a_designed_frame_shows_every_bracket_and_check(pages, merganser):
    design = merganser.state.boat.state().kept.frame("14")
    page = pages.get("/frames/14").text
    for bracket in design.jig.brackets:
        assert f'<td class="fig">{bracket.travel_mm:.1f}</td>' in page
    for check in design.checks:
        assert f'<th scope="row">{check.name}</th>' in page
    assert page.count("<details>") == len(design.workings)
    assert "travel" in page
    assert "The maker&#39;s data sheet comes first" in page


def test_a_check_that_is_not_met_is_said_in_words(pages, merganser):
    engine = merganser.state.boat.engine
    entry = store.frames(engine)["19"]
    thick = FrameChoice("19", "larch", lamination_mm=25.0, moulded_mm=75.0)  # far too thick for the bilge
    store.keep_frame(engine, "19", {**entry, "choice": thick.to_mapping()})
    try:
        page = pages.get(frame_path("19")).text
        design = merganser.state.boat.state().kept.frame("19")
    finally:
        store.keep_frame(engine, "19", entry)
    assert not design.all_ok
    assert "checks not met" in page
    failed = len([check for check in design.checks if not check.ok])
    assert page.count(">not ok<") == failed
    assert f"{failed} of {len(design.checks)} not met" in page


def test_a_frame_without_marks_is_made_from_the_hull(pages):
    page = pages.get("/frames/19").text
    assert "not measured: made from the fair hull" in page
    assert "Station 6000 mm" in page  # examples/merganser/frames.csv
    assert 'href="#jig"' in page
    assert "unmeasured step-1" in pages.get("/").text


def test_an_undesigned_frame_says_how_and_shows_its_marks(pages, merganser):
    page = pages.get("/frames/17").text
    here = [mark for mark in merganser.state.boat.state().kept.marks if mark.frame == "17"]
    assert "not designed yet" in page
    assert 'action="/frames/design"' in page
    for mark in here:
        assert f'<td class="fig">{mark.number}</td>' in page
    assert page.count("<strong>suspect</strong>") == 1


def test_neighbours_lead_fore_and_aft(pages):
    page = pages.get("/frames/19").text
    assert 'rel="prev" href="/frames/18"' in page
    assert 'rel="next" href="/frames/20"' in page


def test_marks_can_be_had_of_one_frame(pages):
    page = pages.get("/marks?frame=14").text
    assert '27 marks of <a href="/frames/14">frame' in page
    assert len(re.findall(r"<tr[ >]", page)) == 28
    none = pages.get("/marks?frame=zzz")
    assert none.status_code == 200
    assert "No marks of frame" in none.text


def test_many_marks_are_folded_by_frame_and_none_is_left_out(pages, merganser):
    """A browser lays nothing out of what is folded: 1001 rows in one table kept it busy for the most of a second."""
    state = merganser.state.boat.state()
    page = pages.get("/marks").text
    assert page.count('<details class="folded"') == len({mark.frame for mark in state.every_mark})
    assert "<details open" not in page
    for mark in state.every_mark:
        assert f'<td class="fig">{mark.number}</td>' in page
    frame = re.search(r"<summary><span>Frame <bdi>17</bdi>: (.*?)</span></summary>", page)[1]
    assert re.fullmatch(r"27 marks, \d\.\d mm off the line, <strong>1 suspect</strong>", frame)


@pytest.mark.parametrize("path", ["/", "/frames", "/sheets", frame_path(HOSTILE_FRAME), plank_path(HOSTILE_PLANK)])
def test_hostile_names_are_letters_only(pages, path):
    page = pages.get(path).text
    assert "<b onclick" not in page
    assert "<script>alert" not in page


def test_hostile_names_lead_to_their_pages(pages):
    boat = pages.get("/").text
    for path, name in ((frame_path(HOSTILE_FRAME), "Frame"), (plank_path(HOSTILE_PLANK), "Plank")):
        assert f'href="{path.replace("&", "&amp;")}"' in boat
        page = pages.get(path)
        assert page.status_code == 200
        assert f"<h1>{name} <bdi>" in page.text
    assert "&lt;b onclick=&#34;x()&#34;&gt;&amp;amp; ½ 木" in pages.get(frame_path(HOSTILE_FRAME)).text


def test_any_label_finds_its_page(small):
    """What browsers and servers fold in a path: dots, slashes, white space, percent signs, other scripts."""
    client = small()
    boat = client.app.state.boat
    labels = [".", "..", "/", "//x", "a/b", "\\", "%", "%2F", "a b", "?", "#", "é", "船", "a;b", "a+b", "&", "'\"", "<"]
    for n, label in enumerate(labels):
        choice = FrameChoice(label, sided_mm=30.0, moulded_mm=40.0).to_mapping()
        store.keep_frame(boat.engine, label, {"choice": choice, "station_mm": 2000.0 + 100 * n})
    listed = client.get("/frames").text
    for n, label in enumerate(labels):
        path = frame_path(label)
        assert f'href="{path.replace("&", "&amp;")}"' in listed
        page = client.get(path)
        assert page.status_code == 200, label
        assert f"Station {2000 + 100 * n} mm" in page.text, label
    for label in ("..", "%2F", "a/b"):
        assert client.get(file_path("frame", label, "bench.pdf")).content.startswith(b"%PDF-"), label


def test_what_is_not_there_is_told(pages):
    for path, words in (
        ("/frames/zzz", "frame &#39;zzz&#39; is not in this boat"),
        ("/planks/zzz", "plank &#39;zzz&#39; is not in this boat"),
        ("/nothing", "There is no page at this address"),
        ("/static/nothing.js", "There is no page at this address"),
        ("/stations/99999", "outside the marks"),
        ("/sheets/file?of=frame&label=14&kind=exe", "no page"),
        ("/sheets/file?of=boat&label=14&kind=dxf", "no page"),
    ):
        page = pages.get(path)
        assert page.status_code == 404, path
        assert words in page.text, path
    assert pages.get("/stations/nan").status_code == 422
    assert pages.get("/sheets/file").status_code == 422
    undesigned = pages.get(file_path("frame", "17", "bench.pdf"))
    assert undesigned.status_code == 422
    assert "has not been designed" in undesigned.text


def test_a_station_is_read_in_any_units(pages):
    assert pages.get("/stations?at=11-9-6").headers["location"] == "/stations/3600.45"  # (11 x 12 + 9.75) x 25.4
    refused = pages.get("/stations?at=abc")
    assert refused.status_code == 422
    assert "found &#39;abc&#39;" in refused.text
    assert "Frame <bdi>14</bdi></a> stands here" in pages.get("/stations/4500").text


def _finite(text):
    def refuse(constant):
        raise AssertionError(constant)

    return json.loads(text, parse_constant=refuse)


def test_json_says_what_the_core_says(pages, merganser):
    kept = merganser.state.boat.state().kept
    hull = kept.hull()
    found = _finite(pages.get("/api/hull").text)
    assert found["rms_mm"] == pytest.approx(hull.rms_mm)
    assert len(found["marks"]) == 1001
    assert {mark["id"] for mark in found["marks"] if mark["suspect"]} == {off.number for off in hull.suspects}
    assert {frame["label"] for frame in found["frames"]} == {*hull.stations, *kept.frames}
    frame = _finite(pages.get("/api/frame?at=19").text)
    design = kept.frame("19")
    assert [b["travel_mm"] for b in frame["design"]["brackets"]] == [b.travel_mm for b in design.jig.brackets]
    assert frame["marks"] == []
    plank = _finite(pages.get("/api/plank", params={"name": HOSTILE_PLANK}).text)
    assert np.allclose(plank["outline_mm"], kept.plank(HOSTILE_PLANK).outline_mm)
    assert plank["frames"][0]["lower_bevel_rad"] is None  # a spiled plank knows no hull
    missing = pages.get("/api/frame?at=zzz")
    assert (missing.status_code, missing.json()["error"][:11]) == (404, "frame 'zzz'")


def test_a_section_as_csv(pages, merganser):
    reply = pages.get("/section.csv?at=14")
    assert reply.headers["content-type"].startswith("text/csv")
    head, *rows = reply.text.splitlines()
    assert head == "frame,station_mm,s_mm,half_breadth_mm,height_mm,sd_mm,bevel_deg,curvature_per_m"  # issue 2, item 2
    section = merganser.state.boat.state().kept.hull().section("14", 200)
    values = np.array([[float(cell) for cell in row.split(",")] for row in rows])
    assert np.allclose(values[:, 2:5], np.column_stack([section.s_mm, section.points_mm]), atol=6e-4)
    assert np.allclose(values[:, 7], 1000 * section.curvature_per_mm, atol=6e-4)
    assert len(pages.get("/section.csv?at=6000&points=7").text.splitlines()) == 8
    assert pages.get(f"/section.csv?at={quote(HOSTILE_FRAME)}").status_code == 200


def test_a_page_seen_before_is_not_made_again(pages):
    first = pages.get("/frames/14")
    tag = first.headers["etag"]
    again = pages.get("/frames/14", headers={"If-None-Match": tag})
    assert (again.status_code, again.content) == (304, b"")
    assert pages.get("/frames/15", headers={"If-None-Match": tag}).status_code == 200


def test_feet_inches_and_eighths_where_the_builder_reads_them(small):
    client = small(units="ft")
    page = client.get("/frames/3").text
    assert "Station 7-2-5" in page  # 2200 mm = 86.614 in = 7 ft 2 5/8 in, nearest sixteenth
    assert "height (ft\u2011in\u20118ths)" in page
    assert client.get("/stations?at=3000").status_code == 422  # feet, inches, eighths? A bare number is refused


def test_head_is_a_page_without_its_text(pages):
    get, head = pages.get("/frames"), pages.head("/frames")
    assert head.status_code == 200
    assert head.content == b""
    assert head.headers["etag"] == get.headers["etag"]


def test_two_boats_have_pages_of_their_own(pages, small):
    assert "Small" in small().get("/").text
    assert "Merganser" in client_of(pages.app).get("/").text


@pytest.mark.parametrize(
    ("path", "above", "here"),
    [
        ("/frames/14", ["/frames"], "14"),
        ("/release?frame=14", ["/frames", "/frames/14"], "off the jig"),
        ("/glue-up?frame=14", ["/frames", "/frames/14"], "glue-up"),
        ("/jig?frame=14", ["/frames", "/frames/14", "/jig"], "setting"),
        ("/planks/garboard", ["/planks"], "garboard"),
    ],
)
def test_a_members_page_says_where_it_stands(pages, path, above, here):
    crumbs = re.search(r'<nav class="crumbs".*?</nav>', pages.get(path).text, re.S)[0]
    assert re.findall(r'href="([^"]*)"', crumbs) == above
    assert re.search(r'aria-current="page"><bdi>(.*?)</bdi>', crumbs)[1] == here
