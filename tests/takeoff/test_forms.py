"""The forms of ordinates, tapes, templates and arcs: what is read, and what is said of what cannot be."""

import json
import math
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from scrieve.errors import BadMarks
from scrieve.takeoff.arc_form import read_arcs
from scrieve.takeoff.marks import Mark
from scrieve.takeoff.ordinates import read_ordinates
from scrieve.takeoff.reading import FORMS, read_taken, recognised
from scrieve.takeoff.tape_form import read_tapes
from scrieve.takeoff.tapes import fix_point
from scrieve.takeoff.template_form import read_templates

EXAMPLES = Path(__file__).parents[2] / "examples" / "formats"
ORDINATES = (
    "frame,station,mark,from_height,from_half_breadth,to_height,to_half_breadth,along,off,lies,sigma,end_sigma\n"
)
TAPES = "frame,station,mark,nail,nail_height,nail_half_breadth,tape,lies,sigma,nail_sigma\n"
TEMPLATES = "frame,station,template,mark,x,y,height,half_breadth,turned,sigma\n"
ARCS = "frame,station,how,mark,edge,at_height,at_half_breadth,opening,lies,sigma,at_sigma\n"


def ordinates(text, **more):
    return read_ordinates((ORDINATES + text).encode(), "o.csv", **more)


def tapes(text, **more):
    return read_tapes((TAPES + text).encode(), "t.csv", **more)


def templates(text, **more):
    return read_templates((TEMPLATES + text).encode(), "p.csv", **more)


def arcs(text, **more):
    return read_arcs((ARCS + text).encode(), "a.csv", **more)


def at(mark):
    return mark.half_breadth_mm, mark.height_mm


@pytest.mark.parametrize("way", FORMS)
def test_the_example_lies_on_its_ellipse(way):
    """The examples were read off half an ellipse, 1400 by 1300 mm about (0, 1500), to half a millimetre."""
    found, taken = read_taken((EXAMPLES / f"{way}.csv").read_bytes(), f"{way}.csv")
    assert (found, taken.bad) == (way, ())
    assert [text for text in taken.warnings if "turned over" not in text] == []
    assert len(taken.marks) >= 6
    for mark in taken.marks:
        across, up = mark.half_breadth_mm / 1400, (mark.height_mm - 1500) / 1300
        slope = math.hypot(across / 1400, up / 1300)
        assert (across**2 + up**2 - 1) / (2 * slope) == pytest.approx(0, abs=1.0)
        assert (mark.frame, mark.station_mm, mark.side, mark.way) == ("14", 3600.0, "P", way)
        if way != "offsets":
            spread = mark.covariance_mm2(2.0)
            assert np.all(np.linalg.eigvalsh(spread) > 0.5)
            assert mark.sigma_mm == pytest.approx(math.sqrt(np.trace(spread) / 2))
            assert {"read": mark.readings, "found": mark.found} == json.loads(mark.raw)
            assert mark.readings
    assert taken.raw == tuple(mark.readings for mark in taken.marks)


@pytest.mark.parametrize("way", FORMS)
def test_a_sheet_reads_as_a_csv_does(way, xlsx):
    data = (EXAMPLES / f"{way}.csv").read_bytes()
    rows = [line.split(",") for line in data.decode().splitlines() if not line.startswith("#")]
    sheet = xlsx([[float(cell) if cell.replace(".", "", 1).isdigit() else cell for cell in row] for row in rows])
    there = read_taken(sheet, "x.xlsx")[1]
    here = read_taken(data, "x.xlsx")[1]
    plain = [replace(mark, line=0, frame="") for mark in here.marks]
    assert [replace(mark, line=0, frame="") for mark in there.marks] == plain


