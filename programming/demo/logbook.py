"""Programs assigned from the studio's templates, and what the teacher wrote down in the lesson."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from random import Random
from uuid import UUID

from programming import actions, models
from programming.actions import telling as telling_actions
from programming.demo.scenario import Scenario
from programming.queries import templates as template_queries
from programming.queries.templates import TemplateChoice
from programming.rules.felt import Felt
from programming.rules.load import HARDEST
from programming.rules.marks import Decision, Mark
from programming.rules.timing import Pace
from scheduling.models import Place
from studio.models import Person
from studio.rules import ApparatusKind, Span

# Of a hundred lines that the teacher says something about.
MARKS = ((Mark.DONE, 80), (Mark.FEWER, 9), (Mark.CHANGED, 6), (Mark.SKIPPED, 5))
WATCHED_LINES = 4
FIRST_LESSONS = 3
STEADY_LEVEL = 3
LONGEST = 55
NOTED = 0.15
RATED = 0.7
FELT = 0.02
# How hard lessons feel, mean and spread, 0 to 10.
EFFORT = (4.5, 1.4)
ASKED_AFTER = timedelta(minutes=30)


@dataclass(frozen=True)
class Telling:
    """Chance for one lesson; how many lessons the client has had; what is watched with her, the same each time."""

    rng: Random
    lessons: int
    aims: Random

    def watched(self, lines: Sequence[models.ProgramLine]) -> list[models.ProgramLine]:
        """The few lines that are looked at closely, in their order."""
        places = sorted(self.aims.sample(range(len(lines)), min(WATCHED_LINES, len(lines))))
        return [lines[place] for place in places]


@dataclass(frozen=True)
class Logbook:
    """The templates in use by kind of apparatus, lowest level first, the words of the notes, and what may be felt."""

    templates: Mapping[ApparatusKind, Sequence[TemplateChoice]]
    notes: Sequence[str]
    felt: Sequence[tuple[str, int]]

    def assign(
        self, place: Place, kind: ApparatusKind, *, steady: bool, lessons: int, by: Person, now: datetime
    ) -> models.Program | None:
        """Fit a template that suits the machine and the client's experience; None when there is none for it."""
        found = [one for one in self.templates.get(kind, ()) if one.minutes <= LONGEST]
        if not found:
            return None
        return actions.assign_program(
            client_id=place.client_id,
            template_id=self._suits(found, steady=steady, lessons=lessons).id,
            apparatus_id=place.apparatus_id,
            minutes=LONGEST,
            by=by,
            now=now,
            place_id=place.pk,
            pace=Pace.LEARNING if lessons <= FIRST_LESSONS else Pace.WORKING,
        )

    def for_group(self, kind: ApparatusKind) -> TemplateChoice | None:
        """The shortest template of the lowest level for a group on this kind of apparatus."""
        return min(self.templates.get(kind, ()), key=lambda one: (one.level, one.minutes, one.lines), default=None)

    def keep(
        self, program: models.Program, place: Place, span: Span, *, by: Person, telling: Telling, now: datetime
    ) -> None:
        """The whole log of a lesson: some lines watched and scored, the rest as planned, finished at its end.

        How hard it felt is asked half an hour after, at `now` the latest.
        """
        log = actions.open_log(place.pk, by=by, now=span.start)
        for line in telling.watched(_lines(program)):
            self._mark(log.pk, line, telling, by=by, now=_when(program, line, span))
        actions.mark_rest(log.pk, by=by, now=span.end)
        if telling.rng.random() < NOTED:
            actions.note_log(log.pk, note=telling.rng.choice(self.notes), by=by, now=span.end)
        actions.finish_log(log.pk, by=by, now=span.end)
        if telling.rng.random() < RATED:
            effort = min(HARDEST, max(1, round(telling.rng.gauss(*EFFORT))))
            effort_at = min(span.end + ASKED_AFTER, now)
            telling_actions.rate_lesson(log.pk, effort=effort, by=by, now=effort_at)

    def begin(
        self, program: models.Program, place: Place, span: Span, *, by: Person, now: datetime, telling: Telling
    ) -> None:
        """The log of a lesson that is going on: what has been done by `now` is marked."""
        log = actions.open_log(place.pk, by=by, now=span.start)
        for line in _lines(program):
            if (at := _when(program, line, span)) < now:
                self._mark(log.pk, line, telling, by=by, now=at)

    def _mark(self, log_id: UUID, line: models.ProgramLine, telling: Telling, *, by: Person, now: datetime) -> None:
        rng = telling.rng
        mark = rng.choices([mark for mark, _ in MARKS], [weight for _, weight in MARKS])[0]
        # The longer she comes, the cleaner it gets; nobody is perfect at once.
        score = min(5, 2 + rng.randint(0, 1 + min(telling.lessons, 9) // 3))
        reps = max(1, line.reps - rng.randint(1, 3)) if mark is Mark.FEWER else None
        scored = None if mark is Mark.SKIPPED else score
        actions.mark_line(log_id, line_id=line.pk, mark=mark, reps=reps, score=scored, by=by, now=now)
        if mark is not Mark.SKIPPED and rng.random() < FELT:
            symptom, pain = rng.choice(self.felt)
            felt = Felt(pain or None, symptom)
            telling_actions.tell_felt(log_id, line_id=line.pk, felt=felt, by=by, now=now)

    def _suits(self, found: Sequence[TemplateChoice], *, steady: bool, lessons: int) -> TemplateChoice:
        most = STEADY_LEVEL if steady else STEADY_LEVEL - 1
        full = [one for one in found if one.minutes > 30 and one.level <= most] or found
        return full[min(lessons // FIRST_LESSONS, len(full) - 1)]


def logbook(scenario: Scenario, client_id: UUID) -> Logbook:
    """The templates in use now. Any client will do to ask with: what is above her level is listed too."""
    kinds = {kind: template_queries.choices(client_id, kind) for kind in ApparatusKind}
    suited = {
        kind: sorted((one for one in choices if one.kind is kind), key=lambda one: (one.level, one.lines))
        for kind, choices in kinds.items()
    }
    felt = [(symptom, pain) for symptom, pain in scenario.craft["felt"]]
    return Logbook(suited, scenario.words["log_notes"], felt)


def _lines(program: models.Program) -> list[models.ProgramLine]:
    return list(program.lines.exclude(decision=Decision.LEFT_OUT).order_by("position"))


def _when(program: models.Program, line: models.ProgramLine, span: Span) -> datetime:
    """About when the line is over: the lines of a program share its lesson evenly."""
    share = min(1.0, line.position / max(1, program.lines.count()))
    return span.start + share * span.length
