"""`scrieve people`: who may sign in to the pages of a boat that are open to the network."""

from __future__ import annotations

from pathlib import Path

import click

from scrieve.cli.common import BOAT, BoatFirst, opened, read_file, table
from scrieve.errors import ScrieveError
from scrieve.store import people as yard

PASSWORD = click.option(
    "--password-file", type=click.Path(path_type=Path), help="Take the password from this file's first line."
)


@click.group(cls=BoatFirst)
@BOAT
@click.pass_context
def people(ctx: click.Context, boat: Path) -> None:
    """Let people sign in to the pages of BOAT, where these are open to the network."""
    ctx.obj = boat


@people.command("list")
@click.pass_obj
def listed(boat: Path) -> None:
    """List everybody, with role."""
    with opened(boat) as engine:
        found = yard.people(engine)
    if not found:
        click.echo(f"nobody yet; the first: scrieve people {boat} add NAME --role keeper")
        return
    rows = [("name", "role", "may sign in", "signs with a PIN")]
    rows += [(each.name, each.role, "yes" if each.active else "no", "yes" if each.has_pin else "no") for each in found]
    click.echo(table(rows))


@people.command()
@click.argument("name")
@click.option(
    "--role", type=click.Choice(yard.ROLES), default="bench", show_default=True, help="What the person may do."
)
@PASSWORD
@click.pass_obj
def add(boat: Path, name: str, role: str, password_file: Path | None) -> None:
    """Let NAME sign in; the password is asked for, twice. The first must be a keeper."""
    with opened(boat) as engine:
        if role != "keeper" and not yard.people(engine):
            raise ScrieveError("the first must be a keeper, who can let others in: --role keeper.")
        found = yard.add_person(engine, name, role, _password(password_file))
    click.echo(f"{found.name} may sign in: {found.role}")


@people.command()
@click.argument("name")
@PASSWORD
@click.pass_obj
def password(boat: Path, name: str, password_file: Path | None) -> None:
    """Give NAME a new password; every sitting of NAME ends."""
    with opened(boat) as engine:
        yard.change_person(engine, name, password=_password(password_file))
    click.echo(f"{name}: new password; signed out everywhere")


@people.command()
@click.argument("name")
@click.argument("role", type=click.Choice(yard.ROLES))
@click.pass_obj
def role(boat: Path, name: str, role: str) -> None:
    """Give NAME another ROLE; every sitting of NAME ends."""
    with opened(boat) as engine:
        yard.change_person(engine, name, role=role)
    click.echo(f"{name}: {role}")


@people.command()
@click.argument("name")
@click.pass_obj
def gone(boat: Path, name: str) -> None:
    """NAME may not sign in any more; what NAME did keeps the name."""
    with opened(boat) as engine:
        yard.change_person(engine, name, active=False)
    click.echo(f"{name} may not sign in any more")


@people.command()
@click.argument("name")
@click.pass_obj
def token(boat: Path, name: str) -> None:
    """Print a token with which a script may act as NAME (header 'Authorization: Bearer …'); it is shown once."""
    with opened(boat) as engine:
        found = next((each for each in yard.people(engine) if each.name.casefold() == name.casefold()), None)
        if found is None or not found.active:
            raise ScrieveError(f"nobody called {name!r} may sign in; 'scrieve people {boat} list' shows who may.")
        given = yard.sit_down(engine, found, "script")
    click.echo(given)


def _password(file: Path | None) -> str:
    if file is not None:
        return (read_file(file).decode("utf-8", "replace").splitlines() or [""])[0]
    return str(click.prompt("Password (not shown)", hide_input=True, confirmation_prompt="Once more"))
