"""`scrieve boards`: the rack and the laying, in words and as JSON; what cannot be done is told."""

import json
import signal
from pathlib import Path

import pytest

from scrieve.stock import laying, search

FORMATS = Path(__file__).parents[2] / "examples" / "formats"


@pytest.fixture
def racked(empty, done):
    """A boat with one spiled plank and the boards of the example file."""
    done("plank", empty, "strake 9", "--spiling", FORMATS / "spiling.csv", "--side", "P", "--thickness", "22mm")
    done("boards", empty, "add", FORMATS / "boards.csv")
    return empty


def test_the_rack_is_listed(racked, done):
    found = json.loads(done("boards", racked, "list", "--json"))["boards"]
    assert [board["name"] for board in found] == ["A1", "B2", "C3"]
    assert found[0]["area_mm2"] == pytest.approx(4800 * 260)
    done("boards", racked, "drop", "A1")
    assert [board["name"] for board in json.loads(done("boards", racked, "list", "--json"))["boards"]] == ["B2", "C3"]


def test_the_planks_are_laid_and_the_same_again(racked, done):
    first, second = (json.loads(done("boards", racked, "lay", "--rounds", 2, "--json")) for _ in range(2))
    assert first == second
    assert [cut["part"] for cut in first["cuts"]] == ["strake 9"]
    assert (first["missing"], first["orders"]) == ([], [])
    assert 0 < first["yield"] <= first["yield_off_cuts_kept"] <= 1


def test_ctrl_c_stops_with_the_best_so_far(racked, run, monkeypatch):
    for times, code in ((1, 0), (2, 130)):
        before, rounds = signal.getsignal(signal.SIGINT), []

        def pressed(*given, times=times, rounds=rounds, **named):
            rounds.append(1)
            if len(rounds) == 3:
                for _ in range(times):
                    signal.raise_signal(signal.SIGINT)
            return search.improved(*given, **named)

        monkeypatch.setattr(laying, "improved", pressed)
        said = run("boards", racked, "lay", "--rounds", 1_000_000, "--json")  # but for Ctrl-C it takes an hour
        monkeypatch.undo()
        assert said.code == code
        assert signal.getsignal(signal.SIGINT) is before
        if not code:
            found = json.loads(said.out)
            assert 2 <= found["rounds"] < 1_000_000
            assert [cut["part"] for cut in found["cuts"]] == ["strake 9"]


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("add",), "give a FILE of boards, or one board"),
        (("add", "--square", "A1", "900", "100", "20"), "board 'A1' is in the rack already"),
        (("drop", "Z"), "board 'Z' is not in the rack"),
    ],
)
def test_what_cannot_be_done_is_told(racked, run, words, said):
    answer = run("boards", racked, *words)
    assert answer.code == 1
    assert said in answer.err


def test_nothing_to_lay(empty, run):
    assert "there are no boards" in run("boards", empty, "lay").err


def test_of_a_file_with_a_bad_cell_nothing_is_stored(empty, run, done, tmp_path):
    (tmp_path / "b.csv").write_text("board,kind,length,width,thickness\nA,board,2000,200,30\nB,board,2000,wide,30\n")
    answer = run("boards", empty, "add", tmp_path / "b.csv")
    assert (answer.code, "b.csv line 3, width" in answer.err) == (1, True)
    assert json.loads(done("boards", empty, "list", "--json"))["boards"] == []


def test_a_board_is_cut_and_put_back(racked, done, run):
    done("boards", racked, "lay", "--rounds", 2)
    (board,) = {cut["board"] for cut in json.loads(done("boards", racked, "lay", "--rounds", 2, "--json"))["cuts"]}
    cut = json.loads(done("boards", racked, "cut", board, "--json"))
    assert cut["parts"] == ["strake 9"]
    assert board not in [one["name"] for one in json.loads(done("boards", racked, "list", "--json"))["boards"]]
    assert "nothing is laid on board 'Z'" in run("boards", racked, "cut", "Z").err
    done("boards", racked, "cut", board, "--back")
    assert [one["name"] for one in json.loads(done("boards", racked, "list", "--json"))["boards"]] == ["A1", "B2", "C3"]


def test_the_sheets_of_the_boards(racked, done, run, tmp_path):
    assert "nothing is laid on any board yet" in run("boards", racked, "sheets", "--to", tmp_path / "s").err
    done("boards", racked, "lay", "--rounds", 2)
    files = json.loads(done("boards", racked, "sheets", "--to", tmp_path / "s", "--json"))["files"]
    assert sorted(path.name for path in (tmp_path / "s").iterdir()) == files
    assert (tmp_path / "s" / "boards-bench.pdf").read_bytes()[:4] == b"%PDF"


def test_no_frame_no_laminations(racked, run):
    assert "no frame pair is designed yet" in run("boards", racked, "rip").err
