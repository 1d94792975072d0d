"""What the tests of an instrument's standing ask and do, through the API."""

from typing import Any
from uuid import UUID

from app.instruments import ledger
from app.instruments.standing import hindrance_of
from tests import builders
from tests.builders import CLASS, EVENT, INSTRUMENT, RULE, VOLUME, put
from tests.conftest import Logbook, an_id


def state(book: Logbook) -> dict[str, Any]:
    found: dict[str, Any] = book.client("inspector").get(f"/api/events/{EVENT}/instruments").json()["instruments"][0]
    return found


def refused(book: Logbook, stage: str = "opening", name: str = "refused") -> str:
    """What the operation says to a verification of this stage that would read right."""
    body = {
        "instrument_id": str(INSTRUMENT),
        "reference_volume_id": str(VOLUME),
        "stage": stage,
        "indications": ["11.24", "11.25", "11.26"],
        "airflow": "4.72",
        "ambient_temperature": "21.0",
        **builders.PROCEDURE,
    }
    answer = book.client("inspector").put(f"/api/events/{EVENT}/verifications/{an_id(name)}", json=body)
    assert answer.status_code == 403, answer.text
    said: str = answer.json()["detail"]
    return said


def hindrance(book: Logbook) -> str | None:
    with book.database.read() as session:
        found = hindrance_of(session, ledger.instrument_of(session, INSTRUMENT), book.clock().date())
    return None if found is None else found.kind


def note(book: Logbook, kind: str, happened_at: str, affects: bool = True, name: str = "") -> None:
    body = {"kind": kind, "happened_at": happened_at, "text": "The hose fitting is loose", "place": ""}
    address = f"/instruments/{INSTRUMENT}/notes/{an_id(f'note {kind} {name}')}"
    put(book.client("inspector"), address, {**body, "affects_indication": affects})


def an_edition(book: Logbook, days: int, class_id: UUID = CLASS, name: str = "next", on: str = "2026-04-01") -> None:
    body = {"in_force_from": on, "protest_minutes": 30, "overdue_days_allowed": days, "rule": RULE}
    put(book.client("official"), f"/classes/{class_id}/editions/{an_id(name)}", body)


def withdraw(book: Logbook, calibration_id: UUID) -> None:
    address = (
        f"/instruments/{INSTRUMENT}/calibrations/{calibration_id}/withdrawal/{an_id(f'withdrawal {calibration_id}')}"
    )
    put(book.client("official"), address, {"reason": "The laboratory's standard was wrong."})
