"""What an instrument's history says of its inspectors: the difference and its uncertainty. No ranking: by name."""

from collections import defaultdict
from collections.abc import Sequence
from uuid import UUID

from sqlalchemy.orm import Session

from app.instruments import charting, ledger
from app.instruments import service as instruments
from app.instruments.causes import missed_its_mark
from app.instruments.models import ReferenceVolume, Verification
from app.instruments.views import is_off_airflow, reference_volume_view
from app.metrology.errors import MeasurementError
from app.metrology.studies.inspectors import InspectorComparison, compare_inspectors
from app.metrology.studies.wording import inspector_words
from app.studies.schemas import ComparedView, InspectorsView, VolumeComparisonView
from app.studies.wording import letter_of


def inspectors_view(session: Session, instrument_id: UUID) -> InspectorsView:
    """Each reference volume by itself, since the instrument is the one it is now.

    Those verifications at the wrong airflow say nothing, and those that missed their mark speak of the instrument:
    both are left out.
    """
    instrument = instruments.instrument_of(session, instrument_id)
    whole = ledger.verifications_of(session, instrument_id)
    began, why = charting.began_anew(instrument, whole)
    judged = [row for row in whole if not is_off_airflow(row)]
    since = [row for row in judged if began is None or row.performed_at > began]
    runs = [row for row in since if not missed_its_mark(row)]
    by_volume: dict[UUID, list[Verification]] = defaultdict(list)
    for row in reversed(runs):
        by_volume[row.reference_volume_id].append(row)
    return InspectorsView(
        instrument_id=instrument_id,
        instrument_name=instrument.name,
        began_words=why,
        earlier=len(judged) - len(since),
        missed=len(since) - len(runs),
        volumes=[
            _compared(volume, by_volume[volume.id]) for volume in instrument.reference_volumes if volume.id in by_volume
        ],
    )


def _compared(volume: ReferenceVolume, rows: Sequence[Verification]) -> VolumeComparisonView:
    """`rows` oldest first."""
    people = {row.performed_by_id: row.performed_by.full_name for row in rows}
    in_order = sorted(people, key=lambda one: (people[one], str(one)))
    letters = {one: letter_of(place) for place, one in enumerate(in_order)}
    runs = {letters[one]: [float(row.mean) for row in rows if row.performed_by_id == one] for one in in_order}
    found: InspectorComparison | None = None
    problem = ""
    try:
        found = compare_inspectors(runs)
    except MeasurementError as error:
        problem = error.sentence
    names = {letters[one]: people[one] for one in in_order}
    return VolumeComparisonView(
        volume=reference_volume_view(volume),
        runs=len(rows),
        since=rows[0].performed_at,
        until=rows[-1].performed_at,
        problem=problem,
        inspectors=[]
        if found is None
        else [
            ComparedView(
                letter=one.inspector,
                name=names[one.inspector],
                runs=one.runs,
                mean=one.mean,
                difference=one.difference,
                low=one.interval.low,
                high=one.interval.high,
            )
            for one in found.inspectors
        ],
        between=found.between if found else None,
        between_low=found.between_interval.low if found else None,
        between_high=found.between_interval.high if found else None,
        within=found.within if found else None,
        sentences=list(inspector_words(found)) if found else [],
    )
