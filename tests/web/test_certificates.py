"""The shop's own authority: a client that trusts it trusts this machine by it, and nothing else."""

from __future__ import annotations

import datetime as dt
import os
import socket
import ssl
import threading

import pytest
from cryptography import x509
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.x509.verification import PolicyBuilder, Store, VerificationError

from scrieve.errors import ScrieveError
from scrieve.web.server import certificates
from scrieve.web.server.certificates import MACHINE_DAYS, RENEWED_DAYS, shop_certificates

NOW = dt.datetime(2026, 5, 4, 12, 0, tzinfo=dt.UTC)


def shake_hands(found, trusting, name):
    """A TLS handshake as OpenSSL does it, with every check of the chain and of the name."""
    server = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
    server.load_cert_chain(found.certificate, found.key)
    client = ssl.create_default_context(cafile=trusting)
    client.verify_flags |= ssl.VERIFY_X509_STRICT
    with socket.create_server(("127.0.0.1", 0)) as listening:

        def answer():
            sock, _ = listening.accept()
            with sock:
                try:
                    server.wrap_socket(sock, server_side=True).close()
                except (ssl.SSLError, OSError):
                    return

        thread = threading.Thread(target=answer)
        thread.start()
        try:
            with socket.create_connection(listening.getsockname()) as sock:
                client.wrap_socket(sock, server_hostname=name).close()
        finally:
            thread.join(5)


def test_a_client_that_trusts_the_authority_trusts_this_machine(tmp_path):
    found = shop_certificates(tmp_path / "https", also=["192.168.7.20"])
    for name in ("localhost", "127.0.0.1", "192.168.7.20"):
        shake_hands(found, found.authority, name)
    with pytest.raises(ssl.SSLCertVerificationError, match="mismatch"):
        shake_hands(found, found.authority, "192.168.7.21")
    other = shop_certificates(tmp_path / "other")
    with pytest.raises(ssl.SSLCertVerificationError):
        shake_hands(found, other.authority, "127.0.0.1")


def test_the_authority_vouches_for_nothing_elsewhere(tmp_path, monkeypatch):
    found = shop_certificates(tmp_path)
    issuer = x509.load_pem_x509_certificate(found.authority.read_bytes())
    strange = certificates.ShopCertificates(
        tmp_path / "x.pem", tmp_path / "x-key.pem", found.authority, ("shop.example",), ()
    )
    certificates._make_machine(strange, issuer, tmp_path / "authority-key.pem", dt.datetime.now(dt.UTC))
    # RFC 5280, 4.2.1.10: a name outside the permitted subtrees is refused; as OpenSSL and another checker find it
    with pytest.raises(ssl.SSLCertVerificationError, match="permitted subtree"):
        shake_hands(strange, found.authority, "shop.example")
    trust = PolicyBuilder().store(Store([issuer]))
    own = x509.load_pem_x509_certificates(found.certificate.read_bytes())[0]
    trust.build_server_verifier(x509.DNSName("localhost")).verify(own, [])
    leaf = x509.load_pem_x509_certificates(strange.certificate.read_bytes())[0]
    with pytest.raises(VerificationError):
        trust.build_server_verifier(x509.DNSName("shop.example")).verify(leaf, [])


@pytest.mark.skipif(os.name != "posix", reason="rights of files as POSIX has them")
def test_keys_are_the_owners_alone(tmp_path):
    folder = tmp_path / "https"
    found = shop_certificates(folder)
    assert folder.stat().st_mode & 0o777 == 0o700
    for path in folder.glob("*-key.pem"):
        assert path.stat().st_mode & 0o777 == 0o600
    found.key.chmod(0o644)
    with pytest.raises(ScrieveError, match="can be read by others"):
        shop_certificates(folder)


def test_it_is_renewed_in_time_and_when_the_machine_has_another_address(tmp_path):
    found = shop_certificates(tmp_path, now=NOW)
    first, authority = found.certificate.read_bytes(), found.authority.read_bytes()
    own = x509.load_pem_x509_certificates(first)[0]
    # CA/Browser Forum, Baseline Requirements 6.3.2: no more than 398 days
    assert own.not_valid_after_utc - own.not_valid_before_utc <= dt.timedelta(days=398)
    assert isinstance(own.public_key(), ec.EllipticCurvePublicKey)
    soon = NOW + dt.timedelta(days=MACHINE_DAYS - RENEWED_DAYS - 2)
    assert shop_certificates(tmp_path, now=soon).certificate.read_bytes() == first
    later = shop_certificates(tmp_path, now=soon + dt.timedelta(days=2)).certificate.read_bytes()
    assert later != first
    moved = shop_certificates(tmp_path, also=["10.1.2.3"], now=soon + dt.timedelta(days=2))
    assert moved.certificate.read_bytes() != later
    assert "10.1.2.3" in {str(each) for each in moved.addresses}
    # tablets that trust the shop need not be told anew
    assert found.authority.read_bytes() == authority
    elsewhere = shop_certificates(tmp_path, also=["203.0.113.9"], now=NOW)
    assert "203.0.113.9" not in {str(each) for each in elsewhere.addresses}


def test_what_cannot_be_read_is_told(tmp_path):
    shop_certificates(tmp_path)
    (tmp_path / "authority-key.pem").write_text("none")
    (tmp_path / "authority-key.pem").chmod(0o600)
    with pytest.raises(ScrieveError, match="cannot be made or read"):
        shop_certificates(tmp_path)
