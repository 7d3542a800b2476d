"""`scrieve texts`: the texts of the pages, to be put into another language."""

from __future__ import annotations

import json
from pathlib import Path

import click

from scrieve.cli.common import AS_JSON
from scrieve.errors import ScrieveError


@click.command()
@click.argument("file", type=click.Path(path_type=Path, dir_okay=False))
@AS_JSON
def texts(file: Path, as_json: bool) -> None:
    """Write the English texts of all pages to FILE (PO format, named by its language: de.po), to be filled.

    A FILE that is there keeps what has been filled in, and gets what is new; what the pages no longer say goes.
    """
    from scrieve.web.language.catalogue import Entry, parse, read_catalogue, texts_of_pages, written

    known = read_catalogue(file) if file.exists() else None
    head = "Content-Type: text/plain; charset=UTF-8\nContent-Transfer-Encoding: 8bit\n"
    head += f"Language: {known.code if known else file.stem}\n"
    found = [Entry(each.english, known.texts.get(each.english, "") if known else "", each.places)
             for each in parse(texts_of_pages(), "texts.pot") if each.english]  # fmt: skip
    try:
        file.write_text(written(found, head), encoding="utf-8")
    except OSError as error:
        raise ScrieveError(f"{file}: cannot be written ({error.strerror}).") from error
    filled = sum(bool(each.words) for each in found)
    if as_json:
        click.echo(json.dumps({"file": str(file), "texts": len(found), "filled": filled}))
    else:
        click.echo(
            f"{file}: {len(found)} texts, {filled} of them filled. Show it: scrieve serve BOAT --language {file}"
        )
