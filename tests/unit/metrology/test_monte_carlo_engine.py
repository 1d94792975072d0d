"""A whole engine in simulation: shared errors alike in all cylinders, own ones apart, the physics whole."""

import math

import numpy as np
import pytest
from scipy import stats

from app.metrology.errors import MeasurementError
from app.metrology.monte_carlo.acoustic import acoustic_model, crank_angle, measurement_function
from app.metrology.monte_carlo.adaptive import run_fixed
from app.metrology.monte_carlo.draws import BLOCK, Draws, InputQuantity
from app.metrology.monte_carlo.engine import (
    MAXIMUM,
    MEAN,
    MINIMUM,
    RANGE,
    EngineModel,
    EngineSimulation,
    Output,
    simulate_engine,
)
from app.metrology.physics.crank import peak_bias, volume_above_tdc_cm3

TRIALS = 400_000


def added(shared: Draws, own: Draws) -> Draws:
    return np.asarray(shared.sum(axis=0) + own.sum(axis=1))


def plain(cylinders: int = 8, shared_u: float = 0.06, own_u: float = 0.02, value: float = 10.5) -> EngineModel:
    own = tuple((InputQuantity(0.0, own_u),) for _ in range(cylinders))
    return EngineModel((InputQuantity(value, shared_u),), own, added)


def drawn(model: EngineModel, *outputs: Output, trials: int = TRIALS) -> Draws:
    return EngineSimulation(model, outputs, 11).next(trials)


def test_a_shared_error_is_the_same_in_all_cylinders_and_an_own_one_is_not() -> None:
    cylinders = drawn(plain(3), 0, 1, 2)
    expected = 0.06**2 / (0.06**2 + 0.02**2)
    r = np.corrcoef(cylinders)
    assert (r[0, 1], r[0, 2], r[1, 2]) == pytest.approx((expected, expected, expected), abs=0.002)
    only_shared = drawn(plain(3, own_u=0.0), 0, 1, 2)
    assert np.array_equal(only_shared[0], only_shared[1])


def test_the_mean_keeps_the_shared_error_whole_and_an_eighth_of_the_own_variance() -> None:
    found = run_fixed(EngineSimulation(plain(8), (MEAN,), 11), TRIALS).summaries[0]
    assert found.standard_uncertainty == pytest.approx(math.sqrt(0.06**2 + 0.02**2 / 8), rel=0.005)
    assert found.mean == pytest.approx(10.5, abs=0.0005)


def test_the_maximum_of_correlated_cylinders_is_that_of_the_multivariate_normal_distribution() -> None:
    """By `scipy`: P(all four ≤ m) for equally correlated errors."""
    maximum = drawn(plain(4), MAXIMUM)[0]
    covariance = np.full((4, 4), 0.06**2) + np.eye(4) * 0.02**2
    for m in (10.45, 10.52, 10.60):
        expected = stats.multivariate_normal(np.full(4, 10.5), covariance).cdf(np.full(4, m))
        assert np.mean(maximum <= m) == pytest.approx(expected, abs=5 * 0.5 / math.sqrt(TRIALS))


def test_reductions_are_those_of_the_cylinders_in_every_trial() -> None:
    places: tuple[Output, ...] = (0, 1, 2, MEAN, MAXIMUM, MINIMUM, RANGE)
    found = drawn(plain(3), *places, trials=3 * BLOCK + 17)
    cylinders = found[:3]
    assert np.array_equal(found[3], cylinders.mean(axis=0))
    assert np.array_equal(found[4], cylinders.max(axis=0))
    assert np.array_equal(found[5], cylinders.min(axis=0))
    assert np.array_equal(found[6], cylinders.max(axis=0) - cylinders.min(axis=0))


def test_trials_do_not_depend_on_how_many_are_asked_for_at_once_nor_on_the_outputs_kept() -> None:
    whole = drawn(plain(3), 1, MAXIMUM, trials=20_000)
    simulation = EngineSimulation(plain(3), (MAXIMUM,), 11)
    parts = np.concatenate([simulation.next(size)[0] for size in (1, 9_999, 10_000)])
    assert np.array_equal(parts, whole[1])


