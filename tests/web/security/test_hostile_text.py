"""Text built to break something: refused in a sentence on both databases, and never a failure of the logbook."""

import json
import logging
from collections.abc import Iterator
from typing import Any
from uuid import uuid4

import pytest

from app.errors import Invalid
from app.officials.schemas import SignIn
from app.parsing import parse
from tests import builders
from tests.conftest import PASSWORD, Logbook, an_id

HALF_A_CHARACTER = "\ud800"  # lawful in JSON as \ud800, and in no UTF-8
REFUSED = [
    HALF_A_CHARACTER,
    "a\0b",  # PostgreSQL keeps no zero
    "\x1b[31mred",  # moves the cursor of whoever reads a log in a terminal
    "left \u202ethgir",  # turns the rest of the line round: Unicode UAX #9, 2.2 (from memory)
    "\u2067isolated",
    "\ufffe",
]
TAKEN = [
    "مرسم الريح",
    "חטיבה",
    "龍虎",
    "Zoë Ångström",
    "😀 Racing",
    "👩‍🔧",
    "<b>&amp;</b>",
    "{{ 7*7 }}",
    "'; DROP TABLE x --",
]


def bodies(event: str) -> Iterator[tuple[str, str, dict[str, Any]]]:
    """Who sends it, where to (a fresh id is added), and a body that is taken as it stands."""
    engine = {"serial": "E-9", "cylinders": 4, "bore": "86.0", "stroke": "86.0", "declared_displacement": "1998"}
    yield "official", "/series/", {"name": "Another trophy"}
    yield "official", "/competitors/", {"licence": "L-900", "name": "Fern Racing"}
    yield "official", "/engines/", {**engine, "seals": ["1", "2"]}
    yield (
        "official",
        f"/events/{event}/entries/",
        {
            "car_number": "900",
            "class_id": str(builders.CLASS),
            "competitor": {"licence": "L-901", "name": "Fern"},
            "engine": {**engine, "serial": "E-10", "seals": ["1"]},
        },
    )
    edition = {"in_force_from": "2026-06-01", "protest_minutes": 30, "note": "New.", "rule": builders.RULE}
    yield "official", f"/classes/{builders.CLASS}/editions/", edition
    person = {"full_name": "New Person", "sign_in_name": "newcomer", "roles": ["competitor"], "password": PASSWORD}
    yield "administrator", "/people/", person


def places(body: dict[str, Any], above: tuple[str, ...] = ()) -> Iterator[tuple[str, ...]]:
    for name, value in body.items():
        if isinstance(value, dict):
            yield from places(value, (*above, name))
        else:
            yield *above, name


def changed(body: dict[str, Any], place: tuple[str, ...], value: Any) -> dict[str, Any]:
    first, *rest = place
    return {**body, first: changed(body[first], tuple(rest), value) if rest else value}


@pytest.mark.parametrize("hostile", REFUSED, ids=ascii)
def test_what_cannot_be_written_is_refused_in_every_field_and_in_every_name(logbook: Logbook, hostile: str) -> None:
    builders.a_class(logbook)
    for who, address, body in bodies(str(builders.EVENT)):
        broken = [changed(body, place, hostile) for place in places(body)]
        broken += [changed(body, place, [hostile]) for place in places(body)]
        broken += [{**body, hostile: "x"}]
        for sent in broken:
            answer = logbook.client(who).put(
                f"/api{address}{uuid4()}",
                content=json.dumps(sent),
                headers={"content-type": "application/json"},
            )
            assert answer.status_code == 422, f"{address} {sent!r}: {answer.status_code} {answer.text}"
            assert all(answer.json()["errors"].values())


@pytest.mark.parametrize("name", TAKEN)
def test_names_in_any_script_are_kept_letter_for_letter_and_shown_as_text(logbook: Logbook, name: str) -> None:
    builders.a_class(logbook)
    kept = builders.put(logbook.client("official"), f"/competitors/{uuid4()}", {"licence": "L-900", "name": name})
    assert kept["name"] == name
    page = logbook.client("official").get(f"/competitors/{kept['id']}").text
    assert "<b>&amp;</b>" not in page
    if name.isalpha():
        assert name in page


@pytest.mark.parametrize(
    "body",
    [
        b"[" * 200_000,
        b'{"a":' * 200_000,
        b'{"sign_in_name": ' + b"9" * 5000 + b"}",
        b'"\\ud800"',
        b'{"\\ud800": 1}',
        b"\xff\xfe\x00",
        b"NaN",
        b"null",
        b"",
    ],
    ids=lambda body: ascii(body[:20]),
)
def test_a_message_that_is_no_form_gets_a_sentence(logbook: Logbook, body: bytes) -> None:
    headers = {"content-type": "application/json"}
    answer = logbook.client("").post("/api/session", content=body, headers=headers)
    assert answer.status_code in (400, 422)
    assert answer.json()["detail"].endswith((".", "!"))


@pytest.mark.parametrize("codec", ["raw_unicode_escape", "punycode", "undefined", "utf-16", "utf-7"])
def test_a_form_in_another_codec_than_a_browsers_is_refused(logbook: Logbook, codec: str) -> None:
    form = b'--x\r\nContent-Disposition: form-data; name="code"\r\n\r\na\\ud800b-\r\n--x--\r\n'
    headers = {"content-type": f"multipart/form-data; boundary=x; charset={codec}"}
    answer = logbook.client("").post("/verify", content=form, headers=headers)
    assert answer.status_code == 415
    assert "UTF-8" in answer.text


@pytest.mark.parametrize("moment", ["0001-01-01T00:00:00+23:59", "9999-12-31T23:59:59-23:59", "1990-01-01T00:00:00Z"])
def test_a_reading_cannot_have_been_taken_before_its_sheet_or_after_now(logbook: Logbook, moment: str) -> None:
    sheet = builders.a_whole_season(logbook)
    reading = {"cylinder": 1, "indications": ["10.30"], "taken_at": moment}
    answer = logbook.client("inspector").put(f"/api/inspections/{sheet}/readings/{an_id('r')}", json=reading)
    assert answer.status_code == 422
    assert "taken_at" in answer.json()["errors"]


def test_a_failure_in_the_log_never_carries_what_was_typed(caplog: pytest.LogCaptureFixture) -> None:
    secret = "-".join(("correct", "horse"))  # in parts: a trace shows the line that raised
    with pytest.raises(Invalid) as refused:
        parse(SignIn, {"sign_in_name": "ada", "password": {"pin": secret}})
    with caplog.at_level(logging.ERROR):
        logging.getLogger("shedbook").error("failed", exc_info=refused.value)
    assert "failed" in caplog.text
    assert secret not in caplog.text
