"""What the instrument's stated accuracy contributes, and whether its calibration bears it out.

A deviation found by calibration or verification is not corrected for: it lies within the stated accuracy. Where it does
not, the accuracy is refuted, and limits wide enough for what was found take its place (JCGM 100:2008, F.2.4.5: a
correction known and not made enlarges the uncertainty).
"""

from app.metrology.distributions import (
    INFINITE,
    standard_uncertainty_expanded,
    standard_uncertainty_rectangular,
)
from app.metrology.inputs import ACCURACY_MEANINGS, Calibration, Instrument
from app.metrology.uncertainty import Component

USUAL_FACTOR = 2.0
ALSO_COVERED = "taken to cover the air's humidity, the adapter and the piston's position too"


def half_width(instrument: Instrument) -> float:
    """How far the instrument may read off by its stated accuracy, in units of ratio: ±a, or ±U with k = 2."""
    return instrument.stated_accuracy * (USUAL_FACTOR if instrument.accuracy_meaning == "standard" else 1.0)


def found_by(calibration: Calibration) -> float:
    """How far it may read off by its calibration, in units of ratio: deviation and U with k = 2 together."""
    return abs(calibration.deviation) + calibration.expanded_uncertainty * USUAL_FACTOR / calibration.coverage_factor


def bears_out(instrument: Instrument) -> bool:
    """Whether the calibration, if there is one, lies within the stated accuracy; its very edge is within."""
    return instrument.calibration is None or found_by(instrument.calibration) <= half_width(instrument) * (1.0 + 1e-12)


def stated_accuracy(instrument: Instrument, per_indication: float) -> Component:
    """The component of the budget; `per_indication` is dr/dr_ind. One error for all cylinders."""
    distribution, standard_uncertainty = _evaluate(instrument)
    return Component(
        name="stated_accuracy",
        label="stated accuracy of the instrument",
        source=f"{_source(instrument)}; {ALSO_COVERED}",
        distribution=distribution,
        standard_uncertainty=standard_uncertainty,
        unit="1",
        sensitivity=per_indication,
        degrees_of_freedom=INFINITE,
        shared=True,
    )


def _evaluate(instrument: Instrument) -> tuple[str, float]:
    stated = instrument.stated_accuracy
    if instrument.calibration is not None and not bears_out(instrument):
        return "rectangular", standard_uncertainty_rectangular(found_by(instrument.calibration))
    match instrument.accuracy_meaning:
        case "limits":
            return "rectangular", standard_uncertainty_rectangular(stated)
        case "expanded_k2":
            return "normal", standard_uncertainty_expanded(stated, USUAL_FACTOR)
        case _:
            return "normal", stated


def _source(instrument: Instrument) -> str:
    stated = f"{instrument.stated_accuracy:g}, {ACCURACY_MEANINGS[instrument.accuracy_meaning]}"
    calibration = instrument.calibration
    if calibration is None:
        return f"stated for the instrument: {stated}; no calibration is on record to bear it out"
    found = (
        f"calibration {calibration.certificate} (deviation {calibration.deviation:g}, "
        f"U = {calibration.expanded_uncertainty:g}, k = {calibration.coverage_factor:g})"
    )
    if bears_out(instrument):
        return f"stated for the instrument: {stated}; {found} lies within it and is not corrected for"
    return (
        f"{found} goes beyond the accuracy stated for the instrument ({stated}): limits of "
        f"±{found_by(calibration):.2g} taken instead, not corrected for"
    )
