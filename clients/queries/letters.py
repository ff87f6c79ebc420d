"""Letters that came and letters that are waited for: names and days, never what they are about."""

from dataclasses import dataclass
from datetime import date, datetime
from uuid import UUID
from zoneinfo import ZoneInfo

from django.db.models import Q, QuerySet

from clients import models
from clients.queries.days import house_day
from clients.rules import chasing as rules
from studio import models as studio_models
from studio import queries as studio_queries
from studio.rules import Role, zones

State = models.Letter.State


@dataclass(frozen=True)
class WaitedRow:
    """A client who waits for a letter: since when, what was done about it, and what comes next.

    `lies_with` names who has the letter that came and is not read yet ("" for nobody). `next_mail_on` is the day of
    the next reminder, `speak_on` the day from which somebody speaks with her. `cannot_write` says why no mail goes.
    """

    id: UUID
    client_id: UUID
    client_name: str
    phone: str
    since: date
    days: int
    printed_on: date | None
    reminded_on: date | None
    next_mail_on: date | None
    speak_on: date | None
    is_time_to_speak: bool
    cannot_write: str
    has_come: bool
    lies_with: str
    letter_id: UUID | None


@dataclass(frozen=True)
class LetterRow:
    """A letter in a list: what became of it, by whom, until when it holds, and whether that day is over."""

    id: UUID
    client_id: UUID
    client_name: str
    state: str
    word: str
    arrived_on: date
    arrived_by: str
    routed_to: str
    read_by: str
    holds_until: date | None
    is_past: bool
    ended_on: date | None


def letters_waited_for(*, now: datetime, person: studio_models.Person | None = None) -> list[WaitedRow]:
    """Whoever waits for a letter, longest first; of the clients of one teacher, or of all.

    Four queries, one more for a teacher.
    """
    rows = models.LetterRequest.objects.filter(closed_at=None, client__archived_at=None)
    if person is not None:
        cared_for = models.Care.objects.on(house_day(now)).filter(person=person).values("client_id")
        rows = rows.filter(Q(client__usual_instructor=person) | Q(client_id__in=cared_for))
    found = list(rows.select_related("client__home", "client__contact").order_by("opened_at", "pk"))
    keys = [row.client_id for row in found]
    agreed = models.Consent.objects.filter(client__in=keys, kind=models.Consent.Kind.MESSAGES, withdrawn_at=None)
    may_write = set(agreed.values_list("client_id", flat=True))
    come = {
        letter.client_id: letter
        for letter in models.Letter.objects.filter(client__in=keys, state=State.UNREAD)
        .select_related("routed_to")
        .order_by("-arrived_at")
    }
    house = studio_queries.house_zone()
    return [_waited(row, come.get(row.client_id), row.client_id in may_write, now, house) for row in found]


def letters_to_read(*, now: datetime, person: studio_models.Person) -> list[LetterRow]:
    """Unread letters that lie with a teacher; for an owner also those that lie with nobody. Oldest first."""
    mine = Q(routed_to=person)
    if person.has_role(Role.OWNER):
        mine |= Q(routed_to=None) | Q(routed_to__is_active=False)
    return _rows(models.Letter.objects.filter(mine, state=State.UNREAD, client__archived_at=None), "arrived_at", now)


def letters_of(client_id: UUID, *, now: datetime) -> list[LetterRow]:
    """All letters of a client, the newest first."""
    return _rows(models.Letter.objects.filter(client_id=client_id), "-arrived_at", now)


def unread_letters(client_id: UUID, *, now: datetime) -> list[LetterRow]:
    """The letters of a client that nobody has read yet, the newest first."""
    return _rows(models.Letter.objects.filter(client_id=client_id, state=State.UNREAD), "-arrived_at", now)


def client_of_letter(letter_id: UUID) -> UUID:
    """Whose letter this is. Raises Letter.DoesNotExist."""
    return models.Letter.objects.values_list("client_id", flat=True).get(pk=letter_id)


