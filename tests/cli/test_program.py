"""The program as a process: exit codes, what goes to stdout and what to stderr, a reader that goes away."""

import json
import os
import subprocess
import sys

import pytest

from scrieve.cli.common import clean, dump, table
from scrieve.cli.program import COMMANDS


def process(*words, **more):
    return subprocess.run(
        [sys.executable, "-c", "from scrieve.cli import main; main()", *map(str, words)],
        capture_output=True,
        timeout=60,
        check=False,
        **more,
    )


def test_results_on_stdout_even_where_the_terminal_lacks_the_signs_of_the_trade(boat):
    said = process("frame", boat, "5", env={**os.environ, "PYTHONIOENCODING": "cp437"})
    assert (said.returncode, said.stderr) == (0, b"")
    assert said.stdout.startswith(b"Frame 5, port and starboard: sided 45 mm")
    assert b" mm sided ? " in said.stdout  # no × in that code page


def test_an_error_is_one_line_on_stderr_with_exit_code_1(tmp_path):
    said = process("fair", tmp_path / "nosuch.boat")
    assert (said.returncode, said.stdout) == (1, b"")
    assert said.stderr.decode().startswith("scrieve: ")
    assert said.stderr.decode().count("\n") == 1


@pytest.mark.skipif(os.name != "posix", reason="pipes as of POSIX")
def test_a_reader_that_goes_away_is_no_fault(boat):
    """`scrieve shape BOAT --csv | head -1`: the shape is longer than a pipe holds."""
    words = ["-c", "from scrieve.cli import main; main()", "shape", str(boat), "--csv", "--points", "2000"]
    with subprocess.Popen([sys.executable, *words], stdout=subprocess.PIPE, stderr=subprocess.PIPE) as program:
        assert program.stdout.readline().startswith(b"frame,station_mm,")
        program.stdout.close()
        assert program.stderr.read() == b""
        program.wait(60)


def test_bytes_that_are_no_text(tmp_path, run):
    name = b"\xff".decode("utf-8", "surrogateescape")  # as POSIX hands over an argument that is not UTF-8
    said = run("new", tmp_path / "b", "--name", name, "--planking", "inside")
    assert (said.code, said.out) == (1, "")
    assert said.err == "scrieve: '\\udcff' holds signs that are no text; type it anew.\n"
    assert not (tmp_path / "b").exists()


def test_help_lists_the_commands_in_the_order_of_the_work(done):
    said = done("--help").split("Commands:\n")[1]
    assert [line.split()[0] for line in said.splitlines()] == list(COMMANDS)
    assert done("--version").startswith("scrieve, version ")


def test_a_stop_by_the_keyboard(run, monkeypatch, boat):
    def stopped(*_args, **_more):
        raise KeyboardInterrupt

    monkeypatch.setattr("scrieve.cli.hull.kept", stopped)
    said = run("fair", boat)
    assert said.code == 130
    assert said.err.strip() == "scrieve: stopped; nothing half-done was stored."


def test_json_holds_no_value_that_json_does_not_know():
    assert json.loads(dump({"a": [float("nan"), float("inf"), 1.5], 2: (None, "–")})) == {
        "a": [None, None, 1.5],
        "2": [None, "–"],
    }
    assert dump("–").isascii()
    assert clean((1, (2,))) == [1, [2]]


def test_a_table_is_aligned():
    assert table([["frame", "off"], ["9", "12"], ["10a", "1.5"]]) == "frame  off\n9       12\n10a    1.5"
