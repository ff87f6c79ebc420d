"""Clients and their forms for tests, made by the product's own actions."""

from datetime import UTC, date, datetime, timedelta

from clients import actions, models
from tests import reference
from tests.make import person, studio

__all__ = ["NOW", "TODAY", "client", "load_reference", "person", "studio"]

NOW = datetime(2026, 3, 16, 9, 0, tzinfo=UTC)
TODAY = date(2026, 3, 16)


def load_reference() -> None:
    actions.load_reference(reference.tables(), now=NOW - timedelta(days=30))


def client(name: str = "Ruvena Tarnelow", **words: object) -> models.Client:
    words = {"by": None, "now": NOW} | words
    return actions.add_client(name=name, **words)
