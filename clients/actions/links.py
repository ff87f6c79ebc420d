"""The private link to a client's own health form."""

import hashlib
import secrets
from dataclasses import dataclass
from datetime import datetime, timedelta
from uuid import UUID

from django.conf import settings
from django.db import transaction
from django.urls import reverse

from clients import models
from studio import models as studio_models
from studio.actions import audit, notices
from studio.rules import Reason, Refused

# Common practice, no source: long enough for a holiday, short enough for a mailbox that changes hands.
LIFETIME = timedelta(days=14)
TOKEN_BYTES = 32
NEW_LINK = "a new link from the studio"
GONE = {
    "unknown_link": "This link leads nowhere. It may have been cut in two on its way.",
    "expired_link": "This link has run out.",
    "replaced_link": "A newer link was sent, and this one was closed.",
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


def make_form_link(client_id: UUID, *, by: studio_models.Person | None, now: datetime) -> MadeLink:
    """A new private link to the client's form, good for 14 days; links made before are closed."""
    token = secrets.token_urlsafe(TOKEN_BYTES)
    with transaction.atomic():
        client = models.Client.objects.select_for_update().get(pk=client_id)
        client.form_links.filter(ended_at=None).update(ended_at=now)
        notices.withdraw(about=_about(client_id), now=now)
        link = models.FormLink.objects.create(
            client=client, token_digest=_digest(token), made_by=by, made_at=now, expires_at=now + LIFETIME
        )
        audit.wrote("make_form_link", link, by=by, now=now, client_key=client_id)
    path = reverse("clients:form", kwargs={"token": token})
    return MadeLink(token, settings.PUBLIC_ADDRESS.rstrip("/") + path, link.expires_at)


def send_form_link(client_id: UUID, *, by: studio_models.Person | None, now: datetime) -> MadeLink:
    """A new private link, laid in the outbox to the client's address. Raises Refused `no_address`."""
    with transaction.atomic():
        client = models.Client.objects.select_related("contact").get(pk=client_id)
        if client.contact is None:
            raise Refused(Reason("no_address", "There is no e-mail address on this card.", field="email"))
        made = make_form_link(client_id, by=by, now=now)
        notices.put(
            kind="form_link",
            contact=client.contact,
            values={"name": client.guardian_name or client.name, "link": made.address},
            about=_about(client_id),
            due_at=now,
            now=now,
            once=f"form_link:{_digest(made.token)}",
            not_after=made.expires_at,
        )
    return made


def link_for(token: str, *, now: datetime) -> models.FormLink:
    """The open link of a token, with its client. Raises LinkGone."""
    link = _known(token)
    if link.ended_at is not None:
        raise LinkGone("signed_link" if _was_signed(link) else "replaced_link")
    if now >= link.expires_at:
        raise LinkGone("expired_link")
    return link


def signed_link(token: str, *, now: datetime) -> models.FormLink:
    """The link a form was signed by, until it would have run out. Raises LinkGone."""
    link = _known(token)
    if now >= link.expires_at:
        raise LinkGone("expired_link")
    if link.ended_at is not None and not _was_signed(link):
        raise LinkGone("replaced_link")
    return link


def _known(token: str) -> models.FormLink:
    found = models.FormLink.objects.filter(token_digest=_digest(token)).select_related("client__home").first()
    if found is None or found.client.archived_at is not None:
        raise LinkGone("unknown_link")
    return found


def _was_signed(link: models.FormLink) -> bool:
    return models.HealthForm.objects.filter(client_id=link.client_id, signed_at=link.ended_at).exists()


def _digest(token: str) -> str:
    return hashlib.sha256(token.encode("utf-8", "replace")).hexdigest()


def _about(client_id: UUID) -> str:
    return f"form:{client_id}"
