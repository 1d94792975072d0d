"""Slip records for tests, worked out by the real core from invented readings."""

import math
from collections.abc import Mapping, Sequence
from datetime import datetime
from functools import lru_cache
from typing import Any

import rfc8785

from app.metrology import CORE_VERSION
from app.metrology.assessment import (
    AcousticObservations,
    AssessmentInputs,
    Calibration,
    Conditions,
    CylinderCheck,
    CylinderReading,
    Engine,
    Instrument,
    Rule,
    Settings,
    assess,
    assessment_to_data,
    inputs_to_data,
)
from app.officials.authority import create_authority, issue_certificate, serial_text
from app.officials.signing_keys import new_sealed_key, unseal
from app.slips.opinion import opinion_on
from app.slips.record import FORMAT

# A stroke of the pen as a tablet sends it.
DRAWN = "M12 40L18 22L27 15L31 28L26 44L38 30L49 26L52 37L61 24L70 33L88 20M20 50L92 44"
# Bore, stroke (mm) and the settings that an instrument for 1 to 8 cylinders can take: common practice, no source.
ENGINES = {
    1: ("54.00", "54.50", "1"),
    2: ("79.40", "82.55", "2"),
    4: ("86.00", "86.00", "4"),
    6: ("89.60", "75.50", "6"),
    8: ("101.60", "88.39", "8"),
    12: ("82.00", "73.60", "6"),
    16: ("86.00", "86.00", "8"),
}
# How far each cylinder's indications lie from the first one's, in hundredths.
OFFSETS = (0, -2, 1, -4, 2, -1, 3, -3, 1, 0, -2, 2, -1, 1, -3, 0)


