"""Whether it is the right printer that one speaks to by TLS."""

from __future__ import annotations

import hashlib
import ssl

from filmhand.printer.ipp.ipp_words import CertificateWord
from filmhand.printer.trouble import UnknownCertificate


def tls_context(*, pinned: bool) -> ssl.SSLContext:
    """What a connection is made with.

    A pinned certificate is held against its own hash, so neither its authority, its name nor its
    dates count; else the authorities that this computer trusts must vouch for it.
    """
    context = ssl.create_default_context()
    if pinned:
        context.check_hostname = False
        context.verify_mode = ssl.CERT_NONE
    return context


def fingerprint_of(connection: ssl.SSLSocket) -> str:
    """SHA-256 of the certificate that the other side showed, in lower-case hexadecimal digits."""
    shown = connection.getpeercert(binary_form=True) or b""
    return hashlib.sha256(shown).hexdigest()


def check_certificate(connection: ssl.SSLSocket, expected: str, host: str) -> None:
    """UnknownCertificate if the other side showed another certificate than was written down."""
    found = fingerprint_of(connection)
    if found != expected:
        raise UnknownCertificate(CertificateWord.ANOTHER.say(host=host, sha256=found), found)
