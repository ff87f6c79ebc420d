"""What became of the papers since: letters, readings, photographs, consents taken back, a second card, the last night.

The people of these turns are the first that fit in the scenario's order, so that they are the same each time.
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, time, timedelta
from typing import Any
from uuid import UUID

from clients import actions as client_actions
from clients import queries as client_queries
from clients.rules import Pressure
from clients.rules.readings import Sitting
from clients.rules.reference import Intensity
from clients.rules.terms import Entered
from programming.demo import drawing, enrolling
from programming.demo.cast import Member
from programming.demo.enrolling import HANDS_OFF, SILENT
from programming.demo.founding import House
from programming.demo.scenario import Scenario
from studio import models as studio_models
from studio.actions import notices
from studio.rules import zones

NIGHT = time(3, 30)
BEFORE_A_LESSON = "Before the lesson"
# A second value after the rest of five minutes where the first is high.
READINGS = (
    Sitting((Pressure(132, 80),), heart_rate=70, is_treated=True),
    Sitting((Pressure(144, 84), Pressure(134, 82)), heart_rate=76, is_treated=True),
    Sitting((Pressure(126, 76),), heart_rate=64, is_treated=True),
)
# What is taken back, and one of how many never agreed to it.
AGREED = (("messages", SILENT), ("touch", HANDS_OFF))
A_MONTH = timedelta(days=30)
# Of so many clients one agrees to a photograph.
PICTURED = 5
WAIT_FOR_A_LETTER = ("new_sugar", "short_breath", "new_hip", "weak_leg")
ASKED = "Asked for at the desk"
TELL_TEACHERS = ("changes_ahead", "letter_arrived")


@dataclass(frozen=True)
class Papers:
    """Who is who by the scenario's numbers; `usual` is the teacher of each who has one."""

    scenario: Scenario
    house: House
    members: Sequence[Member]
    clients: Mapping[int, UUID]
    usual: Mapping[int, str]
    now: datetime

    def turn(self) -> None:
        """All of it, the oldest first, the last night at the end."""
        self._take_letters()
        self._take_readings()
        self._take_photographs()
        self._take_back()
        self._file_twice()
        self._look_again()

    def _take_letters(self) -> None:
        """One letter is read and in terms, one lies unread, one was asked for on paper; the others are waited for."""
        waiting = [one for one in self.members if one.persona.key in WAIT_FOR_A_LETTER]
        waiting.sort(key=lambda one: (WAIT_FOR_A_LETTER.index(one.persona.key), one.number))
        answered, unread, printed = waiting[:3]
        teacher = next(iter(self.house.teachers.values())).person
        letter = self._hand_in(answered, teacher, self.now - timedelta(days=2, hours=5))
        self._read(letter, teacher, self.now - timedelta(days=2))
        self._hand_in(unread, teacher, self.now - timedelta(hours=20))
        request = client_queries.open_request(self.clients[printed.number])
        if request is not None:
            client_actions.print_request(request, by=self.house.owner, now=self.now - timedelta(days=1), why=ASKED)

    def _hand_in(self, member: Member, teacher: studio_models.Person, at: datetime) -> UUID:
        page = drawing.letter(lines=[line.format(name=member.row.name) for line in self.scenario.words["letter"]])
        client_id = self.clients[member.number]
        return client_actions.hand_in(client_id, pages=[page], routed_to=teacher.pk, by=self.house.desk, now=at).pk

    def _read(self, letter_id: UUID, teacher: studio_models.Person, at: datetime) -> None:
        """The teacher puts into terms what the page says: light to moderate work, for everything that was asked."""
        asked = client_actions.read_letter(letter_id, by=teacher, now=at).asks
        entered = Entered(
            clinician=self.scenario.words["letter"][0],
            profession=self.scenario.words["profession"],
            dated=zones.local_day(at, self.scenario.studios[0].zone) - timedelta(days=1),
            answers=frozenset(ask.rule_id for ask in asked),
            effort=Intensity.LIGHT_MODERATE,
        )
        client_actions.confirm_letter(letter_id, entered=entered, by=teacher, now=at)

    def _take_photographs(self) -> None:
        """Some agreed to a picture on their card; of one of them it was never taken."""
        agree = [one for one in self.members if one.persona.may_book and one.number % PICTURED == 0]
        for member in agree:
            client_id, at = self.clients[member.number], self.now - timedelta(hours=30)
            given_by = enrolling.who_signs(member, at)
            client_actions.give_consent(client_id, kind="photographs", given_by=given_by, by=self.house.desk, now=at)
            if member is not agree[-1]:
                face = drawing.face(member.row.name)
                client_actions.keep_photograph(client_id, content=face, by=self.house.desk, now=at)

    def _take_readings(self) -> None:
        """The teacher measures those who told of their pressure."""
        for member, sitting in zip(self._who_tell("H05"), READINGS, strict=False):
            teacher = self.house.teachers[self.usual.get(member.number) or next(iter(self.house.teachers))]
            at = self.now - timedelta(days=1, hours=member.number % 5)
            client_actions.record_readings(
                self.clients[member.number], sitting=sitting, by=teacher.person, now=at, why=BEFORE_A_LESSON
            )

    def _who_tell(self, field: str) -> Iterator[Member]:
        return (one for one in self.members if field in one.persona.tells and one.persona.may_book)

    def _take_back(self) -> None:
        """One no longer agrees to messages, one no longer to touch; both said so at the desk."""
        steady = (one for one in self.members if one.persona.may_book and one.joined < self.now.date() - A_MONTH)
        for kind, apart in AGREED:
            member = next(one for one in steady if one.number % apart)
            at = self.now - timedelta(days=3)
            client_actions.withdraw_consent(self.clients[member.number], kind=kind, by=self.house.desk, now=at)

    def _file_twice(self) -> None:
        """Somebody came to the other desk, was not found under the way she spells it, and got a second card."""
        member = next(one for one in self.members if "-" in one.row.name and one.persona.may_book)
        name = member.row.name.replace("-", " ")
        card: dict[str, Any] = {
            "born_on": member.born_on,
            "phone": f"+44 1632 960{member.number:03d}",
            "by": self.house.desk,
        }
        at = self.now - timedelta(days=1)
        try:
            client_actions.add_client(name=name, **card, now=at)
        except client_actions.LooksLike as looks:
            others = tuple(alike.id for alike in looks.rows)
            client_actions.add_client(name=name, **card, now=at, different_from=others)

    def _look_again(self) -> None:
        """The night looks at everybody for whom a day has come; what it tells the teachers they have read by now."""
        zone = self.scenario.studios[0].zone
        night = zones.at(zones.local_day(self.now, zone), NIGHT, zone).instant
        client_actions.look_again(now=min(night, self.now))
        told = studio_models.Notice.objects.filter(kind__in=TELL_TEACHERS, state=studio_models.Notice.State.WAITING)
        for about in sorted(set(told.values_list("about", flat=True))):
            notices.withdraw(about=about, now=self.now)
