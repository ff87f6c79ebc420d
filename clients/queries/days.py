"""Which day it is for a client: that of her home studio, or of the first one."""

from collections.abc import Iterable
from datetime import date, datetime
from uuid import UUID
from zoneinfo import ZoneInfo

from clients import models
from studio import queries as studio_queries
from studio.rules import zones


def house_day(now: datetime) -> date:
    return zones.local_day(now, studio_queries.house_zone())


def day_of(now: datetime, client: models.Client) -> date:
    """The local day at the client's home studio."""
    if client.home_id is None or client.home is None:
        return house_day(now)
    return zones.local_day(now, ZoneInfo(client.home.time_zone))


def days_of(now: datetime, clients: Iterable[models.Client]) -> dict[UUID, date]:
    """The local day of each of many clients, loaded with their home studios; the house is asked once."""
    at_the_house = house_day(now)
    return {one.pk: day_of(now, one) if one.home_id else at_the_house for one in clients}


def clock_of(instant: datetime, client: models.Client) -> str:
    """The hour and minute of an instant at the client's home studio."""
    zone = studio_queries.house_zone() if client.home is None else ZoneInfo(client.home.time_zone)
    return f"{instant.astimezone(zone):%H:%M}"
