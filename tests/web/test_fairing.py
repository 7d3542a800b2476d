"""The Fairing page: what it draws is what the core says; suspects are answered; nothing slow stands in its way."""

import re
import threading
import time
from dataclasses import replace
from types import SimpleNamespace

import pytest
from boats import HOME, client_of, make_small, ready, settled, with_words

from scrieve import store
from scrieve.athand import AtHand
from scrieve.boat import Boat
from scrieve.errors import CannotFair
from scrieve.fairing import Dent
from scrieve.fairing.fairness import fairness
from scrieve.fairing.next_mark import next_marks
from scrieve.takeoff.marks import Mark
from scrieve.web import create_app
from scrieve.web.boat.member_states import one_against_many
from scrieve.web.fairing import pages as fairing_pages
from scrieve.web.fairing.look import Look
from scrieve.web.views import ENVIRONMENT

SAME = {"Origin": HOME}


def test_the_page_shows_departures_suspects_and_places(pages, merganser):
    hull = merganser.state.boat.state().kept.hull()
    page = settled(pages, "/fairing")
    assert page.status_code == 200
    text = page.text
    assert 'href="/fairing" aria-current="page"' in text
    off = hull.suspects[0]
    assert f"frame {off.frame}, port: {off.residual_mm:+.1f} mm, suspect" in text  # on the drawing
    for off in hull.suspects:
        assert text.count(f'name="number" value="{off.number}"') == 3  # keep, drop, measured again
    assert len(re.findall(r'<tr><th scope="row">\d</th>', text)) == fairing_pages.PLACES
    assert "the 7 frame pairs to be made" in text  # six of frames.csv and the one of hostile name
    kept = merganser.state.boat.state().kept
    frames = [label if label in hull.stations else entry["station_mm"] for label, entry in kept.frames.items()]
    first = next_marks(hull, frames, 1)[0]  # named for the frames to be made, not for all that were measured
    assert re.search(
        rf'"row">1</th>.*?>{first.height_mm:.0f}</td><td class="fig">{first.half_breadth_mm:.0f}</td>', text, re.S
    )


def test_what_is_drawn_follows_the_address(pages):
    plain = settled(pages, "/fairing?places=0").text
    assert "± of frame 14" in plain
    assert "curvature of frame 14" not in plain
    assert "measure here" not in plain
    for path, there, gone in (
        ("/fairing?places=0&bands=0", "", "± of frame 14"),
        ("/fairing?places=0&combs=1", "curvature of frame 14", "measure here"),
        ("/fairing?places=0&times=50", "drawn 50 times", "drawn 20 times"),
        ("/fairing?places=0&marks=0", "bands (± 2 sd) drawn", "open: port"),
    ):
        text = settled(pages, path).text
        assert there in text, path
        assert gone not in text, path
        assert re.search(r'aria-current="true"', text)
    assert pages.get("/fairing?show=nothing").status_code == 422
    assert pages.get("/fairing?times=-1").status_code == 422


@pytest.mark.parametrize(
    "look", [Look(), Look("sides", 20), Look("diagonals", combs=True, marks=False), Look(bands=False, places=False)]
)
def test_an_address_says_what_it_shows(look):
    assert Look.of(look.path()) == look


@pytest.mark.parametrize("path", ["/", "/fairing?show=x&times=99999&times=é", "//x", "", "/fairing?times=1e3"])
def test_an_address_of_elsewhere_shows_what_is_usual(path):
    assert Look.of(path) == Look()


def test_diagonals_with_their_kinks_before_and_after(pages, merganser):
    report = fairness(merganser.state.boat.state().kept.hull())
    text = settled(pages, "/fairing?show=diagonals&combs=1").text
    assert text.count("<svg") == 1
    assert "curvature of diagonal" in text
    rows = re.findall(r"<tr><td>.*?</tr>", text, re.S)
    assert len(rows) == len(report.lines)
    for row, line in zip(rows, report.lines, strict=True):
        assert f">{line.before.kink_mm:.1f}<" in row
        assert f">{line.after.kink_mm:.1f}<" in row