def a_record(
    cylinders: int = 8,
    indication: str = "10.30",
    *,
    kind: str = "maximum",
    limit: str = "10.50",
    tolerance: str = "0.10",
    decision_rule: str = "three_zones",
    inconclusive_action: str = "measure_again",
    applies_to: str = "every_cylinder",
    repeats: int = 2,
    not_measured: Mapping[int, str] | None = None,
    set_aside: Mapping[int, Sequence[tuple[Sequence[str], str]]] | None = None,
    acknowledgement: Mapping[str, str] | None = None,
    calibration: bool = True,
    deviation: str = "0.02",
    corrected: Sequence[Mapping[str, str]] = (),
    earlier: Mapping[str, str] | None = None,
    checks: Sequence[CylinderCheck] = (),
    lower_limit: str = "",
    designated_cylinder: int | None = None,
    tolerance_covers_uncertainty: bool = False,
    overdue_days: int = 0,
    changes: Mapping[str, Mapping[str, Any]] | None = None,
) -> dict[str, Any]:
    """A whole record; `changes` replaces members of its parts after the verdict was worked out."""
    missing, aside = dict(not_measured or {}), dict(set_aside or {})
    bore, stroke, set_cylinders = ENGINES[cylinders]
    displacement = f"{math.pi / 4 * float(bore) ** 2 * float(stroke) / 1000 * cylinders:.0f}"
    set_displacement = f"{float(displacement) * int(set_cylinders) / cylinders:.0f}"
    readings = [
        CylinderReading(
            cylinder,
            () if cylinder in missing else indications_of(cylinder, indication, repeats),
            missing.get(cylinder, ""),
        )
        for cylinder in range(1, cylinders + 1)
    ]
    observations = AcousticObservations(
        Instrument(
            "acoustic_resonance",
            0.01,
            0.10,
            "limits",
            Calibration("FM-26-118", float(deviation), 0.05, 2.0) if calibration else None,
        ),
        Settings(float(set_displacement), int(set_cylinders), 20.0),
        Conditions(24.0, 1.0, "thermometer_in_chamber"),
        tuple(readings),
        checks=tuple(checks),
    )
    inputs = AssessmentInputs(
        "acoustic_resonance",
        Engine(float(bore), float(stroke), cylinders),
        observations,
        Rule(
            kind,
            float(limit),
            float(tolerance),
            applies_to,
            decision_rule,
            0.95,
            inconclusive_action,
            lower_limit=float(lower_limit) if lower_limit else None,
            designated_cylinder=designated_cylinder,
            tolerance_covers_uncertainty=tolerance_covers_uncertainty,
        ),
    )
    record: dict[str, Any] = {
        "format": FORMAT,
        "slip": {
            "number": "SL-000012",
            "code": "7K3QF2ZD",
            "issued_at": "2026-05-02T13:52:08Z",
            "software": "shedbook 0.1.0",
            "core_version": CORE_VERSION,
            "verify_url": "https://logbook.northfell.example/verify/7K3QF2ZD",
        },
        "series": {"name": "Northfell Saloon Car Series"},
        "event": {"name": "Spring Meeting", "venue": "Greywater Park", "starts_on": "2026-05-02"},
        "inspector": {"name": "Ilse Vandermoor", "certificate_serial": identity()["serial"], "role": "inspector"},
        "competitor": {"name": "Tamsin Okonjo-Reyes", "licence": "NF-2207"},
        "entry": {"car_number": "41", "class_code": "TR-8", "class_name": "Touring, eight cylinders"},
        "engine": {
            "serial": "GW-88-0317",
            "bore_mm": bore,
            "stroke_mm": stroke,
            "cylinders": str(cylinders),
            "declared_displacement_cm3": displacement,
            "seals": ["4411", "4412"],
        },
        "rule": {
            "clause": "5.4",
            "edition": "3",
            "in_force_from": "2026-03-01",
            "text": "The static compression ratio of no cylinder shall exceed 10.50. A tolerance of 0.10 is granted.",
            "kind": kind,
            "quantity": "static compression ratio",
            "limit": limit,
            "tolerance": tolerance,
            "applies_to": applies_to,
            "decision_rule": decision_rule,
            "confidence": "0.95",
            "inconclusive_action": inconclusive_action,
            "lower_limit": lower_limit,
            "designated_cylinder": "" if designated_cylinder is None else str(designated_cylinder),
            "tolerance_covers_uncertainty": tolerance_covers_uncertainty,
            "overdue_days_allowed": "14" if overdue_days else "0",
        },
        "instrument": {
            "name": "Resonance meter, shed B",
            "serial": "RM-204",
            "method": "acoustic_resonance",
            "resolution": "0.01",
            "stated_accuracy": "0.10",
            "accuracy_meaning": "limits",
            "airflow_set_point_l_min": "4.70",
            "airflow_tolerance_l_min": "0.20",
            "calibration": {
                "laboratory": "Fellside Metrology",
                "certificate": "FM-26-118",
                "calibrated_on": "2026-01-19",
                "due_on": "2027-01-19",
                "overdue_days": str(overdue_days),
                "deviation": deviation,
                "expanded_uncertainty": "0.05",
                "coverage_factor": "2",
            }
            if calibration
            else None,
            "verification": {
                "stage": "opening",
                "at": "2026-05-02T08:10:44Z",
                "reference_volume": "RV-7",
                "mark_low": "11.95",
                "mark_high": "12.15",
                "mean": "12.04",
                "deviation": "0.00",
                "accepted": True,
                "inspector": "Pell Ashdown",
            },
        },
        "settings": {"displacement_cm3": set_displacement, "cylinders": set_cylinders, "gas_temperature_c": "20.0"},
        "conditions": {
            "gas_temperature_c": "24.0",
            "gas_temperature_standard_uncertainty_k": "1.0",
            "temperature_source": "thermometer_in_chamber",
            "airflow_l_min": "4.72",
            "ambient_temperature_c": "22.5",
            "pressure_kpa": "100.8",
            "humidity_percent": "54",
            "set_aside": list(corrected),
        },
        "earlier": None if earlier is None else dict(earlier),
        "measured_at": "2026-05-02T13:31:00Z",
        "decided_at": "2026-05-02T13:48:21Z",
        "readings": [
            {
                "cylinder": str(reading.cylinder),
                "indications": list(reading.indications),
                "taken_at": f"2026-05-02T13:{31 + reading.cylinder:02d}:05Z",
                "not_measured_reason": reading.not_measured_reason,
                "set_aside": [
                    {"indications": list(figures), "reason": reason}
                    for figures, reason in aside.get(reading.cylinder, ())
                ],
            }
            for reading in readings
        ],
        "inputs": inputs_to_data(inputs),
        "result": assessment_to_data(assess(inputs)),
        "second_opinion": opinion_on(rfc8785.dumps(inputs_to_data(inputs)).decode()),
        "acknowledgement": dict(
            acknowledgement or {"kind": "drawn", "name": "Tamsin Okonjo-Reyes", "path": DRAWN, "note": ""}
        ),
        "protest_until": "2026-05-02T15:52:08Z",
    }
    for part, members in (changes or {}).items():
        record[part] = {**record[part], **members}
    return record


def indications_of(cylinder: int, first: str, repeats: int) -> tuple[str, ...]:
    centre = float(first) + OFFSETS[cylinder - 1] / 100
    return tuple(f"{centre + step / 100:.2f}" for step in (0, 1, -1, 0, 1, 0)[:repeats])


@lru_cache(maxsize=1)
def identity() -> dict[str, str]:
    """One series authority and one inspector's key and certificate, made once for all tests of a run."""
    begun = datetime.fromisoformat("2026-02-01T09:00:00Z")
    authority, authority_key = create_authority("Northfell Saloon Car Series", begun)
    pepper = bytes(range(32))
    sealed = new_sealed_key("482913", pepper)
    certificate = issue_certificate(authority, authority_key, "Ilse Vandermoor", sealed["public_pem"], begun)
    return {
        "authority": authority,
        "authority_key": authority_key,
        "certificate": certificate,
        "private_key": unseal(sealed, "482913", pepper),
        "serial": serial_text(certificate),
    }
