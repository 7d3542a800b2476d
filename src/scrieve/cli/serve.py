"""`scrieve serve`: the pages of a boat, from this machine."""

from __future__ import annotations

from pathlib import Path

import click

from scrieve.cli.common import BOAT
from scrieve.errors import ScrieveError


@click.command()
@BOAT
@click.option(
    "--host", default="127.0.0.1", show_default=True, help="Address to listen on; the default is this machine alone."
)
@click.option("--port", default=8777, show_default=True, type=click.IntRange(0, 65535), help="Port to listen on.")
def serve(boat: Path, host: str, port: int) -> None:
    """Serve the pages of BOAT and print their address; end with Ctrl-C."""
    from scrieve.web import serve as run

    try:
        run(boat, host=host, port=port)
    except UnicodeError as error:  # a host name that cannot be one
        raise ScrieveError(f"--host {host!a}: no address of a machine; give one such as 127.0.0.1.") from error