@pytest.mark.parametrize("way", FORMS)
def test_the_form_is_known_by_its_columns_also_with_units(way):
    head = (EXAMPLES / f"{way}.csv").read_text().splitlines()[1]
    assert recognised(head.encode(), "x.csv") == way
    with_units = ",".join(
        f"{cell} (mm)" if cell in ("along", "off", "tape", "x", "opening") else cell for cell in head.split(",")
    )
    assert recognised(with_units.encode(), "x.csv") == way


def test_a_form_that_cannot_be_told():
    with pytest.raises(BadMarks, match="has the columns of tapes and of arcs; put them into files of their own"):
        recognised(b"frame,tape_mm,opening\n", "x.csv")
    with pytest.raises(BadMarks, match="no rows; the first row names the columns"):
        recognised(b"# nothing\n", "x.csv")
    with pytest.raises(BadMarks, match="form 'photos'; say one of offsets, ordinates, tapes, templates, arcs"):
        read_taken(b"frame\n", "x.csv", way="photos")
    with pytest.raises(BadMarks, match="no column station, mark, nail, tape"):
        read_taken(b"frame\n", "x.csv", way="tapes")


def test_an_ordinate_in_full():
    (mark,) = ordinates("14,3600,WL 3,100,0,1100,0,400,250,out,1.5,\n").marks
    assert at(mark) == (250.0, 500.0)
    assert (mark.label, mark.line, mark.way, mark.sigma_mm) == ("WL 3", 2, "ordinates", 1.5)
    assert mark.covariance_mm2(9.0) == pytest.approx(2.25 * np.eye(2))
    assert mark.readings == {
        "along_mm": 400.0, "off_mm": 250.0, "from_mm": [0.0, 100.0], "to_mm": [0.0, 1100.0], "lies": "out",
        "sigma_mm": 1.5, "end_sigma_mm": 0.0,
    }  # fmt: skip
    assert mark.found == {"sigma_mm": 1.5, "other_mm": [-250.0, 500.0]}


def test_the_boats_error_where_a_row_states_none_and_that_of_the_ends():
    first, second = ordinates("14,3600,a,0,0,0,1000,0,100,above,,3\n14,,b,,,,,500,100,above,,\n", sigma_mm=2.0).marks
    # at the first end the end's own error counts whole, half-way half of both; along the edge that of the first end,
    # and a tenth of both ends' for the turn (off / length)
    assert second.var_height_mm2 == pytest.approx(4 + 9 * (0.25 + 0.25))
    assert first.var_height_mm2 == pytest.approx(4 + 9)
    assert first.var_half_breadth_mm2 == pytest.approx(4 + 9 * (1 + 2 * 0.01))


@pytest.mark.parametrize(
    ("row", "words"),
    [
        ("14,1,a,100,0,1100,0,4,250,up,,", 'lies: found "up"; expected on which side the hull lies: out, in, above, b'),
        ("14,1,a,100,0,1100,0,4,250,,,", "lies: found nothing; expected on which side"),
        ("14,1,a,100,0,1100,0,4,-250,out,,", 'off: found "-250"; expected a distance above zero; the side goes into'),
        ("14,1,a,100,0,1100,0,4,250,above,,", "line 2: the line stands plumb, so 'above' does not tell the side; wri"),
        ("14,1,a,100,0,100,900,4,250,in,,", "line 2: the line lies level, so 'in' does not tell the side; write abo"),
        ("14,1,a,100,0,,,4,250,out,,", "the straight-edge has no to_height and to_half_breadth; give them in one of"),
        ("14,1,a,100,,1100,0,4,250,out,,", "from_half_breadth: found nothing; expected mm or feet"),
        ("14,1,a,100,0,120,0,4,250,out,,", "the ends of the straight-edge are 20.0 mm apart"),
        ("14,1,a,,,,,4,250,out,,2", 'end_sigma: found "2"; expected it in the row that gives from_height or to_height'),
        ("14,1,a,100,0,1100,0,4,250,out,0,", 'sigma: found "0"; expected the measuring error'),
        ("14,1,a,100,0,1100,0,400,250,in,,", "mark a comes out 250 mm past the centreplane; look at lies"),
    ],
)
def test_ordinates_that_cannot_be_read(row, words):
    taken = ordinates(row + "\n")
    assert taken.marks == ()
    assert any(words in text for text in taken.bad), taken.bad


