"""Letters that are waited for: reminding the client without a word about why, and the paper that asks a clinician."""

import logging
from dataclasses import dataclass
from datetime import date, datetime
from uuid import UUID

from django.db import transaction

from clients import models, queries
from clients.actions import reading, seals
from clients.rules import chasing as rules
from studio import models as studio_models
from studio import queries as studio_queries
from studio.actions import audit, notices
from studio.rules import Reason, Refused

log = logging.getLogger(__name__)
KIND = "letter_wanted"
ACTOR = "the reminding of the house"
# Nobody is reminded by night (studio default).
MORNING, EVENING = "09:00", "19:00"


@dataclass(frozen=True)
class RequestPaper:
    """What the paper to the clinician holds: whom it is about, what is asked, and nothing else of her."""

    client_id: UUID
    client_name: str
    born_on: date | None
    house: str
    teacher: str
    asks: tuple[str, ...]
    printed_on: date


def remind_due(*, now: datetime) -> int:
    """Write to each client whose reminder has come; how many. Safe to repeat and to run twice at once."""
    waiting = models.LetterRequest.objects.filter(closed_at=None, reminders__lt=len(rules.REMIND_AFTER))
    keys = waiting.filter(client__archived_at=None).order_by("opened_at").values_list("client_id", flat=True)
    return sum(_remind_if_due(client_id, now) for client_id in list(keys))


def remind_now(request_id: UUID, *, by: studio_models.Person, now: datetime) -> models.LetterRequest:
    """Write to the client at once. Raises Refused `not_waited`, `no_address`, `no_consent`, `reminded_today`."""
    with transaction.atomic():
        client, request = _locked(request_id)
        if request.closed_at is not None:
            raise Refused(Reason("not_waited", "No letter is waited for any more: nothing is left to do here."))
        if reason := _unwritable(client):
            raise Refused(reason)
        day = queries.day_of(now, client)
        if request.reminded_at is not None and queries.day_of(request.reminded_at, client) == day:
            raise Refused(Reason("reminded_today", "A mail went to this client today already."))
        _write(client, request, once=f"by-hand:{day.isoformat()}", now=now)
        request.reminded_at = now
        request.save(update_fields=["reminded_at"])
        audit.wrote("remind_of_letter", request, by=by, now=now, client_key=client.pk)
    return request


def stop_reminding(client: models.Client, *, now: datetime) -> None:
    """Take back what has not been sent yet: a letter is here. The client's row is locked by the caller."""
    for key in client.letter_requests.values_list("pk", flat=True):
        notices.withdraw(about=about(key), now=now)


def about(request_id: UUID) -> str:
    """The key that reminders of one request go by."""
    return f"letterrequest:{request_id}"


def read_request(request_id: UUID, *, by: studio_models.Person, now: datetime, why: str = "") -> RequestPaper:
    """What is asked of the clinician. Raises Refused `not_waited`, or as `read_limits` does."""
    with transaction.atomic():
        client, request = _locked(request_id)
        return _paper(client, request, "read_letter_request", by=by, now=now, why=why)


def print_request(request_id: UUID, *, by: studio_models.Person, now: datetime, why: str = "") -> RequestPaper:
    """The same for the paper, noted as printed; it is handed to the client and never sent by us."""
    with transaction.atomic():
        client, request = _locked(request_id)
        paper = _paper(client, request, "print_letter_request", by=by, now=now, why=why)
        request.printed_at, request.printed_by = now, by
        request.save(update_fields=["printed_at", "printed_by"])
        audit.wrote("print_letter_request", request, by=by, now=now, client_key=client.pk)
    return paper


def read_asks(*, by: studio_models.Person, now: datetime) -> dict[UUID, tuple[str, ...]]:
    """What is asked for each client whom `by` cares for today, by the request's key; each is recorded as read."""
    with transaction.atomic():
        mine = models.LetterRequest.objects.filter(closed_at=None, client__cares__person=by).distinct()
        rows = list(mine.select_related("client__home"))
        days = queries.days_of(now, [request.client for request in rows])
        cared_for = {day: queries.cared_for(by, on=day) for day in set(days.values())}
        found: dict[UUID, tuple[str, ...]] = {}
        for request in rows:
            if request.client_id in cared_for[days[request.client_id]]:
                found[request.pk] = _asks(request, request.client)
                audit.read("read_letter_request", request, by=by, now=now, client_key=request.client_id, why="care")
    return found


