"""The control chart of an instrument on its reference volume: drawn, said in words, and begun anew after a repair."""

import re
from datetime import date, timedelta

import pytest

from app.instruments.models import InstrumentNote
from tests.builders import INSTRUMENT, VOLUME, a_class, an_instrument, put, verify
from tests.conftest import START, Logbook, an_id

CALM = (11.25, 11.26, 11.24, 11.25, 11.27, 11.25, 11.24, 11.26, 11.25, 11.24)


def checks(logbook: Logbook, means: tuple[float, ...], every_days: float = 7.0, first: int = 0) -> None:
    """Opening verifications, one every so many days, each mean shown by three indications around it."""
    for place, mean in enumerate(means, first):
        logbook.clock.moment = START + timedelta(days=every_days * place)
        logbook.clients.clear()  # those sessions ended on the way
        verify(logbook, "opening", f"{mean - 0.01:.2f}", f"{mean:.2f}", f"{mean + 0.01:.2f}", name=str(place))


def charts(logbook: Logbook) -> list[dict[str, object]]:
    answer = logbook.client("inspector").get(f"/api/instruments/{INSTRUMENT}/charts")
    assert answer.status_code == 200
    found: list[dict[str, object]] = answer.json()
    return found


def page(logbook: Logbook, more: str = "") -> str:
    return logbook.client("inspector").get(f"/instruments/{INSTRUMENT}{more}").text


def test_an_instrument_never_verified_has_no_chart(logbook: Logbook) -> None:
    a_class(logbook)
    an_instrument(logbook)
    assert charts(logbook) == []
    assert "Never verified yet." in page(logbook, "/history")


def test_with_few_checks_only_the_edges_judge(logbook: Logbook) -> None:
    a_class(logbook)
    an_instrument(logbook)
    checks(logbook, CALM[:3])
    (chart,) = charts(logbook)
    assert (chart["baseline"], chart["centre"], chart["upper"]) == (0, None, None)
    said = "3 checks on this reference volume so far. Limits need 8, so none are drawn yet"
    assert said in page(logbook)
    assert said in page(logbook, "/history")


def test_a_calm_instrument_has_limits_and_no_signal(logbook: Logbook) -> None:
    a_class(logbook)
    an_instrument(logbook)
    checks(logbook, CALM)
    (chart,) = charts(logbook)
    assert (chart["baseline"], chart["provisional"], chart["drifts"]) == (10, True, False)
    # mean moving range of these ten: 13 steps of 0.01 over 9 differences; sigma is that over d2 = 1.128
    sigma = 0.13 / 9 / 1.1283792
    assert float(str(chart["centre"])) == pytest.approx(sum(CALM) / 10, abs=1e-5)
    assert float(str(chart["upper"])) == pytest.approx(sum(CALM) / 10 + 3 * sigma, abs=2e-5)
    assert all(point["signals"] == [] for point in chart["points"])  # type: ignore[attr-defined]
    drawn = page(logbook)
    assert "No signal: the checks vary as chance makes them vary." in drawn
    assert drawn.count('<svg class="plot plot--wide"') == 1
    assert drawn.count('<svg class="plot plot--narrow"') == 1


def test_a_drift_signals_and_its_day_is_foretold(logbook: Logbook) -> None:
    """0.0021 of a ratio a week upwards; the upper edge is 11.35."""
    a_class(logbook)
    an_instrument(logbook)
    wobble = (0.0, 0.01, -0.01, 0.0, 0.01, 0.0, -0.01, 0.01)
    means = tuple(round(11.25 + 0.0045 * place + wobble[place % 8], 2) for place in range(18))
    checks(logbook, means)
    (chart,) = charts(logbook)
    assert chart["drifts"] is True
    points = chart["points"]
    assert isinstance(points, list)
    assert any(point["signals"] for point in points[8:])
    # 0.10 at 0.0045 a check, one a week
    expected = (START + timedelta(days=7 * 0.10 / 0.0045)).date()
    found = date.fromisoformat(str(chart["reaches_edge_on"]))
    assert abs((found - expected).days) < 40
    assert date.fromisoformat(str(chart["not_before"])) < found < date.fromisoformat(str(chart["not_after"]))
    drawn = page(logbook)
    assert "This instrument, or this reference volume, drifts by +0.0" in drawn
    assert "the line through the checks reaches the edge 11.35 on " in drawn
    assert "l12 12l-12 12l-12 -12z" in drawn  # a diamond
    for place in ("", "/history"):
        drawn = page(logbook, place)
        assert "<h3>This instrument, or this reference volume, drifts</h3>" in drawn
        assert "before the next shed day. The instrument may be used while it meets its mark." in drawn
        assert "What its chart shows may be the volume’s own change." not in drawn
    verify(logbook, "closing", "11.90", "11.90", "11.90")
    for place in ("", "/history"):
        drawn = page(logbook, place)
        assert "Look for the cause before the next shed day.</p>" in drawn
        assert "while it meets its mark" not in drawn


