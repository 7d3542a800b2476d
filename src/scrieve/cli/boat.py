"""`scrieve new`: a boat and its file."""

from __future__ import annotations

from pathlib import Path
from typing import Literal

import click

from scrieve import store
from scrieve.boat import Boat
from scrieve.cli.common import BOAT, length


@click.command()
@BOAT
@click.option("--name", required=True, help="The boat's name.")
@click.option(
    "--planking",
    required=True,
    type=click.Choice(["inside", "outside"]),
    help="Are the marks to the inside or the outside of the planking? Ask whoever took them.",
)
@click.option("--thickness", default="0", show_default=True, help="Thickness of the planking, such as 28mm or 0-1-1.")
@click.option("--units", type=click.Choice(["mm", "ft"]), default="mm", show_default=True,
              help="How lengths are shown: mm, or feet-inches-eighths.")  # fmt: skip
@click.option("--sigma", default="2mm", show_default=True,
              help="Measuring error of a usual mark: two marks of three lie within it.")  # fmt: skip
@click.option("--beam", help="Greatest beam, where known: catches half-breadths that cannot be.")
@click.option("--note", default="", help="Anything that should stand on the record.")
def new(
    boat: Path,
    name: str,
    planking: Literal["inside", "outside"],
    thickness: str,
    units: Literal["mm", "ft"],
    sigma: str,
    beam: str | None,
    note: str,
) -> None:
    """Begin a boat: make the file BOAT."""
    bare = "in" if units == "ft" else "mm"
    given = length("--beam", beam, bare)
    store.create(
        boat,
        Boat(
            name=name,
            planking=planking,
            thickness_mm=length("--thickness", thickness, bare) or 0.0,
            units=units,
            sigma_mm=length("--sigma", sigma, bare) or 0.0,
            half_beam_mm=None if given is None else given / 2,
            note=note,
        ),
    ).dispose()
    click.echo(f"{name}: {boat} made. Next: scrieve marks {boat} add FILE")
