"""Wall time in a studio's zone and the instant it means; all arithmetic of zones happens here, in Python."""

from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo

from studio.rules.spans import Span


@dataclass(frozen=True)
class WallTime:
    """What a wall clock reading became: the instant, and whether the clocks made it shift or happen twice."""

    instant: datetime
    shifted: bool = False
    twice: bool = False


class Reading(datetime):
    """What the clock on one studio's wall shows at an instant; it is printed as it is.

    Templates turn every other aware time into the zone of the settings, which is no studio's.
    """

    convert_to_local_time = False


def reading(instant: datetime, zone: ZoneInfo) -> Reading:
    local = instant.astimezone(zone)
    return Reading.combine(local.date(), local.timetz())


def at(day: date, wall: time, zone: ZoneInfo) -> WallTime:
    """The instant of a wall time; one that the clocks skip moves forward by the gap, one that comes twice is the first.

    Returns a UTC instant.
    """
    first = datetime.combine(day, wall.replace(tzinfo=None, fold=0), tzinfo=zone)
    second = first.replace(fold=1)
    early, late = first.astimezone(UTC), second.astimezone(UTC)
    if early == late:
        return WallTime(early)
    # PEP 495: in a gap fold=0 uses the offset before the change, so its instant is the later one, shifted by the gap.
    if early > late:
        return WallTime(early, shifted=True)
    return WallTime(early, twice=True)


def day_span(day: date, zone: ZoneInfo) -> Span:
    """Midnight to midnight of a local day: 23, 24 or 25 hours."""
    return Span(at(day, time(0), zone).instant, at(day + timedelta(days=1), time(0), zone).instant)


def local_day(instant: datetime, zone: ZoneInfo) -> date:
    return instant.astimezone(zone).date()


def monday_of(day: date) -> date:
    return day - timedelta(days=day.weekday())
