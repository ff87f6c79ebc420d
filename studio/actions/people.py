"""Who works here: invited by mail, given roles, and let go without losing what they wrote."""

import secrets
from collections.abc import Iterable
from datetime import datetime, timedelta

from django.conf import settings
from django.contrib.auth import password_validation
from django.contrib.auth.tokens import default_token_generator
from django.core.exceptions import ValidationError
from django.core.validators import validate_email
from django.db import IntegrityError, transaction
from django.urls import reverse
from django.utils.encoding import force_bytes
from django.utils.http import urlsafe_base64_encode

from studio import models, queries
from studio.actions import audit, notices
from studio.rules import Reason, Refused, Role, zones

EMAIL_USED = Reason("email_used", "Somebody already uses that e-mail address.", "email")
INVITATION_LASTS = timedelta(days=7)
RESET_LASTS = timedelta(seconds=settings.PASSWORD_RESET_TIMEOUT)


def invite(*, name: str, email: str, roles: Iterable[Role], by: models.Person | None, now: datetime) -> models.Person:
    """Make an account without a password and mail its owner the link to choose one.

    Raises Refused for an address in use, no name, no role.
    """
    with transaction.atomic():
        person = add_person(name=name, email=email, roles=roles, by=by, now=now)
        _send_invitation(person, by=by, now=now)
    return person


def add_person(
    *,
    name: str,
    email: str,
    roles: Iterable[Role],
    by: models.Person | None,
    now: datetime,
    password: str | None = None,
) -> models.Person:
    """An account without any mail; without `password` nobody can log in to it. Raises Refused like `invite`."""
    person = models.Person(name=name.strip(), email=email.strip().lower(), joined_at=now, roles=_sorted(roles))
    with transaction.atomic():
        if reasons := _person_reasons(person):
            raise Refused(reasons)
        if password is None:
            person.set_unusable_password()
        else:
            _set_password(person, password)
        person.contact = models.Contact.objects.create(address=person.email)
        _save_new(person)
        audit.wrote("invite", person, by=by, now=now, detail={"roles": person.roles})
    return person


def invite_again(person_id: int, *, by: models.Person, now: datetime) -> models.Person:
    """A fresh link for somebody who has not chosen a password; earlier links stop working."""
    with transaction.atomic():
        person: models.Person = models.Person.objects.select_for_update().get(pk=person_id)
        if person.has_usable_password() or not person.is_active:
            raise Refused(Reason("not_waiting", "Only somebody who has not chosen a password yet is invited again."))
        _send_invitation(person, by=by, now=now)
        audit.wrote("invite again", person, by=by, now=now)
    return person


def accept_invitation(token: str, *, password: str, now: datetime) -> models.Person:
    """Choose the first password by a mailed link, once. Raises Refused: used or old link, weak password."""
    with transaction.atomic():
        invitation = (
            models.Invitation.objects.select_for_update(of=("self", "person"))
            .select_related("person")
            .filter(token_digest=queries.token_digest(token), used_at=None, expires_at__gt=now, person__is_active=True)
            .first()
        )
        if invitation is None:
            raise Refused(Reason("link_used", "This link is used up or too old. Ask the owner for a new one."))
        person: models.Person = invitation.person
        _set_password(person, password)
        person.save(update_fields=["password"])
        models.Invitation.objects.filter(person=person, used_at=None).update(used_at=now)
        audit.wrote("accept invitation", person, by=person, now=now)
    return person


def change_roles(person_id: int, *, roles: Iterable[Role], by: models.Person, now: datetime) -> models.Person:
    """Give somebody exactly these roles; it counts from the next click. Raises Refused: no role, the last owner."""
    wanted = _sorted(roles)
    with transaction.atomic():
        person = _locked_with_owners(person_id)
        if not wanted:
            raise Refused(Reason("no_role", "Choose at least one role.", "roles"))
        if Role.OWNER.value not in wanted:
            _refuse_last_owner(person, "Make somebody else an owner first: a house has at least one.", "roles")
        before, person.roles = person.roles, wanted
        person.save(update_fields=["roles"])
        audit.wrote("change roles", person, by=by, now=now, detail={"from": before, "to": wanted})
    return person


def leave(person_id: int, *, by: models.Person, now: datetime) -> models.Person:
    """End somebody's account and sessions; the name stays with what was written. Raises Refused: the last owner.

    The door to it is `scheduling.actions.leave_house`, which looks for lessons ahead first.
    """
    with transaction.atomic():
        person = _locked_with_owners(person_id)
        if not person.is_active:
            raise Refused(Reason("left_already", f"{person.name} has left already."))
        _refuse_last_owner(person, "The last owner cannot leave: make somebody else an owner first.")
        person.is_active, person.left_on = False, zones.local_day(now, queries.house_zone())
        person.session_epoch += 1
        person.set_unusable_password()
        person.save(update_fields=["is_active", "left_on", "session_epoch", "password"])
        models.Invitation.objects.filter(person=person, used_at=None).update(used_at=now)
        notices.withdraw(about=about(person), now=now)
        audit.wrote("leave", person, by=by, now=now)
    return person


