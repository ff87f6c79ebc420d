"""Every route of the house with a real address, and in whose name it may be opened."""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from tests.make_full_day import FullDay
from tests.studio.test_access import decided, routes

# Opening one of these changes who is logged in, or is the set-up of a house that has none yet.
NO_LOGIN = ("public", "by link")


@dataclass(frozen=True)
class Visit:
    """A route opened in a role; "" is nobody, for what needs no login."""

    route: str
    role: str
    address: str
    arguments: dict[str, Any]


def visits(full_day: FullDay) -> Iterator[Visit]:
    """Each route once for each role that may open it."""
    table = decided()
    for route in routes():
        address = full_day.address(route.name, route.arguments)
        for who in sorted(table.get(route.name, route.who)):
            yield Visit(route.name, "" if who in NO_LOGIN else who, address, route.arguments)
