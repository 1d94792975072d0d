"""What the pages of studies say beside the core: figures to the digits that count, letters, what is missing."""

import math

from app.studies.wording import (
    beside,
    class_meaning,
    degrees,
    figure,
    flow_figures_words,
    gauge_budget_words,
    letter_of,
    missing_words,
)


def test_a_figure_has_three_digits_that_count() -> None:
    assert [figure(value) for value in (0.012345, 0.5, 1.234, 123.4, 0.0, 1e-10)] == [
        "0.0123",
        "0.500",
        "1.23",
        "123.40",
        "0",
        "0",
    ]


def test_a_slope_is_told_to_the_last_digit_of_its_uncertainty() -> None:
    assert beside(-3.4e-16, 0.00994) == "0.00000"
    assert beside(0.17, 0.0456) == "0.1700"
    assert beside(0.17, 0.0) == "0.170"
    words = flow_figures_words({"sensitivity": "-0.0214", "standard_uncertainty": "0.0051"})
    assert words == "−0.02140 for each L/min more, standard uncertainty 0.00510"


def test_inspectors_are_letters_however_many_there_are() -> None:
    assert [letter_of(place) for place in (0, 1, 25, 26, 27, 52)] == ["A", "B", "Z", "A2", "B2", "A3"]


def test_degrees_of_freedom_are_told_to_a_tenth() -> None:
    assert [degrees(value) for value in (2.0, 1.96, 2.34, math.inf)] == ["2", "2", "2.3", "∞"]


def test_what_is_missing_is_told_by_inspector_three_of_it_by_name() -> None:
    four = [("A", 1), ("B", 1), ("C", 2), ("D", 2)]
    assert missing_words([("Ines", []), ("Ivo", four), ("Isa", four[:1])]) == (
        "Ivo: A (reading 1), B (reading 1), C (reading 2) and 1 more; Isa: A (reading 1)"
    )
    assert missing_words([("Ines", [])]) == ""


def test_few_degrees_of_freedom_are_said_before_anyone_adopts_them() -> None:
    figures = {
        "repeatability": "0.01",
        "repeatability_dof": "13",
        "reproducibility": "0.04",
        "reproducibility_dof": "4.9",
    }
    told = gauge_budget_words(figures, is_careful=True)
    assert "0.0100 (13 degrees of freedom), between inspectors 0.0400 (4.9)" in told
    assert "errs to the careful side" in told
    assert "may not bear it out, and says so" in told
    settled = gauge_budget_words({**figures, "reproducibility_dof": "5.0"}, is_careful=False)
    assert settled.endswith("(5).")


def test_a_share_of_the_tolerance_is_told_in_plain_words() -> None:
    def told(share: float, low: float, high: float) -> str:
        return class_meaning("class TR-8, rule 5.4, edition 1", "0.10", share, low, high)

    assert told(0.084, 0.07, 0.0999) == (
        "Of the ±0.10 of class TR-8, rule 5.4, edition 1 the measurement itself takes 8.4 %, a small part: the "
        "tolerance is left to the engines, whoever measures."
    )
    assert "takes 30 %, a part that shows" in told(0.30, 0.2, 0.3)
    assert "a large part" in told(0.301, 0.301, 0.9)
    assert "all of it and more" in told(1.0, 0.9, 0.95)
    assert told(0.2, 0.09, 0.29).endswith("How much is not well known yet: 9.0 % to 29 % at 95 %.")
    assert "not well known" not in told(0.2, 0.11, 0.30)
    assert class_meaning("a tolerance of its own", "0.2", 0.05, 0.04, 0.06).startswith("Of the ±0.2 the measurement")
