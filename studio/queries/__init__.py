"""Reads of what everybody shares."""

from studio.queries.house import (
    BusinessView,
    ClosureView,
    PolicyView,
    StudioView,
    business,
    door_line,
    first_day_done,
    house_zone,
    is_set_up,
    signboard,
    studio,
    studios,
)
from studio.queries.notices import NoticeRow, Outbox, WordsRow, outbox, troubles_count, words, words_in_force, words_row
from studio.queries.people import InvitationView, PersonRow, anybody, invitation, person, staff, token_digest

__all__ = [
    "BusinessView",
    "ClosureView",
    "InvitationView",
    "NoticeRow",
    "Outbox",
    "PersonRow",
    "PolicyView",
    "StudioView",
    "WordsRow",
    "anybody",
    "business",
    "door_line",
    "first_day_done",
    "house_zone",
    "invitation",
    "is_set_up",
    "outbox",
    "person",
    "signboard",
    "staff",
    "studio",
    "studios",
    "token_digest",
    "troubles_count",
    "words",
    "words_in_force",
    "words_row",
]
