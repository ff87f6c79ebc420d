"""Deeds that only one transaction at a time may do, because no row stands for them yet."""

from django.db import connection


def alone(deed: str) -> None:
    """Wait until no other transaction does this deed; held until the present one ends."""
    with connection.cursor() as cursor:
        cursor.execute("SELECT pg_advisory_xact_lock(hashtext(%s))", [f"clients.{deed}"])
