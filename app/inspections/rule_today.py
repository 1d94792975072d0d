"""Which rule a sheet opened today is judged by."""

from sqlalchemy.orm import Session

from app.database import now
from app.entries.models import Entry
from app.errors import Refused
from app.regulations import service as regulations
from app.regulations.models import Rule


def rule_today(session: Session, entry: Entry) -> Rule:
    rule = regulations.rule_in_force(session, entry.class_id, now(session).date())
    if rule is None:
        raise Refused(
            f"No edition of the rules of {entry.race_class.name} is in force today. "
            "An official has to publish one first."
        )
    return rule