def come_back(person_id: int, *, by: models.Person, now: datetime) -> models.Person:
    """Open a closed account again, with its roles, and mail a link for a password. Raises Refused: nobody who left."""
    with transaction.atomic():
        person: models.Person = models.Person.objects.select_for_update().get(pk=person_id)
        if person.is_active:
            raise Refused(Reason("works_here", f"{person.name} works here already."))
        person.is_active, person.left_on = True, None
        person.save(update_fields=["is_active", "left_on"])
        _send_invitation(person, by=by, now=now)
        audit.wrote("come back", person, by=by, now=now)
    return person


def end_sessions(person_id: int, *, by: models.Person, now: datetime) -> models.Person:
    """Log somebody out on every device, from the next click; the password stays."""
    with transaction.atomic():
        person: models.Person = models.Person.objects.select_for_update().get(pk=person_id)
        person.session_epoch += 1
        person.save(update_fields=["session_epoch"])
        audit.wrote("end sessions", person, by=by, now=now)
    return person


def ask_reset(email: str, *, now: datetime) -> None:
    """Mail a link for a new password, if somebody who works here has this address; never tells whether.

    At most one letter a minute, however often it is asked.
    """
    person = models.Person.objects.working_here().filter(email__iexact=email.strip()).first()
    if person is None:
        return
    uid = urlsafe_base64_encode(force_bytes(person.pk))
    path = reverse("studio:password-reset-confirm", args=[uid, default_token_generator.make_token(person)])
    with transaction.atomic():
        made = notices.put(
            kind="password_reset",
            contact=_contact(person),
            values={"name": person.name, "link": settings.PUBLIC_ADDRESS + path},
            about=about(person),
            due_at=now,
            now=now,
            once=f"password_reset:{person.pk}:{now:%Y%m%d%H%M}",
            not_after=now + RESET_LASTS,
        )
        if made:
            audit.wrote("ask for a new password", person, by=None, actor="by mail", now=now)


def reset_password(person_id: int, *, password: str, now: datetime) -> models.Person:
    """Keep a new password and end every session. The caller has checked the link's token. Raises Refused: weak."""
    with transaction.atomic():
        person: models.Person = models.Person.objects.select_for_update().get(pk=person_id, is_active=True)
        _set_password(person, password)
        person.session_epoch += 1
        person.save(update_fields=["password", "session_epoch"])
        audit.wrote("choose a new password", person, by=person, now=now)
    return person


def about(person: models.Person) -> str:
    """The key under which notices about somebody's account lie in the outbox."""
    return f"person:{person.pk}"


def _send_invitation(person: models.Person, *, by: models.Person | None, now: datetime) -> None:
    models.Invitation.objects.filter(person=person, used_at=None).update(used_at=now)
    notices.withdraw(about=about(person), now=now)
    token = secrets.token_urlsafe(32)
    invitation = models.Invitation.objects.create(
        person=person,
        token_digest=queries.token_digest(token),
        made_by=by,
        made_at=now,
        expires_at=now + INVITATION_LASTS,
    )
    notices.put(
        kind="invitation",
        contact=_contact(person),
        values={
            "name": person.name,
            "who": by.name if by else "The owner",
            "link": settings.PUBLIC_ADDRESS + reverse("studio:invitation", args=[token]),
        },
        about=about(person),
        due_at=now,
        now=now,
        once=f"invitation:{invitation.pk}",
        not_after=invitation.expires_at,
    )


def _contact(person: models.Person) -> models.Contact:
    if person.contact is None:
        person.contact = models.Contact.objects.create(address=person.email)
        person.save(update_fields=["contact"])
    return person.contact


def _locked_with_owners(person_id: int) -> models.Person:
    # Every owner is locked, in one order: of two owners who let each other go at once, the second is refused.
    owners = models.Person.objects.working_here().with_role(Role.OWNER).values("pk")
    rows = models.Person.objects.select_for_update().filter(pk__in=[*(row["pk"] for row in owners), person_id])
    by_key: dict[int, models.Person] = {row.pk: row for row in rows.order_by("pk")}
    if person_id not in by_key:
        raise models.Person.DoesNotExist
    return by_key[person_id]


def _refuse_last_owner(person: models.Person, says: str, field: str = "") -> None:
    if Role.OWNER.value not in person.roles:
        return
    others = models.Person.objects.working_here().with_role(Role.OWNER).exclude(pk=person.pk)
    if not others.exists():
        raise Refused(Reason("last_owner", says, field, "another owner"))


def _person_reasons(person: models.Person) -> list[Reason]:
    reasons = []
    if not person.name:
        reasons.append(Reason("no_name", "A name is needed.", "name"))
    if not person.roles:
        reasons.append(Reason("no_role", "Choose at least one role.", "roles"))
    try:
        validate_email(person.email)
    except ValidationError:
        reasons.append(Reason("bad_email", "That is not an e-mail address.", "email", "name@house.example"))
    if models.Person.objects.filter(email__iexact=person.email).exists():
        reasons.append(EMAIL_USED)
    return reasons


def _save_new(person: models.Person) -> None:
    try:
        with transaction.atomic():
            person.save()
    except IntegrityError as error:
        # Two doors at once: the other one's row came between our look and our write.
        raise Refused(EMAIL_USED) from error


def _set_password(person: models.Person, password: str) -> None:
    try:
        password_validation.validate_password(password, person)
    except ValidationError as error:
        raise Refused([Reason("weak_password", says, "password") for says in error.messages]) from error
    person.set_password(password)


def _sorted(roles: Iterable[Role]) -> list[str]:
    wanted = set(roles)
    return [role.value for role in Role if role in wanted]