def test_an_engine_without_shared_or_without_own_errors_can_be_simulated() -> None:
    alone = EngineModel((), ((InputQuantity(1.0, 0.1),), (InputQuantity(2.0, 0.1),)), lambda _, own: own[:, 0])
    assert drawn(alone, 1, trials=1000)[0].mean() == pytest.approx(2.0, abs=0.02)
    common = EngineModel((InputQuantity(1.0, 0.1),), ((), ()), lambda shared, _: np.repeat(shared, 2, axis=0))
    both = drawn(common, 0, 1, trials=1000)
    assert np.array_equal(both[0], both[1])


def test_every_cylinder_the_mean_and_the_maximum_are_told_in_that_order() -> None:
    outcome, outputs = simulate_engine(plain(2), 20_000, 11, 0.9)
    assert outputs == (0, 1, MEAN, MAXIMUM)
    assert outcome == run_fixed(EngineSimulation(plain(2), outputs, 11), 20_000, 0.9)
    assert outcome.trials == 20_000
    assert simulate_engine(plain(2), 20_000, 11)[0].summaries[0].coverage_probability == 0.95


def test_an_output_has_the_moments_of_the_wildest_quantity_behind_it() -> None:
    wild, tame = (InputQuantity(1.0, 0.1, "t", 1.0),), (InputQuantity(1.0, 0.1),)
    model = EngineModel((), (tame, wild), lambda _, own: own[:, 0])
    assert EngineSimulation(model, (0, 1, MEAN), 1).moments == (2, 0, 0)
    shared = EngineModel((InputQuantity(1.0, 0.1, "t", 2.0),), (tame, wild), added)
    assert EngineSimulation(shared, (0, 1, MAXIMUM), 1).moments == (1, 0, 0)
    nothing = EngineModel((), ((), ()), lambda _, own: np.ones((2, own.shape[2])))
    assert EngineSimulation(nothing, (0,), 1).moments == (2,)


@pytest.mark.parametrize("output", [-1, 3, "median", ""])
def test_an_output_that_is_none_is_refused(output: Output) -> None:
    with pytest.raises(MeasurementError, match="mean, maximum, minimum, range") as refused:
        EngineSimulation(plain(3), (0, output), 11)
    assert refused.value.field == "outputs"


def test_a_model_has_cylinders_that_are_alike() -> None:
    one, two = (InputQuantity(1.0, 0.1),), (InputQuantity(1.0, 0.1), InputQuantity(0.0, 0.1))
    for own in ((), (one, two)):
        with pytest.raises(MeasurementError, match="at least one cylinder") as refused:
            EngineModel((), own, added)
        assert refused.value.field == "own"
    assert EngineModel((), (one, one), added).cylinders == 2


# ——— acoustic resonance


def ratio_from_the_volumes(bore: float, stroke: float, kelvin: float, shown: float) -> float:
    """Step by step as the physics has it, 5733 cm³ in 8 cylinders dialled at 297.15 K."""
    shown_volume = 5733.0 / 8.0 / (shown - 1.0)
    volume = shown_volume * kelvin / 297.15
    swept = math.pi / 4.0 * (bore / 10.0) ** 2 * stroke / 10.0
    return 1.0 + swept / volume


def test_the_measurement_function_is_the_physics_of_volumes() -> None:
    function = measurement_function(5733.0 / 8.0, 297.15)
    shared = np.array([[101.6, 102.0], [88.39, 87.9], [299.15, 330.0], [0.0, 0.07], [5.0, -3.0]])
    own = np.array([[[10.31, 10.4], [0.0, 0.005]], [[9.0, 12.0], [0.004, -0.005]]])
    expected = [
        [ratio_from_the_volumes(101.6, 88.39, 299.15, 10.31), ratio_from_the_volumes(102.0, 87.9, 330.0, 10.475)],
        [ratio_from_the_volumes(101.6, 88.39, 299.15, 9.004), ratio_from_the_volumes(102.0, 87.9, 330.0, 12.065)],
    ]
    assert function(shared, own) == pytest.approx(np.array(expected), rel=1e-13)


