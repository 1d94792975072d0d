"""The measurement function: corrections, sensitivities, sentences."""

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from app.metrology.geometry import displacement_cm3
from app.metrology.inputs import (
    AcousticObservations,
    AssessmentInputs,
    Calibration,
    Conditions,
    CylinderReading,
    Engine,
    Settings,
)
from app.metrology.measurement import Measured
from app.metrology.methods import METHODS
from app.metrology.methods.acoustic_resonance import corrected_ratio, corrections, measure
from app.metrology.physics.crank import peak_bias
from app.metrology.repeatability import Repeatability, evaluate_repeatability, pooled_history, repeatability_words
from tests.unit.metrology.builders import (
    an_engine,
    an_instrument,
    assessed,
    readings,
    sheets,
    true_settings,
)

CALM = Conditions(20.0, 1.0, "thermometer_in_chamber")
RATIOS = st.floats(1.5, 30.0)


def observed(
    settings: Settings, conditions: Conditions, indication: float = 10.5, **instrument: float
) -> AcousticObservations:
    reading = CylinderReading(1, (f"{indication:.2f}",))
    return AcousticObservations(an_instrument(**instrument), settings, conditions, (reading,))


def measured(
    engine: Engine, settings: Settings, conditions: Conditions, indication: float = 10.5
) -> tuple[Measured, dict[str, float]]:
    """The one result, and its sensitivities by source."""
    found = measure(engine, observed(settings, conditions, indication))
    names = [source.name for source in found.sources]
    return found.results[0], dict(zip(names, found.results[0].sensitivity, strict=True))


def of_one(values: list[float], resolution: float, prior: tuple[float, float] | None) -> Repeatability:
    return evaluate_repeatability([values], [resolution], prior)[0]


def said_of(engine: Engine, settings: Settings, conditions: Conditions) -> tuple[str, ...]:
    observations = observed(settings, conditions)
    return corrections(engine, observations, measure(engine, observations).results[0])


def test_an_instrument_set_to_the_engine_and_the_gas_shows_the_ratio_itself() -> None:
    engine = an_engine()
    assert corrected_ratio(engine, true_settings(engine), 20.0, 10.5) == pytest.approx(10.5, rel=1e-15)


@given(RATIOS, st.floats(-20.0, 120.0), st.floats(-20.0, 120.0))
def test_the_ratio_follows_the_kelvin_temperatures(ratio: float, set_c: float, gas_c: float) -> None:
    engine = an_engine()
    value = corrected_ratio(engine, true_settings(engine, set_c), gas_c, ratio)
    assert (value - 1.0) / (ratio - 1.0) == pytest.approx((set_c + 273.15) / (gas_c + 273.15), rel=1e-12)


@given(RATIOS, st.floats(0.2, 5.0), st.integers(1, 12), st.floats(0.0, 100.0))
def test_a_wrongly_set_displacement_or_cylinder_count_is_corrected_to_the_same_ratio(
    ratio: float, factor: float, count: int, gas_c: float
) -> None:
    """The tone is the chamber's: whatever was dialled, the indication it turns into must lead back to one ratio."""
    engine = an_engine(cylinders=4)
    right = true_settings(engine, gas_c)
    wrong = Settings(right.displacement_cm3 * factor, count, gas_c)
    clearance_cm3 = right.displacement_cm3 / right.cylinders / (ratio - 1.0)
    shown_wrongly = 1.0 + wrong.displacement_cm3 / wrong.cylinders / clearance_cm3
    assert corrected_ratio(engine, wrong, gas_c, shown_wrongly) == pytest.approx(ratio, rel=1e-12)


@given(sheets())
def test_every_sensitivity_is_the_slope_of_the_measurement_function(inputs: AssessmentInputs) -> None:
    engine, settings, conditions = inputs.engine, inputs.observations.settings, inputs.observations.conditions
    _, by_name = measured(engine, settings, conditions)
    step = 1e-5
    gas_c = conditions.gas_temperature_c

    def ratio(indication: float = 10.5, warmer: float = 0.0, **longer: float) -> float:
        changed = replace(engine, **{name: getattr(engine, name) + more for name, more in longer.items()})
        return corrected_ratio(changed, settings, gas_c + warmer, indication)

    slopes = {
        "repeatability": (ratio(10.5 + step) - ratio(10.5 - step)) / (2 * step),
        "gas_temperature": (ratio(warmer=step) - ratio(warmer=-step)) / (2 * step),
        "bore": (ratio(bore_mm=step) - ratio(bore_mm=-step)) / (2 * step),
        "stroke": (ratio(stroke_mm=step) - ratio(stroke_mm=-step)) / (2 * step),
    }
    for name, slope in slopes.items():
        assert by_name[name] == pytest.approx(slope, rel=1e-5)
    assert by_name["resolution"] == by_name["repeatability"]
    assert by_name["stated_accuracy"] == by_name["repeatability"]


