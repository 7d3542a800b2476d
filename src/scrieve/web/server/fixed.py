"""Style sheets and scripts from memory, packed once: a page asks for a score of them at the same time.

Pages ask for them under an address that changes with what is in any of them, so that a device keeps them without asking
again, and never runs those of an older program with the pages of a newer one. Scripts name one another by their place
beside each other, and so keep to the same address.
"""

from __future__ import annotations

import gzip
import hashlib
import mimetypes
import re
from collections.abc import Callable
from dataclasses import dataclass
from email.utils import formatdate
from functools import cache
from pathlib import Path

from jinja2 import Environment, FileSystemLoader
from starlette.datastructures import Headers
from starlette.responses import Response
from starlette.types import ASGIApp, Receive, Scope, Send

_UNDER = "/static/"
_VERSION = re.compile(r"[0-9a-f]{16}/")
#: Answered in the language of the pages, whatever its address.
_SPOKEN = "table.js"
#: Smaller ones are not worth packing [bytes].
_LEAST_BYTES = 600


@dataclass(frozen=True)
class Begun:
    """The files of a folder as they were when the program began: a name for all of them, and what is in each."""

    version: str
    digests: dict[str, str]

    def address(self, name: str) -> str:
        """Where a page asks for a file."""
        return f"{_UNDER}{self.version}/{name}"


@cache
def begun(folder: Path) -> Begun:
    """Return the files of a folder as they are now; the same again, whenever it is asked."""
    files = sorted(path for path in folder.iterdir() if path.is_file())
    digests = {path.name: _digest(path.read_bytes()) for path in files}
    whole = "\n".join(f"{name} {digest}" for name, digest in digests.items())
    return Begun(_digest(whole.encode())[:16], digests)


class VersionedLoader(FileSystemLoader):
    """Templates, every style sheet and script in them asked for under the address that changes with what is in it."""

    def __init__(self, templates: Path, static: Path) -> None:
        super().__init__(templates)
        known = begun(static)
        self._named = re.compile(r'"/static/([\w.-]+)"')
        self._address: Callable[[re.Match[str]], str] = lambda found: (
            f'"{known.address(found[1])}"' if found[1] in known.digests else found[0]
        )

    def get_source(self, environment: Environment, template: str) -> tuple[str, str, Callable[[], bool]]:
        """Return a template's source, the file it stands in and whether it is still as it was."""
        source, path, same = super().get_source(environment, template)
        return self._named.sub(self._address, source), path, same


def _digest(content: bytes) -> str:
    return hashlib.sha256(content).hexdigest()


@dataclass(frozen=True)
class _File:
    seen: tuple[int, int]
    digest: str
    plain: bytes
    packed: bytes
    headers: dict[str, str]


class Fixed:
    """ASGI middleware: answers for the files of one folder; whatever else is asked goes on.

    A file is read again once its time or its size has changed. Folders in the folder are left to whoever comes next.
    Under the address of this program's version a browser need not ask again; a page of an older one gets what there is
    now, to be asked for again.
    """

    def __init__(self, app: ASGIApp, folder: Path) -> None:
        self.app = app
        self._paths = {path.name: path for path in folder.iterdir() if path.is_file()}
        self._files: dict[str, _File] = {}
        self._begun = begun(folder)

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer one request."""
        if scope["type"] == "http" and scope["method"] == "GET" and scope["path"].startswith(_UNDER):
            asked = scope["path"].removeprefix(_UNDER)
            version = _VERSION.match(asked)
            name = asked[version.end() :] if version else asked
            found = self._file(name)
            if found is not None:
                this = version is not None and version[0] == self._begun.version + "/" and name != _SPOKEN
                for_good = this and found.digest == self._begun.digests.get(name)
                await _answer(found, Headers(scope=scope), for_good=for_good)(scope, receive, send)
                return
        await self.app(scope, receive, send)

    def _file(self, name: str) -> _File | None:
        path = self._paths.get(name)
        if path is None:
            return None
        try:
            told = path.stat()
            seen = (told.st_mtime_ns, told.st_size)
            found = self._files.get(name)
            if found is None or found.seen != seen:
                found = self._files[name] = _read(path, seen)
        except OSError:
            return None
        return found


def _read(path: Path, seen: tuple[int, int]) -> _File:
    plain = path.read_bytes()
    packed = gzip.compress(plain, 9, mtime=0) if len(plain) >= _LEAST_BYTES else b""
    digest = _digest(plain)
    kind = mimetypes.guess_type(path.name)[0] or "application/octet-stream"
    headers = {
        "Content-Type": kind + ("; charset=utf-8" if kind.startswith("text/") else ""),
        "ETag": f'W/"{digest[:20]}"',
        "Last-Modified": formatdate(seen[0] / 1e9, usegmt=True),
        "Vary": "Accept-Encoding",
    }
    return _File(seen, digest, plain, packed, headers)


def _answer(file: _File, asked: Headers, *, for_good: bool) -> Response:
    kept = "public, max-age=31536000, immutable" if for_good else "no-cache"
    headers = {**file.headers, "Cache-Control": kept}
    if file.headers["ETag"] in asked.get("if-none-match", ""):
        return Response(status_code=304, headers=headers)
    if file.packed and "gzip" in asked.get("accept-encoding", ""):
        return Response(file.packed, headers={**headers, "Content-Encoding": "gzip"})
    return Response(file.plain, headers=headers)
