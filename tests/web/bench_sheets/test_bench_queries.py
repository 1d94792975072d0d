"""Lists of bench sheets ask the database as often for many rows as for few."""

import pytest

from tests.conftest import Logbook, an_id
from tests.web.bench_sheets import benches
from tests.web.history import rows
from tests.web.test_queries import statements

ENTRY = an_id("entry 41")


@pytest.mark.parametrize(
    ("who", "address"),
    [
        ("inspector", f"/entries/{ENTRY}/bench-sheets"),
        ("competitor", "/my-record"),
        ("official", "/records/{inspection}"),
    ],
)
def test_more_bench_sheets_take_no_more_statements(logbook: Logbook, who: str, address: str) -> None:
    rows.a_shed(logbook)
    inspection = rows.a_result(logbook, "41")
    benches.a_signed_sheet(logbook, ENTRY, name="first")
    address = address.format(inspection=inspection)
    few = statements(logbook, who, address)
    for number in range(3):
        benches.a_signed_sheet(logbook, ENTRY, name=f"further {number}")
    benches.a_bench_sheet(logbook, ENTRY, "teardown")
    assert statements(logbook, who, address) == few


def test_a_sheet_corrected_often_is_read_with_as_many_statements(logbook: Logbook) -> None:
    sheet = benches.a_bench_sheet(logbook, benches.an_engine(logbook))
    kept = benches.filled(logbook, sheet, benches.poured())["observation"]["id"]
    few = statements(logbook, "official", f"/bench-sheets/{sheet}")
    for number in range(3):
        kept = benches.filled(logbook, sheet, benches.poured(), replaces_id=kept, reason=f"Look {number}")[
            "observation"
        ]["id"]
    assert statements(logbook, "official", f"/bench-sheets/{sheet}") == few
