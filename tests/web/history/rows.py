"""Signed results for tests: sheets through the API, the sign-off in the service, so that no PDF has to be made."""

from uuid import UUID

from sqlalchemy import select

from app.inspections.schemas import AcknowledgementIn
from app.officials.models import SigningKey
from app.slips import service as slips
from tests import builders
from tests.conftest import Logbook, an_id

INSIDE, ACROSS, PAST = "10.30", "10.58", "11.20"


def a_shed(book: Logbook) -> None:
    builders.a_class(book)
    builders.an_instrument(book)
    builders.verify(book)


def an_open_sheet(book: Logbook, car: str = "41", competitor: str = "competitor", name: str = "sheet") -> UUID:
    """A four-cylinder engine; the shed has to be open."""
    entry_id = builders.an_entry(book, car, 4, competitor)
    return builders.a_sheet(book, entry_id, name, set_displacement="2866", set_cylinders=4)


def a_result(
    book: Logbook, car: str = "41", competitor: str = "competitor", shown: str = INSIDE, by: str = "inspector"
) -> UUID:
    """A signed result whose four cylinders all showed the same."""
    inspection_id = an_open_sheet(book, car, competitor)
    builders.readings(book, inspection_id, [[shown, shown]] * 4)
    sign(book, inspection_id, by)
    return inspection_id


def sign(book: Logbook, inspection_id: UUID, by: str = "inspector") -> UUID:
    """Verdict and numbered slip, whose file is still to be made."""
    slip_id = an_id(f"slip {inspection_id}")
    seen = AcknowledgementIn(acknowledgement_kind="typed", acknowledgement_name="Cleo Fenn")
    with book.database.write() as session:
        key = session.scalars(select(SigningKey).where(SigningKey.person_id == an_id(by))).one()
        slips.sign_off(session, book.person(by), inspection_id, slip_id, seen, key.id, "https://logbook.example")
    return slip_id
