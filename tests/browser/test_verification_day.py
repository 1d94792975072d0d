"""A day of one instrument on a tablet, by touch: opened, verified again, closed; and what follows when it is not so."""

import shutil
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

import pytest
from playwright.sync_api import Browser, BrowserContext, Page, expect

from app.slips.press import Press
from tests.browser.conftest import Site, served
from tests.browser.looking import listed, looked_over
from tests.builders import a_class, a_sheet, an_entry, an_instrument, readings, signed
from tests.conftest import Clock, Logbook, a_logbook, an_id

pytestmark = pytest.mark.browser

ON_THE_MARK = ("11.24", "11.25", "11.26")
OFF_THE_MARK = ("11.44", "11.45", "11.44")
STEPS = ("step_room_temperature", "step_settings_dialled", "step_hose_straight", "step_airflow_left_alone")


@dataclass
class Day:
    """The shed, served while its clock is moved, and its logbook to fill it from."""

    site: Site
    clock: Clock
    book: Logbook


@pytest.fixture
def day(
    tmp_path: Path, prepared: tuple[Path, Callable[[str], None]], filled_sqlite: Path, press: Press
) -> Iterator[Day]:
    shutil.copy(filled_sqlite, tmp_path / "shedbook.db")
    with a_logbook(f"sqlite:///{tmp_path / 'shedbook.db'}", tmp_path, prepared[0] / "keys", press) as book:
        a_class(book)
        an_instrument(book)
        with served(tmp_path, press, book.clock) as site:
            site.cookies = {who: book.open_session(an_id(who)) for who in ("inspector", "official")}
            yield Day(site, book.clock, book)


@pytest.fixture
def touched(browser: Browser, day: Day) -> Iterator[Callable[[str], Page]]:
    """A tablet in landscape without a mouse; what the page's console says fails the test."""
    contexts: list[BrowserContext] = []
    said: list[str] = []

    def taken_up(who: str) -> Page:
        context = browser.new_context(
            base_url=day.site.address, viewport={"width": 1024, "height": 768}, has_touch=True, is_mobile=True
        )
        contexts.append(context)
        context.add_cookies([{"name": "shedbook", "value": day.site.cookies[who], "url": day.site.address}])
        page = context.new_page()
        page.set_default_timeout(20_000)
        page.on("console", lambda message: said.append(message.text) if message.type == "error" else None)
        page.on("pageerror", lambda error: said.append(str(error)))
        return page

    yield taken_up
    for context in contexts:
        context.close()
    assert [text for text in said if "status of 4" not in text] == []


def begin(shed: Page, button: str) -> None:
    shed.goto("/shed")
    shed.get_by_role("link", name=button).tap()


def fill(shed: Page, shown: tuple[str, ...], airflow: str = "4.72") -> None:
    for step in STEPS:
        box = shed.locator(f"input[name={step}]")
        if not box.is_checked():
            box.tap()
    shed.get_by_label("Ambient temperature").fill("21.0")
    shed.get_by_label("Gas temperature set").fill("21.2")
    shed.get_by_label("Airflow as the flowmeter shows it").fill(airflow)
    for number, digits in enumerate(shown, 1):
        shed.locator(f"input[name=indication_{number}]").fill(digits)


def judge(shed: Page) -> None:
    shed.get_by_role("button", name="Judge this verification").tap()


def heading(shed: Page, words: str) -> None:
    expect(shed.get_by_role("heading", level=1)).to_have_text(words)


def test_a_good_day_is_opened_verified_again_and_closed(day: Day, touched: Callable[[str], Page]) -> None:
    shed = touched("inspector")
    begin(shed, "Open it")
    heading(shed, "Instrument 2 on its reference volume")
    fill(shed, ON_THE_MARK)
    shed.locator("input[name=step_hose_straight]").tap()  # taken back
    shed.get_by_label("Gas temperature set").fill("24")
    judge(shed)
    expect(shed.get_by_role("alert")).to_contain_text("2 answers need another look")
    expect(shed.locator("#f-step_hose_straight-error")).to_contain_text("Lay the hose without kink or bend")
    expect(shed.locator("#f-gas_temperature_set-error")).to_contain_text("Set it to ambient, within 0.5 °C")
    expect(shed.get_by_label("Indication 3", exact=True)).to_have_value("11.26")
    expect(shed.locator("input[name=step_room_temperature]")).to_be_checked()
    found = looked_over(shed)
    assert found == [], listed(found)
    shed.set_viewport_size({"width": 1024, "height": 768})

    fill(shed, ON_THE_MARK)
    judge(shed)
    heading(shed, "Instrument 2 is open")
    expect(shed.locator("main")).to_contain_text("E_n = 0.00: mark and instrument agree within what both claim.")
    expect(shed.get_by_role("link", name="To the waiting list")).to_be_visible()

    day.clock.advance(hours=3)
    begin(shed, "Verify again during the day")
    shed.get_by_text("Further indications, up to 12 in all").tap()
    fill(shed, (*ON_THE_MARK, "11.27", "11.25"))
    judge(shed)
    heading(shed, "Instrument 2 stays open")

    day.clock.advance(hours=3)
    begin(shed, "Close it")
    fill(shed, ON_THE_MARK)
    judge(shed)
    heading(shed, "Instrument 2 is closed in order")
    shed.get_by_role("link", name="To the shed").tap()
    expect(shed.locator("main")).to_contain_text("Closed in order")


