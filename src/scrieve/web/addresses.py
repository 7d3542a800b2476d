"""Addresses of the pages: any label, whatever signs it holds, leads to its own page and back."""

from __future__ import annotations

import re
from urllib.parse import quote, urlencode

# What a browser or a proxy may fold, cut or decode twice when it stands in a path: separators, dots alone, '%'.
_FOLDS = re.compile(r"[/\\%\x00-\x1f\x7f]|^\.{1,2}$|^\s|\s$|^$")


def asked(path: str, **fields: str) -> str:
    """Path of a page that is asked for something.

    Examples
    --------
    >>> asked("/release", frame="½ 14/A")
    '/release?frame=%C2%BD%2014%2FA'
    """
    return f"{path}?" + urlencode(fields, quote_via=quote)


def frame_path(label: str) -> str:
    """Path of a frame's page.

    Examples
    --------
    >>> frame_path("14"), frame_path("½ <14>"), frame_path("14/A")
    ('/frames/14', '/frames/%C2%BD%20%3C14%3E', '/frames?label=14%2FA')
    """
    return _path("/frames", label)


#: Pages of planking beside those of the planks: a plank of such a name is asked for by its label.
PLANK_PAGES = ("lining", "lining.csv", "settings", "skin", "file")


def plank_path(name: str) -> str:
    """Path of a plank's page; see `frame_path`.

    Examples
    --------
    >>> plank_path("garboard"), plank_path("lining")
    ('/planks/garboard', '/planks?label=lining')
    """
    if name in PLANK_PAGES:
        return asked("/planks", label=name)
    return _path("/planks", name)


def file_path(member: str, label: str, kind: str, roll: str = "") -> str:
    """Path of one file of a member's sheets; `member` is 'frame' or 'plank', `roll` the width of a roll as typed.

    Examples
    --------
    >>> file_path("frame", "14/A", "bench.pdf")
    '/sheets/file?of=frame&label=14%2FA&kind=bench.pdf'
    """
    return asked("/sheets/file", of=member, label=label, kind=kind, **({"roll": roll} if roll else {}))


def printed_path(path: str, revision: str) -> str:
    """Path for the code on a sheet of a revision: the page it leads to says whether the sheet is out of date.

    Examples
    --------
    >>> printed_path("/frames/14", "1c76e0"), printed_path("/frames?label=14%2FA", "1c76e0")
    ('/frames/14?sheet=1c76e0', '/frames?label=14%2FA&sheet=1c76e0')
    """
    return f"{path}{'&' if '?' in path else '?'}" + urlencode({"sheet": revision}, quote_via=quote)


def station_path(station_mm: float) -> str:
    """Path of the page of a section at a station.

    Examples
    --------
    >>> station_path(3600.0), station_path(3600.25)
    ('/stations/3600', '/stations/3600.25')
    """
    return f"/stations/{station_mm:.10g}"


def marks_path(frame: str = "") -> str:
    """Path of the take-off, of all frames or of one."""
    return asked("/marks", frame=frame) if frame else "/marks"


def part_path(name: str) -> str:
    """Path of a part in hand, on the timber page."""
    return asked("/timber", part=name) + "#hand"


def own_path(given: str) -> str:
    """Return `given` where it is a path of these pages, else '/': a form cannot lead away from here.

    Examples
    --------
    >>> own_path("/frames/14"), own_path("//elsewhere"), own_path("/\\\\elsewhere"), own_path("https://elsewhere/")
    ('/frames/14', '/', '/', '/')
    """
    return given if re.fullmatch(r"/(?![/\\])[\x21-\x5b\x5d-\x7e]*", given) else "/"


def _path(root: str, label: str) -> str:
    if _FOLDS.search(label):
        return asked(root, label=label)
    return f"{root}/{quote(label, safe='')}"


def lining_path(hand: str, strake: int = 0, place: str = "") -> str:
    """Return the address of the page for one side lined off.

    Examples
    --------
    >>> lining_path("port"), lining_path("pair", 3, "strake")
    ('/planks/lining?side=port', '/planks/lining?side=pair&strake=3#strake')
    """
    fields = {"side": hand} | ({"strake": str(strake)} if strake else {})
    return "/planks/lining?" + urlencode(fields) + (f"#{place}" if place else "")
