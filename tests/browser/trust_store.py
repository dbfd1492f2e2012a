"""A device's list of trusted authorities: the database that Chromium reads on Linux, made by NSS itself.

`python tests/browser/trust_store.py HOME CERTIFICATE` lets the device with that home folder trust an authority. In a
process of its own: NSS is opened once in a process.
"""

from __future__ import annotations

import ctypes
import ssl
import subprocess
import sys
from pathlib import Path


class _Trust(ctypes.Structure):
    _fields_ = [(name, ctypes.c_uint) for name in ("ssl", "email", "object_signing")]


def trust(home: Path, certificate: Path) -> None:
    """As when somebody installs a certificate by hand. Raises CalledProcessError where NSS refuses."""
    subprocess.run([sys.executable, __file__, str(home), str(certificate)], check=True, capture_output=True)


def nss_is_there() -> bool:
    try:
        ctypes.CDLL("libnss3.so"), ctypes.CDLL("libsmime3.so")
    except OSError:
        return False
    return True


def _trust_here(home: Path, pem: str) -> None:
    folder = home / ".pki" / "nssdb"
    folder.mkdir(parents=True, exist_ok=True)
    der = ssl.PEM_cert_to_DER_cert(pem)
    nss, smime = ctypes.CDLL("libnss3.so"), ctypes.CDLL("libsmime3.so")
    for function in (nss.PK11_GetInternalKeySlot, nss.CERT_GetDefaultCertDB, smime.CERT_DecodeCertFromPackage):
        function.restype = ctypes.c_void_p
    _done(nss.NSS_InitReadWrite(f"sql:{folder}".encode()))
    slot = ctypes.c_void_p(nss.PK11_GetInternalKeySlot())
    if nss.PK11_NeedUserInit(slot):
        _done(nss.PK11_InitPin(slot, None, b""))
    certificate = ctypes.c_void_p(smime.CERT_DecodeCertFromPackage(der, len(der)))
    _done(nss.PK11_ImportCert(slot, certificate, ctypes.c_ulong(0), b"the shop", 0))
    how = _Trust()
    _done(nss.CERT_DecodeTrustString(ctypes.byref(how), b"C,,"))  # vouches for servers, and for nothing else
    _done(nss.CERT_ChangeCertTrust(ctypes.c_void_p(nss.CERT_GetDefaultCertDB()), certificate, ctypes.byref(how)))
    nss.CERT_DestroyCertificate(certificate)
    nss.PK11_FreeSlot(slot)
    _done(nss.NSS_Shutdown())


def _done(status: int) -> None:
    if status != 0:
        raise SystemExit("NSS refused.")


if __name__ == "__main__":
    _trust_here(Path(sys.argv[1]), Path(sys.argv[2]).read_text())
