"""What a browser needs to open the pages with the server away: the worker, the manifest with its icons, and the page
that tells how the shop's own authority is trusted. All of it is answered unsigned: none of it tells of the boat.
"""

from __future__ import annotations

import hashlib
import io
import json
from functools import cache

import numpy as np
from fastapi import APIRouter, Request
from PIL import Image, ImageDraw
from starlette.responses import JSONResponse, Response

from scrieve import __version__
from scrieve.web.server.certificates import ShopCertificates
from scrieve.web.server.fixed import begun
from scrieve.web.views import HERE, write

pages = APIRouter()
_ICONS = (192, 512)
_PAPER, _INK, _LEAD = "#f7f3e8", "#1f2328", "#c2401c"


def shop_of(request: Request) -> ShopCertificates | None:
    """The certificates of the shop by which these pages are served; None where they are served otherwise."""
    found: ShopCertificates | None = getattr(request.app.state, "shop", None)
    return found


@pages.get("/trust")
def trust(request: Request) -> Response:
    """How a tablet is told to trust the shop's authority."""
    shop = shop_of(request)
    port = request.url.port
    places = [*(shop.names if shop else ()), *(f"[{each}]" if each.version == 6 else str(each)
              for each in (shop.addresses if shop else ()) if not each.is_loopback)]  # fmt: skip
    shown = [f"https://{place}{f':{port}' if port else ''}/" for place in places if place != "localhost"]
    return write("trust.html", fingerprint=shop.fingerprint if shop else "", places=shown)


@pages.get("/trust/authority.crt")
def authority(request: Request) -> Response:
    """The shop's authority, to be trusted; never its key."""
    shop = shop_of(request)
    if shop is None:
        return trust(request)
    headers = {"Content-Disposition": 'attachment; filename="shop-authority.crt"', "Cache-Control": "no-store"}
    return Response(shop.authority.read_bytes(), media_type="application/x-x509-ca-cert", headers=headers)


@pages.get("/away")
def away() -> Response:
    """What is shown instead of a page that is not on the device, with the server away."""
    return write("away.html", shut_out=False)  # kept on the device, also for who signs in later


@cache
def _worker() -> str:
    """The service worker with what it holds ready, under the addresses by which pages ask for it."""
    known = begun(HERE / "static")
    files = [known.address(name) for name in known.digests if name != "worker.js"]
    version = hashlib.sha256(f"{__version__} {known.version}".encode()).hexdigest()[:16]
    head = f"const VERSION = {json.dumps(version)}, FILES = {json.dumps(files)};\n"
    return head + (HERE / "static" / "worker.js").read_text(encoding="utf-8")


@pages.get("/worker.js")
def worker() -> Response:
    """The service worker, with what it holds ready."""
    return Response(_worker(), media_type="text/javascript", headers={"Cache-Control": "no-cache"})


@pages.get("/manifest.webmanifest")
def manifest() -> Response:
    """What a device needs to set the pages up beside its other programs (W3C Web Application Manifest)."""
    icons = [{"src": "/static/mark.svg", "sizes": "any", "type": "image/svg+xml"}]
    icons += [{"src": f"/icon/{size}.png", "sizes": f"{size}x{size}", "type": "image/png"} for size in _ICONS]
    icons.append({"src": "/icon/512.png", "sizes": "512x512", "type": "image/png", "purpose": "maskable"})
    told = {"id": "/", "name": "Scrieve", "short_name": "Scrieve", "start_url": "/", "scope": "/",
            "display": "minimal-ui", "background_color": _PAPER, "theme_color": _PAPER, "icons": icons}  # fmt: skip
    return JSONResponse(told, media_type="application/manifest+json", headers={"Cache-Control": "no-cache"})


@pages.get("/icon/192.png")
@pages.get("/icon/512.png")
def icon(request: Request) -> Response:
    """The mark as a PNG, for devices that take no SVG."""
    size = int(request.url.path.removeprefix("/icon/").removesuffix(".png"))
    return Response(_drawn(size), media_type="image/png", headers={"Cache-Control": "max-age=86400"})


@cache
def _drawn(size: int) -> bytes:
    """The mark of static/mark.svg (32 units wide) in the middle four fifths, which every mask of a device leaves."""
    fine = 4 * size
    unit, edge = 0.8 * fine / 32, 0.1 * fine
    picture = Image.new("RGB", (fine, fine), _PAPER)
    pen = ImageDraw.Draw(picture)
    corners = np.array([[7, 27], [17, 26], [25, 20], [25, 5]], dtype=float)
    t = np.linspace(0, 1, 200)[:, None]
    curve = (1 - t) ** 3 * corners[0] + 3 * t * (1 - t) ** 2 * corners[1] + 3 * t**2 * (1 - t) * corners[2]
    curve = (curve + t**3 * corners[3]) * unit + edge
    for top in range(5, 28, 11):  # a chain line: 6 drawn, 2 left, 1 drawn, 2 left
        for begin, end in ((top, min(top + 6, 28)), (top + 8, min(top + 9, 28))):
            if begin < 28:
                pen.rectangle([6 * unit + edge, begin * unit + edge, 8 * unit + edge, end * unit + edge], _LEAD)
    for x, y in curve:
        pen.ellipse([x - 1.5 * unit, y - 1.5 * unit, x + 1.5 * unit, y + 1.5 * unit], _INK)
    file = io.BytesIO()
    picture.resize((size, size), Image.Resampling.LANCZOS).save(file, "PNG", optimize=True)
    return file.getvalue()
