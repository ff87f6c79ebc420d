"""Which day it is for a client: that of her home studio, or of the first one."""

from datetime import UTC, date, datetime, tzinfo
from zoneinfo import ZoneInfo

from clients import models
from studio import models as studio_models
from studio.rules import zones


def house_zone() -> tzinfo:
    """The zone of the first open location; UTC before there is one."""
    name = (
        studio_models.Studio.objects.filter(closed_on=None)
        .order_by("position", "pk")
        .values_list("time_zone", flat=True)
        .first()
    )
    return ZoneInfo(name) if name else UTC


def house_day(now: datetime) -> date:
    return now.astimezone(house_zone()).date()


def day_of(now: datetime, client: models.Client) -> date:
    """The local day at the client's home studio."""
    if client.home_id is None or client.home is None:
        return house_day(now)
    return zones.local_day(now, ZoneInfo(client.home.time_zone))
