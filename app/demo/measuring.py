"""A visit to the shed on its work sheet: opened, read, signed. Every act is the one a screen would call."""

from collections.abc import Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from datetime import datetime, timedelta
from uuid import UUID

from app.demo import truth
from app.demo.bench import AIR_C, BENCHES, bias_of, instrument_id
from app.demo.calendar import ShedDay
from app.demo.field import CARS, TEAMS, entry_id, true_ratio
from app.demo.logbook import DemoLogbook, an_id
from app.demo.programme import Acknowledgement, Visit
from app.demo.signature import drawn_path
from app.demo.truth import EngineOnStand
from app.entries import service as entries
from app.entries.models import Engine
from app.inspections import service as inspections
from app.inspections.readings import enter_readings
from app.inspections.schemas import AcknowledgementIn, InspectionIn, ReadingWithId
from app.instruments import service as instruments
from app.slips import service as slips

_FIRST_READING, _LAST_READING, _SIGNED = 3.0, 17.0, 21.0  # minutes into a slot
_AWAY = "not_present"


@dataclass(frozen=True, slots=True)
class OpenSheet:
    id: UUID
    event: int
    visit: Visit
    minute: float
    stand: EngineOnStand
    dialled_cm3: float  # displacement over cylinder count

    @property
    def cylinders(self) -> int:
        return len(self.stand.ratios)

    def figures(self, cylinder: int) -> list[str]:
        """The display, reading after reading, of this bench at this minute."""
        visit = self.visit
        chance = truth.numbers_of("reading", self.event, visit.car, visit.is_again, cylinder)
        ideal = truth.ideal_indication(self.stand, cylinder, self.dialled_cm3, _dialled_c(visit))
        bias = bias_of(visit.bench, self.event, self.minute)
        return [truth.displayed(ideal, bias, chance) for _ in range(visit.repeats)]

    def figures_through(self, shift: float, cylinder: int) -> list[str]:
        return [f"{float(shown) + shift:.2f}" for shown in self.figures(cylinder)]


def sheet_id(event: int, car: str, *, again: bool = False) -> UUID:
    return an_id("sheet", event, car, "again" if again else "first")


def run_slot(book: DemoLogbook, event: int, day: ShedDay, minute: float, visits: Sequence[Visit]) -> None:
    """Side by side: all sheets opened, all read, all signed; their slips are made at the same time."""
    sheets = [_open(book, event, visit, minute, day.at(minute, 40 * place)) for place, visit in enumerate(visits)]
    for place, sheet in enumerate(sheets):
        _read(book, sheet, day, minute + 0.4 * place)
    for sheet in sheets:
        _mend(book, sheet, day)
    done = [sheet for sheet in sheets if not sheet.visit.left_open_after]
    for place, sheet in enumerate(done):
        _number(book, sheet, day.at(minute + _SIGNED, 25 * place))
    _press(book, done, day.at(minute + _SIGNED, 25 * len(done) + 10))


# ---- opening -----------------------------------------------------------------------------------------------------


def _open(book: DemoLogbook, event: int, visit: Visit, minute: float, moment: datetime) -> OpenSheet:
    with book.at(moment) as session:
        engine = entries.entry_of(session, entry_id(event, visit.car)).engine
        instrument = instruments.instrument_of(session, instrument_id(visit.bench))
        best = instruments.settings_for(instrument, engine.cylinders, engine.declared_displacement_cm3)[0]
        dialled = f"{best.displacement_cm3:.1f}"
        sheet = OpenSheet(
            id=sheet_id(event, visit.car, again=visit.is_again),
            event=event,
            visit=visit,
            minute=minute,
            stand=_on_stand(engine, event, visit),
            dialled_cm3=float(dialled) / best.cylinders,
        )
        chance = truth.numbers_of("conditions", event, visit.car, visit.is_again)
        flow = float(BENCHES[visit.bench].airflow[0]) + chance.choice((-0.01, 0.0, 0.0, 0.01))
        asked = {
            "entry_id": entry_id(event, visit.car),
            "instrument_id": instrument.id,
            "conditions_id": an_id("conditions", sheet.id),
            "cautions_confirmed": True,
            "set_displacement": f"{dialled} cm³",
            "set_cylinders": best.cylinders,
            "set_gas_temperature": f"{_dialled_c(visit):.1f} °C",
            "gas_temperature": f"{visit.gas_c:.1f} °C",
            "temperature_source": visit.source,
            "airflow": f"{flow:.2f} L/min",
            "ambient_temperature": f"{_air_c(event, visit):.1f} °C",
            "pressure": f"{100.6 + 0.4 * event:.1f} kPa",
            "humidity": str(48 + 4 * event),
            "repeats_id": sheet_id(event, visit.car) if visit.is_again else None,
            "repeat_reason": visit.measured_again_because,
        }
        me = book.people[visit.inspector]
        inspections.open_inspection(session, me, sheet.id, InspectionIn.model_validate(asked))
    return sheet


