"""When everything happens: two past events on whole days, and today's, which runs up to the moment of loading."""

from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta

FIRST_DAYS_AGO, SECOND_DAYS_AGO = 150, 60
_SHED_OPENS = time(7, 40, tzinfo=UTC)
TODAY_MINUTES = 116  # how much of the third event is over, as its programme counts


@dataclass(frozen=True, slots=True)
class ShedDay:
    """Minutes of a programme as moments. A short morning (loaded soon after midnight) runs quicker, not yesterday."""

    opens_at: datetime
    pace: float = 1.0

    def at(self, minutes: float, seconds: float = 0.0) -> datetime:
        passed = timedelta(seconds=round((minutes * 60 + seconds) * self.pace))
        return self.opens_at + passed


@dataclass(frozen=True, slots=True)
class Calendar:
    now: datetime

    @property
    def today(self) -> date:
        return self.now.date()

    def day(self, ago: int) -> date:
        return self.today - timedelta(days=ago)

    def moment(self, ago: int, hour: int, minute: int = 0) -> datetime:
        """So many days ago, at the desk."""
        return datetime.combine(self.day(ago), time(hour, minute, tzinfo=UTC))

    def shed_day(self, event: int) -> ShedDay:
        if event < 3:
            ago = FIRST_DAYS_AGO if event == 1 else SECOND_DAYS_AGO
            return ShedDay(datetime.combine(self.day(ago), _SHED_OPENS))
        midnight = datetime.combine(self.today, time(0, tzinfo=UTC))
        length = min(timedelta(minutes=TODAY_MINUTES), self.now - midnight)
        return ShedDay(self.now - length, length / timedelta(minutes=TODAY_MINUTES))


def calendar_of(now: datetime) -> Calendar:
    return Calendar(now.astimezone(UTC).replace(second=0, microsecond=0))