def test_one_kelvin_is_about_three_hundredths_of_a_ratio() -> None:
    """(r − 1)/T at 10.5:1 and 20 °C, the figure of the algebra; the trade speaks of 0.03."""
    engine = an_engine()
    _, by_name = measured(engine, true_settings(engine), CALM)
    assert by_name["gas_temperature"] == pytest.approx(-9.5 / 293.15)
    assert round(by_name["gas_temperature"], 3) == -0.032
    assert assessed().temperature_effect_per_kelvin == pytest.approx(-(10.235 - 1.0) / 293.15)


@pytest.mark.parametrize(
    ("meaning", "expected", "distribution"),
    [("limits", 0.0577, "rectangular"), ("expanded_k2", 0.05, "normal"), ("standard", 0.1, "normal")],
)
def test_the_meaning_of_the_stated_accuracy_counts(meaning: str, expected: float, distribution: str) -> None:
    result = assessed(instrument=an_instrument(accuracy_meaning=meaning)).decided
    accuracy = next(part for part in result.budget.components if part.name == "stated_accuracy")
    assert accuracy.standard_uncertainty == pytest.approx(expected, abs=5e-5)
    assert accuracy.distribution == distribution


@pytest.mark.parametrize(("meaning", "half"), [("limits", 0.1), ("expanded_k2", 0.1), ("standard", 0.2)])
def test_a_calibration_within_the_stated_accuracy_bears_it_out_and_changes_no_figure(meaning: str, half: float) -> None:
    for deviation in (half - 0.04, 0.04 - half):
        calibration = Calibration("HM-1", deviation, 0.06, 3.0)  # U = 0.04 with k = 2
        found = assessed(instrument=an_instrument(accuracy_meaning=meaning, calibration=calibration)).decided
        without = assessed(instrument=an_instrument(accuracy_meaning=meaning)).decided
        assert found.standard_uncertainty == without.standard_uncertainty
        part = next(part for part in found.budget.components if part.name == "stated_accuracy")
        assert f"calibration HM-1 (deviation {deviation:g}, U = 0.06, k = 3) lies within it" in part.source
        assert "not corrected for" in part.source


@pytest.mark.parametrize("meaning", ["limits", "expanded_k2", "standard"])
def test_a_calibration_beyond_the_stated_accuracy_takes_its_place(meaning: str) -> None:
    calibration = Calibration("HM-2", -0.19, 0.05, 2.0)
    part = next(
        part
        for part in assessed(
            instrument=an_instrument(accuracy_meaning=meaning, calibration=calibration)
        ).decided.budget.components
        if part.name == "stated_accuracy"
    )
    assert part.standard_uncertainty == pytest.approx(0.24 / 3**0.5)
    assert part.distribution == "rectangular"
    assert "goes beyond the accuracy stated" in part.source
    assert "±0.24 taken instead" in part.source


def test_without_a_calibration_the_budget_says_so() -> None:
    part = next(part for part in assessed().decided.budget.components if part.name == "stated_accuracy")
    assert "no calibration is on record" in part.source


def test_the_budget_says_what_was_not_measured_here() -> None:
    sources = {part.name: part.source for part in assessed().decided.budget.components}
    assert "the bore of 101.6 mm is the competitor's and was not measured here" in sources["bore"]
    assert "the stroke of 88.392 mm is the competitor's and was not measured here" in sources["stroke"]
    assert sources["gas_temperature"] == "thermometer in the chamber, known to 1 K by common practice"
    assert "the air's humidity, the adapter and the piston's position too" in sources["stated_accuracy"]


def test_every_component_names_its_source_and_what_is_shared() -> None:
    components = assessed().decided.budget.components
    assert all(part.source and part.label and part.distribution for part in components)
    assert {part.name for part in components if part.shared} == {"stated_accuracy", "gas_temperature", "bore", "stroke"}
    assert {part.name for part in components if not part.shared} == {"repeatability", "resolution"}


def test_the_coarser_of_the_digits_typed_and_the_stated_resolution_counts() -> None:
    def resolution(typed: tuple[str, ...], stated: float) -> float:
        sheet = assessed(readings=readings(typed), instrument=an_instrument(resolution=stated))
        parts = sheet.decided.budget.components
        return next(part.standard_uncertainty for part in parts if part.name == "resolution") * 12**0.5

    assert resolution(("10.50", "10.51"), 0.01) == pytest.approx(0.01)
    assert resolution(("10.50", "10.51"), 0.05) == pytest.approx(0.05)
    assert resolution(("10.5", "10.51"), 0.01) == pytest.approx(0.1)


