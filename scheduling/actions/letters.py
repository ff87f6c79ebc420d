"""What a place sends and gives: reminders into the outbox, and the teacher's right to read. Called inside a deed."""

from dataclasses import dataclass
from datetime import datetime, timedelta

from clients import actions as client_actions
from clients import queries as client_queries
from clients.models import Client
from scheduling import models
from scheduling.queries.house import House, range_of
from studio.actions import notices
from studio.models import Person
from studio.rules import Span, zones

# A log is finished and a next lesson planned within two weeks of the lesson (common practice, no source).
CARE_AFTER = timedelta(days=14)
MESSAGES = "messages"
REMINDER = "lesson_reminder"


@dataclass(frozen=True)
class Letter:
    """What letters about one place say: to whom, when, where, with whom."""

    place: models.Place
    client: Client
    teacher: Person
    house: House
    version: int

    @property
    def about(self) -> str:
        return f"place:{self.place.pk}"

    @property
    def span(self) -> Span:
        return range_of(self.place.during)

    def values(self) -> dict[str, str]:
        start = self.span.start.astimezone(self.house.zone)
        return {
            "name": self.client.name,
            "day": f"{start:%A} {start.day} {start:%B}",
            "time": f"{start:%H:%M}",
            "where": self.house.name,
            "teacher": self.teacher.name,
        }


def promise(letter: Letter, *, now: datetime) -> None:
    """Reminders to a client who agreed to messages; and the teacher may read from today on."""
    remind(letter, now=now)
    zone = letter.house.zone
    client_actions.give_care(
        person=letter.teacher,
        client=letter.client,
        first_day=zones.local_day(now, zone),
        last_day=zones.local_day(letter.span.start, zone) + CARE_AFTER,
        why="teaches a lesson",
        source=letter.about,
        now=now,
    )


def remind(letter: Letter, *, now: datetime) -> None:
    """Reminders by the studio's policy, those already past left out; none without an open consent to messages."""
    start = letter.span.start
    due = [(hours, start - timedelta(hours=hours)) for hours in letter.house.reminder_hours]
    ahead = [(hours, at) for hours, at in due if at > now]
    if letter.client.contact is None or not ahead:
        return
    consent = client_queries.open_consent(letter.client.pk, MESSAGES)
    if consent is None:
        return
    # A consent given anew is a new promise: what was withdrawn with the earlier one does not stand in its way.
    names = [(f"reminder:{hours}:c{consent}", at) for hours, at in ahead]
    _put(letter, REMINDER, names, now, rests_on=client_queries.leave_for_messages(letter.client.pk))


def take_back(place: models.Place, *, now: datetime) -> None:
    """Neither reminders nor the right to read outlive the place."""
    about = f"place:{place.pk}"
    notices.withdraw(about=about, now=now)
    client_actions.take_back_care(source=about, now=now)


def tell(letter: Letter, kind: str, *, now: datetime) -> None:
    """Say at once that a lesson was moved or cancelled (`lesson_moved`, `lesson_cancelled`)."""
    _put(letter, kind, [(kind, now)], now)


def _put(letter: Letter, kind: str, names: list[tuple[str, datetime]], now: datetime, *, rests_on: str = "") -> None:
    """One notice for each name and the instant it is due."""
    contact = letter.client.contact
    if contact is None or letter.span.start <= now:
        return
    values = letter.values()
    found = [
        notices.written(
            kind=kind,
            contact=contact,
            values=values,
            about=letter.about,
            due_at=due,
            now=now,
            # A lesson that moves away and back again is a new promise: its version has grown.
            once=f"{letter.about}:v{letter.version}:{name}",
            not_after=letter.span.start,
            rests_on=rests_on,
        )
        for name, due in names
    ]
    notices.put_all(found, now=now)
