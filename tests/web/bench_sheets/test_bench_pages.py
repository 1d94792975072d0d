"""The bench sheet on its pages: forms that keep what was typed, refusals beside their field, and where it is found."""

from html import unescape
from typing import Any
from uuid import UUID

import httpx
import pytest

from app.bench_sheets.forms.typed_rows import flat
from tests import builders
from tests.conftest import PIN, Logbook, an_id
from tests.web.bench_sheets import benches
from tests.web.bench_sheets.benches import OBSERVED
from tests.web.history import rows


@pytest.fixture
def entry(logbook: Logbook) -> UUID:
    return benches.an_engine(logbook)


def post(book: Logbook, sheet: UUID, form: dict[str, str], name: str = "o") -> httpx.Response:
    address = f"/bench-sheets/{sheet}/observations/{an_id(name)}"
    return book.client("inspector").post(address, data={"units": "metric", **form})


def beside(text: str, field: str) -> str:
    """The sentence that stands in the field's own error line."""
    line = text.partition(f'id="f-{field}-error">')[2].partition("</p>")[0]
    return unescape(line.partition("</span>")[2].strip())


def test_a_sheet_is_opened_on_the_page_with_its_cautions_first(logbook: Logbook, entry: UUID) -> None:
    inspector = logbook.client("inspector")
    shown = inspector.get(f"/entries/{entry}/bench-sheets/new").text
    for words in ("Liquids that burn", "No ignition", "Hot parts", "Compressed air, springs", "Local rules"):
        assert words in shown
    typed = {name: str(value) for name, value in benches.opened(entry).items()}
    address = f"/bench-sheets/{an_id('s')}"
    refused = inspector.post(address, data={**typed, "cautions_confirmed": "", "present_for_competitor": ""})
    assert refused.status_code == 422
    assert "Go through the cautions" in refused.text
    assert "The first result was inconclusive." in refused.text
    assert 'value="Ines Tarn"' in refused.text
    answer = inspector.post(address, data={**typed, "cautions_confirmed": "yes"})
    assert (answer.status_code, answer.headers["location"]) == (303, f"{address}?done=bench-opened")
    assert "Cylinder 4" in inspector.get(address).text


@pytest.mark.parametrize("method", OBSERVED)
def test_the_page_takes_what_the_api_takes_and_gives_the_same_result(
    logbook: Logbook, entry: UUID, method: str
) -> None:
    by_api = benches.filled(logbook, benches.a_bench_sheet(logbook, entry, method), OBSERVED[method]())
    sheet = benches.a_bench_sheet(logbook, entry, method, "page")
    answer = post(logbook, sheet, flat(OBSERVED[method]()))
    assert answer.status_code == 303, answer.text
    inspector = logbook.client("inspector")
    view = inspector.get(f"/api/bench-sheets/{sheet}").json()
    assert view["assessment"] == by_api["assessment"]
    assert view["observation"]["observations"] == by_api["observation"]["observations"]
    shown = inspector.get(f"/bench-sheets/{sheet}").text
    for component in view["assessment"]["decided"]["budget"]["components"]:
        assert unescape(component["source"]) in unescape(shown)
    assert view["assessment"]["reason"] in unescape(shown)