def test_a_closing_that_misses_its_mark_closes_the_instrument_until_it_is_calibrated(
    day: Day, touched: Callable[[str], Page]
) -> None:
    shed = touched("inspector")
    begin(shed, "Open it")
    fill(shed, ON_THE_MARK)
    judge(shed)
    heading(shed, "Instrument 2 is open")
    sheet = a_sheet(day.book, an_entry(day.book))
    readings(day.book, sheet, [["10.31"]] * 8)
    signed(day.book, sheet)

    day.clock.advance(hours=3)
    begin(shed, "Close it")
    fill(shed, OFF_THE_MARK)
    judge(shed)
    heading(shed, "Instrument 2 missed its mark at closing")
    outcome = shed.locator("main")
    expect(outcome).to_contain_text("What was measured with it since its last good verification is in doubt")
    expect(outcome).to_contain_text("it is closed until an official has it calibrated, on that day or later")
    expect(outcome).to_contain_text("Results in doubt")
    expect(shed.get_by_role("link", name="Verify again")).to_have_count(0)
    found = looked_over(shed)
    assert found == [], listed(found)
    shed.set_viewport_size({"width": 1024, "height": 768})

    shed.get_by_role("link", name="To the shed").tap()
    expect(shed.locator("main")).to_contain_text("Closed until it is calibrated: it missed its mark")
    expect(shed.locator("main")).to_contain_text("An official has this one calibrated and records it here.")
    expect(shed.get_by_role("link", name="Open it")).to_have_count(0)
    found = looked_over(shed)
    assert found == [], listed(found)

    day.clock.advance(minutes=30)
    desk = touched("official")
    address = f"/instruments/{an_id('instrument')}"
    desk.goto(f"{address}/calibrations/new")
    desk.get_by_label("Laboratory").fill("Northmoor Calibration")
    desk.get_by_label("Certificate number").fill("NC-2026-402")
    desk.get_by_label("Calibrated on").fill(on(day.clock()))
    desk.get_by_label("Due again on").fill("2027-05-02")
    desk.locator("input[name=deviation]").fill("0.00")
    desk.locator("input[name=expanded_uncertainty]").fill("0.04")
    desk.get_by_role("button", name="Record this calibration").tap()
    expect(desk.locator("main")).to_contain_text("NC-2026-402")

    begin(shed, "Open it")
    fill(shed, ON_THE_MARK)
    judge(shed)
    heading(shed, "Instrument 2 is open")


def on(moment: datetime) -> str:
    return moment.date().isoformat()


def test_off_the_airflow_the_check_is_refused_in_words_and_kept(day: Day, touched: Callable[[str], Page]) -> None:
    shed = touched("inspector")
    begin(shed, "Open it")
    fill(shed, ON_THE_MARK, airflow="4.90")  # it reads right, and that is just the point
    judge(shed)
    heading(shed, "Instrument 2 stays closed: the airflow was off its set-point")
    expect(shed.locator("main")).to_contain_text("The airflow was 4.9 L/min (10.38 SCFH); the set-point is 4.72 L/min")
    expect(shed.locator("main")).to_contain_text("The airflow may never be trimmed to make the check read right.")
    expect(shed.locator("main")).to_contain_text("not judged: the airflow was off its set-point")
    day.clock.advance(minutes=5)
    shed.get_by_role("link", name="Verify again").tap()
    fill(shed, ON_THE_MARK)
    judge(shed)
    heading(shed, "Instrument 2 is open")
    shed.goto(f"/instruments/{an_id('instrument')}")
    expect(shed.locator("main")).to_contain_text("Refused: airflow")
