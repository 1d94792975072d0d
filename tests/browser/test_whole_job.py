"""The whole job in a browser, as three roles: from writing the rule to the downloaded slip under `pdfsig`."""

import subprocess
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from playwright.sync_api import Page, expect

pytestmark = pytest.mark.browser

ENTRIES = """car;class;competitor;licence;engine;cylinders;bore_mm;stroke_mm;displacement_cm3;seals
41;TR-8;Fenn Motor Works;L-CLEO;E-4410;8;101,60;88,39;5733;4411 4412
7;TR-8;Ashby and Daughter;L-ROLF;E-0700;8;101,60;88,39;5733;0701
"""
PEAKS = ["10.31", "10.28", "10.30", "10.33", "10.29", "10.30", "10.32", "10.31"]


def write_the_rules(desk: Page) -> None:
    today = datetime.now(UTC).date().isoformat()
    desk.goto("/events")
    desk.get_by_label("Name of the series").fill("Fellgate Trophy")
    desk.locator("form[action^='/series/'] button").first.click()
    desk.goto("/events/new")
    desk.get_by_label("Name of the event").fill("Round one")
    desk.get_by_label("Venue").fill("Fellgate Ring")
    desk.get_by_label("First day").fill(today)
    desk.get_by_label("Last day").fill(today)
    desk.get_by_role("button", name="Add the event").click()
    desk.goto("/rule-book/new-class")
    desk.get_by_label("Code").fill("TR-8")
    desk.get_by_label("Name of the class").fill("Touring, eight cylinders")
    desk.get_by_role("button", name="Add the class").click()
    rule = desk.locator(".rule-fields").first  # the second rule, on the displacement, stays closed
    rule.get_by_label("Clause").fill("5.4")
    rule.get_by_label("Wording").fill("No cylinder may exceed a static compression ratio of 10.50.")
    rule.locator("input[value=maximum]").check()
    rule.get_by_label("Limit", exact=True).fill("10,50")
    rule.get_by_label("Tolerance granted").fill("0.10")
    rule.locator("input[value=every_cylinder]").check()
    rule.locator("input[value=three_zones]").check()
    rule.get_by_label("Confidence asked for").fill("95")
    rule.locator("input[value=measure_again]").check()
    desk.get_by_label("In force from").fill(today)
    desk.get_by_label("Time for protests").fill("30")
    desk.get_by_role("button", name="Publish edition 1").click()
    expect(desk.locator("main")).to_contain_text("10.60")


def take_in_the_entries(desk: Page, folder: Path) -> None:
    desk.goto("/events")
    desk.get_by_role("link", name="Round one").click()
    desk.get_by_role("link", name="Take in a list").click()
    file = folder / "entries.csv"
    file.write_text(ENTRIES.replace("101,60;88,39;5733;0701", "10,160;88,39;5733;0701"))
    desk.get_by_label("The list as a CSV file").set_input_files(file)
    desk.get_by_role("button", name="Look it through", exact=True).click()
    expect(desk.locator("main")).to_contain_text("bore")  # the sentence about the mistyped bore
    file.write_text(ENTRIES)
    desk.get_by_label("Mended file").set_input_files(file)
    desk.get_by_role("button", name="Look it through again").click()
    desk.get_by_role("button", name="Take in 2 entries").click()
    expect(desk.locator("main")).to_contain_text("Fenn Motor Works")


def link_the_account(desk: Page) -> None:
    desk.goto("/competitors")
    desk.get_by_role("link", name="Fenn Motor Works").click()
    desk.get_by_label("Account").select_option(label="Cleo Fenn (competitor)")
    desk.get_by_role("button", name="Keep this link").click()


def enter_the_instrument(desk: Page) -> None:
    desk.goto("/instruments/new")
    desk.get_by_label("Name", exact=True).fill("Instrument 2")
    desk.get_by_label("Serial number").fill("AR-0002")
    desk.locator("input[value=acoustic_resonance]").check()
    desk.get_by_label("Resolution").fill("0.01")
    desk.get_by_label("Stated accuracy").fill("0.10")
    desk.locator("input[value=limits]").check()
    desk.get_by_label("Airflow set-point").fill("10 SCFH")
    desk.get_by_label("Airflow tolerance").fill("0.1")
    desk.get_by_label("Cylinder counts that can be set").fill("4, 6, 8")
    desk.get_by_label("Smallest displacement").fill("1000")
    desk.get_by_label("Largest displacement").fill("9000")
    desk.get_by_role("button", name="Add this instrument").click()
    desk.get_by_role("link", name="Add a reference volume").first.click()
    desk.get_by_label("Number on it").fill("RV-7")
    desk.get_by_label("Marked value").fill("11.20")
    desk.get_by_label("Upper end of the mark").fill("11.30")
    desk.get_by_label("Permitted deviation").fill("0.05")
    desk.get_by_label("Displacement to set").fill("5733")
    desk.get_by_label("Cylinder count to set").fill("8")
    desk.get_by_role("button", name="Add this reference volume").click()
    today = datetime.now(UTC).date()
    desk.goto(f"{desk.url.split('?')[0]}/calibrations/new")
    desk.get_by_label("Laboratory").fill("Northmoor Calibration")
    desk.get_by_label("Certificate number").fill("NC-118")
    desk.get_by_label("Calibrated on").fill(today.isoformat())
    desk.get_by_label("Due again on").fill((today + timedelta(days=365)).isoformat())
    desk.locator("input[name=deviation]").fill("0.01")
    desk.locator("input[name=expanded_uncertainty]").fill("0.04")
    desk.get_by_label("Coverage factor k").fill("2")
    desk.get_by_role("button", name="Record this calibration").click()
    expect(desk.locator("main")).to_contain_text("NC-118")


