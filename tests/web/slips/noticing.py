"""Slips, what puts them in doubt, and the notices about them, for tests."""

from typing import Any
from uuid import UUID

import httpx

from app.errors import Unavailable
from tests.conftest import PIN, Logbook, an_id
from tests.web.doubts import raising
from tests.web.history import rows

REASON = "Instrument 2 missed its mark at its closing verification."
REASONS = "The drift is a tenth of what each engine lies inside its limit."


def three_in_doubt(book: Logbook, look: bool = True) -> list[UUID]:
    """Cars 41 and 42 of the competitor, car 51 of the rival, all measured before the instrument missed its mark."""
    rows.a_shed(book)
    verdicts = [
        raising.measured(book, car, "10:00", whose) for car, whose in (("41", "competitor"), ("42", "competitor"))
    ]
    verdicts.append(raising.measured(book, "51", "10:30", "rival"))
    raising.go(book, "12:00")
    raising.raise_cause(book, raising.at("09:00"), reason=REASON, look=look)
    return verdicts


def slip_id(car: str) -> UUID:
    return an_id(f"slip {raising.sheet_of(car)}")


def finished(book: Logbook, car: str) -> bytes:
    """The slip's file, signed now."""
    answer = book.client("inspector").put(f"/api/slips/{slip_id(car)}/signature", json={"pin": PIN})
    assert answer.status_code == 200, answer.text
    return book.client("official").get(f"/slips/{slip_id(car)}.pdf").content


def issue(
    book: Logbook, name: str = "notice", cause: str = "cause", pin: str = PIN, who: str = "official"
) -> httpx.Response:
    return book.client(who).put(f"/api/doubts/{an_id(cause)}/notices/{an_id(name)}", json={"pin": pin})


def decide(
    book: Logbook, verdicts: list[UUID], decision: str = "upheld", act: str = "act", **more: Any
) -> httpx.Response:
    body = {
        "verdict_ids": [str(one) for one in verdicts],
        "decision": decision,
        "reasons": REASONS,
        "notice_id": str(an_id(f"notice of {act}")),
        "pin": PIN,
        **more,
    }
    return book.client("official").put(f"/api/doubts/{an_id('cause')}/decisions/{an_id(act)}", json=body)


def cut_off(*_given: object) -> None:
    raise Unavailable("The power went.")


def looked_at(book: Logbook, pdf: bytes) -> dict[str, Any]:
    answer = book.client("").post("/api/verify", content=pdf, headers={"content-type": "application/pdf"})
    assert answer.status_code == 200, answer.text
    found: dict[str, Any] = answer.json()
    return found


def a_second_official(book: Logbook) -> str:
    """Odile Ferrow, with the tests' PIN; returned is the cookie of her session."""
    person = {
        "full_name": "Odile Ferrow",
        "sign_in_name": "odile",
        "roles": ["official"],
        "password": "a fair few words",
    }
    assert book.client("administrator").put(f"/api/people/{an_id('odile')}", json=person).status_code == 200
    cookie = book.open_session(an_id("odile"))
    client = book.another_client(cookie)
    assert client.post("/api/me/pin", json={"password": "a fair few words", "pin": PIN}).status_code == 200
    client.close()
    return cookie
