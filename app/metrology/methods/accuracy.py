"""What the instrument's stated accuracy contributes, and whether its calibration bears it out.

A deviation found by calibration or verification is not corrected for: it lies within the stated accuracy. Where it does
not, the accuracy is refuted, and limits wide enough for what was found take its place (JCGM 100:2008, F.2.4.5: a
correction known and not made enlarges the uncertainty).
"""

from app.metrology.distributions import standard_uncertainty_expanded, standard_uncertainty_rectangular
from app.metrology.inputs import ACCURACY_MEANINGS, Calibration, Instrument
from app.metrology.measurement import Source

USUAL_FACTOR = 2.0
_LIMITS = Source("stated_accuracy", "stated accuracy of the instrument", "1", "rectangular", True)
_BELL = Source("stated_accuracy", "stated accuracy of the instrument", "1", "normal", True)
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


def accuracy_of(instrument: Instrument) -> tuple[Source, float]:
    """The source and its standard uncertainty in units of the indication. One error for all cylinders."""
    stated = instrument.stated_accuracy
    if instrument.calibration is not None and not bears_out(instrument):
        return _LIMITS, standard_uncertainty_rectangular(found_by(instrument.calibration))
    match instrument.accuracy_meaning:
        case "limits":
            return _LIMITS, standard_uncertainty_rectangular(stated)
        case "expanded_k2":
            return _BELL, standard_uncertainty_expanded(stated, USUAL_FACTOR)
        case _:
            return _BELL, stated


def accuracy_words(instrument: Instrument) -> str:
    """Where the figure comes from, for the budget."""
    return f"{_source(instrument)}; {ALSO_COVERED}"


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
