"""Makes an NSS database that trusts one certificate authority, as `pdfsig -nssdir` reads it.

Run as a program (`python nss_trust.py DIRECTORY AUTHORITY.pem`), because NSS keeps its state for a whole process.
libnss3 comes with pdfsig itself, so nothing has to be installed.
"""

import ctypes
import sys
from pathlib import Path

from cryptography import x509
from cryptography.hazmat.primitives.serialization import Encoding

# CERTDB_VALID_CA | CERTDB_TRUSTED_CA | CERTDB_TRUSTED_CLIENT_CA, as nss/certdb.h has them.
TRUSTED_AUTHORITY = (1 << 3) | (1 << 4) | (1 << 7)


class Trust(ctypes.Structure):
    _fields_ = (("ssl", ctypes.c_uint), ("email", ctypes.c_uint), ("objects", ctypes.c_uint))


def make(directory: Path, authority_pem: str) -> None:
    nss, smime = ctypes.CDLL("libnss3.so"), ctypes.CDLL("libsmime3.so")
    for found in (nss.PK11_GetInternalKeySlot, nss.CERT_GetDefaultCertDB, smime.CERT_DecodeCertFromPackage):
        found.restype = ctypes.c_void_p
    der = x509.load_pem_x509_certificate(authority_pem.encode()).public_bytes(Encoding.DER)
    done(nss.NSS_InitReadWrite(f"sql:{directory}".encode()))
    slot = ctypes.c_void_p(nss.PK11_GetInternalKeySlot())
    done(nss.PK11_InitPin(slot, None, b""))
    certificate = ctypes.c_void_p(smime.CERT_DecodeCertFromPackage(der, len(der)))
    done(nss.PK11_ImportCert(slot, certificate, ctypes.c_ulong(0), b"series authority", 0))
    trust = Trust(TRUSTED_AUTHORITY, TRUSTED_AUTHORITY, TRUSTED_AUTHORITY)
    done(nss.CERT_ChangeCertTrust(ctypes.c_void_p(nss.CERT_GetDefaultCertDB()), certificate, ctypes.byref(trust)))
    nss.CERT_DestroyCertificate(certificate)
    nss.PK11_FreeSlot(slot)
    done(nss.NSS_Shutdown())


def done(answer: int) -> None:
    if answer != 0:
        raise RuntimeError("NSS refused")


if __name__ == "__main__":
    make(Path(sys.argv[1]), Path(sys.argv[2]).read_text())
