"""Files that carry true signatures and are still not the slip that was handed out."""

import json
from io import BytesIO
from typing import Any
from uuid import UUID

import pypdf
import pytest
from asn1crypto import keys as asn1_keys
from asn1crypto import pem, x509
from pyhanko.pdf_utils.incremental_writer import IncrementalPdfFileWriter
from pyhanko.sign.fields import SigFieldSpec
from pyhanko.sign.signers import PdfSignatureMetadata, PdfSigner, SimpleSigner
from pyhanko_certvalidator.registry import SimpleCertificateStore

from app.officials.authority import serial_text
from app.officials.keyring import open_keyring
from app.officials.signing_keys import new_sealed_key, unseal
from app.slips.making import make_slip
from tests import builders
from tests.conftest import PIN, START, Logbook

EIGHT = [["10.31"], ["10.28"], ["10.30"], ["10.33"], ["10.29"], ["10.30"], ["10.32"], ["10.31"]]


@pytest.fixture
def sheet(logbook: Logbook) -> UUID:
    sheet = builders.a_whole_season(logbook)
    builders.readings(logbook, sheet, EIGHT)
    return sheet


def another_inspector(book: Logbook, name: str = "Ivo Reed") -> dict[str, str]:
    """A certificate of this very series, and its key: what a dishonest person with the keys folder could make."""
    keyring = open_keyring(book.settings.keys_folder, "Series authority", START)
    sealed = new_sealed_key(PIN, keyring.pepper)
    return {
        "authority": keyring.authority_certificate_pem,
        "certificate": keyring.issue_certificate(name, sealed["public_pem"], START),
        "private_key": unseal(sealed, PIN, keyring.pepper),
    }


def handed_out(book: Logbook, sheet: UUID) -> tuple[bytes, dict[str, Any]]:
    slip = builders.signed(book, sheet)
    official = book.client("official")
    record = official.get(f"/api/slips/{slip['id']}/record").json()
    return official.get(f"/slips/{slip['id']}.pdf").content, record


def looked_at(book: Logbook, pdf: bytes) -> dict[str, Any]:
    answer = book.client("").post("/api/verify", content=pdf, headers={"content-type": "application/pdf"})
    assert answer.status_code == 200, answer.text
    found: dict[str, Any] = answer.json()
    page = book.client("").post("/verify", files={"file": ("slip.pdf", pdf)})
    assert ("<h1>Genuine</h1>" in page.text) == found["genuine"]
    return found


def test_the_slip_itself_is_genuine_and_said_to_be_the_very_file(logbook: Logbook, sheet: UUID) -> None:
    pdf, _ = handed_out(logbook, sheet)
    found = looked_at(logbook, pdf)
    assert found["genuine"]
    assert found["findings"][-1]["sentence"] == "Yes, byte for byte."


def test_a_second_signature_of_the_same_series_makes_another_file(logbook: Logbook, sheet: UUID) -> None:
    """PDF allows it, and the field's own picture could cover the verdict that is printed below it."""
    pdf, _ = handed_out(logbook, sheet)
    other = another_inspector(logbook)
    store = SimpleCertificateStore()  # type: ignore[no-untyped-call]
    store.register(x509.Certificate.load(pem.unarmor(other["authority"].encode())[2]))
    signer = SimpleSigner(
        signing_cert=x509.Certificate.load(pem.unarmor(other["certificate"].encode())[2]),
        signing_key=asn1_keys.PrivateKeyInfo.load(pem.unarmor(other["private_key"].encode())[2]),
        cert_registry=store,
    )
    field = SigFieldSpec("Second", on_page=0, box=(100, 500, 500, 700))
    signing = PdfSigner(PdfSignatureMetadata("Second", md_algorithm="sha256"), signer, new_field_spec=field)
    twice = signing.sign_pdf(IncrementalPdfFileWriter(BytesIO(pdf))).getvalue()
    assert twice.startswith(pdf)
    found = looked_at(logbook, twice)
    assert not found["genuine"]
    assert "2 signatures" in found["findings"][0]["sentence"]


def test_an_altered_record_signed_anew_by_an_inspector_of_the_series_was_never_handed_out(
    logbook: Logbook, sheet: UUID
) -> None:
    _, record = handed_out(logbook, sheet)
    other = another_inspector(logbook)
    record["competitor"]["name"] = "Somebody Else"
    record["inspector"] = {**record["inspector"], "name": "Ivo Reed"}
    record["inspector"]["certificate_serial"] = serial_text(other["certificate"])
    forged = make_slip(record, other["private_key"], other["certificate"], other["authority"]).pdf
    found = looked_at(logbook, forged)
    assert not found["genuine"]
    assert "never handed out this file" in found["summary"]
    assert not found["in_this_logbook"]


def test_a_record_swapped_in_a_new_revision_is_reported(logbook: Logbook, sheet: UUID) -> None:
    pdf, record = handed_out(logbook, sheet)
    writer = pypdf.PdfWriter(BytesIO(pdf), incremental=True)
    record["competitor"]["name"] = "Somebody Else"
    writer.add_attachment("record.json", json.dumps(record, sort_keys=True, separators=(",", ":")).encode())
    swapped = BytesIO()
    writer.write(swapped)
    assert swapped.getvalue().startswith(pdf)
    assert not looked_at(logbook, swapped.getvalue())["genuine"]


def test_strangers_files_never_take_the_inspectors_worker(logbook: Logbook, sheet: UUID) -> None:
    """The application as it is served has two: a hostile file may hold up the one for strangers, and no slip."""
    from app.main import create_app

    served = create_app(logbook.settings, logbook.clock)
    assert served.state.verifier is not served.state.press
    served.state.database.close()


def test_when_the_verifier_is_crowded_the_page_says_so_and_stays_usable(
    logbook: Logbook, monkeypatch: pytest.MonkeyPatch
) -> None:
    from app.slips.press import Press

    crowded = Press(workers=1, seconds=5, most_callers=1)
    assert crowded._places is not None
    crowded._places.acquire()
    monkeypatch.setattr(logbook.app.state, "verifier", crowded)
    answer = logbook.client("").post("/verify", files={"file": ("slip.pdf", b"%PDF-1.7 something")})
    assert answer.status_code == 503
    assert "could not be looked at" in answer.text
    assert "Try again in a minute" in answer.text
    crowded.close()
