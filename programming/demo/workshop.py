"""What teachers work on when nobody is there: springs measured, changes of the repertoire, templates in the making."""

from dataclasses import dataclass
from datetime import datetime, timedelta
from random import Random
from typing import Any
from uuid import UUID

from programming import models
from programming.actions import approvals, drafts, proposals
from programming.demo.founding import House
from programming.demo.scenario import MachinePlan, Scenario
from programming.queries import drafts as draft_queries
from programming.queries import repertoire
from programming.rules import building, validation
from programming.rules.building import standing
from programming.rules.entries import About
from programming.rules.timing import Slot
from scheduling.actions import calibrations, springs
from scheduling.queries import springs as spring_queries
from scheduling.rules.springs import USUAL
from scheduling.rules.wear import Finding
from studio.models import Person
from studio.rules import ApparatusKind, zones

MEASURED_BEFORE = timedelta(days=95)
RENEWED_BEFORE = timedelta(days=26)
LOOKED_EVERY = 7
# Where a spring is pulled to, in metres; how far its stiffness and pre-extension may lie from the usual ones.
PULLED_TO = (0.10, 0.20, 0.30, 0.40)
STIFFER, LOOSER = (0.93, 1.08), (0.8, 1.2)
# Lengths of a carriage machine in metres (assumptions): bar to shoulder rests, foot above hip, track.
CARRIAGE = {"bar_to_rest_m": 0.86, "foot_above_hip_m": 0.22, "track_m": 1.05}


@dataclass(frozen=True)
class Workshop:
    """The machines and papers of one house, by the names of the scenario; chance is drawn from the seed."""

    scenario: Scenario
    house: House
    seed: str
    now: datetime

    @property
    def words(self) -> Any:
        return self.scenario.craft

    def measure(self) -> None:
        """Before the first lesson of the story every spring was measured, but for two machines."""
        at = self.now - MEASURED_BEFORE
        for plan in self.scenario.machines:
            apparatus_id = self.house.machines[plan.studio, plan.label]
            if plan.kind is ApparatusKind.REFORMER:
                springs.measure_machine(apparatus_id, measures=self._lengths(plan), by=self.house.owner, now=at)
            if [plan.studio, plan.label] not in self.words["unmeasured"]:
                self._measure_springs(plan, apparatus_id, at)

    def look(self) -> None:
        """Springs were looked at within the week; those of one machine are new, one of another is heard."""
        renewed, noisy = (tuple(self.words[name]) for name in ("renewed", "noisy"))
        for spring_id in self._hanging(renewed):
            springs.replace_spring(spring_id, serial="", by=self.house.owner, now=self.now - RENEWED_BEFORE)
        for number, apparatus_id in enumerate(self.house.machines.values()):
            at = self.now - timedelta(days=number % LOOKED_EVERY, hours=3)
            springs.inspect_machine(apparatus_id, by=self.house.owner, now=at)
        heard = self._hanging(noisy)[0]
        springs.inspect_spring(heard, findings=[Finding.NOISE], by=self.house.owner, now=self.now - timedelta(days=1))

    def propose(self) -> None:
        """Teachers ask for changes of the repertoire: one was taken over, one turned down, others wait."""
        for told in self.words["proposals"]:
            at = self.now - timedelta(days=told["days"], hours=2)
            by = self.house.teachers[told["by"]].person
            asked = proposals.propose_change(
                About(told["about"]), told["key"], wanted=told["wanted"], why=told["why"], by=by, now=at
            )
            if "answer" not in told:
                continue
            answered = at + timedelta(days=1)
            if told["taken"]:
                proposals.take_over(asked.pk, by=self.house.owner, now=answered, answer=told["answer"])
            else:
                proposals.turn_down(asked.pk, by=self.house.owner, now=answered, answer=told["answer"])

    def draft(self) -> None:
        """One teacher's template lies with the owner, another's is in the making."""
        for told in self.words["drafts"]:
            by, at = self.house.teachers[told["by"]].person, self.now - timedelta(days=told["days"])
            kind = ApparatusKind(told["kind"])
            about = {"name": told["name"], "aim": told["aim"], "level": told["level"], "minutes": told["minutes"]}
            made = drafts.new_template(**about, kind=kind, by=by, now=at)
            revision = made.revision
            for minute, (series, level) in enumerate(told["series"], 1):
                edit = building.PutSeries(kind, series, level)
                later = at + timedelta(minutes=minute)
                revision = drafts.edit_draft(made.pk, edit=edit, revision=revision, by=by, now=later).revision
            if told["proposed"]:
                self._hand_over(made.pk, told["reason"], revision, by, at + timedelta(minutes=30))

    def _hand_over(self, template_id: UUID, reason: str, revision: int, by: Person, at: datetime) -> None:
        """Every warning gets the teacher's reason, then the owner is asked."""
        for found in _findings(template_id):
            revision = drafts.let_stand(
                template_id,
                rule=found.rule,
                key=standing.key_of(found),
                reason=reason,
                revision=revision,
                by=by,
                now=at,
            ).revision
        approvals.propose_template(template_id, revision=revision, by=by, now=at)

    def _measure_springs(self, plan: MachinePlan, apparatus_id: int, at: datetime) -> None:
        rng = Random(f"{self.seed}:{plan.studio}:{plan.label}")
        day = zones.local_day(at, self.scenario.zone_of(plan.studio))
        for spring_id, fact in spring_queries.springs_at(apparatus_id, on=day).items():
            usual_k, usual_x0 = USUAL[fact.stiffness]
            k, x0 = usual_k * rng.uniform(*STIFFER), usual_x0 * rng.uniform(*LOOSER)
            # A pull scale is read to the newton.
            points = [(x, float(round(k * (x + x0)))) for x in PULLED_TO]
            calibrations.calibrate_spring(
                spring_id,
                points=points,
                instrument=self.words["instrument"],
                measured_on=day,
                by=self.house.owner,
                now=at,
            )

    def _lengths(self, plan: MachinePlan) -> dict[str, float | None]:
        rng = Random(f"{self.seed}:{plan.label}:lengths")
        return {name: round(usual + rng.uniform(-0.02, 0.02), 2) for name, usual in CARRIAGE.items()}

    def _hanging(self, machine: tuple[str, ...]) -> list[int]:
        return sorted(spring_queries.springs_at(self.house.machines[machine[0], machine[1]]))


def _findings(template_id: UUID) -> list[validation.Finding]:
    state, rows = draft_queries.state_of(models.Template.objects.get(pk=template_id)), repertoire.exercises()
    lines = building.as_lines(state.lines, rows)
    return validation.report(lines, rows, repertoire.times(), slot=Slot(60 * state.about.minutes))
