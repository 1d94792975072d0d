"""Figures as they are reported: uncertainty to two significant digits, the value to the same place (JCGM 100, 7.2.6)."""

from decimal import ROUND_HALF_EVEN, Decimal


def rounded(value: float, expanded_uncertainty: float) -> tuple[str, str]:
    """(value, uncertainty) as decimal text, same unit; two significant digits of uncertainty, ties to even."""
    uncertainty = Decimal(repr(expanded_uncertainty))
    place = Decimal(1).scaleb(uncertainty.adjusted() - 1)
    shown = uncertainty.quantize(place, ROUND_HALF_EVEN)
    if shown.adjusted() > uncertainty.adjusted():  # 0.0996 became 0.100: one digit fewer says the same
        place = place.scaleb(1)
        shown = uncertainty.quantize(place, ROUND_HALF_EVEN)
    return f"{Decimal(repr(value)).quantize(place, ROUND_HALF_EVEN):f}", f"{shown:f}"


def percent(probability: float) -> str:
    """A probability in words of per cent; never rounded to certainty."""
    hundredfold = 100.0 * probability
    if hundredfold > 99.9:
        return "more than 99.9 %"
    if hundredfold < 0.1:
        return "less than 0.1 %"
    return f"{hundredfold:.1f} %"
