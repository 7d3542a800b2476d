"""The boat as a bundle for an archive: plain files (JSON, CSV, pictures) that need no program of ours to be read."""

from __future__ import annotations

import csv
import hashlib
import io
import json
import zipfile
from collections.abc import Mapping, Sequence
from typing import Any

from scrieve.logbook.entries import Entry

#: Every file in the bundle bears this day, so that the same data give the same bytes.
_DAY = (2000, 1, 1, 0, 0, 0)

READ_ME = """What is in this bundle
======================

boat.json        the boat's settings, and what was chosen for each of its members, as stored
marks.csv        every mark taken off, lengths in mm, those that did not count too, with the builder's answer
acts.csv         every act, in order: when (UTC), who, what, and its chain
acts.json        the same with all particulars, what was before and what is after; chain is the SHA-256 (hexadecimal) of
                 the chain before it, a line feed, and the list [number, at, who, what, detail, was, now, undoes] as
                 JSON with sorted keys, ", " and ": " between, other letters than ASCII as they are
records.json     every record of the bench, with what it corrects
logbook.csv      the logbook as it is read, latest first
photographs/     one JPEG each, called by the SHA-256 of its bytes
SHA256SUMS       of every other file here

CSV: UTF-8, comma, CRLF (RFC 4180). JSON: UTF-8 (RFC 8259). Lengths in mm, angles in radians, forces in N.
"""


def bundle(
    boat: Mapping[str, Any],
    marks: Sequence[Mapping[str, Any]],
    acts: Sequence[Mapping[str, Any]],
    records: Sequence[Mapping[str, Any]],
    lines: Sequence[Entry],
    photographs: Mapping[str, bytes],
) -> bytes:
    """Return the bundle as a ZIP file; the same data give the same bytes.

    Parameters
    ----------
    boat : mapping
        Settings and choices, plain values.
    marks, acts, records : sequence of mapping
        Rows, each with the same names.
    lines : sequence of Entry
        The logbook.
    photographs : mapping
        SHA-256 -> JPEG.
    """
    book = [
        {"at": e.at, "who": e.who, "member": e.member, "what": e.what, "text": e.text}
        | {"figures": "; ".join(f"{a}: {b}" for a, b in e.values), "photographs": " ".join(e.photographs)}
        | {"record": e.number or "", "corrects": e.corrects or "", "corrected by": e.corrected_by or ""}
        | {"signed by": e.signed_by}
        for e in lines
    ]
    short = [{name: row.get(name) for name in ("number", "at", "who", "what", "chain")} for row in acts]
    files = {
        "README.txt": READ_ME.encode(),
        "boat.json": _json(boat),
        "marks.csv": _csv(marks),
        "acts.csv": _csv(short),
        "acts.json": _json(list(acts)),
        "records.json": _json(list(records)),
        "logbook.csv": _csv(book),
        **{f"photographs/{digest}.jpg": data for digest, data in sorted(photographs.items())},
    }
    sums = "".join(f"{hashlib.sha256(data).hexdigest()}  {name}\n" for name, data in sorted(files.items()))
    files["SHA256SUMS"] = sums.encode()
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, data in files.items():
            archive.writestr(zipfile.ZipInfo(name, _DAY), data, zipfile.ZIP_DEFLATED)
    return out.getvalue()


def _json(value: Any) -> bytes:
    return json.dumps(value, ensure_ascii=False, allow_nan=False, indent=1, sort_keys=True).encode()


def _csv(rows: Sequence[Mapping[str, Any]]) -> bytes:
    out = io.StringIO()
    names = list(rows[0]) if rows else []
    writer = csv.DictWriter(out, names, lineterminator="\r\n")
    writer.writeheader()
    for row in rows:
        writer.writerow({name: "" if row[name] is None else row[name] for name in names})
    return out.getvalue().encode()
