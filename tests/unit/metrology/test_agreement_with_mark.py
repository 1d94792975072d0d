"""E_n of an instrument on its reference volume, and what a kelvin of warmth does to it.

| check | source | how it is known |
| --- | --- | --- |
| E_n = (x − X)/√(U² + U_ref²), both with k = 2; agreement up to 1 | ISO 13528:2022, 9.7; ISO/IEC 17043, Annex B | from memory |
| a/√3 of limits, δ/√12 of a last step, s/√n of a mean | JCGM 100:2008, 4.3.7, F.2.2.1, 4.2.3 | from memory |
| dV/V of 0.3411 % a kelvin at 293.15 K | published check HLM-3 | derived there, cross-checked |
"""  # noqa: E501  # a table's row is one line

import math
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from app.metrology.agreement import Agreement
from app.metrology.errors import MeasurementError
from app.metrology.inputs import Calibration, Instrument
from app.metrology.verification import (
    Mark,
    agreement_sentence,
    agreement_with_mark,
    expanded_uncertainty_of_mark,
    standard_uncertainty_of_mean,
    warmth_per_kelvin,
)

INTERVAL = Mark(11.20, 11.30, 0.01)


def an_instrument(stated: float = 0.10, meaning: str = "limits", resolution: float = 0.01, **more: Any) -> Instrument:
    return Instrument("acoustic_resonance", resolution, stated, meaning, **more)


def compared(*indications: str, instrument: Instrument | None = None, mark: Mark = INTERVAL) -> Agreement:
    return agreement_with_mark(indications, instrument or an_instrument(), mark)


# ---- the mark ----------------------------------------------------------------------------------------------------


def test_what_is_stated_for_the_mark_counts_as_it_is_even_for_an_interval() -> None:
    assert expanded_uncertainty_of_mark(Mark(11.20, 11.30, 0.01, 0.02)) == 0.02


def test_an_interval_without_a_statement_counts_as_limits() -> None:
    """Half width 0.05: U = 2 · 0.05/√3 = 0.057735."""
    assert expanded_uncertainty_of_mark(INTERVAL) == pytest.approx(0.0577350269, rel=1e-9)
    assert INTERVAL.middle == pytest.approx(11.25, rel=1e-15)


def test_a_single_number_without_a_statement_counts_to_half_its_last_digit() -> None:
    """11.25 to ±0.005: U = 2 · 0.005/√3 = 0.0057735; 11.3 to ±0.05 is ten times that."""
    assert expanded_uncertainty_of_mark(Mark(11.25, 11.25, 0.01)) == pytest.approx(0.00577350269, rel=1e-9)
    assert expanded_uncertainty_of_mark(Mark(11.3, 11.3, 0.1)) == pytest.approx(0.0577350269, rel=1e-9)


# ---- the mean ----------------------------------------------------------------------------------------------------


def test_the_mean_is_as_uncertain_as_accuracy_resolution_and_scatter_together() -> None:
    """Limits 0.10, step 0.01, s = 0.01 of 3: u² = 0.01/3 + 0.0001/12 + 0.0001/3."""
    found = standard_uncertainty_of_mean(("11.24", "11.25", "11.26"), an_instrument())
    assert found == pytest.approx(math.sqrt(0.01 / 3 + 0.0001 / 12 + 0.0001 / 3), rel=1e-12)


@pytest.mark.parametrize(
    ("meaning", "variance"), [("limits", 0.01 / 3), ("expanded_k2", 0.05**2), ("standard", 0.10**2)]
)
def test_the_stated_accuracy_is_read_as_it_is_meant(meaning: str, variance: float) -> None:
    found = standard_uncertainty_of_mean(("11.25", "11.25", "11.25"), an_instrument(meaning=meaning))
    assert found == pytest.approx(math.sqrt(variance + 0.0001 / 12), rel=1e-12)


def test_a_calibration_beyond_the_stated_accuracy_takes_its_place() -> None:
    """|0.12| + 0.04 with k = 2 is 0.16, beyond 0.10: limits of 0.16."""
    refuted = an_instrument(calibration=Calibration("HM-1", -0.12, 0.04, 2.0))
    found = standard_uncertainty_of_mean(("11.25", "11.25"), refuted)
    assert found == pytest.approx(math.sqrt(0.16**2 / 3 + 0.0001 / 12), rel=1e-12)


def test_the_coarser_of_what_the_instrument_shows_and_what_was_typed_counts() -> None:
    fine = an_instrument(stated=0.001, resolution=0.01)
    assert standard_uncertainty_of_mean(("11.2", "11.2"), fine) == pytest.approx(
        math.hypot(0.001 / math.sqrt(3), 0.1 / math.sqrt(12)), rel=1e-12
    )
    assert standard_uncertainty_of_mean(("11.200", "11.200"), fine) == pytest.approx(
        math.hypot(0.001 / math.sqrt(3), 0.01 / math.sqrt(12)), rel=1e-12
    )


