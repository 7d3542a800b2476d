"""What a form sends, read with care: from these pages only, of bounded size; and the form that designs a frame."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Annotated, Any
from urllib.parse import parse_qsl

from fastapi import Depends, HTTPException, Request

from scrieve.errors import NoSuchFrame
from scrieve.frames.design import FrameChoice
from scrieve.sheets.figures import length
from scrieve.units import Units, parse_length
from scrieve.web.hosts import same_origin

_MOST_BYTES = 64_000


async def sent(request: Request) -> dict[str, str]:
    """Return the fields of a form sent from these pages (the last of each name)."""
    headers = request.headers
    here = headers.get("host", ""), request.url.scheme
    if not same_origin(*here, headers.get("origin"), headers.get("sec-fetch-site")):
        raise HTTPException(403, "This was not sent from these pages; nothing was stored.")
    if headers.get("content-type", "").split(";")[0].strip().lower() != "application/x-www-form-urlencoded":
        raise HTTPException(415, "Send this as a form; nothing was stored.")
    body = b""
    async for chunk in request.stream():
        body += chunk
        if len(body) > _MOST_BYTES:
            raise HTTPException(413, "The form is too large; nothing was stored.")
    try:
        return dict(parse_qsl(body.decode("ascii"), keep_blank_values=True, max_num_fields=50, errors="strict"))
    except ValueError as error:
        raise HTTPException(400, "The form could not be read; nothing was stored.") from error


Sent = Annotated[dict[str, str], Depends(sent)]


@dataclass(frozen=True, slots=True)
class FrameForm:
    """The form that designs a frame pair, as typed; lengths still text."""

    label: str = ""
    station: str = ""
    timber: str = "larch"
    sided: str = ""
    moulded: str = ""

    @classmethod
    def of(cls, label: str, station_mm: float | None, choice: Mapping[str, Any] | None, units: Units) -> FrameForm:
        """Return the form filled with what was chosen before, or with usual sizes."""
        chosen = FrameChoice.from_mapping(choice) if choice else FrameChoice(label)
        return cls(
            label,
            length(station_mm, units) if station_mm is not None else "",
            chosen.timber,
            length(chosen.sided_mm, units),
            length(chosen.moulded_mm, units),
        )

    @classmethod
    def typed(cls, fields: Mapping[str, str]) -> FrameForm:
        """Return the form as it was sent; white space round a value goes."""
        return cls(**{name: fields.get(name, "").strip() for name in cls.__slots__})

    def choice(self, before: Mapping[str, Any] | None, units: Units) -> FrameChoice:
        """Return the choice typed; what the form does not ask stays as it was.

        Raises
        ------
        ScrieveError
            A value cannot be read or used; the message says which.
        """
        if not self.label:
            raise NoSuchFrame("the frame has no label; give the number or name that stands on it.")
        chosen = FrameChoice.from_mapping(before) if before else FrameChoice(self.label)
        values: dict[str, Any] = {"frame": self.label, "timber": self.timber or "larch"}
        if before and values["timber"] != chosen.timber:  # a list of laminations would stand before the new timber
            values |= {"stack": (), "lamination_mm": None, "count": None}
        # a size that still reads as before is not changed: rounding for the page must not creep into the boat
        for name, text in (("sided_mm", self.sided), ("moulded_mm", self.moulded)):
            if text and not (before and text == length(getattr(chosen, name), units)):
                values[name] = parse_length(text, units)
        return replace(chosen, **values)