def _remind_if_due(client_id: UUID, now: datetime) -> int:
    """The second look, under the lock: a letter may be here meanwhile, or another may have written."""
    with transaction.atomic():
        rows = models.Client.objects.select_for_update(of=("self",), skip_locked=True)
        client = rows.select_related("home", "contact").filter(pk=client_id).first()
        request = models.LetterRequest.objects.filter(client_id=client_id, closed_at=None).first()
        if client is None or request is None or not _is_due(client, request, now):
            return 0
        reason = _unwritable(client)
        request.reminders += 1
        fields = ["reminders"]
        if reason is None:
            _write(client, request, once=str(request.reminders), now=now)
            request.reminded_at = now
            fields.append("reminded_at")
            audit.wrote("remind_of_letter", request, by=None, now=now, actor=ACTOR, client_key=client.pk)
        # Who cannot be written to moves on all the same: the list then says that somebody speaks with her.
        request.save(update_fields=fields)
    return int(reason is None)


def _is_due(client: models.Client, request: models.LetterRequest, now: datetime) -> bool:
    is_day = MORNING <= queries.clock_of(now, client) < EVENING
    if not is_day or client.letters.filter(state=models.Letter.State.UNREAD).exists():
        return False
    reminded_at = request.reminded_at
    return rules.is_reminder_due(
        opened_on=queries.day_of(request.opened_at, client),
        reminders=request.reminders,
        reminded_on=queries.day_of(reminded_at, client) if reminded_at else None,
        on=queries.day_of(now, client),
    )


def _unwritable(client: models.Client) -> Reason | None:
    if client.contact is None:
        return Reason("no_address", "There is no e-mail address on the card. Tell the client in person instead.")
    if queries.open_consent(client.pk, models.Consent.Kind.MESSAGES) is None:
        return Reason("no_consent", "The client has not agreed to messages. Tell the client in person instead.")
    return None


def _write(client: models.Client, request: models.LetterRequest, *, once: str, now: datetime) -> None:
    assert client.contact is not None
    notice = notices.written(
        kind=KIND,
        contact=client.contact,
        values={"name": client.name},
        about=about(request.pk),
        due_at=now,
        now=now,
        once=f"{KIND}:{request.pk}:{once}",
        rests_on=queries.leave_for_messages(client.pk),
    )
    notices.put_all([notice], now=now)


def _locked(request_id: UUID) -> tuple[models.Client, models.LetterRequest]:
    """The client, locked first, and the request as it is now."""
    client_id = models.LetterRequest.objects.values_list("client_id", flat=True).get(pk=request_id)
    rows = models.Client.objects.select_for_update(of=("self",))
    client = rows.select_related("home", "contact", "usual_instructor").get(pk=client_id)
    return client, client.letter_requests.get(pk=request_id)


def _paper(
    client: models.Client,
    request: models.LetterRequest,
    verb: str,
    *,
    by: studio_models.Person,
    now: datetime,
    why: str,
) -> RequestPaper:
    why = reading.allowed(client, by=by, now=now, why=why)
    if request.closed_at is not None:
        raise Refused(Reason("not_waited", "No letter is waited for any more: nothing is left to do here."))
    audit.read(verb, request, by=by, now=now, client_key=client.pk, why=why)
    return RequestPaper(
        client_id=client.pk,
        client_name=client.name,
        born_on=client.born_on,
        house=studio_queries.signboard()[0],
        teacher=client.usual_instructor.name if client.usual_instructor else by.name,
        asks=_asks(request, client),
        printed_on=queries.day_of(now, client),
    )


def _asks(request: models.LetterRequest, client: models.Client) -> tuple[str, ...]:
    return tuple(dict.fromkeys(one["asks"] for one in seals.opened(request, "sealed_asks", client=client)))
