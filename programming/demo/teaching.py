"""What teachers know of the people they teach: their build, a level signed, an exercise granted, a rule set aside."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, time, timedelta
from random import Random
from typing import Any
from uuid import UUID

from programming.actions import bodies, decisions, grants, levels, progress, waivers
from programming.demo.cast import Member
from programming.demo.founding import House
from programming.demo.scenario import Scenario
from programming.rules.bodies import CONTRARY, BodyFacts
from programming.rules.progress import Step
from studio import models as studio_models
from studio.rules import ApparatusKind, zones

STEADY_LEVEL = 3
LOOKED_AT = time(13, 30)
NOTES_EACH = (1, 3)
DECIDED_FOR, DECIDED_EACH = 6, 2
# Of so many whose build is noted one has her leg measured.
MEASURED = 2
# Stature in millimetres, mean and spread by sex; functional leg length as a share of it (ansur2).
STATURE = {"f": (1628.5, 64.2), "m": (1756.2, 68.6)}
BETWEEN = (1692.0, 66.0)
LEG_SHARE, LEG_SPREAD = 0.642, 0.012
SEXES = {"f": "female", "m": "male"}


@dataclass(frozen=True)
class Teaching:
    """Who is who by the scenario's numbers; `usual` is the teacher of each who has one."""

    scenario: Scenario
    house: House
    members: Sequence[Member]
    clients: Mapping[int, UUID]
    usual: Mapping[int, str]
    seed: str
    now: datetime

    @property
    def words(self) -> Any:
        return self.scenario.craft

    def meet(self) -> None:
        """Before the first program: the build of those whose lessons are written down, and levels signed."""
        for member in self.members:
            if member.number not in self.usual:
                continue
            if member.is_logged and not member.is_minor(self.now.date()):
                self._note_build(member)
            if member.is_steady:
                self._sign(member)

    def speak(self) -> None:
        """A senior teacher's word on single exercises, and one prerequisite set aside."""
        taught = [one for one in self.members if one.is_logged and one.number in self.usual]
        for told, member in zip(self.words["grants"], taught, strict=False):
            grants.grant_exercise(
                self.clients[member.number],
                exercise_id=told["exercise"],
                owned=True,
                reason=told["reason"],
                by=self.house.owner,
                now=self.now - timedelta(days=2),
                why=told["reason"],
            )
        told, member = self.words["waiver"], taught[-1]
        waivers.waive(
            self.clients[member.number],
            told["exercise"],
            equivalent_id=told["equivalent"],
            reason=told["reason"],
            by=self._teacher(member),
            now=self.now - timedelta(days=4),
            why=told["reason"],
        )

    def decide(self) -> None:
        """What the logs proposed was decided for some, as proposed or more slowly; for the others it waits."""
        taught = [one for one in self.members if one.is_logged and one.is_steady and one.number in self.usual]
        at = self.now - timedelta(hours=20)
        for number, member in enumerate(taught[:DECIDED_FOR]):
            client_id, by = self.clients[member.number], self._teacher(member)
            view = progress.open_progress(client_id, by=by, now=at, why=self.words["looks_back"])
            for open_step in view.waiting[:DECIDED_EACH]:
                decided = open_step.proposal.step if number % 2 == 0 else Step.REPEAT
                decisions.decide_step(
                    client_id,
                    exercise_id=open_step.row.exercise_id,
                    decided=decided,
                    by=by,
                    now=at,
                    why=self.words["looks_back"],
                )

    def _note_build(self, member: Member) -> None:
        rng = Random(f"{self.seed}:{member.number}:build")
        bodies.note_body(
            self.clients[member.number],
            facts=self._build(member, rng),
            by=self._teacher(member),
            now=self._first_day(member),
            why=self.words["before_the_first"],
        )

    def _build(self, member: Member, rng: Random) -> BodyFacts:
        mean, spread = STATURE.get(member.row.sex, BETWEEN)
        stature = round(min(max(rng.gauss(mean, spread), mean - 2 * spread), mean + 2 * spread))
        leg = round(stature * rng.gauss(LEG_SHARE, LEG_SPREAD)) if rng.randrange(MEASURED) else None
        drawn = set(rng.sample(self.words["notes"], rng.randint(*NOTES_EACH)))
        notes = drawn - {second for first, second in CONTRARY if first in drawn}
        return BodyFacts(frozenset(notes), stature, leg, sex=SEXES.get(member.row.sex, ""))

    def _sign(self, member: Member) -> None:
        for kind in (ApparatusKind.REFORMER, ApparatusKind.MAT):
            levels.sign_level(
                self.clients[member.number],
                kind=kind,
                level=STEADY_LEVEL,
                by=self._teacher(member),
                now=self._first_day(member),
                reason=self.words["level_reason"],
                why=self.words["before_the_first"],
            )

    def _first_day(self, member: Member) -> datetime:
        """The afternoon of the day she joined, or two hours ago when that is still to come."""
        zone = self.scenario.zone_of(member.row.home)
        return min(zones.at(member.joined, LOOKED_AT, zone).instant, self.now - timedelta(hours=2))

    def _teacher(self, member: Member) -> studio_models.Person:
        return self.house.teachers[self.usual[member.number]].person
