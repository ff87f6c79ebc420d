"""Reads of the clients' app; sealed words are opened by actions only, which record who looked."""

from clients.queries.days import day_of, house_day, house_zone
from clients.queries.people import ClientCard, ClientRow, card, count, find, look_alikes, newest, page_of
from clients.queries.reference import RulesInForce, rules_in_force, rules_of
from clients.queries.reviews import ReviewRow, open_reviews
from clients.queries.standings import FormStanding, ceilings, form_standings, may_read_health

__all__ = [
    "ClientCard",
    "ClientRow",
    "FormStanding",
    "ReviewRow",
    "RulesInForce",
    "card",
    "ceilings",
    "count",
    "day_of",
    "find",
    "form_standings",
    "house_day",
    "house_zone",
    "look_alikes",
    "may_read_health",
    "newest",
    "open_reviews",
    "page_of",
    "rules_in_force",
    "rules_of",
]
