"""The private link to a client's own health form."""

import hashlib
import secrets
from dataclasses import dataclass
from datetime import datetime, timedelta
from uuid import UUID

from django.conf import settings
from django.db import transaction
from django.urls import reverse

from clients import models, queries
from clients.actions import locks, reading
from studio import models as studio_models
from studio.actions import audit, notices
from studio.rules import Reason, Refused

# Common practice, no source: long enough for a holiday, short enough for a mailbox that changes hands.
LIFETIME = timedelta(days=14)
# A tablet that changes hands in the house, and a paper that is typed in: gone by the next morning.
LIFETIME_HERE = timedelta(hours=10)
FormKind = models.forms.FormKind
TOKEN_BYTES = 32
NEW_LINK = "a new link from the studio"
GONE = {
    "unknown_link": "This link leads nowhere. It may have been cut in two on its way.",
    "expired_link": "This link has run out.",
    "replaced_link": "This link was closed; a newer one may have been sent.",
    "told_link": "This form is typed in by a member of staff, who has to be signed in.",
    "signed_link": "This form is signed and closed. Nothing has been changed.",
}


class LinkGone(Refused):
    """The link opens nothing (any more); the reason's code says why: one of GONE."""

    def __init__(self, code: str) -> None:
        super().__init__(Reason(code, GONE[code], allowed=NEW_LINK))

    @property
    def code(self) -> str:
        return self.reasons[0].code


@dataclass(frozen=True)
class MadeLink:
    """A fresh link: the only moment at which its token is known."""

    token: str
    address: str
    expires_at: datetime
    link_id: UUID


def make_form_link(
    client_id: UUID,
    *,
    by: studio_models.Person | None,
    now: datetime,
    kind: str = FormKind.FULL,
    lifetime: timedelta = LIFETIME,
    told_to: studio_models.Person | None = None,
) -> MadeLink:
    """A new private link to the client's form, good for 14 days; links made before are closed.

    `kind` is full or quick; with `told_to` the form is typed in as told to her, and opens for her alone. Raises
    Refused `whole_form` when a re-check will not do.
    """
    token = secrets.token_urlsafe(TOKEN_BYTES)
    with transaction.atomic():
        client = locks.client(client_id)
        if kind == FormKind.QUICK and (says := queries.why_whole(client_id, on=queries.day_of(now, client))):
            raise Refused(Reason("whole_form", says, allowed="the whole form"))
        client.form_links.filter(ended_at=None).update(ended_at=now)
        notices.withdraw(about=_about(client_id), now=now)
        link = models.FormLink.objects.create(
            client=client, token_digest=_digest(token), kind=kind, told_to=told_to,
            made_by=by, made_at=now, expires_at=now + lifetime,
        )  # fmt: skip
        audit.wrote("make_form_link", link, by=by, now=now, client_key=client_id)
    path = reverse("clients:form", kwargs={"token": token})
    return MadeLink(token, settings.PUBLIC_ADDRESS.rstrip("/") + path, link.expires_at, link.pk)


def hand_over_form(
    client_id: UUID, *, by: studio_models.Person | None, now: datetime, kind: str = FormKind.FULL
) -> MadeLink:
    """A link for a tablet of the house that changes hands; it is gone by the next morning. Raises as above."""
    return make_form_link(client_id, by=by, now=now, kind=kind, lifetime=LIFETIME_HERE)


def type_in_form(client_id: UUID, *, by: studio_models.Person, now: datetime, why: str = "") -> MadeLink:
    """A link for the member of staff who types in a paper form, or what the client tells her; nobody else opens it.

    Whoever may read the client's health may; another reason `why` is recorded. Raises Refused `not_open`, `say_why`.
    """
    with transaction.atomic():
        client = models.Client.objects.select_related("home").get(pk=client_id)
        why = reading.allowed(client, by=by, now=now, why=why)
        made = make_form_link(client_id, by=by, now=now, lifetime=LIFETIME_HERE, told_to=by)
        audit.read("type_in_form", client, by=by, now=now, client_key=client_id, why=why)
    return made


def close_form_link(link_id: UUID, *, by: studio_models.Person, now: datetime) -> UUID:
    """A link that opens nothing from now on; whose it was. Closed already: nothing changes. Raises DoesNotExist."""
    with transaction.atomic():
        link = models.FormLink.objects.select_for_update().get(pk=link_id)
        if link.ended_at is None:
            link.ended_at = now
            link.save(update_fields=["ended_at"])
            audit.wrote("close_form_link", link, by=by, now=now, client_key=link.client_id)
    return link.client_id


def send_form_link(
    client_id: UUID, *, by: studio_models.Person | None, now: datetime, kind: str = FormKind.FULL
) -> MadeLink:
    """A new private link, laid in the outbox to the client's address. Raises Refused `no_address`, `whole_form`."""
    with transaction.atomic():
        client = models.Client.objects.select_related("contact").get(pk=client_id)
        if client.contact is None:
            says = "There is no e-mail address on this card."
            raise Refused(Reason("no_address", says, field="email", allowed="Write one on the card first."))
        made = make_form_link(client_id, by=by, now=now, kind=kind)
        notices.put(
            kind="form_link" if kind == FormKind.FULL else "form_recheck",
            contact=client.contact,
            values={"name": client.guardian_name or client.name, "link": made.address},
            about=_about(client_id),
            due_at=now,
            now=now,
            once=f"form_link:{_digest(made.token)}",
            not_after=made.expires_at,
        )
    return made


def link_for(token: str, *, now: datetime, by: studio_models.Person | None = None) -> models.FormLink:
    """The open link of a token, with its client. Raises LinkGone."""
    link = _known(token, by)
    if link.ended_at is not None:
        raise LinkGone("signed_link" if _was_signed(link) else "replaced_link")
    if now >= link.expires_at:
        raise LinkGone("expired_link")
    return link


def locked(token: str, *, now: datetime, by: studio_models.Person | None) -> models.FormLink:
    """An open link with its client's row locked; the second look finds a link that was closed meanwhile."""
    client_id = link_for(token, now=now, by=by).client_id
    client = locks.client(client_id)
    link = link_for(token, now=now, by=by)
    link.client = client
    return link


def signed_link(token: str, *, now: datetime, by: studio_models.Person | None = None) -> models.FormLink:
    """The link a form was signed by, until it would have run out. Raises LinkGone."""
    link = _known(token, by)
    if now >= link.expires_at:
        raise LinkGone("expired_link")
    if link.ended_at is not None and not _was_signed(link):
        raise LinkGone("replaced_link")
    return link


def _known(token: str, by: studio_models.Person | None) -> models.FormLink:
    rows = models.FormLink.objects.filter(token_digest=_digest(token)).select_related("client__home", "told_to")
    found = rows.first()
    if found is None or found.client.archived_at is not None:
        raise LinkGone("unknown_link")
    if found.told_to is not None and (by is None or found.told_to_id != by.pk or not by.is_active):
        raise LinkGone("told_link")
    return found


def _was_signed(link: models.FormLink) -> bool:
    return models.HealthForm.objects.filter(client_id=link.client_id, signed_at=link.ended_at).exists()


def _digest(token: str) -> str:
    return hashlib.sha256(token.encode("utf-8", "replace")).hexdigest()


def _about(client_id: UUID) -> str:
    return f"form:{client_id}"
