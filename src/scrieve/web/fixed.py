"""Style sheets and scripts from memory, packed once: a page asks for a score of them at the same time."""

from __future__ import annotations

import gzip
import hashlib
import mimetypes
from dataclasses import dataclass
from email.utils import formatdate
from pathlib import Path

from starlette.datastructures import Headers
from starlette.responses import Response
from starlette.types import ASGIApp, Receive, Scope, Send

_UNDER = "/static/"
#: Smaller ones are not worth packing [bytes].
_LEAST_BYTES = 600


@dataclass(frozen=True)
class _File:
    seen: tuple[int, int]
    plain: bytes
    packed: bytes
    headers: dict[str, str]


class Fixed:
    """ASGI middleware: answers for the files of one folder; whatever else is asked goes on.

    A file is read again once its time or its size has changed. Folders in the folder are left to whoever comes next.
    """

    def __init__(self, app: ASGIApp, folder: Path) -> None:
        self.app = app
        self._paths = {path.name: path for path in folder.iterdir() if path.is_file()}
        self._files: dict[str, _File] = {}

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer one request."""
        if scope["type"] == "http" and scope["method"] == "GET" and scope["path"].startswith(_UNDER):
            found = self._file(scope["path"].removeprefix(_UNDER))
            if found is not None:
                await _answer(found, Headers(scope=scope))(scope, receive, send)
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
    kind = mimetypes.guess_type(path.name)[0] or "application/octet-stream"
    headers = {
        "Content-Type": kind + ("; charset=utf-8" if kind.startswith("text/") else ""),
        "ETag": f'W/"{hashlib.sha256(plain).hexdigest()[:20]}"',
        "Last-Modified": formatdate(seen[0] / 1e9, usegmt=True),
        "Vary": "Accept-Encoding",
    }
    return _File(seen, plain, packed, headers)


def _answer(file: _File, asked: Headers) -> Response:
    if file.headers["ETag"] in asked.get("if-none-match", ""):
        return Response(status_code=304, headers=file.headers)
    if file.packed and "gzip" in asked.get("accept-encoding", ""):
        return Response(file.packed, headers={**file.headers, "Content-Encoding": "gzip"})
    return Response(file.plain, headers=file.headers)