def test_all_bad_cells_are_told_at_once_and_the_good_rows_come():
    taken = ordinates(
        "14,1,a,100,0,1100,0,x,y,z,,\n,1,b,,,,,1,1,out,,\n14,1,c,100,0,1100,0,400,50,out,,\n14,9,d,,,,,1,1,out,,\n"
    )
    assert [mark.label for mark in taken.marks] == ["c"]
    assert [text.split(":")[0].removeprefix("o.csv ") for text in taken.bad] == [
        "line 2, along", "line 2, off", "line 2, lies", "line 3, frame", "line 5, station",
    ]  # fmt: skip


def test_ends_given_twice_must_agree():
    row = "14,1,{},100,0,1100,{},400,250,out,,\n"
    taken = ordinates(row.format("a", 0) + row.format("b", 0.9) + row.format("c", 20))
    assert [mark.label for mark in taken.marks] == ["a", "b"]
    assert taken.bad == (
        "o.csv line 4: the second end is given another position here than in line 2; give it one, or a name of its "
        "own.",
    )


def test_a_reading_past_the_ends_is_warned_of():
    taken = ordinates("14,1,a,100,0,1100,0,1400,250,out,,\n")
    assert len(taken.marks) == 1
    assert "1400 mm along a straight-edge whose ends are 1000 mm apart" in taken.warnings[0]


def test_a_point_a_little_past_the_centreplane_is_on_it_and_that_is_said():
    (mark,) = (taken := ordinates("14,1,keel,100,3,1100,3,400,5,in,1,\n")).marks
    assert (mark.half_breadth_mm, mark.found["point_mm"]) == (0.0, [-2.0, 500.0])
    assert (
        "mark keel comes out 2.0 mm past the centreplane, within its error; kept as a mark on it" in taken.warnings[0]
    )


NAILS = "14,3600,m1,A,-250,1050,1033.5,in,,\n14,,m1,B,1250,2100,2237,,,\n"


def test_tapes_are_what_fix_point_finds():
    (mark,) = tapes(NAILS, sigma_mm=1.5).marks
    fix = fix_point([[1050, -250], [2100, 1250]], [1033.5, 2237], sigma=1.5, side="left")
    assert at(mark) == tuple(fix.point_mm)
    assert mark.covariance_mm2(9.0) == pytest.approx(fix.covariance_mm2)
    assert mark.readings["tapes_mm"] == [1033.5, 2237.0]
    assert mark.readings["nails"] == ["A", "B"]
    assert mark.found["residuals_mm"] == pytest.approx([0, 0], abs=1e-6)


def test_the_error_of_a_nail_adds_to_its_tapes():
    plain = tapes(NAILS, sigma_mm=4.0).marks[0]
    nailed = tapes(NAILS.replace("in,,", "in,4,3").replace("2237,,,", "2237,,4,3"), sigma_mm=1.0).marks[0]
    assert nailed.covariance_mm2(1.0) * 16 == pytest.approx(plain.covariance_mm2(1.0) * 25)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        (NAILS.replace(",in,", ",,"), "mark m1: two points fit these tapes"),
        (NAILS.replace(",in,", ",,"), "lies: out, in, above, below."),
        (NAILS.replace("2237,,", "2237,out,"), "line 2, 3: mark m1 lies both in and out; write one of them"),
        (NAILS.splitlines()[0] + "\n", "mark m1 has one tape; two or more place a point"),
        (NAILS.replace("1250,2100", ","), "line 3: nail B has no position; give its nail_height and nail_half_breadth"),
        (NAILS.replace("2237", "337"), "tapes of 1033.5 and 337 mm from nails 1830.98 mm apart do not meet, by"),
        (NAILS.replace("1033.5", "-4"), 'line 2, tape: found "-4"; expected the tape\'s reading, above zero'),
        (NAILS.replace(",A,", ",,"), "nail: found nothing; expected the nail's name"),
        (NAILS.replace(",m1,", ",,"), "mark: found nothing; expected the mark's name, the same for each of its tapes"),
        (NAILS.replace("1250,", ","), "nail_height: found nothing; expected mm"),
        (NAILS.replace("in,,", "in,,-2"), "expected the error of the position, above zero"),
    ],
)
def test_tapes_that_place_nothing(text, words):
    taken = tapes(text)
    assert taken.marks == ()
    assert any(words in one for one in taken.bad), taken.bad


