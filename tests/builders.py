"""What a test needs before its own first line: plain functions with defaults, all through the API."""

from typing import Any
from uuid import UUID

import httpx

from app.instruments.procedure import STEP_KEYS
from tests.conftest import Logbook, an_id

SERIES, EVENT, CLASS = an_id("series"), an_id("event"), an_id("class")
INSTRUMENT, VOLUME = an_id("instrument"), an_id("volume")
RULE = {
    "clause": "5.4",
    "text": "No cylinder may exceed a static compression ratio of 10.50.",
    "kind": "maximum",
    "limit": "10.50",
    "tolerance": "0.10",
    "applies_to": "every_cylinder",
    "decision_rule": "three_zones",
    "confidence": "0.95",
    "inconclusive_action": "measure_again",
}
# what a verification confirms, at an ambient temperature of 21 °C
PROCEDURE: dict[str, Any] = {"gas_temperature_set": "21.0", "steps_confirmed": list(STEP_KEYS)}


def put(client: httpx.Client, address: str, body: dict[str, Any]) -> dict[str, Any]:
    answer = client.put(f"/api{address}", json=body)
    assert answer.status_code == 200, answer.text
    found: dict[str, Any] = answer.json()
    return found


def a_class(book: Logbook, class_id: UUID = CLASS, code: str = "TR-8", **rule: str) -> UUID:
    """Series, event, and a class with its first edition in force."""
    official = book.client("official")
    put(official, f"/series/{SERIES}", {"name": "Fellgate Trophy"})
    event = {"series_id": str(SERIES), "name": "Round one", "venue": "Fellgate Ring"}
    put(official, f"/events/{EVENT}", {**event, "starts_on": "2026-05-02", "ends_on": "2026-05-03"})
    put(official, f"/classes/{class_id}", {"series_id": str(SERIES), "code": code, "name": f"Class {code}"})
    edition = {"in_force_from": "2026-03-01", "protest_minutes": 30, "rule": {**RULE, **rule}}
    put(official, f"/classes/{class_id}/editions/{an_id(f'edition {code}')}", edition)
    return class_id


def an_entry(
    book: Logbook,
    car: str = "41",
    cylinders: int = 8,
    competitor: str = "competitor",
    class_id: UUID = CLASS,
    **engine: str,
) -> UUID:
    """An entry whose competitor has the account of that name."""
    entry_id = an_id(f"entry {car}")
    geometry = {"bore": "101.60", "stroke": "88.39", "declared_displacement": str(round(716.6 * cylinders)), **engine}
    official = book.client("official")
    view = put(
        official,
        f"/events/{EVENT}/entries/{entry_id}",
        {
            "car_number": car,
            "class_id": str(class_id),
            "competitor": {"licence": f"L-{competitor}", "name": f"{competitor.capitalize()} Racing"},
            "engine": {"serial": f"E-{car}", "cylinders": cylinders, "seals": ["4411", "4412"], **geometry},
        },
    )
    account = {"person_id": str(an_id(competitor))}
    put(official, f"/competitors/{view['competitor']['id']}/account", account)
    return entry_id


def an_instrument(book: Logbook) -> UUID:
    official = book.client("official")
    put(
        official,
        f"/instruments/{INSTRUMENT}",
        {
            "name": "Instrument 2",
            "serial": "AR-0002",
            "method": "acoustic_resonance",
            "resolution": "0.01",
            "stated_accuracy": "0.10",
            "accuracy_meaning": "limits",
            "airflow_set_point": "4.72",
            "airflow_tolerance": "0.10",
            "settable_cylinders": [4, 6, 8],
            "displacement_min": "1000",
            "displacement_max": "9000",
        },
    )
    put(
        official,
        f"/instruments/{INSTRUMENT}/reference-volumes/{VOLUME}",
        {
            "serial": "RV-7",
            "mark_low": "11.20",
            "mark_high": "11.30",
            "permitted_deviation": "0.05",
            "mark_displacement": "5733",
            "mark_cylinders": 8,
        },
    )
    a_calibration(book)
    return INSTRUMENT


def a_calibration(book: Logbook, instrument_id: UUID = INSTRUMENT, name: str = "", **changed: str) -> UUID:
    calibration_id = an_id(f"calibration{name}")
    body = {
        "laboratory": "Northmoor Calibration",
        "certificate": f"NC-2026-118{name}",
        "calibrated_on": "2026-02-10",
        "due_on": "2027-02-10",
        "deviation": "0.01",
        "expanded_uncertainty": "0.04",
        "coverage_factor": "2",
        **changed,
    }
    put(book.client("official"), f"/instruments/{instrument_id}/calibrations/{calibration_id}", body)
    return calibration_id


def verify(
    book: Logbook, stage: str = "opening", *indications: str, name: str = "", event_id: UUID = EVENT, **more: str
) -> dict[str, Any]:
    return put(
        book.client("inspector"),
        f"/events/{event_id}/verifications/{an_id(f'verification {stage} {name}')}",
        {
            "instrument_id": str(INSTRUMENT),
            "reference_volume_id": str(VOLUME),
            "stage": stage,
            "indications": list(indications or ("11.24", "11.25", "11.26")),
            "airflow": "4.72",
            "ambient_temperature": "21.0",
            **PROCEDURE,
            **more,
        },
    )


def conditions(**changed: str) -> dict[str, Any]:
    return {
        "set_displacement": "5733",
        "set_cylinders": 8,
        "set_gas_temperature": "24.0",
        "gas_temperature": "24.0",
        "temperature_source": "thermometer_in_chamber",
        "airflow": "4.72",
        **changed,
    }


def a_sheet(book: Logbook, entry_id: UUID, name: str = "sheet", **changed: Any) -> UUID:
    inspection_id = an_id(f"{name} {entry_id}")
    body = {
        "entry_id": str(entry_id),
        "instrument_id": str(INSTRUMENT),
        "conditions_id": str(an_id(f"conditions {inspection_id}")),
        "cautions_confirmed": True,
        **conditions(),
        **changed,
    }
    put(book.client("inspector"), f"/inspections/{inspection_id}", body)
    return inspection_id


def readings(book: Logbook, inspection_id: UUID, figures: list[list[str]]) -> dict[str, Any]:
    """Cylinder by cylinder from the first; an empty list is a cylinder that was not measured."""
    rows = [
        {
            "id": str(an_id(f"reading {inspection_id} {number}")),
            "cylinder": number,
            "indications": shown,
            "not_measured_reason": "" if shown else "Plug seized",
        }
        for number, shown in enumerate(figures, 1)
    ]
    return put(book.client("inspector"), f"/inspections/{inspection_id}/readings", {"readings": rows})


def signed(book: Logbook, inspection_id: UUID, pin: str = "270945", **changed: str) -> dict[str, Any]:
    body = {"pin": pin, "acknowledgement_kind": "typed", "acknowledgement_name": "Cleo Fenn", **changed}
    return put(
        book.client("inspector"), f"/inspections/{inspection_id}/sign-off/{an_id(f'slip {inspection_id}')}", body
    )


def a_whole_season(book: Logbook) -> UUID:
    """Everything up to an open sheet for one eight-cylinder engine."""
    a_class(book)
    an_instrument(book)
    verify(book)
    return a_sheet(book, an_entry(book))
