"""Clients and their forms for tests, made by the product's own actions."""

from collections.abc import Mapping
from datetime import UTC, date, datetime, timedelta
from typing import Any

from django.db import transaction

from clients import actions, models, queries
from clients.actions import facts, health, screening
from clients.actions import reference as reference_actions
from clients.rules import ActiveCondition, LimitFound
from clients.rules import form as rules
from tests import reference
from tests.make import person, studio

__all__ = [
    "NOW",
    "TODAY",
    "answer",
    "care",
    "client",
    "condition",
    "due",
    "limits",
    "link",
    "load_reference",
    "open_screening",
    "person",
    "put_in_force",
    "screened_again",
    "signed_form",
    "standing",
    "studio",
]

NOW = datetime(2026, 3, 16, 9, 0, tzinfo=UTC)
TODAY = date(2026, 3, 16)


def load_reference() -> None:
    put_in_force(reference.tables(), now=NOW - timedelta(days=30))


def put_in_force(tables: Any, *, now: datetime = NOW) -> None:
    """A version of the rules in force at once; comparing it first is the workbench's subject."""
    loaded = actions.load_reference(tables, now=now)
    reference_actions.take_over(models.RuleSet.objects.get(digest=loaded.digest))


def client(name: str = "Ruvena Tarnelow", **words: Any) -> models.Client:
    words = {"by": None, "now": NOW} | words
    return actions.add_client(name=name, **words)


def care(client: models.Client, teacher: Any) -> None:
    """From TODAY on `teacher` may read the client's health."""
    actions.give_care(
        person=teacher, client=client, first_day=TODAY, last_day=None, why="lesson", source="place:1", now=NOW
    )


def limits(found: models.Screening) -> tuple[LimitFound, ...]:
    """What a screening found, opened with the client's key."""
    return health.limits_of(found, client=found.client)


def condition(record: models.ConditionRecord) -> ActiveCondition:
    """The condition that a record keeps sealed."""
    return facts.condition_of(record, client=record.client)


def standing(client: models.Client, *, on: date = TODAY) -> queries.FormStanding:
    """What the desk knows of the form."""
    return queries.form_standings([client.pk], on=on)[client.pk]


def open_screening(client: models.Client) -> models.Screening:
    """The screening that stands."""
    return models.Screening.objects.get(client=client, replaced_at=None)


def screened_again(client: models.Client, *, now: datetime = NOW) -> models.Screening:
    """The form in force, looked at anew with all that was learned since."""
    with transaction.atomic():
        found = screening.screen_again(client, asked_for="night", by=None, now=now)
    assert found is not None
    return found


def link(**words: Any) -> str:
    """The token of a fresh link to a fresh client's form."""
    return actions.make_form_link(client(**words).pk, by=None, now=NOW).token


def due(opened: actions.OpenForm) -> list[rules.Screen]:
    return opened.due


def answer(token: str, told: Mapping[str, list[str]] | None = None, *, now: datetime = NOW, by: Any = None) -> None:
    """Go through the whole form, screen by screen: what is `told`, else what was kept, else the quietest answer."""
    screen = due(actions.open_form(token, now=now, by=by))[0].id
    while screen:
        opened = actions.open_form(token, now=now, by=by)
        here = next(one for one in due(opened) if one.id == screen)
        posted = {field.id: _words(field, told or {}, opened.answers) for field in here.fields}
        saved = actions.save_screen(token, screen_id=screen, posted=posted, now=now, by=by)
        assert not saved.errors, saved.errors
        screen = saved.next_screen


def signed_form(
    client: models.Client,
    told: Mapping[str, list[str]] | None = None,
    *,
    signature: str = "Ruvena Tarnelow",
    signed_as: str = "client",
    now: datetime = NOW,
) -> models.Screening:
    """A form answered by link and signed; see `answer`."""
    token = actions.make_form_link(client.pk, by=None, now=now).token
    answer(token, told, now=now)
    return actions.sign_form(token, name=signature, signed_as=signed_as, now=now)


def _words(field: rules.Field, told: Mapping[str, list[str]], kept: Mapping[str, object]) -> list[str]:
    if field.id in told:
        return told[field.id]
    value = kept.get(field.id)
    if isinstance(value, dict):
        return [f"{value['systolic']}/{value['diastolic']}"]
    if isinstance(value, list):
        return value
    return [str(value)] if value is not None else _quietest(field)


def _quietest(field: rules.Field) -> list[str]:
    values = [choice.value for choice in field.choices]
    for word in ("no", "none", "usual", "light_moderate"):
        if word in values:
            return [word]
    if field.kind is rules.FieldKind.NUMBER:
        return [str(field.low or 0)] if field.required else []
    if field.kind is rules.FieldKind.DATE:
        return ["2020-05-31"]
    return values[:1] if field.required else []
