"""A series with one event and two classes, entered through the API."""

from typing import Any

from tests.conftest import Logbook, an_id

SERIES, EVENT, CLASS, OTHER_CLASS = an_id("series"), an_id("event"), an_id("class"), an_id("other class")


def put(logbook: Logbook, address: str, body: dict[str, Any]) -> Any:
    answer = logbook.client("official").put(address, json=body)
    assert answer.status_code == 200, answer.text
    return answer.json()


def begin(logbook: Logbook) -> Logbook:
    put(logbook, f"/api/series/{SERIES}", {"name": "Northern Sprint Cup"})
    event = {"series_id": str(SERIES), "name": "Round one", "venue": "Hill Ring"}
    put(logbook, f"/api/events/{EVENT}", {**event, "starts_on": "2026-05-02", "ends_on": "2026-05-03"})
    put(logbook, f"/api/classes/{CLASS}", {"series_id": str(SERIES), "code": "S4", "name": "Sprint Four"})
    put(logbook, f"/api/classes/{OTHER_CLASS}", {"series_id": str(SERIES), "code": "V8", "name": "Thunder Eight"})
    return logbook