# ---- together ----------------------------------------------------------------------------------------------------


def test_e_n_is_signed_and_counts_from_the_middle_of_the_mark() -> None:
    """Accuracy U = 0.12, k = 2, a mark of U = 0.05; no scatter and hardly any step: √(0.12² + 0.05²) = 0.13."""
    made = an_instrument(0.12, "expanded_k2", 1e-9)
    mark = Mark(11.20, 11.30, 0.01, 0.05)
    above = compared("11.315000", "11.315000", instrument=made, mark=mark)
    assert above.allowed == pytest.approx(0.13, rel=1e-9)
    assert above.e_n == pytest.approx(0.5, rel=1e-9)
    assert above.agree
    below = compared("11.055000", "11.055000", instrument=made, mark=mark)
    assert below.e_n == pytest.approx(-1.5, rel=1e-9)
    assert not below.agree


def test_e_n_of_exactly_one_still_agrees() -> None:
    made, mark = an_instrument(0.12, "expanded_k2", 1e-9), Mark(11.20, 11.30, 0.01, 0.05)
    assert compared("11.380000", "11.380000", instrument=made, mark=mark).agree
    assert not compared("11.381000", "11.381000", instrument=made, mark=mark).agree


def test_an_ordinary_opening_in_figures() -> None:
    """x̄ = 11.27, s = 0.01 of 3, limits 0.10, step 0.01, mark 11.20 to 11.30: 0.02/(2·√(u² + 0.05²/3)), by hand."""
    found = compared("11.26", "11.27", "11.28")
    allowed = 2.0 * math.sqrt(0.01 / 3 + 0.0001 / 12 + 0.0001 / 3 + 0.0025 / 3)
    assert found.difference == pytest.approx(0.02, abs=1e-12)
    assert found.allowed == pytest.approx(allowed, rel=1e-12)
    assert found.e_n == pytest.approx(0.15415, abs=5e-6)


@given(st.lists(st.integers(1100, 1150), min_size=2, max_size=12), st.floats(0.01, 0.3), st.floats(0.001, 0.2))
def test_a_wider_claim_never_turns_agreement_into_disagreement(shown: list[int], stated: float, u_mark: float) -> None:
    typed = [f"{n // 100}.{n % 100:02d}" for n in shown]
    narrow = compared(*typed, instrument=an_instrument(stated), mark=Mark(11.25, 11.25, 0.01, u_mark))
    wide = compared(*typed, instrument=an_instrument(2.0 * stated), mark=Mark(11.25, 11.25, 0.01, 2.0 * u_mark))
    assert abs(wide.e_n) <= abs(narrow.e_n)
    assert wide.agree >= narrow.agree


def test_what_cannot_be_compared_is_named() -> None:
    with pytest.raises(MeasurementError) as refused:
        compared()
    assert refused.value.field == "indications"
    with pytest.raises(MeasurementError) as refused:
        compared("11.25")
    assert refused.value.field == "indications"
    assert "read it once more" in refused.value.sentence
    with pytest.raises(MeasurementError) as refused:
        compared("11.25", "11.2S")
    assert refused.value.field == "indications.1"
    with pytest.raises(MeasurementError) as refused:
        compared("11.25", "11.25", mark=Mark(11.3, 11.2, 0.01))
    assert refused.value.field == "mark_low"


# ---- in words ----------------------------------------------------------------------------------------------------


def test_where_both_say_the_same_the_sentence_is_short() -> None:
    assert agreement_sentence(0.43, True) == "E_n = 0.43: mark and instrument agree within what both claim."
    assert agreement_sentence(-1.62, False) == "E_n = 1.62: mark and instrument do not agree within what both claim."


def test_where_they_say_otherwise_the_sentence_says_what_that_means() -> None:
    wide, narrow = agreement_sentence(1.2, True), agreement_sentence(-1.0, False)
    assert wide.startswith("E_n = 1.20: mark and instrument do not agree within what both claim. The permitted")
    assert "it is kept: it allows more than" in wide
    assert narrow.startswith("E_n = 1.00: mark and instrument agree within what both claim. The permitted deviation")
    assert "it is not kept: it allows less than" in narrow


# ---- warmth ------------------------------------------------------------------------------------------------------


def test_a_kelvin_of_warmth_takes_about_a_third_of_a_per_cent_off_the_volume() -> None:
    """Published check HLM-3: 0.3411 % a kelvin at 293.15 K; r − 1 moves by as much, the other way."""
    assert warmth_per_kelvin(2.0, 20.0) == pytest.approx(0.003411, rel=1e-4)
    assert warmth_per_kelvin(11.25, 20.0) == pytest.approx(10.25 * 0.003411, rel=1e-4)
    assert warmth_per_kelvin(11.25, 20.0) > warmth_per_kelvin(11.25, 25.0)
