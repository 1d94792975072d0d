"""A series with one event and two classes, entered through the API."""

from tests.builders import put
from tests.conftest import Logbook, an_id

SERIES, EVENT, CLASS, OTHER_CLASS = an_id("series"), an_id("event"), an_id("class"), an_id("other class")


def begin(logbook: Logbook) -> Logbook:
    official = logbook.client("official")
    put(official, f"/series/{SERIES}", {"name": "Northern Sprint Cup"})
    event = {"series_id": str(SERIES), "name": "Round one", "venue": "Hill Ring"}
    put(official, f"/events/{EVENT}", {**event, "starts_on": "2026-05-02", "ends_on": "2026-05-03"})
    put(official, f"/classes/{CLASS}", {"series_id": str(SERIES), "code": "S4", "name": "Sprint Four"})
    put(official, f"/classes/{OTHER_CLASS}", {"series_id": str(SERIES), "code": "V8", "name": "Thunder Eight"})
    return logbook
