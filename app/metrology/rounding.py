"""Figures as they are reported: uncertainty to two significant digits, the value to the same place."""

from decimal import ROUND_HALF_EVEN, Decimal

FINEST = Decimal("1e-9")


def uncertainty_place(expanded_uncertainty: float) -> Decimal:
    """The place of the second significant digit of an uncertainty above zero, as 0.01. JCGM 100:2008, 7.2.6."""
    uncertainty = Decimal(repr(expanded_uncertainty))
    place = Decimal(1).scaleb(uncertainty.adjusted() - 1)
    if uncertainty.quantize(place, ROUND_HALF_EVEN).adjusted() > uncertainty.adjusted():
        return place.scaleb(1)  # 0.0996 would become 0.100: one digit fewer says the same
    return place


def at_place(value: float, place: Decimal) -> str:
    """A figure rounded to this place, ties to even, never with an exponent."""
    return f"{Decimal(repr(value)).quantize(min(place, Decimal(1)), ROUND_HALF_EVEN):f}"


def rounded(value: float, expanded_uncertainty: float) -> tuple[str, str]:
    """(value, uncertainty) as decimal text in the same unit. JCGM 100:2008, 7.2.6."""
    place = uncertainty_place(expanded_uncertainty)
    return at_place(value, place), at_place(expanded_uncertainty, place)


def telling_place(value: float, bounds: tuple[float, ...], place: Decimal) -> Decimal:
    """This place, or the first finer one at which the value does not read the same as a bound that it differs from."""
    while place > FINEST and any(
        bound != value and at_place(bound, place) == at_place(value, place) for bound in bounds
    ):
        place = place.scaleb(-1)
    return place


def as_written(value: float) -> str:
    """A limit as a rule book prints it: at least two decimals, no more than were given."""
    number = Decimal(repr(value))
    return f"{number.quantize(Decimal('0.01')) if number == round(number, 2) else number:f}"


def percent(probability: float) -> str:
    """A probability in per cent; rounding never turns it into certainty."""
    hundredfold = 100.0 * probability
    if hundredfold > 99.9:
        return "more than 99.9 %"
    if hundredfold < 0.1:
        return "less than 0.1 %"
    return f"{hundredfold:.1f} %"
