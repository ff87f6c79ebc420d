"""Builders of what every test needs: people with real passwords, a house with hours, contacts and notices."""

import itertools
from datetime import UTC, datetime, time

import factory

from studio import models
from studio.rules import Role

NOW = datetime(2031, 3, 12, 9, 0, tzinfo=UTC)
PASSWORD = "quiet springs at dawn"
_count = itertools.count(1)


class PersonFactory(factory.django.DjangoModelFactory[models.Person]):
    class Meta:
        model = models.Person
        skip_postgeneration_save = True

    name = factory.Sequence(lambda number: f"Person {number}")
    email = factory.Sequence(lambda number: f"person{number}@studio.example")
    roles = factory.LazyFunction(lambda: [Role.DESK.value])
    joined_at = NOW
    password = factory.django.Password(PASSWORD)


def person(*roles: Role, **fields: object) -> models.Person:
    """Somebody who works here with these roles (desk when none is named); the password is PASSWORD."""
    made: models.Person = PersonFactory.create(roles=[role.value for role in roles or (Role.DESK,)], **fields)
    return made


def business(**fields: object) -> models.Business:
    """The one business, set up already."""
    found, _ = models.Business.objects.update_or_create(
        id=1, defaults={"name": "Slow Carriage House", "set_up_at": NOW, **fields}
    )
    return found


def studio(
    zone: str = "Europe/Lisbon",
    *,
    opens: time = time(7),
    closes: time = time(21),
    days: tuple[int, ...] = (0, 1, 2, 3, 4, 5),
    **fields: object,
) -> models.Studio:
    """A location of the business, open the same hours on each of `days`."""
    number = next(_count)
    made = models.Studio.objects.create(
        business=models.Business.objects.filter(pk=1).first() or business(),
        time_zone=zone,
        position=models.Studio.objects.count(),
        **{"name": f"House {number}", **fields},
    )
    models.OpeningHours.objects.bulk_create(
        models.OpeningHours(studio=made, weekday=day, opens=opens, closes=closes) for day in days
    )
    return made


def contact(**fields: object) -> models.Contact:
    return models.Contact.objects.create(**{"address": f"somebody{next(_count)}@mail.example", **fields})


def notice(**fields: object) -> models.Notice:
    """A notice that is due at NOW."""
    number = next(_count)
    return models.Notice.objects.create(
        **{
            "kind": "lesson_reminder",
            "contact": fields.pop("contact", None) or contact(),
            "values": {"name": "Ada"},
            "about": f"lesson:{number}",
            "once": f"lesson_reminder:{number}",
            "due_at": NOW,
            "made_at": NOW,
            **fields,
        }
    )
