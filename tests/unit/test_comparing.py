"""Every two results of an engine are held against each other, figure by figure, and the furthest apart speaks."""

from datetime import UTC, datetime
from typing import Any

import pytest

from app.inspections.comparing import MeasuredFigure, MeasuredSheet, comparisons

RATIO, VOLUME = "compression_ratio", "displacement"


def a_figure(value: float, label: str = "Cylinder 1", **changes: Any) -> MeasuredFigure:
    given = {"expanded_uncertainty": 0.12, "coverage_factor": 2.0, "quantity": RATIO}
    return MeasuredFigure(label, value, **{**given, **changes})


def a_sheet(label: str, *figures: MeasuredFigure) -> MeasuredSheet:
    at = datetime(2026, 5, 2, 9, 0, tzinfo=UTC)
    return MeasuredSheet(label, "Instrument 2, serial AR-0002", f"/records/{label}", at, figures)


def test_three_results_make_three_pairs_in_order() -> None:
    found = comparisons([a_sheet(name, a_figure(10.5)) for name in ("First", "Second", "Third")])
    pairs = [(view.first.label, view.second.label) for view in found]
    assert pairs == [("First", "Second"), ("First", "Third"), ("Second", "Third")]
    assert found[0].first.address == "/records/First"
    assert found[0].second.measured_with == "Instrument 2, serial AR-0002"


def test_one_result_alone_has_nothing_to_be_compared_with() -> None:
    assert comparisons([a_sheet("First", a_figure(10.5))]) == []
    assert comparisons([]) == []


def test_only_figures_of_one_label_and_one_quantity_are_compared() -> None:
    first = a_sheet("First", a_figure(10.5), a_figure(5733.0, "The engine", quantity=VOLUME))
    assert comparisons([first, a_sheet("Second", a_figure(10.5, "Cylinder 2"), a_figure(10.5, "The engine"))]) == []
    (found,) = comparisons([first, a_sheet("Second", a_figure(5733.1, "The engine", quantity=VOLUME))])
    assert [line.label for line in found.figures] == ["The engine"]
    assert found.figures[0].first == "5733.00 ± 0.12 cm³"
    assert found.sentence.startswith("The engine: The two differ by 0.10 cm³; their uncertainties allow 0.17 cm³:")


def test_a_single_figure_is_said_by_itself() -> None:
    (found,) = comparisons([a_sheet("First", a_figure(10.62)), a_sheet("Second", a_figure(10.5))])
    assert found.agree
    assert found.sentence == (
        "Cylinder 1: The two differ by 0.12; their uncertainties allow 0.17: they agree, E_n = 0.71."
    )
    (line,) = found.figures
    assert (line.first, line.second, line.e_n, line.agree) == ("10.62 ± 0.12", "10.50 ± 0.12", "0.71", True)


def of_three(*values: float) -> MeasuredSheet:
    return a_sheet("Sheet", *(a_figure(value, f"Cylinder {number}") for number, value in enumerate(values, 1)))


def test_when_all_agree_the_furthest_apart_is_named() -> None:
    (found,) = comparisons([of_three(10.50, 10.60, 10.50), of_three(10.50, 10.50, 10.55)])
    assert found.agree
    assert found.sentence.startswith("All 3 figures agree. Furthest apart is cylinder 2: The two differ by 0.10;")


def test_those_that_do_not_agree_are_named() -> None:
    (found,) = comparisons([of_three(10.50, 10.70, 10.50), of_three(10.50, 10.50, 10.50)])
    assert not found.agree
    assert [line.agree for line in found.figures] == [True, False, True]
    assert found.sentence.startswith("1 of 3 figures does not agree: cylinder 2. Furthest apart is cylinder 2: ")
    (found,) = comparisons([of_three(10.50, 10.70, 10.20), of_three(10.50, 10.50, 10.50)])
    assert found.sentence.startswith(
        "2 of 3 figures do not agree: cylinder 2, cylinder 3. Furthest apart is cylinder 3: "
    )


def test_an_error_of_one_name_in_both_leaves_less_room() -> None:
    own = {"contributions": {"accuracy of instrument 2": 0.05}}
    apart = {"contributions": {"accuracy of instrument 3": 0.05}}
    (same,) = comparisons([a_sheet("First", a_figure(10.62, **own)), a_sheet("Second", a_figure(10.5, **own))])
    (other,) = comparisons([a_sheet("First", a_figure(10.62, **own)), a_sheet("Second", a_figure(10.5, **apart))])
    assert same.figures[0].e_n == f"{0.12 / (2 * (2 * 0.06**2 - 2 * 0.05**2) ** 0.5):.2f}" == "1.28"
    assert other.figures[0].e_n == "0.71"


@pytest.mark.parametrize("uncertainty", [0.0, -1.0])
def test_a_result_without_uncertainty_is_shown_with_the_reason_why_it_cannot_be_compared(uncertainty: float) -> None:
    exact = a_figure(10.5, expanded_uncertainty=uncertainty)
    (found,) = comparisons([a_sheet("First", a_figure(10.5)), a_sheet("Second", exact)])
    assert not found.agree
    assert found.sentence == "Nothing in these two results can be compared."
    (line,) = found.figures
    assert (line.second, line.e_n) == ("10.5", "")
    assert line.sentence.startswith("The second result is stated with an uncertainty of")