def test_the_wrong_side_of_the_nails_comes_out_past_the_centreplane():
    """A staff upright beyond the centreplane: the mirror image of a mark lies where no hull is on that side."""
    nails = np.array([[-50.0, 0.0], [-60.0, 2000.0]])
    read = np.hypot(*(np.array([700.0, 900.0]) - nails).T)
    text = "".join(f"14,1,m,{n},{z},{y},{t},{{}},,\n" for n, (y, z), t in zip("AB", nails, read, strict=True))
    assert at(tapes(text.replace("{}", "out")).marks[0]) == pytest.approx((700, 900), abs=1e-6)
    (said,) = tapes(text.replace("{}", "in")).bad
    assert "past the centreplane; look at lies, and at the positions" in said


def test_a_bad_tape_keeps_its_mark_out_and_no_other():
    taken = tapes(NAILS + "14,,m2,A,,,900,in,,\n14,,m2,B,,,x,,,\n14,,m2,A,,,900,in,,\n")
    assert [mark.label for mark in taken.marks] == ["m1"]
    assert len(taken.bad) == 1


def test_a_nail_in_two_places():
    taken = tapes(NAILS + "14,,m2,A,-200,1050,900,in,,\n14,,m2,B,,,2000,,,\n")
    assert [mark.label for mark in taken.marks] == ["m1"]
    assert "line 4: the nail is given another position here than in line 2" in taken.bad[0]


def test_nails_of_another_frame_are_other_nails():
    other = NAILS.replace("14,3600", "15,4000").replace("14,,", "15,,").replace("-250,1050", "-100,1050")
    first, second = tapes(NAILS + other).marks
    assert (first.frame, second.frame) == ("14", "15")
    assert first.half_breadth_mm != second.half_breadth_mm


def test_tapes_that_disagree_or_cross_badly_are_warned_of():
    third = "14,,m1,C,150,1900,{},,,\n"
    right = math.hypot(*(np.array(at(tapes(NAILS).marks[0])) - [1900, 150]))
    assert tapes(NAILS + third.format(right)).warnings == ()
    (said,) = tapes(NAILS + third.format(right + 25.4)).warnings
    assert said.startswith("t.csv line 2, 3, 4: mark m1: the tapes disagree by more than their error")
    flat = "14,1,m,A,0,0,1000,above,,\n14,,m,B,0,1900,925,,,\n"
    assert "nearly in one line" in tapes(flat).warnings[0]


DRAWN = [(0, 0, 100, 500), (800, 0, 100, 1300), (0, 600, 700, 500)]
TEMPLATE = "".join(f"14,3600,t,r{i},{x},{y},{z},{b},,1\n" for i, (x, y, z, b) in enumerate(DRAWN))
POINT = "14,,t,m1,400,250,,,,1\n"


def test_a_template_in_full():
    (mark,) = (taken := templates(TEMPLATE + POINT)).marks
    assert at(mark) == pytest.approx((900, 350))
    assert (mark.label, mark.line, mark.way, taken.warnings) == ("m1", 5, "templates", ())
    assert mark.readings["point_mm"] == [400.0, 250.0]
    assert mark.readings["known_mm"] == [[500.0, 100.0], [1300.0, 100.0], [500.0, 700.0]]
    assert mark.found["turned"] is False
    assert np.trace(mark.covariance_mm2(1)) == pytest.approx(2 * (1 + 1 / 3) + (400**2 + 150**2) / 9 / (2e6 / 3))