def test_nothing_is_said_when_nothing_was_corrected() -> None:
    engine = an_engine()
    assert said_of(engine, true_settings(engine), CALM) == ()


def test_a_correction_says_what_was_set_what_is_and_what_came_of_it_in_both_units() -> None:
    engine = an_engine()
    whole_cm3 = displacement_cm3(engine.bore_mm, engine.stroke_mm, 8)
    said = said_of(engine, Settings(1.02 * whole_cm3, 8, 15.0), replace(CALM, gas_temperature_c=25.0))
    assert len(said) == 2
    assert "356.84 in³ (5847.6 cm³) and 8 cylinders" in said[0]
    assert ", 44.61 in³ (731.0 cm³) a cylinder" in said[0]
    assert "43.73 in³ (716.6 cm³)" in said[0]
    assert "10.50 becomes 10.314" in said[0]
    assert "15.0 °C (59.0 °F)" in said[1]
    assert "25.0 °C (77.0 °F)" in said[1]
    assert "10.314 becomes 10.001" in said[1]


def test_an_equivalent_cylinder_count_is_said_to_need_no_correction() -> None:
    engine = an_engine(cylinders=1)
    whole_cm3 = displacement_cm3(engine.bore_mm, engine.stroke_mm, 1)
    (said,) = said_of(engine, Settings(4 * whole_cm3, 4, 20.0), CALM)
    assert "4 cylinders" in said
    assert "1 cylinder sweeps" in said
    assert "nothing to correct" in said


def test_the_table_of_methods_is_keyed_by_each_methods_own_key() -> None:
    assert {key: method.key for key, method in METHODS.items()} == {key: key for key in METHODS}
    assert "acoustic_resonance" in METHODS
    assert all(method.label for method in METHODS.values())


def test_repeats_give_the_mean_its_own_scatter() -> None:
    found = of_one([10.4, 10.5, 10.6], 0.01, None)
    assert found.standard_deviation == pytest.approx(0.1)
    assert found.standard_uncertainty_of_mean == pytest.approx(0.1 / 3**0.5)
    assert found.dof == 2.0


def test_a_history_is_pooled_with_the_scatter_by_degrees_of_freedom() -> None:
    found = of_one([10.4, 10.5, 10.6], 0.01, (0.05, 6.0))
    assert found.standard_deviation == pytest.approx(((2 * 0.1**2 + 6 * 0.05**2) / 8) ** 0.5)
    assert found.dof == 8.0
    assert "history" in repeatability_words(found, 3, (0.05, 6.0))
    assert repeatability_words(found, 3, (0.05, 6.0), is_studied=True) == (
        "scatter of 3 indications pooled with the gauge study adopted for the instrument (0.05 for one indication)"
    )


def test_a_scatter_significantly_wider_than_the_history_stands_alone_and_says_so() -> None:
    """F(0.99; 2, 6) = 10.92: pooled up to s = 3.305·0.05, alone beyond. GUM 4.2.4 supposes one and the same scatter."""
    step = 0.05 * 10.9248**0.5
    calm = of_one([10.5 - 0.999 * step, 10.5, 10.5 + 0.999 * step], 0.01, (0.05, 6.0))
    torn = of_one([10.5 - 1.001 * step, 10.5, 10.5 + 1.001 * step], 0.01, (0.05, 6.0))
    assert (calm.dof, torn.dof) == (8.0, 2.0)
    assert torn.standard_deviation == pytest.approx(1.001 * step)
    assert "wider than the instrument's history (0.05), which is not drawn on" in repeatability_words(
        torn, 3, (0.05, 6.0)
    )
    assert repeatability_words(torn, 3, (0.05, 6.0), is_studied=True) == (
        "scatter of 3 indications, significantly wider than the gauge study adopted for the instrument (0.05), "
        "which is not drawn on"
    )


def test_a_history_without_any_scatter_never_hides_that_of_the_engine() -> None:
    found = of_one([10.49, 10.51], 0.01, (0.0, 40.0))
    assert found.standard_deviation == pytest.approx(0.0141421, abs=1e-7)
    assert found.dof == 1.0


def test_a_single_indication_takes_the_history_as_it_is() -> None:
    found = of_one([10.4], 0.01, (0.05, 6.0))
    assert (found.standard_uncertainty_of_mean, found.dof) == (0.05, 6.0)
    assert "single" in repeatability_words(found, 1, (0.05, 6.0))


