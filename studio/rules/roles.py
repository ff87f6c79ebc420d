"""Roles of the people who work here, and the workplace each opens."""

from enum import StrEnum


class Role(StrEnum):
    DESK = "desk"
    INSTRUCTOR = "instructor"
    OWNER = "owner"


EVERY_ROLE = frozenset(Role)
