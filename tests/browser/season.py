"""A race day for the browser to look at: each kind of record once, through the API."""

from datetime import timedelta
from typing import Any

from tests.builders import (
    CLASS,
    EVENT,
    INSTRUMENT,
    VOLUME,
    a_class,
    a_sheet,
    an_entry,
    an_instrument,
    put,
    readings,
    signed,
    verify,
)
from tests.conftest import Logbook, an_id
from tests.web.bench_sheets import benches
from tests.web.doubts.raising import raise_cause

INSIDE = ["10.31", "10.28", "10.30", "10.33", "10.29", "10.30", "10.32", "10.31"]
PAST = ["10.31", "10.95", "10.97", "10.96", "10.94", "10.95", "10.98", "10.96"]
LEAKING = ["10.31", "10.28", "10.30", "8.90", "10.29", "10.30", "10.32"]


def a_result(book: Logbook, car: str, competitor: str, figures: list[str]) -> str:
    sheet = a_sheet(book, an_entry(book, car, competitor=competitor))
    readings(book, sheet, [[shown] for shown in figures])
    signed(book, sheet)
    book.clock.advance(minutes=2)
    return str(sheet)


def a_season(book: Logbook) -> dict[str, str]:
    """Cars 41 inside and 42 past the limit, 43 half done with a leak, 44 ready to sign, 45 and on still waiting."""
    a_class(book)
    an_instrument(book)
    missed = verify(book, "opening", "11.24", "11.25", "11.26", name="off air", airflow="5.5")
    book.clock.advance(minutes=2)
    opening = verify(book)
    book.clock.advance(minutes=2)
    inside = a_result(book, "41", "competitor", INSIDE)
    past = a_result(book, "42", "rival", PAST)
    cause = raise_cause(book, until=book.clock() - timedelta(minutes=1))
    verify(book, "during", name="right again")
    half = a_sheet(book, an_entry(book, "43"))
    readings(book, half, [[shown] for shown in LEAKING])
    ready = a_sheet(book, an_entry(book, "44"))
    readings(book, ready, [[shown, shown] for shown in INSIDE])
    waiting = {f"waiting {car}": str(an_entry(book, car)) for car in ("45", "46", "47")}
    official = book.client("official")
    lodged_by = official.get(f"/api/inspections/{past}/protest").json()["competitors"][0]["competitor_id"]
    claim: dict[str, Any] = {"lodged_by_id": lodged_by, "grounds": "The gas was hotter than dialled.", "fee": "paid"}
    put(official, f"/inspections/{past}/protests/{an_id('protest')}", claim)
    bench = on_the_bench(book)
    in_the_ledger(book)
    return {
        **bench,
        "class": str(CLASS),
        "event": str(EVENT),
        "instrument": str(INSTRUMENT),
        "volume": str(VOLUME),
        "calibration": str(an_id("calibration of each point")),
        "entry": str(an_id("entry 41")),
        "competitor": official.get("/api/competitors").json()[0]["id"],
        "protest": str(an_id("protest")),
        "inside": inside,
        "past": past,
        "half": str(half),
        "ready": str(ready),
        "slip": str(an_id(f"slip {inside}")),
        "code": official.get(f"/api/slips/{an_id(f'slip {inside}')}").json()["code"],
        "opening": opening["id"],
        "missed": missed["id"],
        "cause": str(cause),
        **waiting,
    }


def in_the_ledger(book: Logbook) -> None:
    """A certificate with its values and its file, one withdrawn, a spare volume damaged, the instrument moved."""
    official, place = book.client("official"), f"/instruments/{INSTRUMENT}"
    points = [
        {"reference": "8.00", "deviation": "0.01", "expanded_uncertainty": "0.04"},
        {"reference": "12.00", "deviation": "-0.08", "expanded_uncertainty": "0.04"},
    ]
    head = {"laboratory": "Northmoor Calibration", "calibrated_on": "2026-01-10", "due_on": "2027-01-10"}
    whole = {**head, "coverage_factor": "2", "points": points}
    for name, number in (("calibration of each point", "NC-2026-007"), ("calibration withdrawn", "NC-2026-008")):
        put(official, f"{place}/calibrations/{an_id(name)}", {**whole, "certificate": number})
    file = f"/api{place}/calibrations/{an_id('calibration of each point')}/file?name=certificate.pdf"
    assert official.put(file, content=b"%PDF-1.7").status_code == 200
    recalled = {"reason": "The laboratory's own standard had drifted."}
    put(official, f"{place}/calibrations/{an_id('calibration withdrawn')}/withdrawal/{an_id('recalled')}", recalled)
    mark = {"mark_low": "9.40", "mark_high": "9.50", "permitted_deviation": "0.06", "serial": "RV-8"}
    spare = f"{place}/reference-volumes/{an_id('spare')}"
    put(official, spare, {**mark, "mark_displacement": "5733", "mark_cylinders": 8})
    put(official, f"{spare}/condemnation/{an_id('dent')}", {"reason": "A dent beside the weld"})
    moved = {"kind": "moved", "happened_at": "2026-05-01T08:00:00Z", "place": "Fellgate Ring", "text": "In its case"}
    put(official, f"{place}/notes/{an_id('moved')}", moved)


def on_the_bench(book: Logbook) -> dict[str, str]:
    """Car 48 by each method of the bench: still empty, filled; the first one signed too."""
    entry = benches.an_engine(book, "48", "rival")
    found = {"bench entry": str(entry)}
    for method, observed in benches.OBSERVED.items():
        found[f"empty {method}"] = str(benches.a_bench_sheet(book, entry, method))
        filled = benches.a_bench_sheet(book, entry, method, "filled")
        benches.filled(book, filled, observed())
        found[f"filled {method}"] = str(filled)
    found["signed bench"] = benches.a_signed_sheet(book, entry, name="signed")["id"]
    return found
