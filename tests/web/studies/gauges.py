"""What the tests of studies share: a planned study, its readings, and figures that can be worked out by hand."""

from collections.abc import Iterable
from typing import Any
from uuid import UUID

from tests.builders import INSTRUMENT, VOLUME, a_class, an_instrument, put
from tests.conftest import Logbook, an_id

STUDY, FLOW = an_id("gauge study"), an_id("flow study")
PARTS = ["Chamber A", "Chamber B", "Engine 4410, cylinder 3"]
WHO = ("inspector", "second_inspector", "third_inspector")
# by part, then by reading: inspectors add 0.00, 0.03 and 0.09 to it
SHOWN = (("9.80", "9.82"), ("10.40", "10.41"), ("11.02", "11.00"))
ADDED = {"inspector": 0.0, "second_inspector": 0.03, "third_inspector": 0.09}


def a_third_inspector(book: Logbook) -> None:
    body = {
        "full_name": "Isa Holm",
        "sign_in_name": "third_inspector",
        "roles": ["inspector"],
        "password": "a fair few words",
    }
    put(book.client("administrator"), f"/people/{an_id('third_inspector')}", body)


def plan_body(**changed: Any) -> dict[str, Any]:
    return {
        "instrument_id": str(INSTRUMENT),
        "title": "Spring study",
        "parts": PARTS,
        "inspector_ids": [str(an_id(who)) for who in WHO],
        "repeats": 2,
        **changed,
    }


def ready(book: Logbook) -> None:
    a_class(book)
    an_instrument(book)
    a_third_inspector(book)


def a_study(book: Logbook, study_id: UUID = STUDY, **changed: Any) -> dict[str, Any]:
    return put(book.client("official"), f"/gauge-studies/{study_id}", plan_body(**changed))


def shown(who: str, part: int, repeat: int) -> str:
    return f"{float(SHOWN[part - 1][repeat - 1]) + ADDED[who]:.2f}"


def read(
    book: Logbook, who: str, part: int, repeat: int, study_id: UUID = STUDY, name: str = "", **changed: Any
) -> dict[str, Any]:
    reading_id = an_id(f"reading {study_id} {who} {part} {repeat} {name}")
    body = {"part": part, "repeat": repeat, "indication": shown(who, part, repeat), **changed}
    return put(book.client(who), f"/gauge-studies/{study_id}/readings/{reading_id}", body)


def read_all(book: Logbook, whom: Iterable[str] = WHO, study_id: UUID = STUDY) -> dict[str, Any]:
    """Everything at once, inspector by inspector."""
    view: dict[str, Any] = {}
    for who in whom:
        rows = [
            {
                "id": str(an_id(f"reading {study_id} {who} {part} {repeat} ")),
                "part": part,
                "repeat": repeat,
                "indication": shown(who, part, repeat),
            }
            for part in (1, 2, 3)
            for repeat in (1, 2)
        ]
        view = put(book.client(who), f"/gauge-studies/{study_id}/readings", {"readings": rows})
    return view


def a_complete_study(book: Logbook, **changed: Any) -> dict[str, Any]:
    ready(book)
    a_study(book, **changed)
    return read_all(book)


def adopt(
    book: Logbook, kind: str = "gauge", study_id: UUID | None = STUDY, name: str = "adoption", **more: str
) -> dict[str, Any]:
    """A moment later than whatever came before: the latest counts."""
    book.clock.advance(minutes=1)
    body: dict[str, Any] = {"kind": kind, "reason": "All of us measure at the finals.", **more}
    if study_id is not None:
        body["study_id"] = str(study_id)
    return put(book.client("official"), f"/instruments/{INSTRUMENT}/adoptions/{an_id(name)}", body)


FLOWS = (("4.42", "11.19 11.21"), ("4.62", "11.22 11.24"), ("4.82", "11.26 11.28"), ("5.02", "11.29 11.31"))


def flow_body(**changed: Any) -> dict[str, Any]:
    points = [{"airflow": airflow, "indications": text.split()} for airflow, text in FLOWS]
    body = {"instrument_id": str(INSTRUMENT), "reference_volume_id": str(VOLUME), "points": points, "set_back": True}
    return {**body, **changed}


def a_flow_study(book: Logbook, study_id: UUID = FLOW, **changed: Any) -> dict[str, Any]:
    return put(book.client("inspector"), f"/flow-studies/{study_id}", flow_body(**changed))
