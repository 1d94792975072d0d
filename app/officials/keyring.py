"""The secrets that lie beside the database, never in it: the series authority and the PIN pepper."""

import os
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from app.officials import authority, signing_keys


@dataclass(frozen=True, slots=True)
class Keyring:
    authority_certificate_pem: str
    authority_key_pem: str
    pepper: bytes

    def issue_certificate(self, person_name: str, public_key_pem: str, moment: datetime) -> str:
        return authority.issue_certificate(
            self.authority_certificate_pem, self.authority_key_pem, person_name, public_key_pem, moment
        )


def open_keyring(folder: Path, series_name: str, moment: datetime) -> Keyring:
    """Made on first use, readable by the owner only, and never replaced: old slips hang on this authority."""
    folder.mkdir(parents=True, exist_ok=True, mode=0o700)
    certificate, key, pepper = folder / "series-authority.pem", folder / "series-authority.key", folder / "pin-pepper"
    if not certificate.exists():
        made_certificate, made_key = authority.create_authority(series_name, moment)
        _write_private(key, made_key.encode())
        _write_private(certificate, made_certificate.encode())
    return Keyring(certificate.read_text(), key.read_text(), signing_keys.read_or_create_pepper(pepper))


def _write_private(path: Path, content: bytes) -> None:
    """Whole or not at all: written beside, flushed, then put in place."""
    beside = path.with_suffix(".part")
    descriptor = os.open(beside, os.O_WRONLY | os.O_CREAT | os.O_TRUNC, 0o600)
    with os.fdopen(descriptor, "wb") as file:
        file.write(content)
        file.flush()
        os.fsync(file.fileno())
    beside.replace(path)
