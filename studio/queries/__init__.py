"""Reads of what everybody shares."""

from studio.queries.house import business_name, is_set_up

__all__ = ["business_name", "is_set_up"]
