"""What a form sends, read with care: from these pages only, of bounded size; and the form that designs a frame.

A form of marks may be larger, and carry a file.
"""

from __future__ import annotations

import base64
import re
from collections.abc import Mapping
from dataclasses import dataclass, field, fields, replace
from typing import Annotated, Any, Self
from urllib.parse import parse_qsl

from fastapi import Depends, HTTPException, Request

from scrieve.errors import BadLength, NoSuchFrame
from scrieve.frames.design import FrameChoice
from scrieve.frames.forms import first
from scrieve.frames.written import SETTINGS, read_setting, write_setting
from scrieve.sheets.figures import length
from scrieve.units import Units, parse_length
from scrieve.web.server.hosts import same_origin
from scrieve.web.server.once import claim

_MOST_BYTES = 64_000
#: A form of marks, typed, pasted or as a file.
MOST_PARCEL_BYTES = 5_000_000
_MOST_PARCEL_FIELDS = 5_000
#: A file that a form was sent with goes on with it as these fields, where its sender is asked first (`settling`).
CARRIED, FILE_NAME = "carried file", "file name"


async def sent(request: Request) -> dict[str, str]:
    """Return the fields of a form sent from these pages (the last of each name)."""
    _from_here(request)
    if _content_type(request) != _URLENCODED:
        raise HTTPException(415, "Send this as a form; nothing was stored.")
    fields = _fields(await _body(request, _MOST_BYTES, "The form is too large; nothing was stored."), 80)
    claim(request, fields)
    return fields


Sent = Annotated[dict[str, str], Depends(sent)]


@dataclass(frozen=True, slots=True)
class Parcel:
    """A form of marks or of the logbook: its fields, and the files that it carries; `file` is the last of them."""

    fields: dict[str, str] = field(default_factory=dict)
    file_name: str = ""
    file: bytes = b""
    files: tuple[bytes, ...] = ()


async def parcel(request: Request) -> Parcel:
    """Return a form of marks sent from these pages, urlencoded or in parts, of 5 MB at most."""
    _from_here(request)
    kind = _content_type(request)
    if kind not in (_URLENCODED, _PARTS):
        raise HTTPException(415, "Send this as a form; nothing was stored.")
    too_large = (
        f"More than {MOST_PARCEL_BYTES // 10**6} MB were sent; nothing was stored. Split the file, or store it with "
        "'scrieve marks'."
    )
    body = await _body(request, MOST_PARCEL_BYTES, too_large)
    if kind == _URLENCODED:
        found = _carried(_fields(body, _MOST_PARCEL_FIELDS))
        claim(request, found.fields, found.file)
        return found
    boundary = re.search(r'boundary="?([^";]{1,70})"?', request.headers.get("content-type", ""))
    if boundary is None:
        raise HTTPException(400, "The form could not be read; nothing was stored.")
    found = _parts(body, boundary[1].encode())
    claim(request, found.fields | {FILE_NAME: found.file_name}, found.file)
    return found


def _carried(fields: dict[str, str]) -> Parcel:
    """Read a form without parts; a file that it was sent with before comes as a field."""
    name = fields.get(FILE_NAME, "")
    try:
        file = base64.urlsafe_b64decode(fields.pop(CARRIED, ""))
    except ValueError as error:
        raise HTTPException(400, "The file did not come through whole; nothing was stored. Choose it again.") from error
    return Parcel(fields, name, file, (file,)) if file else Parcel(fields)


Parcelled = Annotated[Parcel, Depends(parcel)]

_URLENCODED, _PARTS = "application/x-www-form-urlencoded", "multipart/form-data"


def _from_here(request: Request) -> None:
    headers = request.headers
    if headers.get("authorization", "").startswith("Bearer "):  # a script's: no page of elsewhere can send it
        return
    here = headers.get("host", ""), request.url.scheme
    if not same_origin(*here, headers.get("origin"), headers.get("sec-fetch-site")):
        raise HTTPException(403, "This was not sent from these pages; nothing was stored.")


def _content_type(request: Request) -> str:
    return request.headers.get("content-type", "").split(";")[0].strip().lower()


async def _body(request: Request, most: int, too_large: str) -> bytes:
    body = bytearray()
    async for chunk in request.stream():
        body += chunk
        if len(body) > most:
            raise HTTPException(413, too_large)
    return bytes(body)


def _fields(body: bytes, most: int) -> dict[str, str]:
    try:
        return dict(parse_qsl(body.decode("ascii"), keep_blank_values=True, max_num_fields=most, errors="strict"))
    except ValueError as error:
        raise HTTPException(400, "The form could not be read; nothing was stored.") from error


