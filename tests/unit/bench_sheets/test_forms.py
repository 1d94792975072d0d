"""Between a flat form, what was typed and the core's plain values: names, places and back."""

from app.bench_sheets.forms import FORMS
from app.bench_sheets.forms.liquid_volume import LiquidVolumeIn
from app.bench_sheets.forms.plain import place_of, to_core, typed_name
from app.bench_sheets.forms.typed_rows import TypedRows, columns, flat
from app.bench_sheets.wording import small, typed_words, unit_words
from app.metrology.methods import METHODS
from tests.web.bench_sheets.benches import OBSERVED


def test_every_form_asks_for_what_its_method_observes_and_nothing_else() -> None:
    for method, form in FORMS.items():
        observed = METHODS[method].observations.__dataclass_fields__
        asked = set(form.asked.model_fields)
        assert {typed_name(name) for name in observed} - {"repeatability"} == asked


def test_what_is_usual_stands_in_a_field_that_is_asked_for() -> None:
    for form in FORMS.values():
        for name in form.usual:
            fields = form.asked.model_fields
            for part in name.split("."):
                assert part in fields, name
                kind = fields[part].annotation
                fields = getattr(kind, "model_fields", {})


def test_the_core_s_names_lose_their_unit_and_nothing_more() -> None:
    names = {"nominal_cm3": "nominal", "error_limit_mm": "error_limit", "metal_temperature_c": "metal_temperature"}
    names |= {
        "crank_within_deg": "crank_within",
        "temperature_standard_uncertainty_k": "temperature_standard_uncertainty",
    }
    names |= {"tolerance_class": "tolerance_class", "liquid": "liquid", "start": "start", "block_metal": "block_metal"}
    assert {name: typed_name(name) for name in names} == names


def test_what_was_typed_becomes_the_core_s_own_values() -> None:
    typed = LiquidVolumeIn.model_validate(OBSERVED["liquid_volume"]())
    made = to_core(METHODS["liquid_volume"].observations, typed)
    assert made.pouring.burette.nominal_cm3 == 100.0
    assert made.pouring.burette.stated_tolerance_cm3 is None
    assert made.rod_length_mm is None
    assert made.repeatability is None
    assert made.cylinders[1].fills[1].end == "76.88"
    assert [one.cylinder for one in made.cylinders] == [1, 2, 3, 4]


def test_a_place_in_the_core_is_found_in_what_was_typed() -> None:
    cylinders = [2, 5]
    assert place_of("observations.cylinders.5.fills.2.start", cylinders) == "observations.cylinders.1.fills.1.start"
    assert (
        place_of("observations.cylinders.2.deck_clearance_mm", cylinders) == "observations.cylinders.0.deck_clearance"
    )
    assert place_of("observations.cylinders", cylinders) == "observations.cylinders"
    assert place_of("observations.pouring.burette.nominal_cm3", []) == "observations.pouring.burette.nominal"
    assert place_of("rule.quantity", cylinders) == ""


def test_a_place_in_what_was_typed_is_found_in_the_form() -> None:
    form = {"cylinders.4.fills.3.start": "0", "cylinders.4.fills.3.end": "70", "cylinders.2.not_measured_reason": "x"}
    typed = TypedRows(form, LiquidVolumeIn)
    assert typed.observations["cylinders"] == [
        {"cylinder": "2", "not_measured_reason": "x"},
        {"cylinder": "4", "fills": [{"start": "0", "end": "70"}]},
    ]
    assert typed.field("observations.cylinders.1.fills.0.end") == "cylinders.4.fills.3.end"
    assert typed.field("observations.cylinders.1.fills.0.refilled_end") == "cylinders.4.fills.3.refilled_end"
    assert typed.field("observations.cylinders.1.fills") == "cylinders.4.fills"
    assert typed.field("observations.pouring.burette.nominal") == "pouring.burette.nominal"
    assert typed.field("observations.nowhere.at.all") == "nowhere.at.all"
    assert typed.field("reason") == "reason"


def test_rows_come_in_the_order_of_their_numbers() -> None:
    form = {f"cylinders.{number}.not_measured_reason": "x" for number in (10, 9, 2)}
    numbers = [row["cylinder"] for row in TypedRows(form, LiquidVolumeIn).observations["cylinders"]]
    assert numbers == ["2", "9", "10"]


def test_what_was_typed_goes_back_into_the_fields_it_came_from() -> None:
    for method, observed in OBSERVED.items():
        fields = flat(observed())
        typed = TypedRows(fields, FORMS[method].asked).observations
        assert flat(typed) == fields
    assert flat({"rod_length": None, "crank_within": 0.5}) == {"crank_within": "0.5"}


def test_as_many_columns_as_usual_or_as_were_typed() -> None:
    fields = {"cylinders.1.fills.5.start": "0", "cylinders.1.fills.x.start": "0", "cylinders.11.fills.9.start": "0"}
    assert columns(fields, "cylinders.1.fills", 3) == 5
    assert columns(fields, "cylinders.1.fills", 6) == 6
    assert columns({"cylinders.1.fills.999.start": "0"}, "cylinders.1.fills", 3) == 3


def test_small_figures_are_written_without_an_e() -> None:
    written = {
        "5e-05": "5·10⁻⁵",
        "1.08e-05": "1.08·10⁻⁵",
        "0.0408248": "0.0408",
        "1.0": "1",
        "-0.5": "−0.5",
        "0.0": "0",
    }
    assert {text: small(text) for text in written} == written


def test_what_was_typed_is_named_as_people_read_it() -> None:
    typed = {"cylinders.3.head_fills.2.end": "62.4", "pouring.burette.nominal": "100", "plug_hole": "0.8"}
    assert typed_words(typed) == {
        "Cylinder 3: head fills 2: end": "62.4",
        "Pouring: burette: nominal": "100",
        "Plug hole": "0.8",
    }
    assert (unit_words("1"), unit_words("cm³")) == ("", "cm³")