def test_a_mirrored_template_is_found_and_said():
    turned = "".join(f"14,3600,t,r{i},{-x},{y},{z},{b},,1\n" for i, (x, y, z, b) in enumerate(DRAWN))
    (mark,) = (taken := templates(turned + POINT.replace("400", "-400"))).marks
    assert at(mark) == pytest.approx((900, 350))
    assert "template t: the template fits turned over, mirrored as read, and was laid so" in taken.warnings[0]
    assert mark.found["turned"] is True
    assert mark.readings["turned"] is None


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("".join(TEMPLATE.splitlines(True)[:2]) + POINT, "fit this template with either face up; say yes or no in the"),
        (TEMPLATE.splitlines(True)[0] + POINT, "template t has 1 reference marks; give two or more"),
        (
            TEMPLATE.replace("100,500,,1", "100,500,yes,1").replace("700,500,,1", "700,500,no,1"),
            "both turned over and not",
        ),
        (TEMPLATE.replace("100,500,,1", "100,500,maybe,1"), 'turned: found "maybe"; expected yes where the template'),
        (TEMPLATE.replace("100,500", "100,"), "half_breadth: found nothing"),
        (TEMPLATE + POINT.replace("400", "x"), 'line 5, x: found "x"; expected mm'),
        (
            TEMPLATE + POINT.replace("400", "-600"),
            "mark m1 comes out 100 mm past the centreplane; look at the column tu",
        ),
    ],
)
def test_templates_that_place_nothing(text, words):
    taken = templates(text)
    assert taken.marks == ()
    assert any(words in one for one in taken.bad), taken.bad


def test_a_template_without_points_is_said():
    assert "template t has reference marks, but no points to place" in templates(TEMPLATE).warnings[0]


def test_a_written_offset_goes_level_or_plumb():
    rows = "".join(f"14,1,offset,{w},,500,900,40,{w},3,4\n" for w in ("out", "in", "above", "below"))
    taken = arcs(rows)
    assert [at(mark) for mark in taken.marks] == [(940, 500), (860, 500), (900, 540), (900, 460)]
    assert taken.marks[0].covariance_mm2(1) == pytest.approx(25 * np.eye(2))


def test_arcs_are_distances_from_their_centres():
    text = "14,1,arc,a,,360,73,220.5,below,1,\n14,,arc,a,,430,283,214,below,1,\n"
    (mark,) = arcs(text).marks
    fix = fix_point([[73, 360], [283, 430]], [220.5, 214], side="right")
    assert at(mark) == tuple(fix.point_mm)
    assert mark.readings["how"] == "arc"
    assert mark.readings["openings_mm"] == [220.5, 214.0]


