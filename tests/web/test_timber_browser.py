"""Parts dragged on boards in a real browser: along one board, and from the picture of one board to that of another."""

from __future__ import annotations

import pytest
from boats import HOME, TestClient, until
from playwright.sync_api import Page, Route
from test_browser import browser, served, visit  # noqa: F401  (fixtures)
from test_timber import laid_all, spiled  # noqa: F401

from scrieve import store
from scrieve.stock.board import rectangular
from scrieve.stock.forms import mapping_of
from scrieve.stock.standing import LAYING

pytestmark = pytest.mark.browser

SPOT = """([board, fx, fy]) => {
  const svg = document.querySelector(`[data-rack="${board}"] .view svg`);
  const at = new DOMPoint(fx, fy).matrixTransform(svg.getScreenCTM());
  return [at.x, at.y];
}"""
MIDDLE = """(part) => {
  const links = [...document.querySelectorAll('[data-rack] a.pick')];
  const link = links.find((a) => new URL(a.href.baseVal ?? a.href, location.href).searchParams.get('part') === part);
  const box = link.querySelector('path:not(.hit)').getBBox();
  return [link.closest('[data-rack]').dataset.rack, box.x + box.width / 2, box.y + box.height / 2];
}"""


def kept(client: TestClient) -> dict[str, tuple[str, float, float, bool]]:
    found = store.choices(client.app.state.boat.engine, "layout").get(LAYING) or {"placements": []}
    return {one["part"]: (one["board"], one["x_mm"], one["y_mm"], one["held"]) for one in found["placements"]}


def drag(page: Page, start: list[float], end: list[float]) -> None:
    page.mouse.move(*start)
    page.mouse.down()
    for step in range(1, 13):
        page.mouse.move(*(a + (b - a) * step / 12 for a, b in zip(start, end, strict=True)))
        page.wait_for_timeout(60)
    page.wait_for_timeout(400)
    page.mouse.up()


@pytest.fixture
def two_boards(spiled):  # noqa: F811
    """A boat whose only plank is laid on one of two boards."""
    engine = spiled.app.state.boat.engine
    for name in ("A", "B"):
        board = rectangular(name, 4200, 420, 40, timber="larch")
        store.keep_choice(engine, "board", name, mapping_of(board))
    spiled.post("/timber", data={"do": "shop", "grain_run": "0", "seconds": "600"}, headers={"Origin": HOME})
    laid_all(spiled)
    return spiled


@pytest.mark.parametrize("moves_after", [False, True])
def test_a_part_dragged_faster_than_the_answer_lies_where_it_was_let_go(visit, two_boards, moves_after):  # noqa: F811
    client = two_boards
    with served(client.app) as address:
        page = visit(address + "/timber")
        page.set_viewport_size({"width": 1280, "height": 3000})
        held: list[Route] = []
        page.route("**/timber/try?*", lambda route: route.continue_() if held else held.append(route))
        board, x, y = page.evaluate(MIDDLE, "strake 9")
        before = kept(client)["strake 9"]
        by = 200.0 if before[1] < 300 else -200.0
        page.mouse.move(*page.evaluate(SPOT, [board, x, y]))
        page.mouse.down()
        page.mouse.move(*page.evaluate(SPOT, [board, x + by, y]), steps=4)
        if not moves_after:
            page.mouse.up()
        until(lambda: page.wait_for_timeout(20) or held)
        held[0].continue_()  # only now it is answered where the part lay
        if moves_after:
            page.locator("form.hand").wait_for()
            page.mouse.up()
        until(lambda: page.wait_for_timeout(20) or kept(client)["strake 9"] != before)
        moved = kept(client)["strake 9"]
        assert (moved[0], moved[3]) == (board, True)
        assert moved[1] == pytest.approx(before[1] + by, abs=8)


def test_a_part_is_dragged_along_its_board_and_then_onto_another(visit, two_boards):  # noqa: F811
    client = two_boards
    with served(client.app) as address:
        page = visit(address + "/timber")
        page.set_viewport_size({"width": 1280, "height": 3000})  # both boards at once
        board, x, y = page.evaluate(MIDDLE, "strake 9")
        before = kept(client)["strake 9"]
        right = 1.0 if before[1] < 300 else -1.0
        page.locator('[data-rack="A"]').evaluate("each => each.scrollIntoView({block: 'start'})")
        drag(page, page.evaluate(SPOT, [board, x, y]), page.evaluate(SPOT, [board, x + right * 200, y]))
        until(lambda: kept(client)["strake 9"] != before)
        moved = kept(client)["strake 9"]
        assert (moved[0], moved[3]) == (board, True)
        assert moved[1] == pytest.approx(before[1] + right * 200, abs=8)  # a pixel is some mm of board
        page.wait_for_load_state("networkidle")
        until(lambda: abs(page.evaluate(MIDDLE, "strake 9")[1] - x - right * 200) < 20)  # the picture has followed

        other = "B" if board == "A" else "A"
        board, x, y = page.evaluate(MIDDLE, "strake 9")
        drag(page, page.evaluate(SPOT, [board, x, y]), page.evaluate(SPOT, [other, x - right * 100, y]))
        until(lambda: kept(client)["strake 9"][0] == other)
        there = kept(client)["strake 9"]
        assert there[1] == pytest.approx(moved[1] - right * 100, abs=8)
        assert there[2] == pytest.approx(moved[2], abs=8)
        assert page.url.split("#")[0].endswith("/timber"), "a drag opens nothing"


DATUM = """(board) => {
  const box = document.querySelector(`[data-rack="${board}"] .view svg .ly-datum-line`).getBoundingClientRect();
  return [box.left, box.right, box.top];
}"""


@pytest.mark.parametrize("ends", ["first", "last"])
def test_a_board_stands_still_under_a_part_dragged_past_its_end(visit, two_boards, ends):  # noqa: F811
    client = two_boards
    with served(client.app) as address:
        page = visit(address + "/timber")
        page.set_viewport_size({"width": 1280, "height": 3000})
        board, x, y = page.evaluate(MIDDLE, "strake 9")
        first = kept(client)["strake 9"][1]
        other = "B" if board == "A" else "A"
        at = page.evaluate(SPOT, [board, x, y])
        page.mouse.move(*at)
        with page.expect_response("**/timber/try?*") as answer:
            page.mouse.down()
        taken = answer.value.json()
        page.locator("form.hand").wait_for()
        stood = {name: page.evaluate(DATUM, name) for name in (board, other)}
        mm = 4200 / (stood[board][1] - stood[board][0])  # a pixel, on the board
        far = -(first + 900) if ends == "first" else 4200 - first - 1500
        for name in (board, other):  # on its own board, and then on the other
            onto = stood[name][2] - stood[board][2]
            for share in (0.5, 0.9, 1.0):
                with page.expect_response("**/timber/try?*") as answer:
                    page.mouse.move(at[0] + share * far / mm, at[1] + onto)
                found = answer.value.json()
                page.wait_for_timeout(100)
                assert found["board"] == name
                assert found["first_mm"] == pytest.approx(taken["first_mm"] + share * far, abs=2 * mm)
                assert found["lowest_mm"] == pytest.approx(taken["lowest_mm"], abs=2 * mm)
                assert page.evaluate(DATUM, name) == pytest.approx(stood[name], abs=1.0)
        page.mouse.up()