def test_the_chart_of_a_damaged_reference_volume_says_that_it_is_out_of_use(logbook: Logbook) -> None:
    a_class(logbook)
    an_instrument(logbook)
    checks(logbook, tuple(11.20 + 0.01 * place for place in range(9)))
    address = f"/instruments/{INSTRUMENT}/reference-volumes/{VOLUME}/condemnation/{an_id('damage')}"
    put(logbook.client("inspector"), address, {"reason": "A dent beside the weld"})
    for place in ("", "/history"):
        drawn = page(logbook, place)
        assert "control chart, limits provisional, out of use</figcaption>" in drawn
        assert "<b>Out of use:</b> this reference volume was found damaged, <time" in drawn
        assert "This instrument, or this reference volume, drifts" in drawn
        assert "Look for the cause before the next shed day" not in drawn


def test_what_was_off_the_airflow_is_left_out(logbook: Logbook) -> None:
    a_class(logbook)
    an_instrument(logbook)
    checks(logbook, CALM[:2])
    verify(logbook, "opening", "11.90", "11.90", "11.90", name="off", airflow="5.10")
    (chart,) = charts(logbook)
    points = chart["points"]
    assert isinstance(points, list)
    assert (len(points), chart["refused"]) == (2, 1)
    assert "Left out: 1 made off the airflow set-point." in page(logbook)


def test_a_repair_begins_a_new_chart_and_a_move_does_not(logbook: Logbook) -> None:
    a_class(logbook)
    an_instrument(logbook)
    checks(logbook, CALM[:4])
    with logbook.database.write() as session:
        for kind, affects in (("repair", True), ("moved", False)):
            session.add(
                InstrumentNote(
                    id=an_id(kind),
                    instrument_id=INSTRUMENT,
                    kind=kind,
                    happened_at=START + timedelta(days=10),
                    text="New microphone",
                    place="",
                    affects_indication=affects,
                    noted_by_id=an_id("official"),
                    noted_at=logbook.clock.moment,
                    digest="",
                )
            )
    (chart,) = charts(logbook)
    points = chart["points"]
    assert isinstance(points, list)
    assert [float(point["mean"]) for point in points] == [11.24, 11.25]
    assert chart["earlier"] == 2
    assert "The chart begins anew: repaired on 12 May 2026: New microphone. 2 earlier checks are in the table." in page(
        logbook
    )


def test_the_printed_history_holds_every_verification_and_certificate(logbook: Logbook) -> None:
    a_class(logbook)
    an_instrument(logbook)
    checks(logbook, CALM)
    verify(logbook, "during", "11.90", "11.90", "11.90", airflow="5.10")
    whole = page(logbook, "/history")
    assert whole.count('data-label="Airflow">4.72') == len(CALM)
    assert whole.count('data-label="Airflow">5.1') == 1
    assert whole.count('data-label="Eₙ">not judged<') == 1
    figures = re.findall(r'data-label="Eₙ">−?0\.\d\d<', whole)
    assert len(figures) == len(CALM)
    assert whole.count("Opening, Round one") == len(CALM)
    assert "Its checks, its certificates and what became of it, made to be printed." in whole
    assert "NC-2026-118" in whole
    assert "Northmoor Calibration" in whole
