"""`scrieve serve`: the pages of a boat, from this machine."""

from __future__ import annotations

from pathlib import Path

import click

from scrieve.cli.common import BOAT
from scrieve.errors import ScrieveError
from scrieve.store import Place


@click.command()
@BOAT
@click.option(
    "--host", default="127.0.0.1", show_default=True, help="Address to listen on; the default is this machine alone."
)
@click.option("--port", default=8777, show_default=True, type=click.IntRange(0, 65535), help="Port to listen on.")
@click.option(
    "--certificate", type=click.Path(path_type=Path), help="Serve by HTTPS with this certificate (PEM); with --key."
)
@click.option("--key", type=click.Path(path_type=Path), help="Private key of the certificate (PEM).")
@click.option("--https", is_flag=True, help="Serve by HTTPS with a certificate of the shop's own authority, made here.")
@click.option("--certificates", type=click.Path(path_type=Path, file_okay=False),
              help="Folder of the shop's authority and keys (--https); by default in your own settings.")  # fmt: skip
@click.option("--copies", type=click.Path(path_type=Path, file_okay=False),
              help="Folder of the daily copies; of a boat file by default one beside it.")  # fmt: skip
@click.option("--language", type=click.Path(path_type=Path, dir_okay=False),
              help="Show the pages in the words of this file, which 'scrieve texts' makes.")  # fmt: skip
def serve(
    boat: Path | Place,
    host: str,
    port: int,
    certificate: Path | None,
    key: Path | None,
    copies: Path | None,
    https: bool,
    certificates: Path | None,
    language: Path | None,
) -> None:
    """Serve the pages of BOAT and print their address; end with Ctrl-C.

    Open to a network (--host 0.0.0.0) they ask everybody for name and password: 'scrieve people' lets people in.
    """
    from scrieve.web import serve as run

    try:
        run(
            boat,
            host=host,
            port=port,
            certificate=certificate,
            key=key,
            copies=copies,
            https=https,
            certificates=certificates,
            language=language,
        )
    except UnicodeError as error:  # a host name that cannot be one
        raise ScrieveError(f"--host {host!a}: no address of a machine; give one such as 127.0.0.1.") from error
