"""Moments leave the database in UTC, whatever zone a database session answers in."""

from datetime import UTC, datetime, timedelta, timezone

import pytest
from sqlalchemy.dialects import postgresql, sqlite

from app.database import UtcDateTime

NOON = datetime(2026, 5, 2, 12, 0, tzinfo=UTC)


@pytest.mark.parametrize("answered", [NOON, NOON.replace(tzinfo=None), NOON.astimezone(timezone(timedelta(hours=2)))])
def test_a_moment_reads_the_same_in_every_zone_of_the_session(answered: datetime) -> None:
    for dialect in (sqlite.dialect(), postgresql.dialect()):
        read = UtcDateTime().process_result_value(answered, dialect)
        assert read is not None
        assert (read, read.utcoffset()) == (NOON, timedelta(0))
        assert f"{read:%H:%M}" == "12:00"


def test_a_moment_without_its_zone_is_not_stored() -> None:
    with pytest.raises(ValueError, match="zone"):
        UtcDateTime().process_bind_param(NOON.replace(tzinfo=None), sqlite.dialect())
