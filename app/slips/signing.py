"""PAdES B-B by the P-256 key of whoever signs. Only slip workers and the command line import this: it is heavy."""

from datetime import datetime
from io import BytesIO

from asn1crypto import keys, pem, x509
from pyhanko.pdf_utils.incremental_writer import IncrementalPdfFileWriter
from pyhanko.pdf_utils.writer import BasePdfFileWriter
from pyhanko.sign.fields import InvisSigSettings, MDPPerm, SigFieldSpec, SigSeedSubFilter
from pyhanko.sign.signers import PdfSignatureMetadata, PdfSigner, SimpleSigner
from pyhanko.sign.signers.pdf_signer import PdfSigningSession
from pyhanko_certvalidator.registry import SimpleCertificateStore


class _DatedSigner(PdfSigner):
    """Signs as of a given moment, so that the time in the signature is the one in the logbook."""

    signed_at: datetime

    def init_signing_session(self, pdf_out: BasePdfFileWriter, existing_fields_only: bool = False) -> PdfSigningSession:
        session = super().init_signing_session(pdf_out, existing_fields_only=existing_fields_only)
        session.system_time = self.signed_at
        return session


def sign_slip(
    pdf: bytes,
    private_key_pem: str,
    certificate_pem: str,
    authority_pem: str,
    *,
    name: str,
    reason: str,
    signed_at: datetime,
    role: str = "inspector",
) -> bytes:
    """Certifies the file: afterwards only further signatures may be added. The seal that is seen is in the layout."""
    authorities = SimpleCertificateStore()  # type: ignore[no-untyped-call]
    authorities.register(_certificate(authority_pem))
    signer = SimpleSigner(
        signing_cert=_certificate(certificate_pem),
        signing_key=keys.PrivateKeyInfo.load(_der(private_key_pem)),
        cert_registry=authorities,
    )
    field_name = role.capitalize()
    metadata = PdfSignatureMetadata(
        field_name=field_name,
        name=name,
        reason=reason,
        md_algorithm="sha256",
        subfilter=SigSeedSubFilter.PADES,
        certify=True,
        docmdp_permissions=MDPPerm.FILL_FORMS,
    )
    # A visible field would need a font embedded whole or break PDF/A; the seal is laid out on the page instead.
    field = SigFieldSpec(
        field_name, invis_sig_settings=InvisSigSettings(), readable_field_name=f"Signature of the {role}, {name}"
    )
    dated = _DatedSigner(metadata, signer, new_field_spec=field)
    dated.signed_at = signed_at
    signed: BytesIO = dated.sign_pdf(IncrementalPdfFileWriter(BytesIO(pdf)))
    return signed.getvalue()


def _certificate(text: str) -> x509.Certificate:
    return x509.Certificate.load(_der(text))


def _der(text: str) -> bytes:
    _, _, der = pem.unarmor(text.encode())
    return bytes(der)
