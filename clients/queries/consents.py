"""What a client has agreed to: each consent with since when and by whom."""

from dataclasses import dataclass
from datetime import date, datetime
from uuid import UUID

from clients import models
from clients.queries.days import day_of
from clients.rules.consents import asked_again_on, is_minor


@dataclass(frozen=True)
class ConsentLine:
    """One kind of consent. `given_at` is None when it is not open; `ended_on` tells when the last one was taken back.

    `asked_again_on` is the local day from which it is due again; it stays open until it is taken back.
    """

    kind: str
    word: str
    given_at: datetime | None = None
    given_on: date | None = None
    given_by: str = ""
    noted_by: str = ""
    is_by_form: bool = False
    asked_again_on: date | None = None
    ended_on: date | None = None

    @property
    def is_open(self) -> bool:
        return self.given_at is not None


def consents_of(client_id: UUID) -> tuple[ConsentLine, ...]:
    """One line for each kind, in the order they are asked. Raises Client.DoesNotExist."""
    client = models.Client.objects.select_related("home").get(pk=client_id)
    newest: dict[str, models.Consent] = {}
    rows = models.Consent.objects.filter(client=client).select_related("noted_by")
    for row in rows.order_by("given_at", "pk"):
        held = newest.get(row.kind)
        if held is None or held.withdrawn_at is not None:
            newest[row.kind] = row
    return tuple(_line(kind, newest.get(kind.value), client) for kind in models.Consent.Kind)


def open_consent(client_id: UUID, kind: str) -> int | None:
    """The key of the open consent of a kind, or None; one query."""
    rows = models.Consent.objects.filter(client_id=client_id, kind=kind, withdrawn_at=None)
    return rows.values_list("pk", flat=True).first()


def usual_giver(client_id: UUID, *, on: date) -> str:
    """Who is likely to give it: the client, or a minor's guardian (empty when none is named)."""
    columns = ("name", "born_on", "guardian_name")
    name, born_on, guardian = models.Client.objects.values_list(*columns).get(pk=client_id)
    return guardian if is_minor(born_on, on=on) else name


def leave_for_messages(client_id: UUID) -> str:
    """The leave that reminders to a client rest on: taken back, they are withdrawn with it."""
    return f"messages:{client_id}"


def _line(kind: models.Consent.Kind, row: models.Consent | None, client: models.Client) -> ConsentLine:
    if row is None:
        return ConsentLine(kind.value, kind.label)
    if row.withdrawn_at is not None:
        return ConsentLine(kind.value, kind.label, ended_on=day_of(row.withdrawn_at, client))
    given_on = day_of(row.given_at, client)
    return ConsentLine(
        kind=kind.value,
        word=kind.label,
        given_at=row.given_at,
        given_on=given_on,
        given_by=row.given_by,
        noted_by=row.noted_by.name if row.noted_by else "",
        is_by_form=row.form_id is not None,
        asked_again_on=asked_again_on(kind.value, given_on=given_on),
    )
