"""Indications as typed."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from app.metrology.errors import MeasurementError
from app.metrology.indications import Indication, parse_indication, read_indication


@pytest.mark.parametrize(
    ("typed", "value", "resolution"),
    [
        ("10.50", 10.5, 0.01),
        ("10,50", 10.5, 0.01),
        (" 10.50 ", 10.5, 0.01),
        ("10.5\u00a0", 10.5, 0.1),
        ("11", 11.0, 1.0),
        ("010.500", 10.5, 0.001),
    ],
)
def test_the_digits_give_the_value_and_the_resolution(typed: str, value: float, resolution: float) -> None:
    assert parse_indication(typed, "x") == Indication(value, resolution)


@pytest.mark.parametrize(
    "typed",
    [
        "1e1",
        "1e9",
        "10.5e0",
        "-10.5",
        "+10.5",
        "10.",
        ".5",
        "10.5.0",
        "10 50",
        "1 0.5",
        "nan",
        "NaN",
        "inf",
        "Infinity",
        "0x10",
        "10_5",
        "١٠.٥",  # Arabic-Indic digits, which float() would take
        "10.5:1",
        "ten",
        "10.5\n",
        "9" * 1_000_000,
        "10." + "0" * 1_000_000,
        "10.1234567",
    ],
)
def test_what_is_no_plain_figure_is_refused_with_an_example_of_what_would_do(typed: str) -> None:
    with pytest.raises(MeasurementError) as refused:
        parse_indication(typed, "readings.3.indications.0")
    assert refused.value.field == "readings.3.indications.0"
    assert "10.50" in refused.value.sentence
    assert len(refused.value.sentence) < 200


@pytest.mark.parametrize("typed", ["", "  ", "\u00a0"])
def test_an_empty_indication_is_called_empty(typed: str) -> None:
    with pytest.raises(MeasurementError, match="empty"):
        parse_indication(typed, "x")


@pytest.mark.parametrize("typed", ["1", "1.00", "0.99", "0", "100", "100.0", "105", "999"])
def test_a_ratio_not_between_1_and_100_is_refused(typed: str) -> None:
    with pytest.raises(MeasurementError, match="decimal point left out"):
        parse_indication(typed, "x")


@pytest.mark.parametrize(("typed", "value"), [("1.01", 1.01), ("99.99", 99.99)])
def test_the_ends_of_the_range_are_taken(typed: str, value: float) -> None:
    assert parse_indication(typed, "x").value == value


@given(st.decimals("1.000001", "99.999999", places=6), st.sampled_from([".", ","]))
def test_every_plain_decimal_reads_as_python_reads_it(value: object, point: str) -> None:
    assert parse_indication(str(value).replace(".", point), "x").value == float(str(value))


@given(st.text(max_size=12))
def test_any_text_either_reads_or_is_refused_with_a_sentence(typed: str) -> None:
    try:
        indication = parse_indication(typed, "x")
    except MeasurementError as refused:
        assert refused.sentence.endswith((".", "?"))  # noqa: PT017
    else:
        assert 1.0 < indication.value < 100.0


def test_the_quick_way_in_reads_what_the_careful_one_reads() -> None:
    for text in ("10.50", "9", "99.999999", " 10.5 ", "10,50", "1.000001"):
        careful = parse_indication(text, "anywhere")
        assert read_indication(text, 1, 0) == (careful.value, careful.resolution)
    for text in ("1", "100", "0.5", "1e9", "", "10.5000000"):
        with pytest.raises(MeasurementError) as refused:
            read_indication(text, 3, 1)
        assert refused.value.field == "readings.3.indications.1"
