"""Serving a boat's pages from this machine."""

from __future__ import annotations

import contextlib
import errno
import logging
import socket
import ssl
import sys
import threading
from collections.abc import Iterator
from pathlib import Path

import uvicorn

from scrieve.errors import ScrieveError
from scrieve.jobs import at_work
from scrieve.jobs.cluster import cluster_set
from scrieve.store import Place
from scrieve.store.copies import copies_folder, daily_copies
from scrieve.web.app import create_app
from scrieve.web.language.catalogue import read_catalogue
from scrieve.web.people.sign_in import has_people
from scrieve.web.server.certificates import ShopCertificates, shop_certificates
from scrieve.web.server.hosts import is_loopback

log = logging.getLogger("scrieve.web")
_DAY_S = 86_400.0


#: A fairing beside it holds an answer up no longer than this at a time [s].
SWITCH_S = 0.0005


def serve(
    path: Path | Place,
    host: str = "127.0.0.1",
    port: int = 8777,
    certificate: Path | None = None,
    key: Path | None = None,
    copies: Path | None = None,
    https: bool = False,
    certificates: Path | None = None,
    language: Path | None = None,
) -> None:
    """Serve the pages of a boat file until interrupted; print their address.

    Parameters
    ----------
    path : Path or Place
        The boat file, or a boat in a store.
    copies : Path, optional
        Folder of the daily copies; of a boat file by default one beside it.
    host : str
        The address to bind: this machine alone, unless asked for more.
    port : int
        0 takes any free one.
    certificate, key : Path, optional
        PEM files: serve by HTTPS.
    https : bool
        Serve by HTTPS with a certificate of the shop's own authority, made and renewed here.
    certificates : Path, optional
        Where the shop's authority and its keys lie; by default in the user's own settings.
    language : Path, optional
        The file in whose words the pages speak; English, unless given.

    Raises
    ------
    ScrieveError
        The port is taken, or the address is not one of this machine; or the yard's cluster does not answer.
    BadBoat
        The file is no boat of ours.
    """
    _check(certificate, key)
    shop = _shop(https, certificate, certificates, host)
    if shop:
        certificate, key = shop.certificate, shop.key
    place = Place.of(path)
    helm = cluster_set()
    listening = bind(host, port)
    with listening:
        app = create_app(path, host=host, language=read_catalogue(language) if language else None)
        app.state.shop = shop
        if not is_loopback(host) and not has_people(app.state.boat.engine):
            raise ScrieveError(
                "pages that are open to the network ask for name and password, and nobody may sign in yet; make the "
                f"first account here: scrieve people {path} add NAME --role keeper"
            )
        port = listening.getsockname()[1]
        shown = "127.0.0.1" if host in ("0.0.0.0", "") else "::1" if host == "::" else host
        shown = f"[{shown}]" if ":" in shown else shown
        lines = [f"Pages of {path}: {'https' if certificate else 'http'}://{shown}:{port}/", "Stop with Ctrl-C."]
        if not is_loopback(host):
            lines.insert(1, "Open to this network; everybody there is asked for name and password.")
        if shop:
            name = next((each for each in shop.names if each.endswith(".local")), shown)
            lines.insert(1, f"To trust them on a tablet: https://{name}:{port}/trust")
            lines.insert(2, f"The shop's authority, SHA-256: {shop.fingerprint}")
        sys.stdout.write("\n".join(lines) + "\n")
        sys.stdout.flush()
        config = uvicorn.Config(
            app,
            log_level="warning",
            access_log=False,
            server_header=False,
            proxy_headers=False,
            ssl_certfile=certificate,
            ssl_keyfile=key,
        )
        copying = daily_copies(place, copies or copies_folder(place))
        with (
            contextlib.suppress(KeyboardInterrupt),
            copying,
            at_work(app.state.boat.engine, helm),
            _renewing(shop, config, host),
        ):  # Ctrl-C is how it is stopped
            sys.setswitchinterval(SWITCH_S)
            uvicorn.Server(config).run(sockets=[listening])


def _shop(https: bool, certificate: Path | None, folder: Path | None, host: str) -> ShopCertificates | None:
    if not https:
        if folder is not None:
            raise ScrieveError("--certificates names where the shop's own keys lie; it goes with --https.")
        return None
    if certificate is not None:
        raise ScrieveError("--https makes a certificate of its own; leave out --certificate and --key, or --https.")
    return shop_certificates(folder, also=[host])


@contextlib.contextmanager
def _renewing(shop: ShopCertificates | None, config: uvicorn.Config, host: str) -> Iterator[None]:
    """Look every day whether the machine's certificate must be renewed; connections made from then on show the new."""
    ended = threading.Event()

    def look(found: ShopCertificates) -> None:
        while not ended.wait(_DAY_S):
            try:
                shop_certificates(found.certificate.parent, also=[host])
                if config.ssl:
                    config.ssl.load_cert_chain(found.certificate, found.key)
            except (ScrieveError, OSError) as error:
                log.warning("the machine's certificate was not renewed: %s", error)

    if shop:
        threading.Thread(target=look, args=(shop,), daemon=True).start()
    try:
        yield
    finally:
        ended.set()


def _check(certificate: Path | None, key: Path | None) -> None:
    if certificate is None and key is None:
        return
    if certificate is None or key is None:
        raise ScrieveError("HTTPS needs both --certificate and --key.")
    try:
        ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER).load_cert_chain(certificate, key)
    except (OSError, ssl.SSLError) as error:
        raise ScrieveError(f"{certificate}, {key}: no certificate and key that belong together ({error}).") from error


def bind(host: str, port: int) -> socket.socket:
    """Return a socket that listens at `host` and `port`.

    Raises
    ------
    ScrieveError
        The port is taken or not to be had, or the address is not one of this machine.
    """
    if not 0 <= port <= 65535:
        raise ScrieveError(f"port {port}: give one from 1024 to 65535.")
    try:
        family, kind, proto, _, address = socket.getaddrinfo(host, port, type=socket.SOCK_STREAM)[0]
    except (socket.gaierror, UnicodeError) as error:
        raise ScrieveError(f"address {host!r} is not known; give 127.0.0.1 (this machine) or 0.0.0.0.") from error
    found = socket.socket(family, kind, proto)
    try:
        found.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        found.bind(address)
        found.listen(128)
    except OSError as error:
        found.close()
        if error.errno == errno.EADDRINUSE:
            way = f"port {port} is taken; is a boat served there already? Give another with --port (0: any free one)"
        elif error.errno == errno.EACCES:
            way = f"port {port} may not be used by you; give one above 1023 with --port"
        else:
            way = f"address {host!r} cannot be used ({error.strerror}); give 127.0.0.1, or an address of this machine"
        raise ScrieveError(f"{way}.") from error
    return found