def _both_sides(path, wider_mm=0.0):
    """A Wigley hull of 6 m measured on both sides, port wider by so much."""
    engine = store.create(path, Boat("Two sides", sigma_mm=1.0))
    marks = []
    for i in range(7):
        x = 600.0 + 800.0 * i
        along = 1 - (2 * x / 6000 - 1) ** 2
        for z in range(0, 700, 100):
            half = 750.0 * along * (1 - ((600 - z) / 700) ** 2)
            marks += [Mark(str(i + 1), x, z, half + (wider_mm if side == "P" else 0.0), side) for side in "PS"]
    store.add_marks(engine, marks)
    engine.dispose()
    return client_of(ready(create_app(path)))


def test_port_against_starboard(tmp_path):
    client = _both_sides(tmp_path / "sides.scrieve", wider_mm=12.0)
    text = settled(client, "/fairing?show=sides").text
    means = [float(cell) for cell in re.findall(r'<tr><td class="fig">\d</td><td class="fig">([+-][\d.]+)</td>', text)]
    assert len(means) == 7
    assert all(6 < mean < 12.5 for mean in means)  # square to the line it is 12 mm times the cosine of its slope
    assert "frames differ by more than measuring error explains" in text
    opened = re.findall(r'data-column="(\d)"', text)
    assert opened == ["1", "2", "3", "4", "6", "7"], "all but the frame and the height have their working"


def test_one_side_only_cannot_be_compared(small):
    text = small().get("/fairing?show=sides").text
    assert "the marks stand for both sides" in text
    assert "Measure the other side" in text


def test_no_marks_too_few_and_no_suspects(tmp_path, small):
    path = tmp_path / "new.scrieve"
    store.create(path, Boat("New")).dispose()
    page = client_of(ready(create_app(path))).get("/fairing")
    assert page.status_code == 200
    assert "No marks yet" in page.text
    few = client_of(ready(create_app(make_small(tmp_path / "few.scrieve", frames=3)))).get("/fairing")
    assert few.status_code == 200
    assert "at least 4 frames" in few.text
    good = settled(small(), "/fairing")
    assert "No mark is suspect" in good.text
    assert "all frames" in good.text


def test_slow_work_is_not_waited_for_and_comes_later(small, monkeypatch):
    go = threading.Event()

    def slow(*args):
        go.wait(30)
        return next_marks(*args)

    monkeypatch.setattr(fairing_pages, "next_marks", slow)
    client = small()
    try:
        client.get("/fairing")
        began = time.monotonic()
        page = client.get("/fairing")
        assert time.monotonic() - began < 2  # the patience of a request, and room for a busy machine
        assert page.status_code == 200
        assert "Being worked out" in page.text
        assert '<noscript><meta http-equiv="refresh"' in page.text
        assert page.headers["cache-control"] == "no-store"
        assert "etag" not in page.headers
    finally:
        go.set()
    after = settled(client, "/fairing")
    assert "All 8 together" in after.text
    assert "etag" in after.headers


def test_a_fault_in_what_is_worked_out_is_told_in_its_place(small, monkeypatch, caplog):
    def broken(*_):
        raise RuntimeError("secret in the works")

    monkeypatch.setattr(fairing_pages, "next_marks", broken)
    page = settled(small(), "/fairing")
    assert page.status_code == 200
    assert "a fault of this program" in page.text
    assert "secret" not in page.text
    assert "secret in the works" in caplog.text


def _again(text, number):
    form = re.search(
        rf'action="/marks/again".*?name="number" value="{number}">.*?name="key" value="(\w+)">.*?name="back" '
        rf'value="([^"]*)"',
        text,
        re.S,
    )
    return {"number": str(number), "key": form[1], "back": form[2].replace("&amp;", "&")}


