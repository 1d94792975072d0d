"""Every screen as each role sees it, read and reached at tablet, phone and double size; and the work sheet without
JavaScript and without a pointer."""

import re
from collections.abc import Callable, Iterator

import pytest
from playwright.sync_api import Browser, BrowserContext, Locator, Page, expect

from tests.browser.conftest import Site
from tests.browser.looking import listed, looked_over
from tests.browser.season import INSIDE
from tests.conftest import PIN

pytestmark = pytest.mark.browser

SCREENS = {
    "": ["/", "/sign-in", "/verify", "/verify/{code}", "/verify/00000000", "/nowhere"],
    "competitor": ["/my-record", "/my-record/{inside}", "/slips/{slip}", "/me", "/events"],
    "administrator": ["/people", "/log", "/events", "/shed"],
    "inspector": [
        "/shed", "/shed?everything=true", "/me", "/events/{event}/waiting", "/events/{event}/waiting?find=zz",
        "/events/{event}/verification/during", "/events/{event}/verification/during?instrument={instrument}",
        "/events/{event}/verifications/{opening}", "/events/{event}/verifications/{missed}",
        "/entries/{waiting 45}/start", "/entries/{entry}/start?repeats_id={inside}",
        "/inspections/{half}", "/inspections/{half}/verdict", "/inspections/{half}/cylinders/1/correct",
        "/inspections/{half}/conditions", "/inspections/{ready}/verdict", "/inspections/{inside}",
        "/inspections/{past}/verdict", "/slips/{slip}", "/records/{half}", "/instruments/{instrument}",
        "/entries/{bench entry}/bench-sheets", "/entries/{bench entry}/bench-sheets/new",
        "/bench-sheets/{empty liquid_volume}", "/bench-sheets/{empty teardown}", "/bench-sheets/{empty dimensional}",
        "/bench-sheets/{filled liquid_volume}", "/bench-sheets/{filled teardown}", "/bench-sheets/{filled dimensional}",
        "/bench-sheets/{filled teardown}/observations", "/bench-sheets/{signed bench}",
    ],
    "official": [
        "/events", "/events/new", "/events/{event}", "/events/{event}/entries/new", "/events/{event}/import",
        "/entries/{entry}", "/competitors", "/competitors/{competitor}", "/rule-book", "/rule-book/new-class",
        "/rule-book/{class}", "/rule-book/{class}/next", "/rule-book/{class}/planning", "/what-if",
        "/instruments", "/instruments/new",
        "/instruments/{instrument}?cylinders=12&displacement=6555", "/instruments/{instrument}/calibrations/new",
        "/instruments/{instrument}/calibrations/{calibration}", "/instruments/{instrument}/history",
        "/instruments/{instrument}/reference-volumes/new", "/records", "/records?q=zz41", "/records/{past}",
        "/doubts", "/doubts/{cause}", "/doubts/{cause}?chosen=all", "/records/{inside}", "/records?standing=in_doubt",
        "/protests", "/protests/{protest}", "/inspections/{inside}/protest/new", "/log",
    ],
}  # fmt: skip

# a form sent as it is opened: its problems are a screen of their own
FORMS = {
    "": ["/sign-in", "/verify"],
    "administrator": ["/people"],
    "inspector": [
        "/events/{event}/verification/during?instrument={instrument}",
        "/entries/{waiting 45}/start",
        "/inspections/{half}",
        "/inspections/{ready}/verdict",
        "/entries/{bench entry}/bench-sheets/new",
        "/bench-sheets/{empty liquid_volume}",
        "/bench-sheets/{empty teardown}",
        "/bench-sheets/{empty dimensional}",
        "/bench-sheets/{filled liquid_volume}",
        "/instruments/{instrument}/reference-volumes/{volume}/condemnation",
        "/instruments/{instrument}/notes/new?kind=fault",
        "/instruments/{instrument}/notes/new?kind=moved",
    ],
    "official": [
        "/events/new",
        "/events/{event}/entries/new",
        "/rule-book/{class}/next",
        "/instruments/new",
        "/instruments/{instrument}/calibrations/new",
        "/instruments/{instrument}/calibrations/{calibration}",
        "/doubts/{cause}",
    ],
}

LOUD = ("error", "warning")
Opened = Callable[..., Page]


@pytest.fixture
def opened(browser: Browser, season: Site) -> Iterator[Opened]:
    """A page on the race day, signed in as somebody; what its console says fails the test."""
    contexts: list[BrowserContext] = []
    said: list[str] = []

    def opening(who: str, java_script_enabled: bool = True) -> Page:
        context = browser.new_context(
            base_url=season.address,
            viewport={"width": 1024, "height": 768},
            java_script_enabled=java_script_enabled,
        )
        contexts.append(context)
        if who:
            context.add_cookies([{"name": "shedbook", "value": season.cookies[who], "url": season.address}])
        page = context.new_page()
        page.set_default_timeout(20_000)
        page.on("console", lambda message: said.append(f"{page.url}: {message.text}") if message.type in LOUD else None)
        page.on("pageerror", lambda error: said.append(f"{page.url}: {error}"))
        return page

    yield opening
    for context in contexts:
        context.close()
    assert [text for text in said if "status of 4" not in text] == []


