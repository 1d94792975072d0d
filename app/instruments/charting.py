"""An instrument's control chart on each of its reference volumes, from what its verifications showed."""

from collections.abc import Callable, Sequence
from datetime import UTC, date, datetime, timedelta
from decimal import Decimal
from typing import Any
from uuid import UUID

from sqlalchemy.orm import Session

from app.database import now
from app.instruments import ledger
from app.instruments.causes import missed_its_mark
from app.instruments.chart_schemas import ChartPointView, ControlChartView
from app.instruments.models import Calibration, Instrument, ReferenceVolume, Verification
from app.instruments.schemas import STAGES, Stage
from app.instruments.views import is_off_airflow, reference_volume_view
from app.intake import day
from app.metrology.charts.check_standard import CheckPoint
from app.metrology.charts.instrument_chart import InstrumentChart, chart_of
from app.metrology.charts.wording import DAYS_OF_RATE, FURTHEST_DAYS, TellDay, about_checks, about_drift, signal_words
from app.plots.control import WIDTHS, ControlLines, ControlPicture, ControlPoint, control_picture

_BEGINNING = datetime(1970, 1, 1, tzinfo=UTC)
_A_DAY = timedelta(days=1)


def charts_of(session: Session, instrument_id: UUID) -> list[ControlChartView]:
    """One for each reference volume on which the instrument was ever judged, in the order of the book."""
    instrument = ledger.instrument_of(session, instrument_id)
    checks = ledger.verifications_of(session, instrument_id)[::-1]
    began, why = began_anew(instrument, checks)
    charts = [_chart(session, instrument, volume, checks, began, why) for volume in instrument.reference_volumes]
    return [chart for chart in charts if chart is not None]


def changes_of(instrument: Instrument, checks: Sequence[Verification]) -> list[tuple[datetime, str]]:
    """When the instrument became another than it was, and why, oldest first: what it showed before says nothing after.

    A repair that may have changed what it shows makes it another, and so does the first calibration that opened it
    again after a miss: whatever made it miss was put right in between. A calibration that only confirmed it does not.
    `checks` are all of its verifications.
    """
    found = [
        (note.happened_at, f"repaired on {day(note.happened_at.date())}: {note.text}")
        for note in instrument.notes
        if note.kind == "repair" and note.affects_indication
    ]
    answers = (_first_answer(instrument.calibrations, check.performed_at) for check in checks if missed_its_mark(check))
    for calibration in {answer.id: answer for answer in answers if answer is not None}.values():
        on = calibration.calibrated_on
        after = min(calibration.created_at, datetime(on.year, on.month, on.day, tzinfo=UTC) + _A_DAY)
        found.append((after, f"calibrated after a miss, certificate {calibration.certificate}"))
    return sorted(found)


def _first_answer(calibrations: Sequence[Calibration], missed_at: datetime) -> Calibration | None:
    """As `standing` has it: made on the day of the miss or later, recorded after it, and not withdrawn since."""
    answers = [
        row
        for row in calibrations
        if row.withdrawal is None and row.created_at >= missed_at and row.calibrated_on >= missed_at.date()
    ]
    return min(answers, key=lambda row: (row.created_at, row.calibrated_on), default=None)


def began_anew(instrument: Instrument, checks: Sequence[Verification]) -> tuple[datetime | None, str]:
    """The last of `changes_of`: since when the instrument is the one it is now, and why."""
    changes = changes_of(instrument, checks)
    return changes[-1] if changes else (None, "")


def _chart(
    session: Session,
    instrument: Instrument,
    volume: ReferenceVolume,
    checks: Sequence[Verification],
    began: datetime | None,
    why: str,
) -> ControlChartView | None:
    on_it = [check for check in checks if check.reference_volume_id == volume.id]
    own = [check for check in on_it if not is_off_airflow(check)]
    since = [check for check in own if began is None or check.performed_at > began]
    if not own:
        return None
    view = reference_volume_view(volume)
    figures: InstrumentChart | None = None
    if since:
        points = [
            CheckPoint(
                day_of(check.performed_at), float(check.mean), float(check.standard_deviation), len(check.indications)
            )
            for check in since
        ]
        figures = chart_of(
            points,
            float(view.lowest_accepted),
            float(view.highest_accepted),
            resolution=float(instrument.resolution),
            as_of=max(day_of(now(session)), points[-1].day),
        )
    return ControlChartView(
        reference_volume=view,
        began_at=began,
        began_words=why,
        earlier=len(own) - len(since),
        refused=len(on_it) - len(own),
        points=[_point(check, place, figures) for place, check in enumerate(since)] if figures else [],
        sentences=_said(about_checks, figures),
        about_drift=_said(about_drift, figures),
        **_figures(figures),
    )


