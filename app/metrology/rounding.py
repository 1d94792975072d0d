"""Figures as they are reported: uncertainty to two significant digits, the value to the same place."""

from decimal import ROUND_HALF_EVEN, Decimal

from app.metrology.rules import ARITHMETIC_NOISE

FINEST = Decimal("1e-9")
FINEST_PROBABILITY = Decimal("1e-6")


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
    apart = [bound for bound in bounds if abs(bound - value) >= ARITHMETIC_NOISE]
    while place > FINEST and any(at_place(bound, place) == at_place(value, place) for bound in apart):
        place = place.scaleb(-1)
    return place


def told(value: float, expanded_uncertainty: float, bounds: tuple[float | None, ...]) -> tuple[str, str]:
    """(value, uncertainty) as `rounded`, with as many digits more as it takes to see on which side of a bound it lies.

    10.6004 held against 10.60 is not reported as 10.60: what people read must not contradict the verdict.
    """
    place = telling_place(
        value, tuple(bound for bound in bounds if bound is not None), uncertainty_place(expanded_uncertainty)
    )
    return at_place(value, place), at_place(expanded_uncertainty, place)


def as_written(value: float) -> str:
    """A limit as a rule book prints it: at least two decimals, no more than were given."""
    number = Decimal(repr(value))
    return f"{number.quantize(Decimal('0.01')) if number == round(number, 2) else number:f}"


def percent(probability: float, required: float | None = None) -> str:
    """A probability in per cent; rounding never turns it into certainty, nor into the confidence that was `required`.

    0.9497 where 0.95 is asked for reads 94.97 %, not 95.0 %; the same holds for the chance of the opposite, 0.05.
    """
    hundredfold = Decimal(repr(probability)) * 100
    place = Decimal("0.1")
    if required is not None:
        asked = Decimal(repr(required)) * 100
        bounds = [bound for bound in (asked, 100 - asked) if abs(bound - hundredfold) >= FINEST_PROBABILITY]
        while any(hundredfold.quantize(place) == bound.quantize(place) for bound in bounds):
            place = place.scaleb(-1)
    if hundredfold > 100 - place:
        return f"more than {100 - place} %"
    if hundredfold < place:
        return f"less than {place} %"
    return f"{hundredfold.quantize(place, ROUND_HALF_EVEN)} %"
