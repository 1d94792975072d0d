"""What a certificate and a reference volume say about an instrument, held against its stated accuracy."""

from collections.abc import Sequence
from decimal import Decimal

from app.instruments.in_the_core import core_instrument
from app.instruments.ledger_schemas import CalibrationPointIn
from app.instruments.models import Calibration, Instrument, ReferenceVolume
from app.instruments.wording import plain
from app.metrology.methods.accuracy import bears_out, found_by, half_width


def greatest_of(points: Sequence[CalibrationPointIn]) -> CalibrationPointIn:
    """The point that counts for the calibration: where deviation and U together are greatest; of equals the first."""
    return max(points, key=lambda point: abs(point.deviation) + point.expanded_uncertainty)


def counting_place(points: Sequence[dict[str, str]]) -> int:
    """Which of the kept points counts."""
    found = [abs(Decimal(point["deviation"])) + Decimal(point["expanded_uncertainty"]) for point in points]
    return found.index(max(found)) if found else -1


def beyond_accuracy(instrument: Instrument, calibration: Calibration) -> str:
    """A sentence where the certificate goes beyond the stated accuracy; empty where it bears it out."""
    core = core_instrument(instrument, calibration)
    if bears_out(core) or core.calibration is None:
        return ""
    return (
        f"Certificate {calibration.certificate} goes beyond the stated accuracy: it leaves {instrument.name} up to "
        f"{found_by(core.calibration):.2g} off (deviation and uncertainty together, k = 2), where "
        f"± {half_width(core):g} is stated. Uncertainty budgets take what the certificate found."
    )


def passing_too_wide(instrument: Instrument, volume: ReferenceVolume) -> str:
    """A sentence where a verification on this volume can pass with the instrument beyond its stated accuracy."""
    half_interval = (volume.mark_high - volume.mark_low) / 2
    off, stated = volume.permitted_deviation + half_interval, _half_width(instrument)
    if off <= stated:
        return ""
    made_of = f"{plain(volume.permitted_deviation)} is permitted"
    made_of += f", and half of the mark's interval is {plain(half_interval.normalize())}" if half_interval else ""
    return (
        f"A verification on {volume.serial} can pass with {instrument.name} {plain(off.normalize())} off ({made_of}), "
        f"outside its stated accuracy of ± {plain(stated.normalize())}: to pass is not to be within it."
    )


def _half_width(instrument: Instrument) -> Decimal:
    """As the core takes it, in exact decimals."""
    return Decimal(repr(half_width(core_instrument(instrument, None))))