def _on_stand(engine: Engine, event: int, visit: Visit) -> EngineOnStand:
    chance = truth.numbers_of("gas", event, visit.car, visit.is_again)
    found = visit.true_gas_c if visit.true_gas_c is not None else truth.true_gas_temperature(visit.gas_c, chance)
    return EngineOnStand(
        bore_mm=float(engine.bore_mm),
        stroke_mm=float(engine.stroke_mm),
        ratios=truth.true_ratios(engine.serial, true_ratio(event, CARS[visit.car]), engine.cylinders),
        gas_temperature_c=found,
        leaks=visit.leaks,
    )


def _dialled_c(visit: Visit) -> float:
    return visit.gas_c if visit.dialled_c is None else visit.dialled_c


def _air_c(event: int, visit: Visit) -> float:
    """Engines that stood all morning have the air's temperature; one that came in warm has not."""
    return visit.gas_c if visit.source == "ambient_on_stand" else min(visit.gas_c, AIR_C[event] + 1.5) - 0.3


# ---- reading -----------------------------------------------------------------------------------------------------


def _read(book: DemoLogbook, sheet: OpenSheet, day: ShedDay, minute: float) -> None:
    """Cylinder by cylinder, entered together when the last one is read."""
    numbers = range(1, (sheet.visit.left_open_after or sheet.cylinders) + 1)
    pace = (_LAST_READING - _FIRST_READING) / sheet.cylinders
    taken = {number: day.at(minute + _FIRST_READING + pace * number) for number in numbers}
    readings = [_reading(sheet, number, taken[number]) for number in numbers]
    with book.at(taken[numbers[-1]] + timedelta(seconds=2)) as session:
        enter_readings(session, book.people[sheet.visit.inspector], sheet.id, readings)


def _reading(sheet: OpenSheet, cylinder: int, taken_at: datetime) -> ReadingWithId:
    visit = sheet.visit
    shown = sheet.figures(cylinder)
    if visit.kink is not None and visit.kink.cylinder == cylinder:
        shown = sheet.figures_through(visit.kink.shift, cylinder)
    if cylinder in visit.not_measured:
        shown = []
    asked = {
        "id": an_id("reading", sheet.id, cylinder),
        "cylinder": cylinder,
        "indications": shown,
        "not_measured_reason": visit.not_measured.get(cylinder, ""),
        "taken_at": taken_at,
    }
    return ReadingWithId.model_validate(asked)


def _mend(book: DemoLogbook, sheet: OpenSheet, day: ShedDay) -> None:
    """A reading that went wrong is read again; the first one stays, with the reason."""
    kink = sheet.visit.kink
    if kink is None:
        return
    taken_at = day.at(sheet.minute + _LAST_READING + 2.0)
    asked = {
        "id": an_id("reading", sheet.id, kink.cylinder, "again"),
        "cylinder": kink.cylinder,
        "indications": sheet.figures(kink.cylinder),
        "taken_at": taken_at,
        "replaces_id": an_id("reading", sheet.id, kink.cylinder),
        "reason": kink.reason,
    }
    with book.at(taken_at + timedelta(seconds=15)) as session:
        me = book.people[sheet.visit.inspector]
        enter_readings(session, me, sheet.id, [ReadingWithId.model_validate(asked)])


# ---- signing -----------------------------------------------------------------------------------------------------


def slip_id(sheet: UUID) -> UUID:
    return an_id("slip", sheet)


def _number(book: DemoLogbook, sheet: OpenSheet, moment: datetime) -> None:
    me, key = book.people[sheet.visit.inspector], book.keys[sheet.visit.inspector]
    seen = _acknowledged(sheet.visit.acknowledgement, TEAMS[CARS[sheet.visit.car].licence].contact)
    with book.at(moment) as session:
        slips.sign_off(session, me, sheet.id, slip_id(sheet.id), seen, key.id, book.public_url)


def _acknowledged(how: Acknowledgement, contact: str) -> AcknowledgementIn:
    return AcknowledgementIn.model_validate(
        {
            "acknowledgement_kind": how.kind,
            "acknowledgement_name": "" if how.kind == _AWAY else contact,
            "acknowledgement_path": drawn_path() if how.kind == "drawn" else "",
            "acknowledgement_note": how.note,
        }
    )


def _press(book: DemoLogbook, sheets: Sequence[OpenSheet], moment: datetime) -> None:
    """Rendered and signed side by side, kept one after the other."""
    if not sheets:
        return
    with book.database.read() as session:
        records = [slips.record_of(slips.slip_of(session, slip_id(sheet.id))) for sheet in sheets]
    keys = [book.keys[sheet.visit.inspector] for sheet in sheets]
    with ThreadPoolExecutor(len(sheets)) as pool:
        made = pool.map(
            lambda record, key: book.press.press_slip(
                record, key.private_pem, key.certificate_pem, book.keyring.authority_certificate_pem
            ),
            records,
            keys,
        )
        for sheet, file in zip(sheets, list(made), strict=True):
            with book.at(moment) as session:
                slips.keep_file(session, book.people[sheet.visit.inspector].full_name, slip_id(sheet.id), file)