def open_the_shed(shed: Page) -> None:
    shed.goto("/shed")
    shed.get_by_role("link", name="Open").first.click()
    shed.locator("input[name=reference_volume_id]").first.check()
    for step in shed.locator("input[name^=step_]").all():
        step.check()
    for field, shown in zip(shed.locator("input[name^=indication]").all(), ("11.24", "11.25", "11.26"), strict=False):
        field.fill(shown)
    shed.get_by_label("Ambient temperature").fill("21")
    shed.get_by_label("Gas temperature set").fill("21")
    shed.get_by_label("Airflow as the flowmeter shows it").fill("4.72")
    shed.get_by_role("button", name="Judge this verification").click()
    shed.get_by_role("link", name="To the waiting list").click()


def inspect_car_41(shed: Page) -> None:
    shed.get_by_role("link", name="Fenn Motor Works").click()
    shed.get_by_role("button", name="Start the readings").click()
    expect(shed.get_by_role("alert")).to_contain_text("five cautions")
    shed.get_by_label("All five of these hold, here and now").check()
    shed.get_by_label("Gas temperature dialled").fill("24")
    shed.get_by_label("Gas temperature in the chamber").fill("24")
    shed.get_by_text("Thermometer in the chamber").click()
    shed.get_by_role("button", name="Start the readings").click()
    for number, shown in enumerate(PEAKS, 1):
        shed.get_by_label(f"Cylinder {number}, peak 1").fill(shown)
    shed.get_by_label("Cylinder 3, peak 1").fill("1o.30")
    shed.get_by_role("button", name="Keep the readings").click()
    expect(shed.get_by_role("alert")).to_contain_text("1o.30")
    expect(shed.get_by_label("Cylinder 8, peak 1")).to_have_value("10.31")
    shed.get_by_label("Cylinder 3, peak 1").fill("10.30")
    shed.get_by_role("button", name="Keep the readings").click()
    expect(shed.locator("main")).to_contain_text("INSIDE THE LIMIT")
    shed.get_by_text("Drawn in the box").click()
    box = shed.locator("[data-sign-canvas]")
    box.scroll_into_view_if_needed()
    frame = box.bounding_box()
    assert frame
    shed.mouse.move(frame["x"] + 20, frame["y"] + 60)
    shed.mouse.down()
    for step in range(1, 20):
        shed.mouse.move(frame["x"] + 20 + step * 12, frame["y"] + 60 + (step % 4) * 9)
    shed.mouse.up()
    shed.get_by_label("Your PIN").fill("270945")
    shed.get_by_role("button", name="Sign and make the slip").click()
    expect(shed.get_by_role("heading", level=1)).to_contain_text("Slip SL-000001")


def test_from_the_rule_to_the_verified_slip(tablet: Callable[..., Page], tmp_path: Path) -> None:
    desk = tablet("official", 1280, 900)
    write_the_rules(desk)
    take_in_the_entries(desk, tmp_path)
    link_the_account(desk)
    enter_the_instrument(desk)

    shed = tablet("inspector")
    open_the_shed(shed)
    inspect_car_41(shed)

    phone = tablet("competitor", 390, 844)
    phone.goto("/my-record")
    expect(phone.locator("main")).to_contain_text("INSIDE THE LIMIT")
    expect(phone.locator("main")).not_to_contain_text("Ashby")
    phone.get_by_role("link", name="The whole result").click()
    expect(phone.locator("main")).to_contain_text("SL-000001")
    with phone.expect_download() as download:
        phone.get_by_role("link", name="Download the slip (PDF)").click()
    slip = tmp_path / "slip.pdf"
    download.value.save_as(slip)

    said = subprocess.run(["pdfsig", slip], capture_output=True, text=True, check=False).stdout
    assert "Signature is Valid" in said
    assert "Total document signed" in said

    stranger = tablet("", 390, 844)
    stranger.goto("/verify")
    stranger.get_by_label("The slip (PDF)").set_input_files(slip)
    stranger.get_by_role("button", name="Verify").click()
    expect(stranger.get_by_role("heading", level=1)).to_have_text("Genuine")

    altered = bytearray(slip.read_bytes())
    altered[2000] ^= 1
    slip.write_bytes(altered)
    stranger.goto("/verify")
    stranger.get_by_label("The slip (PDF)").set_input_files(slip)
    stranger.get_by_role("button", name="Verify").click()
    expect(stranger.get_by_role("heading", level=1)).to_have_text("Not genuine")
