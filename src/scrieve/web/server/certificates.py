"""The shop's own certificate authority, and the certificate of the machine that serves, made and renewed here.

The authority can vouch for this machine's own names and for addresses of private networks only (name constraints of
RFC 5280): a tablet that trusts it trusts nothing else by it. Keys are readable by their owner alone.
"""

from __future__ import annotations

import contextlib
import datetime as dt
import ipaddress
import os
import socket
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

from cryptography import x509
from cryptography.hazmat.primitives import hashes, serialization
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.x509.oid import ExtendedKeyUsageOID, NameOID

from scrieve.errors import ScrieveError

#: How long the authority and a certificate of the machine hold; devices refuse the latter beyond 398 days.
AUTHORITY_DAYS, MACHINE_DAYS = 3650, 397
#: A certificate is made anew when it holds no longer than this.
RENEWED_DAYS = 60
#: Private networks (RFC 1918, 4193), link-local (RFC 3927, 4291) and this machine itself.
PRIVATE = ("10.0.0.0/8", "172.16.0.0/12", "192.168.0.0/16", "169.254.0.0/16", "127.0.0.0/8", "fc00::/7", "fe80::/10",
           "::1/128")  # fmt: skip

Address = ipaddress.IPv4Address | ipaddress.IPv6Address


@dataclass(frozen=True, slots=True)
class ShopCertificates:
    """Files of the machine's certificate (with its chain) and key, the authority to be trusted, and what it covers."""

    certificate: Path
    key: Path
    authority: Path
    names: tuple[str, ...]
    addresses: tuple[Address, ...]

    @property
    def fingerprint(self) -> str:
        """SHA-256 of the authority, as a tablet shows it."""
        digest = x509.load_pem_x509_certificate(self.authority.read_bytes()).fingerprint(hashes.SHA256())
        return ":".join(f"{byte:02X}" for byte in digest)


def usual_folder() -> Path:
    """Return where the keys of this user lie, when no other folder is named."""
    base = os.environ.get("XDG_CONFIG_HOME") or ""
    return (Path(base) if Path(base).is_absolute() else Path.home() / ".config") / "scrieve" / "https"


def own_names(also: Sequence[str] = ()) -> tuple[tuple[str, ...], tuple[Address, ...]]:
    """Return the names and addresses under which this machine can be asked for."""
    host = socket.gethostname().lower().rstrip(".")
    short = host.split(".")[0]
    names = {"localhost", host, short, f"{short}.local"}
    found: set[Address] = {ipaddress.ip_address("127.0.0.1"), ipaddress.ip_address("::1")}
    texts = list(also)
    with contextlib.suppress(OSError):
        texts += [str(each[4][0]) for each in socket.getaddrinfo(host, None)]
    for family, elsewhere in ((socket.AF_INET, "192.0.2.1"), (socket.AF_INET6, "2001:db8::1")):
        with contextlib.suppress(OSError), socket.socket(family, socket.SOCK_DGRAM) as asking:
            asking.connect((elsewhere, 9))  # sends nothing: it tells by which address one would go out
            texts.append(str(asking.getsockname()[0]))
    for text in texts:
        try:
            address = ipaddress.ip_address(text.partition("%")[0])
        except ValueError:
            names.add(text.lower())
            continue
        if not address.is_unspecified:
            found.add(address)
    kept = {name for name in names if name.isascii() and name.strip("-.") and len(name) < 64 and " " not in name}
    return tuple(sorted(kept)), tuple(sorted(found, key=str))