def test_a_single_indication_without_history_takes_a_bound_that_says_so() -> None:
    found = of_one([10.4], 0.05, None)
    assert found.standard_uncertainty_of_mean == pytest.approx(0.1)
    assert found.dof == float("inf")
    assert "assumed" in repeatability_words(found, 1, None)


def test_histories_pool_by_degrees_of_freedom_and_single_figures_say_nothing() -> None:
    pooled = pooled_history([[10.4, 10.5, 10.6], [9.0], [8.0, 8.0]])
    assert pooled is not None
    assert pooled[0] == pytest.approx((0.02 / 3) ** 0.5)
    assert pooled[1] == 3.0
    assert pooled_history([[9.0], []]) is None


def test_without_a_history_the_cylinders_of_a_sheet_are_pooled() -> None:
    found = evaluate_repeatability([[10.4, 10.5, 10.6], [10.0, 10.2], [9.9]], [0.01] * 3, None)
    pooled = ((2 * 0.1**2 + 1 * 0.02) / 3) ** 0.5
    assert [one.standard_deviation for one in found] == pytest.approx([pooled] * 3)
    assert [one.standard_uncertainty_of_mean for one in found] == pytest.approx(
        [pooled / 3**0.5, pooled / 2**0.5, pooled]
    )
    assert [(one.dof, one.dof_in_common, one.drawn_from) for one in found] == [(3.0, 3.0, "sheet")] * 3
    assert repeatability_words(found[0], 3, None) == (
        "scatter of 3 indications, pooled over the cylinders of this sheet (0.12 for one indication)"
    )
    assert repeatability_words(found[2], 1, None).startswith("a single indication; scatter pooled over the cylinders")


def test_a_cylinder_that_scatters_more_than_the_rest_is_not_pooled_with_them() -> None:
    """Cochran's test, 5 %, four cylinders of three repeats: critical share 0.7679 (ISO 5725-2; recomputed)."""
    calm = [[10.19, 10.20, 10.21]] * 3
    for spread, alone in ((0.0314, False), (0.0316, True)):
        found = evaluate_repeatability([*calm, [10.2 - spread, 10.2, 10.2 + spread]], [0.01] * 4, None)
        assert found[3].drawn_from == ("own" if alone else "sheet")
        assert {one.drawn_from for one in found[:3]} == {"sheet"}
        assert found[0].dof == (6.0 if alone else 8.0)
    assert found[3].standard_deviation == pytest.approx(0.0316)
    assert found[3].dof_in_common == 0.0
    assert repeatability_words(found[3], 3, None) == "scatter of 3 indications"


def test_an_airflow_study_gives_the_airflow_a_line_of_its_own() -> None:
    engine = an_engine()
    observations = observed(true_settings(engine), CALM, airflow_tolerance_l_min=0.3, airflow_sensitivity=-0.05)
    found = measure(engine, observations)
    place = [source.name for source in found.sources].index("airflow")
    assert found.sources[place].shared
    assert found.results[0].u[place] == pytest.approx(0.3 / 3**0.5)
    assert found.results[0].sensitivity[place] == pytest.approx(-0.05)
    (words,) = [one for one in METHODS["acoustic_resonance"].source_words(engine, observations, found.results[0])
                if "flow study" in one]  # fmt: skip
    assert words == "kept within ±0.3 L/min of its set-point; the flow study found -0.05 for each L/min"
    without = measure(engine, observed(true_settings(engine), CALM, airflow_tolerance_l_min=0.3))
    assert "airflow" not in [source.name for source in without.sources]


def test_a_peak_sought_in_steps_of_the_crank_is_corrected_and_less_certain() -> None:
    engine = an_engine()
    stepped = replace(CALM, crank_step_degrees=10.0, rod_ratio=1.6)
    observations = observed(true_settings(engine), stepped)
    found = measure(engine, observations)
    bias, u = peak_bias(engine.bore_mm, engine.stroke_mm, 1.6, 10.0, 10.5)
    place = [source.name for source in found.sources].index("crank_position")
    assert bias > 0.05
    assert found.results[0].value == pytest.approx(10.5 + bias)
    assert (found.results[0].u[place], found.results[0].sensitivity[place]) == (pytest.approx(u), 1.0)
    assert not found.sources[place].shared
    (said,) = corrections(engine, observations, found.results[0])
    assert said.startswith("The crank was turned in steps of 10°")
    assert f"10.500 becomes {10.5 + bias:.3f}" in said
    words = METHODS["acoustic_resonance"].source_words(engine, observations, found.results[0])[place]
    assert "in steps of 10° of crank, so top dead centre lies up to 5° from the best of them" in words
    assert "rod ratio 1.6" in words