def test_a_suspect_measured_again_is_replaced_in_one_act(small):
    client = small(slip_mm=150.0)
    engine = client.app.state.boat.engine
    old = store.marks(engine)[17]
    sent = _again(client.get("/fairing?times=20").text, 18)
    sent |= {"height": f"{old.height_mm:g}", "half_breadth": f"{old.half_breadth_mm - 150:g}mm"}
    for _ in range(2):  # pressed twice
        reply = client.post("/marks/again", data=sent, headers=SAME)
        assert (reply.status_code, reply.headers["location"]) == (303, "/fairing?times=20")
    marks = store.marks(engine)
    assert len(marks) == 50
    assert store.answers(engine) == {18: "measured again"}
    new = marks[-1]
    assert (new.frame, new.station_mm, new.side, new.height_mm) == (old.frame, old.station_mm, "", old.height_mm)
    assert new.half_breadth_mm == pytest.approx(old.half_breadth_mm - 150, abs=1e-3)  # '%g' keeps six digits
    assert "mark 18" in new.note
    assert len([act for act in store.acts(engine) if act.what == "answered: measured again"]) == 1
    ready(client.app)
    after = settled(client, "/fairing").text
    assert "No mark is suspect" in after
    other = client.post("/marks/again", data=sent | {"height": "1"}, headers=SAME)  # an old page of another tablet
    assert other.status_code == 422
    assert "was measured again before" in other.text
    assert len(store.marks(engine)) == 50


@pytest.mark.parametrize(
    ("height", "half", "said"),
    [
        ("two feet", "310", "height: found &#39;two feet&#39;"),
        ("200", "", "half-breadth: nothing is given"),
        ("200", "-310", "not below zero"),
        ("200", "1,234", "half-breadth: found &#39;1,234&#39;"),
    ],
)
def test_what_was_typed_comes_back_when_it_cannot_be_read(small, height, half, said):
    client = small(slip_mm=150.0)
    sent = _again(client.get("/fairing?combs=1").text, 18) | {"height": height, "half_breadth": half}
    reply = client.post("/marks/again", data=sent, headers=SAME)
    assert reply.status_code == 422
    assert said in reply.text
    assert f'name="height" required autocomplete="off" value="{height}"' in reply.text
    assert f'name="half_breadth" required autocomplete="off" value="{half}"' in reply.text
    assert 'id="mark-18" open' in reply.text
    assert 'value="/fairing?combs=1"' in reply.text
    assert len(store.marks(client.app.state.boat.engine)) == 49


def test_lengths_are_read_in_the_builders_units(small):
    client = small(slip_mm=150.0, units="ft")
    sent = _again(client.get("/fairing").text, 18) | {"height": "0-11-6", "half_breadth": "1-4-0"}
    bare = client.post("/marks/again", data=sent | {"height": "300"}, headers=SAME)
    assert bare.status_code == 422  # feet, inches, eighths? A bare number is refused
    assert client.post("/marks/again", data=sent, headers=SAME).status_code == 303
    new = store.marks(client.app.state.boat.engine)[-1]
    assert (new.height_mm, new.half_breadth_mm) == (298.45, 406.4)  # 11.75 in and 16 in at 25.4 mm


def test_any_mark_can_be_measured_again_and_none_that_is_not_there(small):
    client = small()
    page = client.get("/fairing?mark=3")
    assert 'id="mark-3" open' in page.text
    sent = _again(page.text, 3) | {"height": "200", "half_breadth": "203"}
    assert client.post("/marks/again", data=sent, headers=SAME).status_code == 303
    assert store.answers(client.app.state.boat.engine) == {3: "measured again"}
    assert "no mark 999 in this boat" in settled(client, "/fairing?mark=999").text
    reply = client.post("/marks/again", data=sent | {"number": "999"}, headers=SAME)
    assert reply.status_code == 422
    assert "no mark 999 in this boat" in reply.text
    assert client.post("/marks/again", data=sent | {"number": "x"}, headers=SAME).status_code == 422


def test_a_form_from_elsewhere_is_refused(small):
    client = small()
    sent = {"number": "3", "height": "200", "half_breadth": "203", "back": "https://elsewhere/"}
    assert client.post("/marks/again", data=sent, headers={"Origin": "https://elsewhere"}).status_code == 403
    assert store.answers(client.app.state.boat.engine) == {}
    assert client.post("/marks/again", data=sent, headers=SAME).headers["location"] == "/"


