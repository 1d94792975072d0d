"""What a plan says in sentences: figures rounded so that what is said stays true."""

import math
from typing import NamedTuple

from app.metrology.phrases import cylinders_in_words
from app.metrology.risk.operating_characteristic import Odds
from app.metrology.risk.planning import Policing
from app.metrology.rules import RuleKind

_STEPS = 100.0  # sentences speak of hundredths of a ratio
_DUST = 1e-3  # of such a step: what is closer than that is there


def chances(probability: float) -> str:
    """0.95 as "95 times in 100", 0.999 as "999 times in 1000"."""
    if abs(100.0 * probability - round(100.0 * probability)) < 1e-9:
        return f"{round(100.0 * probability)} times in 100"
    return f"{round(1000.0 * probability)} times in 1000"


class Turns(NamedTuple):
    """Where the verdicts turn, in hundredths, rounded so that what is said of them stays true."""

    caught_from: float | None
    excess: float | None
    safe_up_to: float | None
    reserve: float | None


def turns(policing: Policing, side: RuleKind, tolerance_limit: float) -> Turns:
    """Caught from a ratio a little further out, safe up to one a little further in."""
    caught = safe = excess = reserve = None
    if policing.rejected_from is not None:
        caught = _rounded(policing.rejected_from, side.sign)
        excess = round(side.sign * (caught - tolerance_limit), 2) + 0.0
    if policing.accepted_to is not None:
        safe = _rounded(policing.accepted_to, -side.sign)
        reserve = round(side.sign * (tolerance_limit - safe), 2) + 0.0
    return Turns(caught, excess, safe, reserve)


def _rounded(ratio: float, sign: int) -> float:
    steps = ratio * _STEPS
    return (math.ceil(steps - _DUST) if sign > 0 else math.floor(steps + _DUST)) / _STEPS


def headline(turned: Turns, side: RuleKind, tolerance_limit: float, probability: float) -> str:
    """What can be policed, in one sentence."""
    limit, found = f"{tolerance_limit:.2f}", f"is found nonconforming at least {chances(probability)}"
    if turned.caught_from is None or turned.excess is None:
        return f"No engine past {limit} is surely caught: the rule names no value from which on one fails."
    caught = f"{turned.caught_from:.2f} {_further(side.sign)}"
    if turned.excess > 0.0:
        return f"{limit} can be policed to within {turned.excess:.2f}: an engine that truly stands at {caught} {found}."
    if turned.excess == 0.0:
        return f"{limit} can be policed to the hundredth: an engine that truly stands at {caught} {found}."
    return (
        f"Nothing past {limit} slips through, at a price: an engine that truly stands at {caught}, still "
        f"{-turned.excess:.2f} inside, {found}."
    )


def reserve_sentence(turned: Turns, side: RuleKind, probability: float) -> str:
    """What a builder has to keep away from the limit to be safe."""
    found = f"is found conforming at least {chances(probability)}"
    if turned.safe_up_to is None or turned.reserve is None:
        return f"No engine {found}, however far inside it stands."
    if turned.reserve == 0.0:
        return f"An engine at the tolerance limit {found}."
    if turned.reserve > 0.0:
        return (
            f"An engine at {turned.safe_up_to:.2f} {_further(-side.sign)}, {turned.reserve:.2f} inside, {found}. "
            "That is the reserve a builder has to keep to be sure."
        )
    return f"An engine at {turned.safe_up_to:.2f}, {-turned.reserve:.2f} past the tolerance limit, still {found}."


def _further(sign: int) -> str:
    return "or more" if sign > 0 else "or less"


def figure(value: float | None) -> str:
    """In hundredths, with a true minus; a dash for what there is not."""
    return "–" if value is None else f"{value:.2f}".replace("-", "−")


def judged_words(applies_to: str, cylinders: int) -> str:
    one = cylinders_in_words(cylinders)
    match applies_to:
        case "every_cylinder" if cylinders > 1:
            return f"Engines of {one}, each of which is judged; all of them are taken to have the ratio named."
        case "mean_of_cylinders":
            return f"Engines of {one}, of which the mean is judged."
        case _:
            return f"Engines of {one}, of which one is judged." if cylinders > 1 else f"Engines of {one}."


def doubt_sentences(applies_to: str, cylinders: int, at_the_limit: Odds) -> list[str]:
    """What happens to an engine that stands exactly at the tolerance limit: the last one that is allowed."""
    said = [
        f"An engine exactly at the tolerance limit is within the rules. It is found conforming "
        f"{in_hundred(at_the_limit.accepted)}, nonconforming {in_hundred(at_the_limit.rejected)}"
        + (f" and inconclusive {in_hundred(at_the_limit.inconclusive)}." if at_the_limit.inconclusive > 0.0 else ".")
    ]
    if applies_to == "every_cylinder" and cylinders > 1:
        said.append(
            f"That holds with all {cylinders} cylinders at the limit, where any of {cylinders} errors may be the large "
            "one."
        )
    return said


def in_hundred(share: float) -> str:
    """A share as times in a hundred, with no more digits than it bears."""
    times = 100.0 * share
    if times < 0.1:
        return "less than once in 1000" if times >= 0.0 else "never"
    if times > 99.9:
        return "more than 999 times in 1000"
    return f"{times:.1f} times in 100" if times < 10.0 or times > 90.0 else f"{times:.0f} times in 100"