@pytest.mark.parametrize(
    ("method", "changed", "field", "words"),
    [
        ("liquid_volume", {"cylinders.3.fills.2.end": "7o.8"}, "cylinders.3.fills.2.end", "cannot be read"),
        ("liquid_volume", {"cylinders.3.fills.1.end": ""}, "cylinders.3.fills.1.end", "is missing"),
        ("liquid_volume", {"pouring.liquid_temperature": "294"}, "pouring.liquid_temperature", "typed in kelvin"),
        (
            "liquid_volume",
            {"pouring.burette.nominal": ""},
            "pouring.burette.nominal",
            "Volume of the burette is needed",
        ),
        ("liquid_volume", {"pouring.loss": "40"}, "pouring.loss", "liquid lost at each fill"),
        ("teardown", {"gasket.bore": "20"}, "gasket.bore", "does not go with a bore"),
        (
            "teardown",
            {"cylinders.2.deck_clearance": ""},
            "cylinders.2.deck_clearance",
            "Crown below the deck is needed",
        ),
        ("teardown", {"cylinders.2.head_fills.1.end": "-5"}, "cylinders.2.head_fills.1.end", "cannot be read"),
        ("dimensional", {"cylinders.4.diameters.3": "1,0,1"}, "cylinders.4.diameters.3", "cannot be read"),
        ("dimensional", {"bore_instrument.error_limit": "9"}, "bore_instrument.error_limit", "No instrument is exact"),
    ],
)
def test_a_refusal_stands_beside_its_field_with_everything_typed_kept(
    logbook: Logbook, entry: UUID, method: str, changed: dict[str, str], field: str, words: str
) -> None:
    sheet = benches.a_bench_sheet(logbook, entry, method)
    form = {**flat(OBSERVED[method]()), **changed}
    answer = post(logbook, sheet, form)
    assert answer.status_code == 422
    assert words in beside(answer.text, field)
    assert f'href="#f-{field}"' in answer.text
    for name, text in form.items():
        if text and not name.endswith(("tolerance_class", "liquid", "metal", "_metal", "not_measured_reason")):
            assert f'name="{name}" value="{text}"' in answer.text
    assert logbook.client("inspector").get(f"/api/bench-sheets/{sheet}").json()["observation"] is None


def test_a_refusal_of_a_field_that_is_folded_away_unfolds_it(logbook: Logbook, entry: UUID) -> None:
    sheet = benches.a_bench_sheet(logbook, entry)
    plain = logbook.client("inspector").get(f"/bench-sheets/{sheet}").text
    assert '<details class="bench-more bench-known">' in plain
    assert '<details class="bench-more bench-known" open>' not in plain
    answer = post(logbook, sheet, {**flat(benches.poured()), "pouring.loss": "40"})
    assert answer.text.count('<details class="bench-more bench-known" open>') == 1
    refilled = {**flat(benches.poured()), "cylinders.1.fills.1.refilled_start": "0.00"}
    assert (
        '<details class="bench-more" open><summary>The burette was filled up again'
        in post(logbook, sheet, refilled).text
    )


@pytest.mark.parametrize(
    ("method", "without", "place", "words"),
    [
        ("liquid_volume", "cylinders", "cylinders", "No cylinder was filled"),
        ("teardown", "cylinders.2.head_fills", "cylinders.2.head_fills", "was not filled"),
        ("dimensional", "cylinders.2", "cylinders", "the bore of cylinder 2"),
        ("dimensional", "cylinders.2.diameters", "cylinders.2.diameters", "0 diameters"),
    ],
)
def test_what_concerns_a_whole_row_stands_over_the_row(
    logbook: Logbook, entry: UUID, method: str, without: str, place: str, words: str
) -> None:
    sheet = benches.a_bench_sheet(logbook, entry, method)
    typed = {name: text for name, text in flat(OBSERVED[method]()).items() if not name.startswith(f"{without}.")}
    answer = post(logbook, sheet, typed)
    assert answer.status_code == 422
    over = unescape(answer.text.partition(f'id="f-{place}" tabindex')[2].partition("</div>")[0])
    assert words in over


def test_rows_and_columns_left_blank_were_not_measured(logbook: Logbook, entry: UUID) -> None:
    sheet = benches.a_bench_sheet(logbook, entry)
    typed = {name: text for name, text in flat(benches.poured()).items() if not name.startswith("cylinders.")}
    typed |= {"cylinders.2.fills.1.start": " ", "cylinders.2.fills.3.start": "0.00", "cylinders.2.fills.3.end": "76.9"}
    typed |= {"cylinders.4.not_measured_reason": "Plug seized", "plug": "1", "rod_length": ""}
    assert post(logbook, sheet, typed).status_code == 303
    kept = logbook.client("inspector").get(f"/api/bench-sheets/{sheet}").json()["observation"]["observations"]
    assert [(one["cylinder"], len(one["fills"])) for one in kept["cylinders"]] == [("2", 1), ("4", 0)]
    assert kept["rod_length_mm"] is None