def shop_certificates(
    folder: Path | None = None, *, also: Sequence[str] = (), now: dt.datetime | None = None
) -> ShopCertificates:
    """Return the shop's certificates, made where there are none, renewed where they end soon or no longer fit.

    The authority is made anew only when it ends; devices must then be told to trust the new one.

    Parameters
    ----------
    folder : Path, optional
        Where they lie; by default in the user's own settings.
    also : sequence of str
        Further names and addresses of this machine.
    now : datetime, optional
        With its zone.

    Raises
    ------
    ScrieveError
        The folder cannot be written, others may read a key in it, or what lies there cannot be read.
    """
    now = now or dt.datetime.now(dt.UTC)
    folder = folder or usual_folder()
    names, addresses = own_names(also)
    found = ShopCertificates(
        folder / "machine.pem", folder / "machine-key.pem", folder / "authority.pem", names, addresses
    )
    authority_key = folder / "authority-key.pem"
    try:
        folder.mkdir(parents=True, exist_ok=True, mode=0o700)
        for path in (authority_key, found.key):
            if os.name == "posix" and path.exists() and path.stat().st_mode & 0o077:
                raise ScrieveError(f"{path} can be read by others; take their right away (chmod 600) or delete it.")
        if not _holds(found.authority, authority_key, now):
            _make_authority(found, authority_key, now)
        issuer = x509.load_pem_x509_certificate(found.authority.read_bytes())
        found = _within(found, issuer)
        if not _holds(found.certificate, found.key, now, found, issuer):
            _make_machine(found, issuer, authority_key, now)
    except (OSError, ValueError, TypeError) as error:
        raise ScrieveError(f"{folder}: the shop's certificates cannot be made or read there ({error}).") from error
    return found


def _holds(
    certificate: Path,
    key: Path,
    now: dt.datetime,
    of: ShopCertificates | None = None,
    issuer: x509.Certificate | None = None,
) -> bool:
    """Whether a certificate is there with its key, for long enough yet, and for the machine as it is called now."""
    if not certificate.exists() or not key.exists():
        return False
    held = x509.load_pem_x509_certificate(certificate.read_bytes())
    own = serialization.load_pem_private_key(key.read_bytes(), None)
    if held.public_key() != own.public_key():
        return False
    if not held.not_valid_before_utc <= now < held.not_valid_after_utc - dt.timedelta(days=RENEWED_DAYS):
        return False
    if of is None or issuer is None:
        return True
    says = held.extensions.get_extension_for_class(x509.SubjectAlternativeName).value
    covered = {*says.get_values_for_type(x509.DNSName), *says.get_values_for_type(x509.IPAddress)}
    try:
        held.verify_directly_issued_by(issuer)
    except Exception:  # noqa: BLE001 - of another authority, whatever is wrong with it
        return False
    return covered >= {*of.names, *of.addresses}


def _within(found: ShopCertificates, issuer: x509.Certificate) -> ShopCertificates:
    """Leave out what the authority may not vouch for: a name or network that came later."""
    limits = issuer.extensions.get_extension_for_class(x509.NameConstraints).value.permitted_subtrees or []
    names = tuple(each.value for each in limits if isinstance(each, x509.DNSName))
    networks = [each.value for each in limits if isinstance(each, x509.IPAddress)]
    return ShopCertificates(
        found.certificate,
        found.key,
        found.authority,
        tuple(name for name in found.names if any(name == each or name.endswith("." + each) for each in names)),
        tuple(address for address in found.addresses if any(address in each for each in networks)),  # type: ignore[operator]
    )


def _make_authority(found: ShopCertificates, key_path: Path, now: dt.datetime) -> None:
    key = ec.generate_private_key(ec.SECP256R1())
    host = next((name for name in found.names if name.endswith(".local")), "this machine").removesuffix(".local")
    name = _name(f"Scrieve shop authority, {host[:24]} {now:%Y}")
    networks = [ipaddress.ip_network(text) for text in PRIVATE]
    more = [ipaddress.ip_network(each) for each in found.addresses if not any(each in network for network in networks)]
    limits: list[x509.GeneralName] = [x509.DNSName(each) for each in found.names]
    limits += [x509.IPAddress(each) for each in networks + more]
    made = (
        _builder(name, name, key.public_key(), now, AUTHORITY_DAYS)
        .add_extension(x509.BasicConstraints(ca=True, path_length=0), critical=True)
        .add_extension(_usage(key_cert_sign=True, crl_sign=True), critical=True)
        .add_extension(x509.NameConstraints(limits, None), critical=True)
        .add_extension(x509.SubjectKeyIdentifier.from_public_key(key.public_key()), critical=False)
        .sign(key, hashes.SHA256())
    )
    _write_key(key_path, key)
    _write(found.authority, made.public_bytes(serialization.Encoding.PEM), 0o644)