def test_blocks_along_a_straight_edge():
    text = "".join(f"14,1,block,{i},e,{100 + 300 * i},{500 + 400 * i},50,out,1,\n" for i in range(3))
    taken = arcs(text)
    assert [at(mark) for mark in taken.marks] == [
        pytest.approx((500 + 400 * i + 30, 100 + 300 * i - 40)) for i in range(3)
    ]
    assert [mark.readings["number"] for mark in taken.marks] == [1, 2, 3]


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("14,1,swing,a,,1,1,5,out,,\n", 'how: found "swing"; expected one of arc, block, offset'),
        ("14,1,arc,a,,1,1,5,out,,\n", "mark a has one arc; swing it from two or more centres"),
        ("14,1,arc,,,1,1,5,,,\n", "mark: found nothing; expected the mark's name, the same for each of its arcs"),
        ("14,1,block,a,e,1,1,5,out,,\n", "an edge of 1 marks; give two or more"),
        ("14,1,block,a,e,1,1,5,out,,\n14,1,block,b,e,99,1,6,out,,\n", "blocks of different widths, or on both sides"),
        ("14,1,block,a,e,1,1,5,above,,\n14,1,block,b,e,99,1,5,above,,\n", "the line stands plumb, so 'above' does not"),
        ("14,1,offset,a,,1,1,5,left,,\n", "a written offset goes level or plumb; write out, in, above or below"),
        ("14,1,offset,a,,1,1,5,,,\n", "lies: found nothing"),
        ("14,1,offset,a,,,,5,out,,\n", "at_height: found nothing; expected the height of the centre"),
        ("14,1,offset,a,,1,1,0,out,,\n", 'opening: found "0"; expected a length above zero'),
        ("14,1,offset,a,,1,30,50,in,,\n", "mark a comes out 20 mm past the centreplane"),
    ],
)
def test_arcs_that_place_nothing(text, words):
    taken = arcs(text)
    assert taken.marks == ()
    assert any(words in one for one in taken.bad), taken.bad


def test_a_block_that_goes_over_from_hand_to_hand_along_its_edge():
    text = "".join(
        f"14,1,block,{i},e,{z},{500 + y},50,out,1,\n" for i, (y, z) in enumerate([(0, 0), (30, 90), (5, 180), (90, 60)])
    )
    assert "'out' goes over from one hand to the other along this edge; write left or right" in arcs(text).bad[0]


def test_too_many_rows_for_one_point():
    taken = tapes("".join(f"14,1,m,n{i},{i},{i},900,,,\n" for i in range(301)))
    assert "301 rows belong together; give points, edges and templates their names" in taken.bad[0]


@pytest.mark.parametrize("way", ["ordinates", "tapes", "templates", "arcs"])
def test_a_head_alone_is_said(way):
    head = (EXAMPLES / f"{way}.csv").read_text().splitlines()[1]
    taken = read_taken(head.encode(), "x.csv", way=way)[1]
    assert taken.warnings == ("x.csv: the columns are there, but no rows of marks under them.",)


@pytest.mark.parametrize("way", ["ordinates", "tapes", "templates", "arcs"])
def test_the_station_the_boat_has(way):
    text = (EXAMPLES / f"{way}.csv").read_text().replace("14,3600,", "14,,")
    taken = read_taken(text.encode(), "x.csv", way=way, known={"14": 3650.0})[1]
    assert {mark.station_mm for mark in taken.marks} == {3650.0}
    assert read_taken(text.encode(), "x.csv", way=way)[1].marks == ()


cells = st.sampled_from(
    [
        "",
        "0",
        "1",
        "-5",
        "14",
        "900",
        "1e3",
        "3-4-5",
        "x",
        "out",
        "in",
        "above",
        "arc",
        "block",
        "offset",
        "yes",
        "A",
        "B",
    ]
)


@settings(max_examples=150, deadline=None)
@given(st.sampled_from(["ordinates", "tapes", "templates", "arcs"]), st.data())
def test_any_cells_give_marks_or_words(way, data):
    columns = FORMS[way].required + FORMS[way].optional
    rows = data.draw(st.lists(st.lists(cells, min_size=len(columns), max_size=len(columns)), max_size=6))
    for row in rows:
        row[0] = "14"
    text = "\n".join(",".join(row) for row in [columns, *rows])
    taken = read_taken(text.encode(), "x.csv", way=way, known={"14": 0.0})[1]
    assert all(text.startswith("x.csv line ") for text in taken.bad)
    for mark in taken.marks:
        assert isinstance(mark, Mark)
        spread = mark.covariance_mm2(1.0)
        assert np.all(np.isfinite([*at(mark), *spread.ravel()]))
        assert spread[0, 1] ** 2 <= spread[0, 0] * spread[1, 1]
        assert mark.half_breadth_mm >= 0
        assert mark.readings