def test_sides_that_cannot_be_faired_apart_say_why(tmp_path, monkeypatch):
    client = _both_sides(tmp_path / "sides.scrieve")

    def refuse(*_, **__):
        raise CannotFair("port by itself: too few")

    monkeypatch.setattr(fairing_pages, "sides", refuse)
    assert "Port by itself: too few" in settled(client, "/fairing?show=sides").text


def test_a_mark_kept_against_many_is_told_before_those_that_it_made_suspect(pages):
    """Kept, the mark that lies a foot out pulls the hull away from the good ones about it: 'keep' was a slip then."""
    view = SimpleNamespace(hull=pages.app.state.boat.state().kept.hull(), kept=pages.app.state.boat.state().kept)
    far = next(off for off in view.hull.offs if off.suspect and off.out_by_sd > 30)
    about = [off for off in view.hull.offs if off.frame in ("16", "18") and abs(off.v - far.v) < 0.25]
    assert len(about) > 5
    gone = {off.number for off in about}
    offs = [replace(off, suspect=off.number in gone) for off in view.hull.offs]
    after = replace(view.hull, offs=tuple(offs))
    assert one_against_many(view, after) == [], "nothing was kept"
    view.kept = replace(view.kept, answers={far.number: "keep"})
    ((mark, many),) = one_against_many(view, after)
    assert (mark.number, many) == (far.number, len(about))
    assert one_against_many(view) == [], "the suspects of a boat like any other"
    page = ENVIRONMENT.from_string(
        '{% from "parts.html" import suspect_list with context %}{{ suspect_list([], view, "mm", "/fairing") }}'
    ).render(against=[(mark, many)], view=SimpleNamespace(key=lambda *what: "k"))
    assert f"and {many} marks about it are suspect: one against many" in page
    assert page.index('value="drop"') > 0


def test_a_mark_kept_though_all_others_say_otherwise_is_told(small):
    client = small(slip_mm=30.0)
    client.headers["origin"] = HOME
    said = "standard deviations from what all other marks say: the fair hull goes by it all the same"
    assert said not in client.get("/fairing").text
    assert client.post("/marks/answer", data={"number": "18", "what": "keep"}).status_code == 303
    assert "kept" in with_words(client, "/fairing", said).partition(said)[0][-60:]


PORT_IN = Dent("3", "P", 1200.0, ("2", "4"), (13, 14, 15), False, off_mm=-6.0, most_mm=-9.0, sd_mm=0.8)


@pytest.fixture
def dented(monkeypatch):
    """Let hulls have these dents, nothing of which is at hand yet."""

    def have(*found):
        monkeypatch.setattr("scrieve.web.fairing.dented.dents", lambda hull: found)
        monkeypatch.setattr("scrieve.web.fairing.dented._dented", AtHand(1))

    return have


def test_a_frame_that_stands_out_of_place_is_told_until_the_hull_is_so(small, dented):
    dented(PORT_IN)
    client = small()
    text = settled(client, "/fairing").text
    foot = text.split('<section id="dents">')[1].split("</section>")[0]
    assert "Frame 3 P: its marks 13 to 15 stand 6.0 mm inside of where frames 2 and 4 would have them" in foot
    assert "frame <bdi>3</bdi> enlarged" in foot
    assert "one side stands in" not in foot
    fields = {"number": "13 14 15", "what": "keep", "back": "/fairing#dents"}
    assert client.post("/marks/answer", data=fields, headers=SAME).status_code == 303
    ready(client.app)
    assert 'id="dents"' not in settled(client, "/fairing").text


def test_a_frame_whose_sides_stand_to_either_hand_leads_to_the_comparison(small, dented):
    client = small()
    dented(PORT_IN, replace(PORT_IN, side="S", off_mm=6.5))
    assert "Of frame 3 one side stands in and the other out" in settled(client, "/fairing").text
    dented(PORT_IN, replace(PORT_IN, side="S"))
    assert "one side stands in" not in settled(client, "/fairing?times=50").text  # another page than the one at hand
