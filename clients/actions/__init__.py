"""Writes of the clients' app; the only room that opens sealed words."""

from clients.actions.care import give_care, sign_level, take_back_care
from clients.actions.people import LooksLike, add_client, change_client, contact_at
from clients.actions.reference import ReferenceLoaded, load_reference

__all__ = [
    "LooksLike",
    "ReferenceLoaded",
    "add_client",
    "change_client",
    "contact_at",
    "give_care",
    "load_reference",
    "sign_level",
    "take_back_care",
]
