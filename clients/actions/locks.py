"""A client's row held for one transaction, and deeds that only one may do because no row stands for them yet."""

from uuid import UUID

from django.db import connection

from clients import models


def client(client_id: UUID) -> models.Client:
    """The client, with her usual location, held until the transaction ends. Raises Client.DoesNotExist."""
    return models.Client.objects.select_for_update(of=("self",)).select_related("home").get(pk=client_id)


def alone(deed: str) -> None:
    """Wait until no other transaction does this deed; held until the present one ends."""
    with connection.cursor() as cursor:
        cursor.execute("SELECT pg_advisory_xact_lock(hashtext(%s))", [f"clients.{deed}"])