def _point(check: Verification, place: int, chart: InstrumentChart) -> ChartPointView:
    judged = chart.judgement
    stage: Stage = check.stage  # type: ignore[assignment]  # the column holds nothing else
    return ChartPointView(
        verification_id=check.id,
        event_id=check.event_id,
        event_name=check.event.name,
        stage_words=STAGES[stage],
        number=place + 1,
        at=check.performed_at,
        mean=check.mean,
        accepted=check.accepted,
        average=_exact(judged.average.values[place]) if judged else None,
        signals=[signal_words(signal) for signal in judged.signals if signal.place == place] if judged else [],
    )


def _said(about: Callable[[InstrumentChart, TellDay], Sequence[str]], chart: InstrumentChart | None) -> list[str]:
    return list(about(chart, lambda on: day(date_of(on)))) if chart else []


def _figures(chart: InstrumentChart | None) -> dict[str, Any]:
    if chart is None:
        return {}
    found: dict[str, Any] = {}
    if chart.judgement is not None:
        limits = chart.judgement.baseline
        found |= {
            "baseline": limits.count,
            "provisional": limits.provisional,
            "days_differ_more": limits.day_to_day_sigma_taken,
            "centre": _exact(limits.individuals.centre),
            "lower": _exact(limits.individuals.lower),
            "upper": _exact(limits.individuals.upper),
            "largest_step": _exact(limits.moving_range.upper),
        }
    if chart.drift is not None:
        found |= {
            "drift_in_30_days": _exact(chart.drift.slope * DAYS_OF_RATE),
            "drift_lowest": _exact(chart.drift.lowest * DAYS_OF_RATE),
            "drift_highest": _exact(chart.drift.highest * DAYS_OF_RATE),
            "drifts": chart.drift.differs_from_zero,
        }
    if chart.forecast is not None:
        ahead = chart.forecast
        found |= {
            "reaches_edge_on": _date_or_none(ahead.value),
            "not_before": _date_or_none(ahead.earliest),
            "not_after": _date_or_none(ahead.latest),
        }
    return found


def day_of(moment: datetime) -> float:
    return (moment - _BEGINNING) / _A_DAY


def date_of(on: float) -> date:
    return (_BEGINNING + on * _A_DAY).date()


def _date_or_none(on: float | None) -> date | None:
    """None too for days that no calendar is asked for."""
    return None if on is None or abs(on) > FURTHEST_DAYS else date_of(on)


def _exact(value: float) -> Decimal:
    return round(Decimal(repr(value)), 5)


def pictures_of(chart: ControlChartView) -> list[ControlPicture]:
    """The same chart for a wide page and for a phone."""
    volume = chart.reference_volume
    points = [
        ControlPoint(
            point.number,
            float(point.mean),
            _float(point.average),
            "good" if point.accepted else "missed",
            bool(point.signals),
            f"{point.at:%d %b}".lstrip("0"),
            f"Check {point.number}, {point.mean:.3f}, {point.stage_words.lower()}, {point.event_name}, "
            f"{day(point.at.date())}" + "".join(f"; {signal}" for signal in point.signals),
        )
        for point in chart.points
    ]
    lines = ControlLines(
        float(volume.lowest_accepted),
        float(volume.highest_accepted),
        float(volume.mark_low),
        float(volume.mark_high),
        _float(chart.centre),
        _float(chart.lower),
        _float(chart.upper),
        chart.baseline,
    )
    return [control_picture(points, lines, shape) for shape in WIDTHS] if points else []


def _float(value: Decimal | None) -> float | None:
    return None if value is None else float(value)
