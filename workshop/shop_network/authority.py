"""The shop's own authority: what tablets trust, and what vouches for the server's certificate.

Two certificates. The root is what a tablet trusts; its key signs the one below it and is thrown away at once, so nobody
can steal it. The key of the one below is kept, mode 600. Both are limited to local names and private addresses by
critical name constraints (RFC 5280, 4.2.1.10), and what is below a root is held to them by everybody: a key that was
stolen vouches for nothing outside such a network.
"""

from __future__ import annotations

import datetime as dt
import ipaddress
import secrets
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from cryptography import x509
from cryptography.hazmat.primitives import hashes, serialization
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.x509.oid import ExtendedKeyUsageOID, NameOID

from workshop.secret import write_once

FILE = "authority.pem"
# Names that mean this machine or this network and nothing on the internet: RFC 6761, RFC 6762, RFC 8375.
LOCAL_NAMES = ("localhost", "local", "home.arpa")
# RFC 1918, RFC 3927, RFC 4193, RFC 4291; and this machine.
PRIVATE_NETWORKS = tuple(
    ipaddress.ip_network(network)
    for network in (
        *("10.0.0.0/8", "172.16.0.0/12", "192.168.0.0/16", "169.254.0.0/16", "127.0.0.0/8"),
        *("fc00::/7", "fe80::/10", "::1/128"),
    )
)
LASTS = dt.timedelta(days=3653)
ENDS_SOON = dt.timedelta(days=180)
# Certificates count from a week ago, for a tablet whose clock is slow.
SLOW_CLOCK = dt.timedelta(days=7)
# No clock that is right shows an earlier day: what a machine shows whose battery is empty.
NO_EARLIER = dt.datetime(2025, 1, 1, tzinfo=dt.UTC)


class AuthorityUnusable(Exception):
    """The authority cannot vouch for anything; the message says why and what to do."""


@dataclass(frozen=True)
class Authority:
    """What tablets trust (`root`), and the key below it that signs, with its certificate (`issuer`)."""

    root: x509.Certificate
    issuer: x509.Certificate
    key: ec.EllipticCurvePrivateKey

    @property
    def ends(self) -> dt.datetime:
        return self.issuer.not_valid_after_utc

    @property
    def for_tablets(self) -> bytes:
        """The certificate a tablet trusts, PEM."""
        return self.root.public_bytes(serialization.Encoding.PEM)

    @property
    def fingerprint(self) -> str:
        """SHA-256 of the root, as devices show it."""
        return self.root.fingerprint(hashes.SHA256()).hex(":").upper()


def load_or_make_authority(folder: Path, *, now: dt.datetime) -> Authority:
    """The authority of the shop, made on the first call and kept in `folder`, mode 600. Raises AuthorityUnusable."""
    place = folder / FILE
    if not place.exists():
        if now < NO_EARLIER:
            raise AuthorityUnusable(clock_is_wrong(now))
        write_once(place, _to_pem(make_authority(now)))
    place.chmod(0o600)
    authority = _from_pem(place)
    if now < authority.root.not_valid_before_utc:
        raise AuthorityUnusable(clock_is_wrong(now))
    if now >= authority.ends:
        raise AuthorityUnusable(
            f"The shop’s authority ended on {authority.ends:%-d %B %Y}, and no tablet takes it any more; or the clock "
            f"of this machine is wrong: it says {now:%-d %B %Y}. Where the clock is right, move {place} away and start "
            "again: a new one is made, and every tablet has to trust that one."
        )
    return authority


def clock_is_wrong(now: dt.datetime) -> str:
    return (
        f"The clock of this machine says {now:%-d %B %Y}, which cannot be: certificates made now would be refused by "
        "every tablet. Set the clock, then start again."
    )


def make_authority(now: dt.datetime) -> Authority:
    """A new authority. The key of its root is gone when this returns."""
    mark = secrets.token_hex(2).upper()  # tells two shops apart in a tablet's list
    top, below = ec.generate_private_key(ec.SECP256R1()), ec.generate_private_key(ec.SECP256R1())
    name = _named(f"Suspension Workshop {mark}")
    root = _builder(name, name, top, top.public_key(), now, LASTS)
    root = _limited(root, path_length=1)
    issuer = _builder(_named(f"Suspension Workshop {mark}, server"), name, top, below.public_key(), now, LASTS)
    issuer = _limited(issuer, path_length=0).add_extension(
        x509.ExtendedKeyUsage([ExtendedKeyUsageOID.SERVER_AUTH]), critical=False
    )
    return Authority(root.sign(top, hashes.SHA256()), issuer.sign(top, hashes.SHA256()), below)


