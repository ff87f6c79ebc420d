"""The stop signs of the rules in force: what ends an exercise at once, whatever it is."""

from clients import queries as client_queries
from clients.rules.reference.rows import StopSign


def stop_signs() -> tuple[StopSign, ...]:
    """In the order of the table; empty before a reference is loaded."""
    if not client_queries.has_rules():
        return ()
    return tuple(client_queries.rules_in_force().rulebook.stop_signs.values())


def stop_sign(sign_id: str) -> StopSign | None:
    return next((sign for sign in stop_signs() if sign.id == sign_id), None)