def client_of_request(request_id: UUID) -> UUID:
    """Who waits. Raises LetterRequest.DoesNotExist."""
    return models.LetterRequest.objects.values_list("client_id", flat=True).get(pk=request_id)


def open_request(client_id: UUID) -> UUID | None:
    """The key of the request a client waits for an answer to, or None."""
    rows = models.LetterRequest.objects.filter(client_id=client_id, closed_at=None)
    return rows.values_list("pk", flat=True).first()


def photograph_of(client_id: UUID) -> UUID | None:
    """The key of the photograph on a card, or None."""
    rows = models.StoredFile.objects.filter(pk__in=models.Client.objects.filter(pk=client_id).values("photograph"))
    return rows.filter(removed_at=None).values_list("pk", flat=True).first()


def teachers() -> list[tuple[int, str]]:
    """Whoever a letter may be laid before, by name."""
    people = studio_models.Person.objects.filter(is_active=True, roles__contains=[Role.INSTRUCTOR.value])
    return list(people.order_by("name", "pk").values_list("pk", "name"))


def usual_teacher(client_id: UUID) -> int | None:
    """The key of the teacher a client usually comes to, if she teaches here now. Raises Client.DoesNotExist."""
    wanted = models.Client.objects.values_list("usual_instructor_id", flat=True).get(pk=client_id)
    return wanted if wanted in {key for key, _ in teachers()} else None


def _rows(letters: QuerySet[models.Letter], order: str, now: datetime) -> list[LetterRow]:
    people = ("client__home", "arrived_by", "routed_to", "confirmed_by")
    house = studio_queries.house_zone()
    return [_row(letter, now, house) for letter in letters.select_related(*people).order_by(order, "pk")]


def _row(letter: models.Letter, now: datetime, house: ZoneInfo) -> LetterRow:
    return LetterRow(
        id=letter.pk,
        client_id=letter.client_id,
        client_name=letter.client.name,
        state=letter.state,
        word=letter.get_state_display(),
        arrived_on=_day(letter.arrived_at, letter.client, house),
        arrived_by=letter.arrived_by.name if letter.arrived_by else "",
        routed_to=letter.routed_to.name if letter.routed_to else "",
        read_by=letter.confirmed_by.name if letter.confirmed_by else "",
        holds_until=letter.holds_until,
        is_past=letter.holds_until is not None and letter.holds_until < _day(now, letter.client, house),
        ended_on=_day(letter.ended_at, letter.client, house) if letter.ended_at else None,
    )


def _waited(
    row: models.LetterRequest, letter: models.Letter | None, agreed: bool, now: datetime, house: ZoneInfo
) -> WaitedRow:
    client = row.client
    since, on = _day(row.opened_at, client, house), _day(now, client, house)
    reminded_on = _day(row.reminded_at, client, house) if row.reminded_at else None
    cannot_write = "no e-mail address" if client.contact is None else "" if agreed else "has not agreed to messages"
    speak_on = rules.speaks_on(opened_on=since, reminders=row.reminders, reminded_on=reminded_on)
    return WaitedRow(
        id=row.pk,
        client_id=client.pk,
        client_name=client.name,
        phone=client.phone,
        since=since,
        days=(on - since).days,
        printed_on=_day(row.printed_at, client, house) if row.printed_at else None,
        reminded_on=reminded_on,
        next_mail_on=None
        if cannot_write
        else rules.next_reminder(opened_on=since, reminders=row.reminders, reminded_on=reminded_on, on=on),
        speak_on=speak_on,
        is_time_to_speak=letter is None and (bool(cannot_write) or (speak_on is not None and speak_on <= on)),
        cannot_write=cannot_write,
        has_come=letter is not None,
        lies_with=letter.routed_to.name if letter and letter.routed_to else "",
        letter_id=letter.pk if letter else None,
    )


def _day(at: datetime, client: models.Client, house: ZoneInfo) -> date:
    """The local day at the client's home, which came with her row, or the house's."""
    return zones.local_day(at, ZoneInfo(client.home.time_zone) if client.home else house)
