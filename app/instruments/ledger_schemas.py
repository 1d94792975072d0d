"""What is asked and shown of what becomes of an instrument: certificates, damage, faults, repairs, moves."""

from datetime import datetime
from typing import Annotated, Literal
from uuid import UUID

from pydantic import AfterValidator, AwareDatetime, Field

from app.intake import Exact, In, Number, View, within

NoteKind = Literal["fault", "repair", "moved"]
NOTE_KINDS: dict[NoteKind, str] = {"fault": "Fault", "repair": "Repair", "moved": "Moved"}
DOUBT_KINDS = {
    "missed_mark": "The instrument missed its mark",
    "certificate_withdrawn": "Its certificate was withdrawn",
    "volume_damaged": "Its reference volume was found damaged",
    "fault": "A fault was found in it",
    "repair": "It was used after a repair without a calibration",
}
MOST_POINTS = 40


def _of_our_time(value: datetime) -> datetime:
    if not 2000 <= value.year <= 2200:
        raise ValueError("No instrument of this book was there in that year. Check the year.")
    return value


Moment = Annotated[AwareDatetime, AfterValidator(_of_our_time)]
Reason = Annotated[str, Field(min_length=1, max_length=2000)]


# ---- asked ------------------------------------------------------------------------------------------------------


class CalibrationPointIn(In):
    """One line of the certificate's table, in units of ratio."""

    reference: Annotated[Number, within("1.5", "40", "A reference value of"), Field(title="Reference value")]
    deviation: Annotated[Number, within("-5", "5", "A deviation of"), Field(title="Deviation found")]
    expanded_uncertainty: Annotated[
        Number, within("0.0001", "5", "An expanded uncertainty of"), Field(title="Expanded uncertainty")
    ]


class WithdrawalIn(In):
    reason: Annotated[Reason, Field(title="Reason")]


class CondemnationIn(In):
    reason: Annotated[Reason, Field(title="What was found")]
    last_sound_at: Annotated[Moment | None, Field(title="When it was last known to be sound")] = None


class NoteIn(In):
    kind: Annotated[NoteKind, Field(title="What is noted")]
    happened_at: Annotated[Moment, Field(title="When")]
    text: Annotated[Reason, Field(title="Words")]
    place: Annotated[str, Field(max_length=120, title="Where it is now")] = ""
    affects_indication: Annotated[bool | None, Field(title="Does it affect what it shows")] = None


# ---- shown ------------------------------------------------------------------------------------------------------


class CalibrationPointView(View):
    reference: Exact
    deviation: Exact
    expanded_uncertainty: Exact
    counts: bool  # the one whose deviation and uncertainty together are greatest


class CertificateFileView(View):
    name: str
    media_type: str
    sha256: str
    attached_by: str
    attached_at: datetime


class WithdrawalView(View):
    reason: str
    withdrawn_by: str
    withdrawn_at: datetime


class CondemnationView(View):
    reason: str
    last_sound_at: datetime | None
    condemned_by: str
    condemned_at: datetime


class NoteView(View):
    id: UUID
    kind: NoteKind
    kind_words: str
    happened_at: datetime
    text: str
    place: str
    affects_indication: bool
    noted_by: str
    noted_at: datetime


class RaisedDoubtView(View):
    """One fact that put results in doubt."""

    id: UUID
    kind_words: str
    since: datetime | None
    until: datetime
    reason: str
