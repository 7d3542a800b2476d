"""docs/commands.md says what the commands do: every option of each, and examples that print what is shown."""

import re
import shlex
from pathlib import Path

import pytest

from scrieve.cli.program import COMMANDS, scrieve
from scrieve.workplan import Project, Task, write_project

ROOT = Path(__file__).parents[2]
PAGE = (ROOT / "docs" / "commands.md").read_text(encoding="utf-8")
README = (ROOT / "README.md").read_text(encoding="utf-8")


#: Groups, whose boat comes before their command.
GROUPS = ("marks", "lining", "boards", "plan", "people", "log")


#: Commands that take another file than the boat.
FILES = {"batten": "marks.csv", "project": "shed.sm", "texts": "nl.po"}


def command_of(words):
    """Find the command that words after `scrieve` call."""
    command = scrieve.get_command(None, words[0])
    return command.commands[words[-1]] if words[0] in GROUPS else command


def options(command):
    """Return every option of a command but --help."""
    return {name for param in command.params for name in param.opts if name.startswith("--")}


SECTIONS = {
    tuple(head.split()): text
    for head, text in re.findall(r"^## scrieve (.+?)\n(.*?)(?=^## |\Z)", PAGE, flags=re.DOTALL | re.MULTILINE)
}
EXAMPLES = [block for text in SECTIONS.values() for block in re.findall(r"```console\n(.*?)```", text, re.DOTALL)]


def test_every_command_has_its_section_and_an_example():
    plain = {name for name in COMMANDS if name not in GROUPS}
    several = {f"{group} BOAT {name}" for group in GROUPS for name in scrieve.get_command(None, group).commands}
    assert {" ".join(words) for words in SECTIONS} == plain | several
    for words, text in SECTIONS.items():
        assert f"$ scrieve {words[0]} {FILES.get(words[0], 'teal.boat')}" in text


@pytest.mark.parametrize("words", SECTIONS, ids=" ".join)
def test_every_option_is_there_and_no_other(words, done):
    table = [line.split("|")[1] for line in SECTIONS[words].splitlines() if line.startswith("| `--")]
    listed = [name for cell in table for name in re.findall(r"`(--[a-z-]+)`", cell)]
    assert len(listed) == len(set(listed))
    assert set(listed) == options(command_of(words))
    shown = done(*words[:1], *(["teal.boat", words[-1]] if len(words) > 1 else []), "--help")
    assert set(re.findall(r"^  (--[a-z-]+)", shown, re.MULTILINE)) == set(listed)


def test_options_named_in_the_text_exist():
    known = {name for words in SECTIONS for name in options(command_of(words))} | options(scrieve) | {"--help"}
    for path in [*(ROOT / "docs").glob("*.md"), ROOT / "README.md"]:
        text = re.sub(r"```(?!console).*?```", "", path.read_text(encoding="utf-8"), flags=re.DOTALL)
        for name in re.findall(r"(?<![\w-])--[a-z][a-z-]*", text):
            assert name in known, f"{path.name}: {name}"


def test_commands_typed_in_the_readme_are_commands():
    typed = re.findall(r"`scrieve ([^`]+)`", README)
    assert len(typed) >= 6
    for line in typed:
        words = shlex.split(line)
        command = command_of([words[0], words[2]] if words[0] in GROUPS else words[:1])
        assert {word for word in words if word.startswith("--")} <= options(command) | {"--help"}


def masked(line):
    """Return the line without its figures, which any change in fairing may move."""
    return re.sub(r"\s+", " ", re.sub(r"-?\d+(\.\d+)?", "#", re.sub(r"\b[0-9A-F]{8}\b", "#", line))).strip()


def test_the_examples_print_what_is_shown(tmp_path, done, rows, as_csv, monkeypatch):
    monkeypatch.chdir(tmp_path)
    rows[40][3] = f"{float(rows[40][3]) + 100:.4f}"
    Path("marks.csv").write_bytes(as_csv(rows))
    seams = "".join(f"{n},lower,400\n{n},upper,500\n" for n in range(3, 8))
    Path("topside.csv").write_text("frame,edge,height_mm\n" + seams)
    Path("spiling.csv").write_bytes((ROOT / "examples" / "formats" / "spiling.csv").read_bytes())
    Path("boards.csv").write_bytes((ROOT / "examples" / "formats" / "boards.csv").read_bytes())
    Path("ada.txt").write_text("three plain words\n")
    Path("bevels.csv").write_text("frame,mark,height_mm,bevel,face\n3,1,300,6,fore\n3,2,600,12,fore\n7,1,300,2,aft\n")
    tasks = Task(3, (1,), (2,)), Task(4, (1,)), Task(2, (0,))
    Path("shed.sm").write_text(write_project(Project(tasks, (1,))))
    listed = (ROOT / "docs" / "formats.md").read_text(encoding="utf-8").split("## The list of frames")[1]
    Path("frames.csv").write_text(listed.split("```csv\n")[1].split("```")[0])
    ran = 0
    for block in EXAMPLES:
        for example in block.split("$ scrieve ")[1:]:
            line, *shown = example.splitlines()
            if line.startswith("serve"):
                continue
            printed = [masked(one) for one in done(*shlex.split(line)).splitlines()]
            for one in shown:
                start = masked(one.removesuffix("…"))
                assert any(out.startswith(start) if "…" in one else out == start for out in printed), (line, one)
            ran += 1
    assert ran >= 12
