"""Reads of the clients' app; sealed words are opened by actions only, which record who looked."""

from clients.queries.coming import ComingRow, client_of_reading, client_of_restriction, coming_of
from clients.queries.consents import ConsentLine, consents_of, leave_for_messages, open_consent, usual_giver
from clients.queries.days import clock_of, day_of, days_of, house_day
from clients.queries.importing import ImportLine, import_line, imports
from clients.queries.letters import (
    LetterRow,
    WaitedRow,
    client_of_letter,
    client_of_request,
    letters_of,
    letters_to_read,
    letters_waited_for,
    open_request,
    photograph_of,
    teachers,
    unread_letters,
    usual_teacher,
)
from clients.queries.merging import SideBySide, card_of_merge, kept_card, merges_into, side_by_side
from clients.queries.open_points import choices
from clients.queries.people import (
    ClientCard,
    ClientRow,
    card,
    client_of_condition,
    count,
    find,
    look_alikes,
    newest,
    page_of,
)
from clients.queries.rechecks import whole_day, why_whole
from clients.queries.reference import RulesInForce, has_rules, rules_in_force, rules_of
from clients.queries.reviews import ReviewRow, open_reviews
from clients.queries.standings import FormStanding, cared_for, ceilings, form_standings, may_read_health

__all__ = [
    "ClientCard",
    "ClientRow",
    "ComingRow",
    "ConsentLine",
    "FormStanding",
    "ImportLine",
    "LetterRow",
    "ReviewRow",
    "RulesInForce",
    "SideBySide",
    "WaitedRow",
    "card",
    "card_of_merge",
    "cared_for",
    "ceilings",
    "choices",
    "client_of_condition",
    "client_of_letter",
    "client_of_reading",
    "client_of_request",
    "client_of_restriction",
    "clock_of",
    "coming_of",
    "consents_of",
    "count",
    "day_of",
    "days_of",
    "find",
    "form_standings",
    "has_rules",
    "house_day",
    "import_line",
    "imports",
    "kept_card",
    "leave_for_messages",
    "letters_of",
    "letters_to_read",
    "letters_waited_for",
    "look_alikes",
    "may_read_health",
    "merges_into",
    "newest",
    "open_consent",
    "open_request",
    "open_reviews",
    "page_of",
    "photograph_of",
    "rules_in_force",
    "rules_of",
    "side_by_side",
    "teachers",
    "unread_letters",
    "usual_giver",
    "usual_teacher",
    "whole_day",
    "why_whole",
]
