"""The program `scrieve`: its commands, found when they are called for, and errors turned into one line."""

from __future__ import annotations

import importlib
import io
import sys

import click

from scrieve import __version__
from scrieve.errors import ScrieveError

#: Command -> where it is; loaded when called, so that each starts quickly.
COMMANDS = {
    "new": "scrieve.cli.boat:new",
    "marks": "scrieve.cli.marks:marks",
    "fair": "scrieve.cli.hull:fair",
    "shape": "scrieve.cli.hull:shape",
    "fairness": "scrieve.cli.fairing:fairness_report",
    "sides": "scrieve.cli.fairing:sides",
    "next": "scrieve.cli.fairing:next_places",
    "lines": "scrieve.cli.fairing:hull_lines",
    "batten": "scrieve.cli.batten:batten",
    "frame": "scrieve.cli.frame:frame",
    "jig": "scrieve.cli.jig:jig",
    "glue-up": "scrieve.cli.glue_up:glue_up_card",
    "release": "scrieve.cli.release:release",
    "lining": "scrieve.cli.lining:lining",
    "plank": "scrieve.cli.plank:plank",
    "boards": "scrieve.cli.boards:boards",
    "plan": "scrieve.cli.plan:plan",
    "project": "scrieve.cli.plan:project",
    "sheets": "scrieve.cli.sheets:sheets",
    "log": "scrieve.cli.log:log",
    "record": "scrieve.cli.log:record",
    "bundle": "scrieve.cli.log:bundle",
    "people": "scrieve.cli.people:people",
    "serve": "scrieve.cli.serve:serve",
    "texts": "scrieve.cli.texts:texts",
    "undo": "scrieve.cli.keeping:undo",
    "backup": "scrieve.cli.keeping:backup",
    "check": "scrieve.cli.keeping:check",
    "salvage": "scrieve.cli.keeping:salvage",
    "move": "scrieve.cli.keeping:move",
}


class Program(click.Group):
    """Commands in the order of the work, each loaded when it is called for."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        """Names in the order of the work."""
        return list(COMMANDS)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        """Load one command."""
        if cmd_name not in COMMANDS:
            return None
        module, name = COMMANDS[cmd_name].split(":")
        command: click.Command = getattr(importlib.import_module(module), name)
        return command


@click.group(cls=Program, context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 100})
@click.option("--store", envvar="SCRIEVE_STORE", help="The store that BOAT lies in, such as postgresql://shed/yard; "
              "BOAT is then a name in it. [setting: SCRIEVE_STORE]")  # fmt: skip
@click.version_option(__version__, prog_name="scrieve")
def scrieve(store: str | None) -> None:
    """From marks taken off an old wooden hull to the frames and planks that put it right.

    BOAT is one file; everything measured and chosen is kept in it. Lengths may be typed in mm (28mm) or in
    feet-inches-eighths (3-4-5, with a sixteenth more or less as 3-4-5+ or 3-4-5-).

    A yard keeps its boats in one store instead: docs/storing.md.
    """


def main(args: list[str] | None = None) -> None:
    """Run the program; what the user can put right is one message on stderr and exit code 1."""
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, io.TextIOWrapper):  # a terminal without × or – shows ?, rather than nothing at all
            stream.reconfigure(errors="replace")
    try:
        scrieve.main(args, prog_name="scrieve", standalone_mode=False)
    except ScrieveError as error:
        click.echo(f"scrieve: {error}", err=True)
        sys.exit(1)
    except click.ClickException as error:
        error.show()
        sys.exit(error.exit_code)
    except (click.Abort, KeyboardInterrupt):
        click.echo("scrieve: stopped; nothing half-done was stored.", err=True)
        sys.exit(130)
    except BrokenPipeError:
        sys.stderr.close()
        sys.exit(0)
    except UnicodeEncodeError as error:
        click.echo(f"scrieve: {error.object!a} holds signs that are no text; type it anew.", err=True)
        sys.exit(1)
    except OSError as error:
        where = f"{error.filename}: " if error.filename else ""
        click.echo(f"scrieve: {where}{error.strerror or error}; nothing was stored.", err=True)
        sys.exit(1)
