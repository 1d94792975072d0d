"""What is shown of an instrument's control charts."""

from datetime import date, datetime
from uuid import UUID

from app.instruments.schemas import ReferenceVolumeView
from app.intake import Exact, View


class ChartPointView(View):
    verification_id: UUID
    event_id: UUID
    event_name: str
    stage_words: str
    number: int  # from 1 on this chart
    at: datetime
    mean: Exact
    accepted: bool
    average: Exact | None  # exponentially weighted, once there are limits
    signals: list[str]


class ControlChartView(View):
    """One reference volume's chart since the instrument is the one it is now; figures in units of ratio."""

    reference_volume: ReferenceVolumeView
    began_at: datetime | None  # a repair, or a calibration after a miss; None: from its first verification
    began_words: str
    earlier: int  # checks before that, which are left out
    refused: int  # verifications off the airflow set-point: they say nothing and are left out
    points: list[ChartPointView]
    sentences: list[str]  # on the limits and the signals
    about_drift: list[str]
    baseline: int = 0  # how many checks set the limits; 0: there are too few
    provisional: bool = False
    days_differ_more: bool = False  # the limits come from the days' means, which differ by more than one day's checks
    centre: Exact | None = None
    lower: Exact | None = None
    upper: Exact | None = None
    largest_step: Exact | None = None  # upper limit of the moving range
    drifts: bool = False
    drift_in_30_days: Exact | None = None
    drift_lowest: Exact | None = None
    drift_highest: Exact | None = None
    reaches_edge_on: date | None = None
    not_before: date | None = None
    not_after: date | None = None

    @property
    def signals_now(self) -> list[str]:
        """What the latest check signals."""
        return self.points[-1].signals if self.points else []