def test_an_airflow_off_its_set_point_shifts_the_indication_by_its_sensitivity() -> None:
    function = measurement_function(5733.0 / 8.0, 297.15, airflow_sensitivity=0.02)
    shared = np.array([[101.6], [88.39], [299.15], [0.01], [1.5]])
    expected = ratio_from_the_volumes(101.6, 88.39, 299.15, 10.31 + 0.01 + 0.03)
    assert function(shared, np.array([[[10.31], [0.0]]])) == pytest.approx(np.array([[expected]]), rel=1e-13)


def test_a_slope_that_varies_multiplies_the_airflow_s_error_and_an_inspector_adds_one_of_their_own() -> None:
    shared = np.array([[101.6], [88.39], [299.15], [0.01], [1.5], [-0.05], [0.07]])
    shown = np.array([[[10.31], [0.0]]])
    both = measurement_function(5733.0 / 8.0, 297.15, airflow_sensitivity=0.02, slope_varies=True)
    expected = ratio_from_the_volumes(101.6, 88.39, 299.15, 10.31 + 0.01 + (0.02 - 0.05) * 1.5 + 0.07)
    assert both(shared, shown) == pytest.approx(np.array([[expected]]), rel=1e-13)
    inspector = measurement_function(5733.0 / 8.0, 297.15, airflow_sensitivity=0.02)
    expected = ratio_from_the_volumes(101.6, 88.39, 299.15, 10.31 + 0.01 + 0.02 * 1.5 + 0.07)
    assert inspector(np.delete(shared, 5, axis=0), shown) == pytest.approx(np.array([[expected]]), rel=1e-13)


def test_without_studies_a_model_has_the_quantities_it_always_had() -> None:
    """Each has a stream of its own by its place: one more would draw every sheet anew."""
    assert len(an_engine().shared) == 5
    slope, inspector = InputQuantity(0.0, 0.01), InputQuantity(0.0, 0.03, "t", 4.0)
    assert an_engine(airflow_sensitivity_error=slope, inspector_error=inspector).shared[5:] == (slope, inspector)
    assert an_engine(inspector_error=inspector).shared[5:] == (inspector,)
    assert an_engine(inspector_error=inspector).moments(0) == 2


def test_a_crank_off_top_dead_centre_leaves_the_chamber_larger_than_it_is() -> None:
    """By the volumes: what the piston leaves open is taken off the chamber as read."""
    function = measurement_function(5733.0 / 8.0, 297.15, rod_ratio=1.6)
    shared = np.array([[101.6] * 3, [88.39] * 3, [299.15] * 3, [0.0] * 3, [0.0] * 3])
    degrees = [0.0, 3.0, -3.0]
    found = function(shared, np.array([[[10.31] * 3, [0.0] * 3, degrees]]))[0]
    swept = math.pi / 4.0 * 10.16**2 * 8.839
    as_read = swept / (ratio_from_the_volumes(101.6, 88.39, 299.15, 10.31) - 1.0)
    open_cm3 = volume_above_tdc_cm3(101.6, 88.39, 1.6, 3.0)
    assert found == pytest.approx(
        [1.0 + swept / as_read, 1.0 + swept / (as_read - open_cm3), 1.0 + swept / (as_read - open_cm3)], rel=1e-12
    )
    assert open_cm3 > 0.5


def test_a_crank_turned_in_steps_raises_the_mean_by_the_peak_s_bias() -> None:
    """Against the quadrature that the method corrects by."""
    model = an_engine(steps=8.0)
    still = an_engine()
    (stepped,), (smooth,) = (run_fixed(EngineSimulation(one, (0,), 11), TRIALS).summaries for one in (model, still))
    bias = peak_bias(101.6, 88.39, 1.6, 8.0, ratio_from_the_volumes(101.6, 88.39, 299.15, 10.31))
    assert stepped.mean - smooth.mean == pytest.approx(bias.bias, rel=0.02)
    expected = math.hypot(smooth.standard_uncertainty, bias.standard_uncertainty)
    assert stepped.standard_uncertainty == pytest.approx(expected, rel=0.01)
    assert bias.bias > 0.04


def test_the_crank_stands_anywhere_within_half_a_step() -> None:
    assert crank_angle(8.0) == InputQuantity(0.0, 4.0 / math.sqrt(3.0), "rectangular")
    assert len(an_engine(steps=8.0).own[0]) == 3
    assert len(an_engine(steps=0.5).own[0]) == 3
    assert len(an_engine().own[0]) == 2


