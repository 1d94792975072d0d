"""What is known of an instrument before a sheet is measured with it: its history, and the studies adopted for it."""

from dataclasses import dataclass

from sqlalchemy.orm import Session

from app.instruments import ledger
from app.instruments.models import Instrument
from app.studies import service as studies


@dataclass(frozen=True, slots=True)
class Known:
    """In units of ratio, as the core takes them: (standard deviation, its degrees of freedom), and ratio per L/min."""

    repeatability: tuple[float, float] | None
    reproducibility: tuple[float, float] | None = None
    airflow_sensitivity: float | None = None
    airflow_sensitivity_u: float = 0.0


def known_of(session: Session, instrument: Instrument) -> Known:
    """An adopted gauge study takes the place of the verifications' scatter, an adopted flow study that of the
    sensitivity the instrument was registered with."""
    adopted = studies.adopted(session, instrument.id)
    registered = instrument.airflow_sensitivity
    from_study = adopted.airflow_sensitivity is not None
    return Known(
        repeatability=adopted.repeatability or ledger.repeatability_of(session, instrument.id),
        reproducibility=adopted.reproducibility,
        airflow_sensitivity=adopted.airflow_sensitivity
        if from_study
        else None
        if registered is None
        else float(registered),
        airflow_sensitivity_u=adopted.airflow_sensitivity_u or 0.0,
    )
