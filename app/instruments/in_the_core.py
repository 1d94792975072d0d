"""An instrument and its mark as the numerical core takes them."""

from app.instruments.models import Calibration, Instrument, ReferenceVolume
from app.metrology import inputs
from app.metrology.indications import parse_indication
from app.metrology.verification import Mark


def core_instrument(row: Instrument, calibration: Calibration | None) -> inputs.Instrument:
    """What a verification and a certificate are held against: how truly it reads, and to what step."""
    found = None
    if calibration is not None:
        figures = (calibration.deviation, calibration.expanded_uncertainty, calibration.coverage_factor)
        found = inputs.Calibration(calibration.certificate, *map(float, figures))
    resolution, accuracy = float(row.resolution), float(row.stated_accuracy)
    return inputs.Instrument(row.method, resolution, accuracy, row.accuracy_meaning, found)


def core_mark(row: ReferenceVolume) -> Mark:
    stated = row.mark_expanded_uncertainty
    step = parse_indication(format(row.mark_low, "f"), "mark_low").resolution
    return Mark(float(row.mark_low), float(row.mark_high), step, None if stated is None else float(stated))
