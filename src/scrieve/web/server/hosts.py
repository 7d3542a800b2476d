"""Under which names these pages may be asked for, and from where a form may come."""

from __future__ import annotations

import ipaddress
import socket
from urllib.parse import urlsplit

_HERE = ("localhost", "127.0.0.1", "::1")


def host_name(header: str) -> str:
    """Return the name in a Host header, without port and brackets, in small letters; '' where it is none.

    Examples
    --------
    >>> host_name("127.0.0.1:8777"), host_name("[::1]:80"), host_name("LocalHost."), host_name("a@b")
    ('127.0.0.1', '::1', 'localhost', '')
    """
    try:
        parts = urlsplit(f"//{header}")
        parts.port  # noqa: B018 - raises where the port is no number
    except ValueError:
        return ""
    if parts.username is not None or parts.path or parts.query or parts.fragment:
        return ""
    return (parts.hostname or "").rstrip(".")


def is_loopback(host: str) -> bool:
    """Whether `host` is this machine alone."""
    if host.lower() == "localhost":
        return True
    try:
        return ipaddress.ip_address(host).is_loopback
    except ValueError:
        return False


class KnownHosts:
    """The names that a browser may have asked for.

    Bound to this machine alone, only its loopback names do: a foreign page whose name has been turned to 127.0.0.1
    (DNS rebinding) is refused. Bound to a network, any bare address does, and the machine's own names: a page of
    elsewhere cannot carry a bare address of ours as its own.
    """

    def __init__(self, bound_to: str) -> None:
        self.alone = is_loopback(bound_to)
        names = {*_HERE, bound_to.lower().strip("[]")}
        if not self.alone:
            own = socket.gethostname().lower()
            names |= {own, own.split(".")[0], own.split(".")[0] + ".local"}
        self.names = frozenset(names)

    def accept(self, header: str) -> bool:
        """Whether a request with this Host header is answered."""
        name = host_name(header)
        if name in self.names:
            return True
        if self.alone:
            return False
        try:
            ipaddress.ip_address(name)
        except ValueError:
            return False
        return True


def same_origin(host: str, scheme: str, origin: str | None, fetch_site: str | None) -> bool:
    """Whether a form was sent from these pages: browsers say so with every form, and a page of elsewhere cannot.

    Examples
    --------
    >>> same_origin("127.0.0.1:80", "http", "http://127.0.0.1:80", None), same_origin("a", "http", "null", None)
    (True, False)
    """
    if fetch_site not in (None, "same-origin"):
        return False
    if origin is None:
        return fetch_site == "same-origin"
    return origin.lower() == f"{scheme}://{host}".lower()