@pytest.mark.parametrize(
    "name",
    [
        "pouring.burette.nominal.deeper",
        "cylinders.1.1.1.1.1.1.1.1",
        "cylinders.9999999999.fills.1.start",
        "cylinders.one.fills.1.start",
        "cylinders",
        "pouring",
        ".",
    ],
)
def test_fields_that_no_form_here_has_do_no_harm(logbook: Logbook, entry: UUID, name: str) -> None:
    sheet = benches.a_bench_sheet(logbook, entry)
    assert post(logbook, sheet, {**flat(benches.poured()), name: "7"}).status_code in (303, 422)


def test_a_correction_starts_from_what_was_typed_in_the_units_it_was_typed_in(logbook: Logbook, entry: UUID) -> None:
    sheet = benches.a_bench_sheet(logbook, entry, "teardown")
    typed = flat(benches.taken_down())
    inches = {name: f"{text} mm" for name, text in typed.items() if name.startswith(("gasket.", "crevice."))}
    assert post(logbook, sheet, {**typed, **inches, "cylinders.1.head_fills.4.start": "0.0"}).status_code == 422
    typed |= {"cylinders.1.head_fills.4.start": "0.00", "cylinders.1.head_fills.4.end": "62.42"}
    benches.filled(
        logbook,
        sheet,
        {**benches.taken_down(), "plate_flatness": "0.0008 in", "pouring": {**benches.pouring(), "loss": "0.05"}},
    )
    inspector = logbook.client("inspector")
    inspector.put("/api/me/preferences", json={"units": "inch", "pad_side": "right"})
    shown = inspector.get(f"/bench-sheets/{sheet}/observations").text
    assert 'name="units" value="metric"' in shown
    assert 'name="plate_flatness" value="0.0008 in"' in shown
    assert 'name="cylinders.3.deck_clearance" value="0.25"' in shown
    assert '<span class="bench-unit">mm</span>' in shown
    first = inspector.get(f"/api/bench-sheets/{sheet}").json()["observation"]["id"]
    refused = post(logbook, sheet, {**typed, "replaces_id": first}, "c")
    assert refused.status_code == 422
    assert "Say why this replaces" in beside(refused.text, "reason")
    answer = post(logbook, sheet, {**typed, "replaces_id": first, "reason": "A further fill"}, "c")
    assert answer.headers["location"].endswith("done=bench-corrected")
    result = inspector.get(f"/bench-sheets/{sheet}").text
    assert "Corrected because: A further fill" in result
    assert "Set aside" in result
    assert (
        'name="cylinders.1.head_fills.3.end" value="62.42"' in inspector.get(f"/bench-sheets/{sheet}/observations").text
    )


def test_an_inspector_of_inches_starts_in_inches_with_the_burette_in_cubic_centimetres(
    logbook: Logbook, entry: UUID
) -> None:
    inspector = logbook.client("inspector")
    inspector.put("/api/me/preferences", json={"units": "inch", "pad_side": "right"})
    sheet = benches.a_bench_sheet(logbook, entry, "teardown")
    shown = inspector.get(f"/bench-sheets/{sheet}").text
    assert 'name="units" value="inch"' in shown
    assert 'name="plate_flatness" value="0.0008"' in shown
    assert 'name="pouring.loss" value="0.05"' in shown
    assert '<span class="bench-unit">in</span>' in shown


