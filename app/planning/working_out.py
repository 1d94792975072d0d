"""The plan itself, from what it rests on: the core's figures, and the sentences that say them."""

import math
from collections.abc import Sequence
from dataclasses import replace

from app import plots
from app.intake import show
from app.metrology.inputs import TEMPERATURE_SOURCES, Engine
from app.metrology.phrases import cylinders_in_words
from app.metrology.risk.operating_characteristic import Odds, curve
from app.metrology.risk.planning import USUAL_CYLINDERS, Policing
from app.planning import budget, wording
from app.planning.case import Case, case_of
from app.planning.changes import Change, changes_to
from app.planning.class_risk import behind_values, class_risk, spread_of
from app.planning.schemas import OddsView, PlanIn, PlanningView, PlanView, PolicingView, SourceView
from app.planning.service import Basis, Chosen
from app.plots.axis import Limits
from app.regulations.ruled import core_rule
from app.regulations.schemas import RuleView

_DRAWN = 73


def planning_view(basis: Basis, data: PlanIn) -> PlanningView:
    """The class with its plan, or with what is missing for one. Raises Invalid where the spread cannot be had."""
    plan = None
    if not basis.missing and basis.chosen is not None and basis.edition is not None:
        plan = _plan(basis, basis.chosen, basis.edition.rule, data)
    return PlanningView(
        class_id=basis.class_id,
        class_code=basis.class_code,
        class_name=basis.class_name,
        edition=basis.edition,
        instruments=basis.instruments,
        plan=plan,
        missing=basis.missing,
    )


def _plan(basis: Basis, chosen: Chosen, rule: RuleView, data: PlanIn) -> PlanView:
    engine = replace(basis.engine, cylinders=data.cylinders or basis.engine.cylinders)
    case = case_of(core_rule(rule), engine, chosen, data)
    drawn_from, process, sentence = spread_of(case.rule, basis.history, data)
    limit, probability = case.tolerance_limit, case.probability
    characteristic = case.characteristic
    ((policed,),) = (one.policing for one in case.policed([("as planned", case.parts)], [case.cylinders]))
    turned = wording.turns(policed, case.side, limit)
    at_limit = characteristic(limit)
    low, high = _span(case)
    sharper, blunter = changes_to(
        data.repeats, data.temperature_source, budget.accuracy_of(case.parts), chosen.instrument.calibration
    )
    return PlanView(
        instrument_id=chosen.id,
        instrument_name=chosen.name,
        repeats=data.repeats,
        temperature_source=data.temperature_source,
        temperature_words=TEMPERATURE_SOURCES[data.temperature_source],
        cylinders=case.cylinders,
        probability=data.probability,
        probability_typed=format((data.probability * 100).normalize(), "f"),
        engine_words=_engine_words(engine, basis.engine_is_entered),
        scatter_words=_scatter_words(chosen),
        kind=case.rule.kind,
        limit=case.rule.limit,
        tolerance_limit=limit,
        acceptance_limit=case.acceptance_limit,
        rejection_limit=case.rejection_limit,
        standard_uncertainty=case.standard_uncertainty,
        sources=_sources(case),
        headline=wording.headline(turned, case.side, limit, probability),
        sentences=[
            wording.reserve_sentence(turned, case.side, probability),
            wording.judged_words(case.rule.applies_to, case.cylinders),
        ],
        policing=_policing_view(case, "as planned", case.standard_uncertainty, policed),
        curve=[_odds_view(ratio, odds) for ratio, odds in curve(characteristic, low, high, _DRAWN)],
        table=[_odds_view(ratio, characteristic(ratio)) for ratio in _tabled(low, high)],
        at_the_limit=_odds_view(limit, at_limit),
        doubt=[
            rule.who_bears_the_doubt,
            *wording.doubt_sentences(case.rule.applies_to, case.cylinders, at_limit),
        ],
        behind=behind_values(case, process),
        risk=class_risk(case, drawn_from, process, sentence),
        history_sentence=basis.history.sentence,
        sharper=_changes(case, sharper),
        blunter=_changes(case, blunter),
        counts=_counts(case),
    )


def _changes(case: Case, changes: Sequence[Change]) -> list[PolicingView]:
    found = case.policed([(words, change(case.parts)) for words, change in changes], [case.cylinders])
    return [_policing_view(case, one.label, one.standard_uncertainty, one.policing[0]) for one in found]


def _counts(case: Case) -> list[PolicingView]:
    counts = sorted({*USUAL_CYLINDERS, case.cylinders})
    (found,) = case.policed([("as planned", case.parts)], counts)
    return [
        _policing_view(case, cylinders_in_words(one.cylinders), u, one)
        for one, u in ((one, replace(case, cylinders=one.cylinders).standard_uncertainty) for one in found.policing)
    ]


def _span(case: Case) -> tuple[float, float]:
    limits = Limits(
        case.rule.kind,
        case.rule.limit,
        case.tolerance_limit,
        case.acceptance_limit,
        case.rejection_limit,
    )
    return plots.curve_span(limits, case.standard_uncertainty)


def _tabled(low: float, high: float) -> list[float]:
    """Round ratios over the span drawn: every tick of its axis."""
    axis = plots.axis_between(low, high, 9)
    return [round(tick, 6) for tick in axis.ticks if low <= tick <= high]


def _sources(case: Case) -> list[SourceView]:
    """The greatest first, as they count in one judged value."""
    averaged = math.sqrt(case.averaged_over)
    counted = [(part, part.standard_uncertainty / (1.0 if part.shared else averaged)) for part in case.parts]
    variance = math.fsum(u**2 for _, u in counted)
    return [
        SourceView(
            label=part.label, standard_uncertainty=u, shared=part.shared, percent_of_variance=100.0 * u**2 / variance
        )
        for part, u in sorted(counted, key=lambda pair: -pair[1])
    ]


def _policing_view(case: Case, label: str, standard_uncertainty: float, policed: Policing) -> PolicingView:
    turned = wording.turns(policed, case.side, case.tolerance_limit)
    return PolicingView(
        label=label,
        cylinders=policed.cylinders,
        standard_uncertainty=standard_uncertainty,
        rejected_from=policed.rejected_from,
        accepted_to=policed.accepted_to,
        excess=policed.excess,
        reserve=policed.reserve,
        caught_text=wording.figure(turned.caught_from),
        excess_text=wording.figure(turned.excess),
        safe_text=wording.figure(turned.safe_up_to),
    )


def _odds_view(ratio: float, odds: Odds) -> OddsView:
    return OddsView(ratio=ratio, conforming=odds.accepted, inconclusive=odds.inconclusive, nonconforming=odds.rejected)


def _engine_words(engine: Engine, is_entered: bool) -> str:
    size = f"{show(engine.bore_mm, 'length')} × {show(engine.stroke_mm, 'length')}"
    if is_entered:
        return f"bore and stroke as of the engine entered last, {size}"
    return f"no engine of this class is entered yet; {size} is taken"


def _scatter_words(chosen: Chosen) -> str:
    if chosen.known.repeatability is None:
        return "its verifications show no repeats yet; two steps of its resolution are taken"
    deviation, dof = chosen.known.repeatability
    whence = "its verifications" if chosen.known.reproducibility is None else "the gauge study adopted for it"
    return f"{deviation:.3f} for one indication, from {whence} ({dof:.0f} degrees of freedom)"
