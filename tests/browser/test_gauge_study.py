"""A gauge study on two tablets: planned, read blind with a finger, adopted; and the budget of a sheet that shows it."""

import os
import re
import shutil
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser, BrowserContext, Page, expect

from app.slips.press import Press
from tests.browser.conftest import Site, served
from tests.browser.looking import SIZES, listed, looked_over
from tests.builders import INSTRUMENT, a_whole_season, readings
from tests.conftest import PEOPLE, a_logbook, an_id
from tests.web.studies.gauges import FLOW, a_flow_study, a_third_inspector
from tests.web.studies.test_inspectors import a_history

pytestmark = pytest.mark.browser

PARTS = {"Chamber A": 9.80, "Chamber B": 10.40, "Engine 4410, cylinder 3": 11.02}
ADDED = {"inspector": 0.00, "second_inspector": 0.04}
SCATTER = {1: 0.00, 2: 0.01}
OFF = (-0.4, -0.2, 0.0, 0.2, 0.4)
PEAKS = ["10.31", "10.28", "10.30", "10.33", "10.29", "10.30", "10.32", "10.31"]


@pytest.fixture
def shed(
    tmp_path: Path, prepared: tuple[Path, Callable[[str], None]], filled_sqlite: Path, press: Press
) -> Iterator[Site]:
    """An instrument that is open, and one engine measured with it and not signed yet."""
    shutil.copy(filled_sqlite, tmp_path / "shedbook.db")
    with a_logbook(f"sqlite:///{tmp_path / 'shedbook.db'}", tmp_path, prepared[0] / "keys", press) as book:
        sheet = a_whole_season(book)
        readings(book, sheet, [[shown] for shown in PEAKS])
        a_third_inspector(book)
        a_history(book)
        curved = [f"{11.25 + 0.5 * off * off:.3f} {11.251 + 0.5 * off * off:.3f}" for off in OFF]
        flows = [{"airflow": f"{4.72 + off:.2f}", "indications": two} for off, two in zip(OFF, curved, strict=True)]
        a_flow_study(book, points=flows)
        cookies = {who: book.open_session(an_id(who)) for who in PEOPLE}
    with served(tmp_path, press, book.clock) as made:
        made.ids, made.cookies = {"sheet": str(sheet)}, cookies
        yield made


@pytest.fixture
def tablets(browser: Browser, shed: Site) -> Iterator[Callable[[str], Page]]:
    contexts: list[BrowserContext] = []
    said: list[str] = []

    def for_whom(who: str) -> Page:
        context = browser.new_context(base_url=shed.address, viewport={"width": 1024, "height": 768}, has_touch=True)
        contexts.append(context)
        context.add_cookies([{"name": "shedbook", "value": shed.cookies[who], "url": shed.address}])
        page = context.new_page()
        page.set_default_timeout(20_000)
        page.on("console", lambda message: said.append(message.text) if message.type == "error" else None)
        page.on("pageerror", lambda error: said.append(str(error)))
        return page

    yield for_whom
    for context in contexts:
        context.close()
    assert [text for text in said if "status of 4" not in text] == []


def look(page: Page, name: str) -> None:
    """What is wrong with the screen at any size; and, where asked for, a picture at each."""
    found = looked_over(page)
    assert found == [], listed(found)
    folder = os.environ.get("SHEDBOOK_PICTURES")
    for size, (width, height) in SIZES.items():
        page.set_viewport_size({"width": width, "height": height})
        if folder:
            page.screenshot(path=f"{folder}/{name}-{size}.png", full_page=True)
    page.set_viewport_size({"width": 1024, "height": 768})


