"""The page of the next edition: what a choice opens and puts away, without any script, at each size."""

import os
from collections.abc import Callable

from playwright.sync_api import Page, expect

from tests.browser.conftest import Site
from tests.browser.looking import looked_over
from tests.conftest import an_id

CLASS = an_id("class")


def a_class_of_its_own(desk: Page) -> None:
    for address, body in (
        (f"/api/series/{an_id('series')}", {"name": "Fellgate Trophy"}),
        (f"/api/classes/{CLASS}", {"series_id": str(an_id("series")), "code": "TR-8", "name": "Touring Eight"}),
    ):
        assert desk.request.put(address, data=body, headers={"sec-fetch-site": "same-origin"}).ok


def picture(desk: Page, name: str) -> None:
    if os.environ.get("SHEDBOOK_PICTURES"):
        for width, height in ((390, 844), (1024, 768)):
            desk.set_viewport_size({"width": width, "height": height})
            desk.screenshot(path=f"{os.environ['SHEDBOOK_PICTURES']}/{name}-{width}.png", full_page=True)


def test_a_range_a_designated_cylinder_and_a_displacement_open_where_they_are_chosen(
    site: Site, tablet: Callable[[str], Page]
) -> None:
    desk = tablet("official")
    a_class_of_its_own(desk)
    desk.goto(f"/rule-book/{CLASS}/next")
    first, second = desk.locator(".rule-fields").first, desk.locator(".rule-fields").last
    expect(first.get_by_label("Lower limit")).to_be_hidden()
    expect(first.get_by_label("Which cylinder")).to_be_hidden()
    expect(second).to_be_hidden()
    assert looked_over(desk) == []
    first.locator("input[value=range]").check()
    first.locator("input[value=designated_cylinder]").check()
    desk.get_by_text("This edition limits the displacement too").click()
    expect(first.get_by_label("Lower limit")).to_be_visible()
    expect(first.get_by_label("Which cylinder")).to_be_visible()
    expect(second.get_by_label("Lower limit")).to_be_hidden()
    first.get_by_label("Clause").fill("5.4")
    first.get_by_label("Wording").fill("The ratio of cylinder 3 lies between 9.50 and 10.50.")
    first.get_by_label("Lower limit").fill("9.50")
    first.get_by_label("Limit", exact=True).fill("10.50")
    first.get_by_label("Tolerance granted").fill("0.10")
    desk.get_by_role("button", name="Show what it means").click()
    expect(second.locator("[id='f-further.0.clause-error']")).to_contain_text("Clause is needed.")
    second.get_by_label("Clause").fill("5.5")
    second.get_by_label("Wording").fill("The displacement is at most 366 cubic inches.")
    second.get_by_label("Limit", exact=True).fill("366 in³")
    second.get_by_label("Tolerance granted").fill("0")
    desk.get_by_role("button", name="Show what it means").click()
    expect(first.locator("[id='f-rule.designated_cylinder-error']")).to_contain_text("Which cylinder is designated?")
    assert looked_over(desk) == []
    picture(desk, "refused")
    first.get_by_label("Which cylinder").fill("3")
    desk.get_by_role("button", name="Show what it means").click()
    expect(desk.locator("#preview")).to_contain_text("cylinder 3 alone")
    expect(desk.locator("#preview")).to_contain_text("Displacement at most 366 in³ (5997.67 cm³)")
    assert looked_over(desk) == []
    picture(desk, "preview")
    desk.get_by_role("button", name="Publish edition 1").click()
    expect(desk.locator("h1")).to_contain_text("Touring Eight")
    assert looked_over(desk) == []
    picture(desk, "class-book")
    desk.goto("/rule-book")
    assert looked_over(desk) == []
    picture(desk, "rule-book")