@pytest.mark.parametrize("who", SCREENS)
def test_every_screen_can_be_read_and_reached_at_every_size(who: str, opened: Opened, season: Site) -> None:
    page = opened(who)
    found: list[str] = []
    for address in SCREENS[who]:
        answer = page.goto(address.format(**season.ids))
        assert answer
        assert "script-src 'self'" in answer.headers["content-security-policy"]
        assert answer.status < 500, address
        found += looked_over(page)
    assert found == [], listed(found)


@pytest.mark.parametrize("who", FORMS)
def test_a_form_with_problems_can_be_read_and_leads_to_each_field(who: str, opened: Opened, season: Site) -> None:
    page = opened(who)
    found: list[str] = []
    for address in FORMS[who]:
        page.goto(address.format(**season.ids))
        page.locator("main .actions .button--main").last.click()
        expect(page.get_by_role("alert")).to_be_focused()
        expect(page).to_have_title("Problem: " + page.title().removeprefix("Problem: "))
        for link in page.locator(".problem-list a").all():
            link.click()
            expect(page.locator(":focus")).to_have_attribute("aria-describedby", re.compile("-error"))
        found += looked_over(page)
    assert found == [], listed(found)


def test_eight_cylinders_stand_on_a_tablet_without_scrolling(opened: Opened, season: Site) -> None:
    page = opened("inspector")
    page.goto(f"/inspections/{season.ids['ready']}")
    page.evaluate("document.fonts.ready.then(() => true)")
    last = page.locator(".reading").last.bounding_box()
    assert last
    assert last["y"] + last["height"] <= 768


def test_a_whole_sheet_is_done_without_javascript(opened: Opened, season: Site) -> None:
    page = opened("inspector", java_script_enabled=False)
    page.goto(f"/events/{season.ids['event']}/waiting")
    page.locator("a.waiting-card", has_text="45").click()
    page.get_by_role("button", name="Start the readings").click()
    expect(page.get_by_role("alert")).to_contain_text("five cautions")
    page.get_by_label("All five of these hold").check()
    page.get_by_role("button", name="Start the readings").click()
    for number, shown in enumerate(INSIDE, 1):
        page.get_by_label(f"Cylinder {number}, peak 1").fill(shown)
    page.get_by_role("button", name="Keep the readings").click()
    expect(page.get_by_role("heading", name="INSIDE THE LIMIT")).to_be_visible()
    page.get_by_role("textbox", name="Full name").fill("Cleo Fenn")
    page.get_by_label("Your PIN").fill("270946")
    page.get_by_role("button", name="Sign and make the slip").click()
    expect(page.get_by_role("alert")).to_be_visible()
    expect(page.get_by_role("textbox", name="Full name")).to_have_value("Cleo Fenn")
    page.get_by_label("Your PIN").fill(PIN)
    page.get_by_role("button", name="Sign and make the slip").click()
    expect(page.get_by_role("heading", level=1)).to_contain_text("Slip SL-")
    page.get_by_role("link", name="Next: car 46").click()
    expect(page.get_by_role("heading", level=1)).to_have_text("Before you start")


def tab_to(page: Page, target: Locator) -> None:
    """Forward with the Tab key alone, as far as it takes; a trap or a place left out fails."""
    for _ in range(120):
        if target.evaluate("one => one === document.activeElement"):
            return
        page.keyboard.press("Tab")
    pytest.fail(f"The Tab key never reaches {target}.")


def test_a_whole_sheet_is_done_with_the_keyboard_alone(opened: Opened, season: Site) -> None:
    page = opened("inspector")
    keys = page.keyboard
    page.goto(f"/events/{season.ids['event']}/waiting")
    tab_to(page, page.locator("a.waiting-card", has_text="47"))
    keys.press("Enter")
    tab_to(page, page.get_by_label("All five of these hold"))
    keys.press("Space")
    tab_to(page, page.get_by_role("button", name="Start the readings"))
    keys.press("Enter")
    expect(page.get_by_label("Cylinder 1, peak 1")).to_be_focused()
    page.wait_for_load_state()  # the script that lets Enter go down the column has run
    for shown in INSIDE:
        keys.type(shown)
        keys.press("Enter")
    expect(page.get_by_role("button", name="Keep the readings")).to_be_focused()
    keys.press("Enter")
    expect(page.get_by_role("heading", name="INSIDE THE LIMIT")).to_be_visible()
    tab_to(page, page.get_by_role("radio", name="Name typed"))
    keys.press("ArrowUp")
    expect(page.get_by_role("radio", name="Nobody present")).to_be_checked()
    tab_to(page, page.get_by_label("Your PIN"))
    keys.type(PIN)
    keys.press("Enter")
    expect(page.get_by_role("heading", level=1)).to_contain_text("Slip SL-")