def _parts(body: bytes, boundary: bytes) -> Parcel:
    """Read a form in parts (RFC 7578): each its head, an empty line, and its content up to the next boundary."""
    fields: dict[str, str] = {}
    file_name, file = "", b""
    files: list[bytes] = []
    pieces = (b"\r\n" + body).split(b"\r\n--" + boundary)
    if len(pieces) < 2 or not pieces[-1].startswith(b"--") or len(pieces) > _MOST_PARCEL_FIELDS:
        raise HTTPException(400, "The form did not come through whole; nothing was stored. Send it again.")
    for piece in pieces[1:-1]:
        head, parted, content = piece.partition(b"\r\n\r\n")
        words = head.decode("utf-8", "replace")
        name = re.search(r';\s*name="([^"]*)"', words)
        if not parted or name is None:
            raise HTTPException(400, "The form could not be read; nothing was stored.")
        called = re.search(r';\s*filename="([^"]*)"', words)
        if called:
            file_name, file = (called[1].replace("\\", "/").rpartition("/")[2][:120], content)
            files += [content] if content else []
        else:
            fields[name[1]] = content.decode("utf-8", "replace")
    return Parcel(fields, file_name, file, tuple(files))


def read_length(named: str, text: str, units: Units) -> float:
    """Return the length typed in a field; raise BadLength, which names the field, where it cannot be read [mm]."""
    try:
        return parse_length(text, units)
    except BadLength as error:
        raise BadLength(f"{named}: {error}") from error


@dataclass(frozen=True, slots=True)
class TextForm:
    """A form whose fields are all text as typed; one that was not sent keeps its default."""

    @classmethod
    def typed(cls, sent: Mapping[str, str]) -> Self:
        """Return the form as it was sent; white space round a value goes."""
        return cls(**{each.name: str(sent[each.name]).strip() for each in fields(cls) if each.name in sent})


@dataclass(frozen=True, slots=True)
class FrameForm:
    """The form that designs a frame pair, as typed; lengths still text. `more` holds the settings of `SETTINGS` that
    were on it; what was not stays as it was."""

    label: str = ""
    station: str = ""
    timber: str = "larch"
    sided: str = ""
    moulded: str = ""
    more: Mapping[str, str] = field(default_factory=dict)

    @classmethod
    def of(cls, label: str, station_mm: float | None, choice: Mapping[str, Any] | None, units: Units) -> FrameForm:
        """Return the form filled with what was chosen before, or with usual sizes."""
        chosen = FrameChoice.from_mapping(choice) if choice else FrameChoice(label, **first(units))
        return cls(
            label,
            length(station_mm, units) if station_mm is not None else "",
            chosen.timber,
            length(chosen.sided_mm, units),
            length(chosen.moulded_mm, units),
            {key: write_setting(key, getattr(chosen, key), units) for key in SETTINGS},
        )

    @classmethod
    def typed(cls, fields: Mapping[str, str]) -> FrameForm:
        """Return the form as it was sent; white space round a value goes."""
        plain = {name: fields.get(name, "").strip() for name in cls.__slots__ if name != "more"}
        return cls(**plain, more={key: fields[key].strip() for key in SETTINGS if key in fields})

    @property
    def fields(self) -> dict[str, str]:
        """Every field as typed, by its name."""
        return {name: getattr(self, name) for name in ("label", "station", "timber", "sided", "moulded")} | dict(
            self.more
        )

    def choice(self, before: Mapping[str, Any] | None, units: Units) -> FrameChoice:
        """Return the choice typed; what the form does not ask stays as it was.

        Raises
        ------
        ScrieveError
            A value cannot be read or used; the message says which.
        """
        if not self.label:
            raise NoSuchFrame("the frame has no label; give the number or name that stands on it.")
        chosen = FrameChoice.from_mapping(before) if before else FrameChoice(self.label, **first(units))
        values: dict[str, Any] = {"frame": self.label, "timber": self.timber or "larch"}
        if before and values["timber"] != chosen.timber:  # a list of laminations would stand before the new timber
            values |= {"stack": (), "lamination_mm": None, "count": None}
        # a size that still reads as before is not changed: rounding for the page must not creep into the boat
        for name, text in (("sided_mm", self.sided), ("moulded_mm", self.moulded)):
            if text and not (before and text == length(getattr(chosen, name), units)):
                values[name] = read_length(name.removesuffix("_mm").capitalize(), text, units)
        for key, text in self.more.items():
            if text != write_setting(key, getattr(chosen, key), units):
                values[key] = read_setting(key, text, units)
        return replace(chosen, **values)