def test_signing_on_the_page_keeps_the_result_and_shows_its_digest(logbook: Logbook, entry: UUID) -> None:
    sheet = benches.a_bench_sheet(logbook, entry)
    seen = benches.filled(logbook, sheet, benches.poured())["observation"]["id"]
    inspector = logbook.client("inspector")
    address = f"/bench-sheets/{sheet}/sign-off/{an_id('v')}"
    wrong = inspector.post(address, data={"observation_id": seen, "pin": "111111"})
    assert wrong.status_code == 422
    assert "does not fit" in beside(wrong.text, "pin")
    assert "111111" not in wrong.text
    assert inspector.post(address, data={"observation_id": seen, "pin": PIN}).status_code == 303
    shown = inspector.get(f"/bench-sheets/{sheet}").text
    digest = inspector.get(f"/api/bench-sheets/{sheet}").json()["verdict"]["digest"]
    assert digest in shown
    assert "kept in the logbook" in shown
    assert 'name="pin"' not in shown
    assert inspector.get(f"/bench-sheets/{sheet}/observations").headers["location"] == f"/bench-sheets/{sheet}"


def test_officials_look_and_do_not_write(logbook: Logbook, entry: UUID) -> None:
    sheet = benches.a_bench_sheet(logbook, entry)
    official = logbook.client("official")
    assert "Nothing was measured on this sheet yet" in official.get(f"/bench-sheets/{sheet}").text
    benches.filled(logbook, sheet, benches.poured())
    shown = official.get(f"/bench-sheets/{sheet}").text
    assert "INSIDE THE LIMIT" in shown
    assert 'name="pin"' not in shown
    listed = official.get(f"/entries/{entry}/bench-sheets").text
    assert f'href="/bench-sheets/{sheet}"' in listed
    assert "Open a bench sheet" not in listed


def test_the_form_says_which_methods_have_no_limit_to_be_held_against(logbook: Logbook) -> None:
    builders.a_class(logbook)
    entry = builders.an_entry(logbook, "41", 4)
    shown = logbook.client("inspector").get(f"/entries/{entry}/bench-sheets/new").text
    assert "sets no limit for the displacement" in shown
    assert 'value="dimensional"' not in shown
    assert 'value="teardown"' in shown


def test_the_record_holds_bench_and_instrument_against_each_other(logbook: Logbook) -> None:
    rows.a_shed(logbook)
    inspection = rows.a_result(logbook, "41")
    entry = an_id("entry 41")
    view = benches.a_signed_sheet(logbook, entry)
    inspector = logbook.client("inspector")
    record: dict[str, Any] = inspector.get(f"/api/records/{inspection}").json()
    assert [one["id"] for one in record["bench"]] == [view["id"]]
    (found,) = record["comparisons"]
    assert (found["first"]["label"], found["second"]["label"]) == ("First sheet", "Liquid volume, whole chamber")
    assert [one["label"] for one in found["figures"]] == [f"Cylinder {number}" for number in range(1, 5)]
    assert all(float(one["e_n"].replace("−", "-")) for one in found["figures"])
    shown = inspector.get(f"/records/{inspection}").text
    assert f'href="/bench-sheets/{view["id"]}"' in shown
    assert f'href="/entries/{entry}/bench-sheets"' in inspector.get(f"/entries/{entry}").text


def test_a_competitor_finds_the_own_signed_bench_result_and_nobody_elses(logbook: Logbook, entry: UUID) -> None:
    view = benches.a_signed_sheet(logbook, entry)
    benches.a_bench_sheet(logbook, entry, "teardown")
    own = logbook.client("competitor").get("/my-record").text
    assert view["verdict"]["digest"] in own
    assert "10.438 ± 0.023" in own
    assert "Teardown worksheet" not in own
    builders.an_entry(logbook, "42", 4, "rival")
    assert view["verdict"]["digest"] not in logbook.client("rival").get("/my-record").text
    assert logbook.client("competitor").get(f"/bench-sheets/{view['id']}").status_code == 404
