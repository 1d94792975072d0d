"""What a rule means, worked out on examples by the same core that judges engines."""

from decimal import Decimal
from functools import lru_cache
from math import floor, log10, sqrt

from app.metrology.conformity import GUARDED_ACCEPTANCE, GUARDED_REJECTION, decide
from app.metrology.distributions import INFINITE, t_quantile
from app.metrology.inputs import Rule
from app.metrology.rejection import Parts, rejection_factor
from app.metrology.rules import EVERY_CYLINDER, MAXIMUM, MINIMUM, RANGE, SIDES, RuleKind
from app.metrology.spread import Spread
from app.regulations import wording
from app.regulations.ruled import DISPLACEMENT, Ruled, core_rule, quantity_key, sides_of
from app.regulations.schemas import ExampleView, MeaningView, SideView

# Common practice, no source: instruments of this kind are good to about one tenth of a ratio, a bore gauge and a depth
# gauge to about a thousandth of a displacement; k = 2.
USUAL_EXPANDED_RATIO, USUAL_SHARE_OF_DISPLACEMENT = 0.10, 0.001
# Common practice, no source: most of the error of a ratio (accuracy, gas temperature, bore, stroke) is the same for all
# cylinders of an engine. Each sheet works with the split of its own budget.
SHARED_VARIANCE, CYLINDERS = 0.9, 8
_STEPS = {"well inside": -2.0, "just inside": -0.5, "on the line": 0.0, "just past": 0.5, "well past": 2.0}
_NUMBERS = {5: "Five", 7: "Seven"}


def meaning_of(rule: Ruled) -> MeaningView:
    """Engines from well inside to well past the tolerance limits, and where the verdict turns."""
    expanded = usual_expanded_uncertainty(rule)
    asked, decimals = core_rule(rule), 1 if quantity_key(rule.quantity) == DISPLACEMENT else 2
    cylinders = CYLINDERS if rule.applies_to == EVERY_CYLINDER else 1
    u = expanded / 2
    acceptance = t_quantile(asked.confidence, INFINITE) * u
    rejection = u * _rejection_factor(cylinders, asked.confidence)
    examples = []
    for label, value in _values(rule, expanded):
        decision = decide(asked, value, acceptance, rejection)
        examples.append(
            ExampleView(
                label=label,
                value=value,
                expanded_uncertainty=expanded,
                verdict=decision.verdict,
                side=decision.side.key,
                acceptance_limit=decision.acceptance_limit,
                rejection_limit=decision.rejection_limit,
            )
        )
    sides = [_turns(asked, side, float(bound), acceptance, rejection) for side, _, bound in sides_of(rule)]
    return MeaningView(
        expanded_uncertainty=expanded,
        cylinders=cylinders,
        sides=sides,
        sentences=_sentences(rule, sides, expanded),
        examples=examples,
        caption=_caption(rule, len(examples), cylinders, expanded),
        decimals=decimals,
    )


def usual_expanded_uncertainty(rule: Ruled) -> float:
    """What a usual measurement of this quantity reaches, k = 2; of a displacement to one digit."""
    if quantity_key(rule.quantity) != DISPLACEMENT:
        return USUAL_EXPANDED_RATIO
    share = USUAL_SHARE_OF_DISPLACEMENT * float(rule.limit)
    return round(share, -floor(log10(share)))


@lru_cache(maxsize=64)
def _rejection_factor(cylinders: int, confidence: float) -> float:
    """In standard uncertainties of one result: what keeps the stated risk for an engine with so many judged."""
    own = 1.0 - SHARED_VARIANCE
    return rejection_factor(
        Parts(0.0, sqrt(SHARED_VARIANCE), sqrt(own), INFINITE), Spread(0.0, 1.0, INFINITE), cylinders, confidence
    )


def _values(rule: Ruled, expanded: float) -> list[tuple[str, float]]:
    bounds = {side: float(bound) for side, _, bound in sides_of(rule)}
    if rule.kind != RANGE:
        ((side, bound),) = bounds.items()
        return [(label, round(bound + side.sign * step * expanded, 4)) for label, step in _STEPS.items()]
    low, high = bounds[MINIMUM], bounds[MAXIMUM]
    found = [
        ("well below", low - 2.0 * expanded),
        ("just below", low - 0.5 * expanded),
        ("lower line", low),
        ("in the middle", (low + high) / 2),
        ("upper line", high),
        ("just above", high + 0.5 * expanded),
        ("well above", high + 2.0 * expanded),
    ]
    return [(label, round(value, 4)) for label, value in found]


def _turns(asked: Rule, side: RuleKind, bound: float, acceptance: float, rejection: float) -> SideView:
    """The same limits that `decide` sets on this side."""
    accepts: float | None = bound
    if asked.decision_rule in GUARDED_ACCEPTANCE:
        accepts = side.shifted(bound, acceptance)
    elif asked.decision_rule in GUARDED_REJECTION:
        accepts = None
    rejects = asked.decision_rule in GUARDED_REJECTION
    return SideView(
        side=side.key,
        tolerance_limit=bound,
        acceptance_limit=accepts,
        rejection_limit=side.shifted(bound, -rejection) if rejects else None,
        rejection_limit_of_one=side.shifted(bound, -acceptance) if rejects else None,
    )


