"""The people who work here."""

import hashlib
from dataclasses import dataclass
from datetime import date, datetime

from studio import models
from studio.rules import Role

WORKPLACES = {Role.DESK: "front desk", Role.INSTRUCTOR: "instructor", Role.OWNER: "owner"}


@dataclass(frozen=True)
class PersonRow:
    """Somebody on the staff. `state` is working, invited (no password chosen yet) or left."""

    id: int
    name: str
    email: str
    roles: tuple[Role, ...]
    state: str
    joined_at: datetime
    left_on: date | None

    @property
    def role_words(self) -> str:
        return ", ".join(WORKPLACES[role] for role in self.roles)

    @property
    def teaches(self) -> bool:
        return Role.INSTRUCTOR in self.roles


@dataclass(frozen=True)
class InvitationView:
    """An invitation that still opens: who it is for."""

    name: str
    email: str


def anybody() -> bool:
    """Whether anybody has an account."""
    return models.Person.objects.exists()


def staff() -> list[PersonRow]:
    """Everybody who works or worked here, those who left last; one query."""
    return [_row(person) for person in models.Person.objects.order_by("-is_active", "name", "pk")]


def person(person_id: int) -> PersonRow:
    """Raises Person.DoesNotExist."""
    return _row(models.Person.objects.get(pk=person_id))


def token_digest(token: str) -> str:
    """What is kept of a mailed token, so that a copy of the database opens nothing."""
    return hashlib.sha256(token.encode()).hexdigest()


def invitation(token: str, *, now: datetime) -> InvitationView | None:
    """Who the link is for, or None when it is unknown, used or too old."""
    open_ones = models.Invitation.objects.filter(used_at=None, expires_at__gt=now, person__is_active=True)
    found = open_ones.select_related("person").filter(token_digest=token_digest(token)).first()
    return InvitationView(found.person.name, found.person.email) if found else None


def _row(row: models.Person) -> PersonRow:
    state = "left" if not row.is_active else "working" if row.has_usable_password() else "invited"
    return PersonRow(
        id=row.pk,
        name=row.name,
        email=row.email,
        roles=tuple(role for role in Role if role.value in row.roles),
        state=state,
        joined_at=row.joined_at,
        left_on=row.left_on,
    )