def plan(desk: Page) -> str:
    desk.goto(f"/instruments/{INSTRUMENT}")
    desk.get_by_role("link", name="Plan a gauge study").tap()
    desk.get_by_role("button", name="Plan this study").tap()
    expect(desk.get_by_role("alert")).to_contain_text("needed")
    look(desk, "plan-refused")
    desk.get_by_label("What the study is called").fill("Spring study")
    desk.get_by_label("Parts, one a line").fill("\n".join(PARTS))
    desk.get_by_label("Readings of each part").fill("2")
    desk.get_by_text("Ines Tarn").tap()
    desk.get_by_text("Ivo Reed").tap()
    desk.get_by_label("The tolerance of a class").select_option(index=1)
    desk.get_by_role("button", name="Plan this study").tap()
    expect(desk.get_by_role("heading", level=1)).to_have_text("Spring study")
    expect(desk.locator("main")).to_contain_text("Still missing")
    return desk.url.split("?")[0]


def take_the_next(tablet: Page, who: str) -> None:
    """What the page asks for, typed as the instrument shows it."""
    part = tablet.locator(".capture-part").inner_text()
    repeat = int(re.findall(r"your reading (\d) of 2", tablet.locator(".capture-count").inner_text())[0])
    tablet.get_by_label("What the instrument shows").fill(f"{PARTS[part] + ADDED[who] + SCATTER[repeat]:.2f}")
    tablet.get_by_role("button", name="Keep and go on").tap()


def test_a_gauge_study_from_its_plan_to_the_budget_of_a_sheet(shed: Site, tablets: Callable[[str], Page]) -> None:
    desk = tablets("official")
    address = plan(desk)
    both = {who: tablets(who) for who in ADDED}
    for tablet in both.values():
        tablet.goto(address)
        tablet.get_by_role("link", name="Start reading").tap()
    look(both["inspector"], "capture")
    # a mistyped figure is said beside the field, and stays there
    first = both["inspector"]
    first.get_by_label("What the instrument shows").fill("1o.40")
    first.get_by_role("button", name="Keep and go on").tap()
    expect(first.get_by_role("alert")).to_contain_text("1o.40")
    for _ in range(6):
        for who, tablet in both.items():
            expect(tablet.locator("main")).not_to_contain_text("9.8")  # blind: no earlier figure anywhere
            take_the_next(tablet, who)
    expect(first.locator("main")).to_contain_text("That was your last reading")
    last = both["second_inspector"]
    expect(last.locator("main")).to_contain_text("Here is what the study found")
    expect(last.locator("main")).to_contain_text("Readings by part")
    expect(last.get_by_role("button", name="Adopt this study")).to_have_count(0)
    look(last, "found")

    desk.goto(address)
    desk.get_by_role("button", name="Adopt this study").tap()
    expect(desk.get_by_role("alert")).to_contain_text("Reason is needed")
    desk.get_by_label("Why it is adopted").fill("Both of us measure at the finals.")
    desk.get_by_role("button", name="Adopt this study").tap()
    expect(desk.locator("main")).to_contain_text("Adopted: every budget of this instrument takes it")
    desk.goto(f"/instruments/{INSTRUMENT}")
    expect(desk.locator("#studies")).to_contain_text("Spring study")

    sheet = both["inspector"]
    sheet.goto(f"/inspections/{shed.ids['sheet']}/verdict")
    expect(sheet.locator("main")).to_contain_text(re.compile("between inspectors", re.IGNORECASE))
    expect(sheet.locator("main")).to_contain_text("the gauge study adopted for this instrument")


def test_the_other_screens_of_studies_can_be_read_and_reached(shed: Site, tablets: Callable[[str], Page]) -> None:
    desk = tablets("official")
    desk.goto(f"/instruments/{INSTRUMENT}/flow-studies/new")
    desk.get_by_role("button", name="Keep the study").tap()
    expect(desk.get_by_role("alert")).to_contain_text("4 to 9 airflows")
    look(desk, "flow-refused")
    for name, address in {
        "flow": f"/flow-studies/{FLOW}",
        "list": f"/instruments/{INSTRUMENT}/studies",
        "inspectors": f"/instruments/{INSTRUMENT}/inspectors",
    }.items():
        desk.goto(address)
        expect(desk.get_by_role("heading", level=1)).to_be_visible()
        look(desk, name)
