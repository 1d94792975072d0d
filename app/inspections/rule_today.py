"""Which rule a sheet opened today is judged by."""

from sqlalchemy.orm import Session

from app.database import now
from app.entries.models import Entry
from app.errors import Refused
from app.regulations import service as regulations
from app.regulations.models import Rule
from app.regulations.ruled import COMPRESSION_RATIO, quantity_words


def rule_today(session: Session, entry: Entry, quantity: str = COMPRESSION_RATIO) -> Rule:
    """`quantity` is what the measuring method measures, a key of the core's."""
    today = now(session).date()
    edition = regulations.edition_in_force(regulations.class_of(session, entry.class_id), today)
    if edition is None:
        raise Refused(
            f"No edition of the rules of {entry.race_class.name} is in force today. "
            "An official has to publish one first."
        )
    rule = edition.rule_on(quantity)
    if rule is None:
        raise Refused(
            f"Edition {edition.number} of the rules of {entry.race_class.name} sets no limit for the "
            f"{quantity_words(quantity)}. An official has to publish one that does first."
        )
    return rule
