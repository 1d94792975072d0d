"""The signature, as programs that are not ours see it."""

import subprocess
import sys
from datetime import UTC, datetime, timedelta
from io import BytesIO
from pathlib import Path

import pypdf
import pytest

from app.slips.document import render_slip
from app.slips.making import make_slip
from app.slips.record import canonical_bytes
from app.slips.signing import sign_slip
from tests.unit.slips import nss_trust
from tests.unit.slips.records import a_record, identity

SIGNED_AT = datetime(2026, 5, 2, 13, 52, 8, tzinfo=UTC)


def signed(pdf: bytes, signed_at: datetime = SIGNED_AT) -> bytes:
    keys = identity()
    return sign_slip(
        pdf, keys["private_key"], keys["certificate"], keys["authority"],
        name="Ilse Vandermoor", reason="Slip released", signed_at=signed_at,
    )  # fmt: skip


@pytest.fixture(scope="module")
def rendered() -> bytes:
    return render_slip(a_record(8))


@pytest.fixture(scope="module")
def trust(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """An NSS database that knows the series' authority and nothing else."""
    folder = tmp_path_factory.mktemp("nss")
    authority = folder / "authority.pem"
    authority.write_text(identity()["authority"])
    subprocess.run([sys.executable, nss_trust.__file__, folder, authority], check=True, capture_output=True)
    return folder


def pdfsig(path: Path, trust: Path) -> str:
    return subprocess.run(
        ["pdfsig", "-nssdir", trust, path],
        check=False,
        capture_output=True,
        text=True,
        env={"TZ": "UTC", "PATH": "/usr/bin:/bin"},
    ).stdout


def test_an_independent_program_says_valid_whole_and_trusted(rendered: bytes, trust: Path, tmp_path: Path) -> None:
    path = tmp_path / "slip.pdf"
    path.write_bytes(signed(rendered))
    told = pdfsig(path, trust)
    for words in (
        "Signer Certificate Common Name: Ilse Vandermoor",
        "Signing Time: May 02 2026 13:52:08",
        "Signing Hash Algorithm: SHA-256",
        "Signature Type: ETSI.CAdES.detached",
        "Total document signed",
        "Signature is Valid.",
        "Certificate is Trusted.",
    ):
        assert words in told, told


def test_the_same_program_does_not_trust_another_series(rendered: bytes, tmp_path: Path) -> None:
    path, empty = tmp_path / "slip.pdf", tmp_path / "nss"
    empty.mkdir()
    stranger = tmp_path / "stranger.pem"
    from app.officials.authority import create_authority

    stranger.write_text(create_authority("Another Series", SIGNED_AT)[0])
    subprocess.run([sys.executable, nss_trust.__file__, empty, stranger], check=True, capture_output=True)
    path.write_bytes(signed(rendered))
    told = pdfsig(path, empty)
    assert "Signature is Valid." in told
    assert "Certificate is Trusted." not in told


def test_the_same_program_sees_a_changed_byte(rendered: bytes, trust: Path, tmp_path: Path) -> None:
    path = tmp_path / "slip.pdf"
    damaged = bytearray(signed(rendered))
    place = damaged.index(b"SL-000012") if b"SL-000012" in damaged else 4000
    damaged[place] ^= 1
    path.write_bytes(damaged)
    assert "Signature is Valid." not in pdfsig(path, trust)


def test_signing_adds_to_the_rendered_file_and_changes_none_of_it(rendered: bytes) -> None:
    assert signed(rendered).startswith(rendered)


def test_the_record_comes_out_of_the_signed_file_as_it_went_in(rendered: bytes) -> None:
    reader = pypdf.PdfReader(BytesIO(signed(rendered)), strict=True)
    assert reader.attachments["record.json"] == [canonical_bytes(a_record(8))]


def test_the_signature_certifies_and_leaves_room_only_for_further_signatures(rendered: bytes) -> None:
    # ISO 32000-1, 12.8.2.2: DocMDP with P = 2 allows filling forms and signing.
    reader = pypdf.PdfReader(BytesIO(signed(rendered)), strict=True)
    root = reader.trailer["/Root"]
    signature = root["/Perms"]["/DocMDP"]
    assert signature["/SubFilter"] == "/ETSI.CAdES.detached"
    assert signature["/Reference"][0]["/TransformParams"]["/P"] == 2
    assert signature["/Name"] == "Ilse Vandermoor"
    assert signature["/M"] == "D:20260502135208Z" or signature["/M"].startswith("D:20260502135208+00")
    field = root["/AcroForm"]["/Fields"][0]
    assert field["/T"] == "Inspector"
    assert "Ilse Vandermoor" in field["/TU"]
    assert [float(edge) for edge in field["/Rect"]] == [0, 0, 0, 0]


def test_the_time_of_signing_is_the_one_given_not_the_clocks(rendered: bytes) -> None:
    later = SIGNED_AT + timedelta(days=40)
    reader = pypdf.PdfReader(BytesIO(signed(rendered, later)), strict=True)
    assert reader.trailer["/Root"]["/Perms"]["/DocMDP"]["/M"].startswith("D:20260611")


def test_a_slip_that_fails_its_own_check_is_not_released() -> None:
    from app.errors import Unavailable
    from app.officials.authority import create_authority

    keys = identity()
    stranger, _ = create_authority("Another Series", SIGNED_AT)
    with pytest.raises(Unavailable, match="failed its own check"):
        make_slip(a_record(1), keys["private_key"], keys["certificate"], stranger)
