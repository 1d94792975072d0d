"""The three instruments, their reference volumes and calibrations, and how truly each of them reads."""

from dataclasses import dataclass
from datetime import datetime
from itertools import pairwise
from uuid import UUID

from app.demo import truth
from app.demo.calendar import Calendar, ShedDay
from app.demo.logbook import DemoLogbook, an_id
from app.demo.rule_book import event_id
from app.instruments import service as instruments
from app.instruments import verifying
from app.instruments.procedure import STEP_KEYS
from app.instruments.schemas import CalibrationIn, InstrumentIn, ReferenceVolumeIn, VerificationIn


@dataclass(frozen=True, slots=True)
class BenchPlan:
    name: str
    serial: str
    accuracy: tuple[str, str]  # figure, meaning
    airflow: tuple[str, str]  # set-point, tolerance in L/min
    settable: list[int]
    range_cm3: tuple[str, str]
    volume: str
    mark: tuple[str, str]
    permitted: str
    mark_setting: tuple[str, int]
    bias: float  # ratio, of a day on which nothing is wrong


@dataclass(frozen=True, slots=True)
class Check:
    """An instrument on its reference volume, at a minute of the day."""

    minute: float
    bench: str
    stage: str
    inspector: str
    airflow_off_by: float = 0.0


ONE, TWO, SMALL = "Bench one", "Bench two", "Small bench"
BENCHES: dict[str, BenchPlan] = {
    plan.name: plan
    for plan in (
        BenchPlan(
            ONE, "AR-2041", ("0.10", "limits"), ("4.72", "0.10"), [4, 6, 8], ("1000", "9000"),
            "RV-11", ("9.80", "9.84"), "0.05", ("5735", 8), 0.012,
        ),
        BenchPlan(
            TWO, "AR-2057", ("0.10", "limits"), ("4.72", "0.10"), [4, 6], ("800", "6600"),
            "RV-12", ("10.25", "10.25"), "0.05", ("3277.4", 6), -0.008,
        ),
        BenchPlan(
            SMALL, "AR-0318", ("0.12", "expanded_k2"), ("1.18", "0.04"), [1, 2, 4], ("40", "1600"),
            "RV-31", ("10.60", "10.60"), "0.04", ("500", 1), 0.005,
        ),
    )
}  # fmt: skip
AIR_C = {1: 21.0, 2: 18.0, 3: 18.6}  # in the shed, by event
# A connection that works loose over an afternoon: what the second bench reads too high, by minute of that event.
_LOOSENING = ((0.0, 0.0), (112.0, 0.01), (230.0, 0.15))


def instrument_id(name: str) -> UUID:
    return an_id("instrument", name)


def bias_of(bench: str, event: int, minute: float) -> float:
    bias = BENCHES[bench].bias
    if (bench, event) != (TWO, 2):
        return bias
    for (start, low), (end, high) in pairwise(_LOOSENING):
        if minute <= end:
            return bias + low + (high - low) * (minute - start) / (end - start)
    return bias + _LOOSENING[-1][1]


def register(book: DemoLogbook, calendar: Calendar, moment: datetime) -> None:
    me = book.people["official"]
    for plan in BENCHES.values():
        asked = {
            "name": plan.name,
            "serial": plan.serial,
            "method": "acoustic_resonance",
            "resolution": "0.01",
            "stated_accuracy": plan.accuracy[0],
            "accuracy_meaning": plan.accuracy[1],
            "airflow_set_point": plan.airflow[0],
            "airflow_tolerance": plan.airflow[1],
            "settable_cylinders": plan.settable,
            "displacement_min": plan.range_cm3[0],
            "displacement_max": plan.range_cm3[1],
        }
        volume = {
            "serial": plan.volume,
            "mark_low": plan.mark[0],
            "mark_high": plan.mark[1],
            "permitted_deviation": plan.permitted,
            "mark_displacement": plan.mark_setting[0],
            "mark_cylinders": plan.mark_setting[1],
        }
        own = instrument_id(plan.name)
        with book.at(moment) as session:
            instruments.add_instrument(session, me, own, InstrumentIn.model_validate(asked))
            asked_volume = ReferenceVolumeIn.model_validate(volume)
            instruments.add_reference_volume(session, me, own, an_id("volume", plan.volume), asked_volume)
    calibrate(book, calendar, moment, ONE, "HM-4471", ago=198, deviation="0.01")
    calibrate(book, calendar, moment, TWO, "HM-4472", ago=198, deviation="-0.01")
    calibrate(book, calendar, moment, SMALL, "HM-4380", ago=346, deviation="0.00")


def calibrate(
    book: DemoLogbook,
    calendar: Calendar,
    moment: datetime,
    bench: str,
    certificate: str,
    *,
    ago: int,
    deviation: str,
) -> None:
    asked = {
        "laboratory": "Hollin Moss Measurement",
        "certificate": certificate,
        "calibrated_on": calendar.day(ago),
        "due_on": calendar.day(ago - 365),
        "deviation": deviation,
        "expanded_uncertainty": "0.04",
        "coverage_factor": "2.00",
    }
    with book.at(moment) as session:
        own, calibration = instrument_id(bench), an_id("calibration", certificate)
        data = CalibrationIn.model_validate(asked)
        instruments.add_calibration(session, book.people["official"], own, calibration, data)


def verify(book: DemoLogbook, event: int, day: ShedDay, check: Check) -> None:
    """The reference volume read five times, as true as the instrument is at that minute."""
    plan = BENCHES[check.bench]
    chance = truth.numbers_of("verification", event, check.bench, check.minute)
    mark = (float(plan.mark[0]) + float(plan.mark[1])) / 2.0
    # off its set-point the flow makes the chamber sound smaller; how much matters little, for nothing is judged then
    bias = bias_of(check.bench, event, check.minute) + 0.4 * check.airflow_off_by
    shown = [truth.displayed(mark, bias, chance) for _ in range(5)]
    ambient = f"{AIR_C[event] + chance.uniform(-0.8, 0.8):.1f}"
    asked = {
        "instrument_id": instrument_id(check.bench),
        "reference_volume_id": an_id("volume", plan.volume),
        "stage": check.stage,
        "indications": shown,
        "airflow": f"{float(plan.airflow[0]) + check.airflow_off_by:.2f}",
        "ambient_temperature": ambient,
        "gas_temperature_set": ambient,
        "steps_confirmed": list(STEP_KEYS),
    }
    own = an_id("verification", event, check.bench, check.stage, check.minute)
    with book.at(day.at(check.minute)) as session:
        me, data = book.people[check.inspector], VerificationIn.model_validate(asked)
        verifying.verify_instrument(session, me, event_id(event), own, data)