def _make_machine(found: ShopCertificates, issuer: x509.Certificate, authority_key: Path, now: dt.datetime) -> None:
    own = serialization.load_pem_private_key(authority_key.read_bytes(), None)
    if not isinstance(own, ec.EllipticCurvePrivateKey):
        raise ValueError(f"{authority_key.name} is a key of another kind")
    key = ec.generate_private_key(ec.SECP256R1())
    also = [*(x509.DNSName(name) for name in found.names), *(x509.IPAddress(each) for each in found.addresses)]
    days = min(MACHINE_DAYS, (issuer.not_valid_after_utc - now).days)
    made = (
        _builder(_name("Scrieve"), issuer.subject, key.public_key(), now, days)
        .add_extension(x509.SubjectAlternativeName(also), critical=False)
        .add_extension(x509.BasicConstraints(ca=False, path_length=None), critical=True)
        .add_extension(_usage(digital_signature=True), critical=True)
        .add_extension(x509.ExtendedKeyUsage([ExtendedKeyUsageOID.SERVER_AUTH]), critical=False)
        .add_extension(x509.SubjectKeyIdentifier.from_public_key(key.public_key()), critical=False)
        .add_extension(x509.AuthorityKeyIdentifier.from_issuer_public_key(own.public_key()), critical=False)
        .sign(own, hashes.SHA256())
    )
    _write_key(found.key, key)
    _write(found.certificate, made.public_bytes(serialization.Encoding.PEM) + found.authority.read_bytes(), 0o644)


def _name(common: str) -> x509.Name:
    return x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, common)])


def _builder(
    subject: x509.Name, issuer: x509.Name, key: ec.EllipticCurvePublicKey, now: dt.datetime, days: int
) -> x509.CertificateBuilder:
    begin = now - dt.timedelta(hours=24)  # a tablet's clock may be behind
    return (
        x509.CertificateBuilder()
        .subject_name(subject)
        .issuer_name(issuer)
        .public_key(key)
        .serial_number(x509.random_serial_number())
        .not_valid_before(begin)
        .not_valid_after(begin + dt.timedelta(days=days))
    )


def _usage(**which: bool) -> x509.KeyUsage:
    every = ("digital_signature", "content_commitment", "key_encipherment", "data_encipherment", "key_agreement",
             "key_cert_sign", "crl_sign", "encipher_only", "decipher_only")  # fmt: skip
    return x509.KeyUsage(**{name: which.get(name, False) for name in every})


def _write_key(path: Path, key: ec.EllipticCurvePrivateKey) -> None:
    form = serialization.PrivateFormat.PKCS8, serialization.NoEncryption()
    _write(path, key.private_bytes(serialization.Encoding.PEM, *form), 0o600)


@contextlib.contextmanager
def _beside(path: Path, mode: int) -> Iterator[int]:
    new = path.with_name(path.name + ".new")
    new.unlink(missing_ok=True)
    handle = os.open(new, os.O_WRONLY | os.O_CREAT | os.O_EXCL, mode)  # never readable by others, not for a moment
    try:
        yield handle
        os.fsync(handle)
    finally:
        os.close(handle)
    new.replace(path)


def _write(path: Path, content: bytes, mode: int) -> None:
    with _beside(path, mode) as handle:
        os.write(handle, content)