def _sentences(rule: Ruled, sides: list[SideView], expanded: float) -> list[str]:
    name, effect, _ = wording.DECISION_RULES[rule.decision_rule]
    usual = f"At a usual spread of ±{_figure(rule, expanded)}"
    said = [f"{name}: {effect[0].lower()}{effect[1:]}"]
    if rule.decision_rule == "simple_acceptance":
        said.append(f"A value {_within(rule, sides)} conforms, whatever its spread.")
        said += _covered(rule, expanded)
    elif sides[0].acceptance_limit is not None:
        said.append(
            f"{usual}, a value {_within(rule, sides)} conforms."
            if _has_room(sides)
            else f"{usual} no value conforms: the range is narrower than it takes to be certain on both sides."
        )
    if sides[0].rejection_limit is not None:
        opening = usual if sides[0].acceptance_limit is None else "At that spread"
        said.append(f"{opening}, a value {_beyond(rule, sides)} does not conform.")
        said += _for_the_engine(rule, sides)
    if rule.decision_rule == "three_zones":
        between = "Between the two" if len(sides) == 1 else "Between those limits, on either side"
        said.append(f"{between}: {wording.action_words(rule.inconclusive_action)}.")
    return [*said, wording.who_bears_the_doubt(rule)]


def _covered(rule: Ruled, expanded: float) -> list[str]:
    if not rule.tolerance_covers_uncertainty:
        return []
    granted, spread = wording.tolerance_words(rule), _figure(rule, expanded)
    meant = f"The tolerance of {granted} is meant to cover the uncertainty"
    if expanded <= float(rule.tolerance):
        return [f"{meant}, and covers a usual spread of ±{spread}."]
    return [f"{meant}; a usual spread of ±{spread} is more than that, and a sheet where it is says so."]


def _for_the_engine(rule: Ruled, sides: list[SideView]) -> list[str]:
    """Only where several cylinders are judged: one has the risk for itself."""
    if rule.applies_to != EVERY_CYLINDER:
        return []
    risk = wording.percent(1 - rule.confidence)
    with_all = " and ".join(_figures(rule, [one.rejection_limit for one in sides]))
    alone = " and ".join(_figures(rule, [one.rejection_limit_of_one for one in sides]))
    return [
        f"The stated risk holds for the engine, not for one cylinder: with all {CYLINDERS} of its cylinders exactly at "
        f"the line, an engine is wrongly rejected at most {risk} of the time. Any of {CYLINDERS} errors may be the "
        f"large one, so rejection begins at {with_all}; for one cylinder alone it would be {alone}.",
        f"This takes {100 * SHARED_VARIANCE:g} % of the variance as common to all cylinders (common practice, no "
        "source); each sheet works with its own figures.",
    ]


def _has_room(sides: list[SideView]) -> bool:
    accepted = [one.acceptance_limit for one in sides if one.acceptance_limit is not None]
    return len(accepted) < 2 or accepted[0] <= accepted[1]


def _within(rule: Ruled, sides: list[SideView]) -> str:
    figures = _figures(rule, [one.acceptance_limit for one in sides])
    if rule.decision_rule == "simple_acceptance":  # the tolerance limits themselves, digit for digit
        figures = [wording.figure(quantity_key(rule.quantity), bound) for _, _, bound in sides_of(rule)]
    return f"from {figures[0]} to {figures[1]}" if len(sides) > 1 else f"{SIDES[sides[0].side].within} {figures[0]}"


def _beyond(rule: Ruled, sides: list[SideView]) -> str:
    figures = _figures(rule, [one.rejection_limit for one in sides])
    return " or ".join(f"{SIDES[one.side].beyond} {shown}" for one, shown in zip(sides, figures, strict=True))


def _caption(rule: Ruled, count: int, cylinders: int, expanded: float) -> str:
    engines = f"{_NUMBERS[count]} engines"
    if cylinders > 1:
        engines = f"The deciding cylinder of {engines.lower()} with {cylinders} cylinders each"
    spread = _figure(rule, expanded)
    return f"{engines}, measured with ±{spread} (k = 2, a usual spread), judged by this rule."


def _figures(rule: Ruled, values: list[float | None]) -> list[str]:
    return [_figure(rule, value) for value in values if value is not None]


def _figure(rule: Ruled, value: float) -> str:
    """To the hundredth of a ratio, to a tenth of a cubic centimetre."""
    if quantity_key(rule.quantity) != DISPLACEMENT:
        return f"{value:.2f}"
    return wording.figure(DISPLACEMENT, Decimal(f"{value:.1f}"))
