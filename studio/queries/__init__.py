"""Reads of what everybody shares."""

from studio.queries.house import business_name, is_set_up
from studio.queries.notices import NoticeRow, Outbox, outbox, troubles_count

__all__ = ["NoticeRow", "Outbox", "business_name", "is_set_up", "outbox", "troubles_count"]