def issue_certificate(
    authority: Authority, hosts: Sequence[str], *, now: dt.datetime, lasts: dt.timedelta
) -> tuple[x509.Certificate, ec.EllipticCurvePrivateKey]:
    """A certificate for these names and addresses, and its key. It ends no later than the authority."""
    key = ec.generate_private_key(ec.SECP256R1())
    lasts = min(lasts, authority.ends - now)
    # OpenSSL holds a common name that looks like a host to the constraints as one, also where it is a number.
    name = _named("The server of this shop")
    certificate = (
        _builder(name, authority.issuer.subject, authority.key, key.public_key(), now, lasts)
        .add_extension(x509.BasicConstraints(ca=False, path_length=None), critical=True)
        .add_extension(_key_usage(signs_certificates=False), critical=True)
        .add_extension(x509.ExtendedKeyUsage([ExtendedKeyUsageOID.SERVER_AUTH]), critical=False)
        .add_extension(x509.SubjectAlternativeName([_general_name(host) for host in hosts]), critical=False)
        .sign(authority.key, hashes.SHA256())
    )
    return certificate, key


def pem_of_key(key: ec.EllipticCurvePrivateKey) -> bytes:
    return key.private_bytes(
        serialization.Encoding.PEM, serialization.PrivateFormat.PKCS8, serialization.NoEncryption()
    )


def is_local(host: str) -> bool:
    """Whether a name or address is one that the authority may vouch for."""
    try:
        address = ipaddress.ip_address(host.strip("[]"))
    except ValueError:
        return any(host == name or host.endswith(f".{name}") for name in LOCAL_NAMES)
    return any(address in network for network in PRIVATE_NETWORKS)


def _to_pem(authority: Authority) -> bytes:
    return pem_of_key(authority.key) + b"".join(
        certificate.public_bytes(serialization.Encoding.PEM) for certificate in (authority.issuer, authority.root)
    )


def _from_pem(place: Path) -> Authority:
    try:
        content = place.read_bytes()
        key = serialization.load_pem_private_key(content, password=None)
        issuer, root = x509.load_pem_x509_certificates(content)
    except (ValueError, TypeError) as error:
        raise _damaged(place) from error
    if not isinstance(key, ec.EllipticCurvePrivateKey) or key.public_key() != issuer.public_key():
        raise _damaged(place)
    return Authority(root, issuer, key)


def _damaged(place: Path) -> AuthorityUnusable:
    return AuthorityUnusable(
        f"The shop’s authority cannot be read ({place}). Bring that file back from a backup; or move it away and start "
        "again: a new one is made, and every tablet has to trust that one."
    )


def _builder(
    subject: x509.Name,
    issuer: x509.Name,
    signing: ec.EllipticCurvePrivateKey,
    public: ec.EllipticCurvePublicKey,
    now: dt.datetime,
    lasts: dt.timedelta,
) -> x509.CertificateBuilder:
    return (
        x509.CertificateBuilder()
        .subject_name(subject)
        .issuer_name(issuer)
        .public_key(public)
        .serial_number(x509.random_serial_number())
        .not_valid_before(now - SLOW_CLOCK)
        .not_valid_after(now + lasts)
        .add_extension(x509.SubjectKeyIdentifier.from_public_key(public), critical=False)
        .add_extension(x509.AuthorityKeyIdentifier.from_issuer_public_key(signing.public_key()), critical=False)
    )


def _limited(builder: x509.CertificateBuilder, *, path_length: int) -> x509.CertificateBuilder:
    permitted = [*map(x509.DNSName, LOCAL_NAMES), *map(x509.IPAddress, PRIVATE_NETWORKS)]
    return (
        builder.add_extension(x509.BasicConstraints(ca=True, path_length=path_length), critical=True)
        .add_extension(_key_usage(signs_certificates=True), critical=True)
        .add_extension(x509.NameConstraints(permitted, excluded_subtrees=None), critical=True)
    )


def _key_usage(*, signs_certificates: bool) -> x509.KeyUsage:
    return x509.KeyUsage(
        digital_signature=not signs_certificates,
        key_cert_sign=signs_certificates,
        crl_sign=signs_certificates,
        content_commitment=False,
        key_encipherment=False,
        data_encipherment=False,
        key_agreement=False,
        encipher_only=False,
        decipher_only=False,
    )


def _named(common_name: str) -> x509.Name:
    return x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, common_name)])


def _general_name(host: str) -> x509.GeneralName:
    try:
        return x509.IPAddress(ipaddress.ip_address(host))
    except ValueError:
        return x509.DNSName(host)