def test_a_crank_turned_smoothly_and_a_steady_airflow_need_not_be_named() -> None:
    exact = [InputQuantity(value, 0.0) for value in (101.6, 88.39, 299.15, 0.0)]
    shown = [(InputQuantity(10.31, 0.0), InputQuantity(0.0, 0.0))]
    plainly = acoustic_model(*exact, shown, 5733.0 / 8.0, 297.15)
    expected = ratio_from_the_volumes(101.6, 88.39, 299.15, 10.31)
    assert drawn(plainly, 0, trials=2) == pytest.approx(np.full((1, 2), expected), rel=1e-13)
    usual_rod = acoustic_model(*exact, shown, 5733.0 / 8.0, 297.15, crank_step_degrees=8.0)
    named = acoustic_model(*exact, shown, 5733.0 / 8.0, 297.15, crank_step_degrees=8.0, rod_ratio=1.75)
    assert np.array_equal(drawn(usual_rod, 0, trials=99), drawn(named, 0, trials=99))
    assert drawn(usual_rod, 0, trials=99).max() > expected + 0.01


def an_engine(steps: float = 0.0, **changes: InputQuantity) -> EngineModel:
    given = {
        "bore_mm": InputQuantity(101.6, 0.01),
        "stroke_mm": InputQuantity(88.39, 0.02),
        "gas_temperature_k": InputQuantity(299.15, 1.0),
        "instrument_error": InputQuantity(0.0, 0.1 / math.sqrt(3.0), "rectangular"),
        **changes,
    }
    indications = [
        (InputQuantity(10.31 + 0.01 * place, 0.008, "t", 25.0), InputQuantity(0.0, 0.0029, "rectangular"))
        for place in range(4)
    ]
    return acoustic_model(
        **given,
        indications=indications,
        set_volume_cm3=5733.0 / 8.0,
        set_gas_temperature_k=297.15,
        crank_step_degrees=steps,
        rod_ratio=1.6,
    )


def test_the_spread_is_what_first_order_says_of_a_nearly_linear_function() -> None:
    found = run_fixed(EngineSimulation(an_engine(), (2,), 11), TRIALS).summaries[0]
    value = ratio_from_the_volumes(101.6, 88.39, 299.15, 10.33)
    above = value - 1.0
    parts = [
        above / 9.33 * 0.1 / math.sqrt(3.0),
        above / 9.33 * 0.008 * math.sqrt(25.0 / 23.0),
        above / 9.33 * 0.0029,
        above / 299.15,
        above * 2.0 / 101.6 * 0.01,
        above / 88.39 * 0.02,
    ]
    assert found.mean == pytest.approx(value, abs=5e-4)
    assert found.standard_uncertainty == pytest.approx(math.hypot(*parts), rel=0.005)


def test_a_wide_temperature_raises_the_mean_as_only_the_whole_function_does() -> None:
    """r − 1 ∝ 1/T: to second order the mean of r − 1 rises by (u/T)², which first order does not see."""
    wide = run_fixed(EngineSimulation(an_engine(gas_temperature_k=InputQuantity(299.15, 15.0)), (0,), 11), TRIALS)
    above = ratio_from_the_volumes(101.6, 88.39, 299.15, 10.31) - 1.0
    noise = 5.0 * above * 0.05 / math.sqrt(TRIALS)
    assert wide.summaries[0].mean == pytest.approx(1.0 + above * (1.0 + (15.0 / 299.15) ** 2), abs=noise)
    assert above * (15.0 / 299.15) ** 2 > 3.0 * noise


def test_a_temperature_that_may_be_absolute_zero_is_refused() -> None:
    with pytest.raises(MeasurementError, match="absolute zero") as refused:
        drawn(an_engine(gas_temperature_k=InputQuantity(299.15, 150.0)), 0)
    assert refused.value.field == "conditions.gas_temperature_standard_uncertainty_k"
    function = measurement_function(5733.0 / 8.0, 297.15)
    with pytest.raises(MeasurementError):
        function(np.array([[101.6], [88.39], [0.0], [0.0], [0.0]]), np.array([[[10.3], [0.0]]]))
    assert function(np.array([[101.6], [88.39], [0.5], [0.0], [0.0]]), np.array([[[10.3], [0.0]]])) > 1000.0
