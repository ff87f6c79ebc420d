"""The demo studio: the same from the same seed, nobody in two places, open when it teaches, whole or not at all."""

import itertools
import json
import stat
from collections import Counter
from collections.abc import Iterator
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

import pytest
from django.core.management import call_command
from django.db import transaction
from django.db.models import F
from django.test import override_settings
from pytest_django import DjangoDbBlocker, Settings

from clients import actions as client_actions
from clients import queries as client_queries
from clients.models import Client, Coming, Consent, Letter, LetterRequest, RestReading, Screening
from clients.rules.coming import ComingKind
from clients.rules.names import alike
from clients.rules.outcomes import DeskWord
from programming import actions
from programming.demo import build, cast, founding, timetable
from programming.demo.days import Calendar, Planned
from programming.demo.scenario import Scenario, scenario
from programming.management.commands import build_demo
from programming.models import Body, Exercise, Grant, Log, LogLine, Program, ProgramLine, RepertoireProposal, Waiver
from programming.rules.marks import Decision
from scheduling.models import Apparatus, Calibration, Inspection, Lesson, Place, Spring
from scheduling.rules.places import HOLDING, PlaceState
from studio import queries as studio_queries
from studio.models import Business, Notice, Person
from studio.rules import ApparatusKind, Role, Span, zones
from studio.rules.spans import covered
from tests import make_clients, reference

# A Wednesday morning, three days after the clocks went back in Europe.
NOW = datetime(2026, 10, 28, 10, 20, tzinfo=UTC)
SMALL = build.Scale(clients=40, weeks_past=2, weeks_ahead=1, lessons=14, places_today=20, logged=0.6)


@pytest.fixture(scope="module")
def demo(
    django_db_setup: None, django_db_blocker: DjangoDbBlocker, tmp_path_factory: pytest.TempPathFactory
) -> Iterator["Demo"]:
    """A small demo studio for the whole module, built twice: the first one is only described and taken back."""
    files = tmp_path_factory.mktemp("files")
    with override_settings(FILES_DIR=files), django_db_blocker.unblock(), transaction.atomic():
        actions.load_reference(reference.tables(), now=NOW)
        with transaction.atomic():
            build.build(now=NOW, scale=SMALL)
            first = described()
            transaction.set_rollback(True)
        yield Demo(build.build(now=NOW, scale=SMALL), first)
        transaction.set_rollback(True)


class Demo:
    def __init__(self, logins: list[build.Login], first: dict[str, list[tuple[object, ...]]]) -> None:
        self.logins, self.first = logins, first


def described() -> dict[str, list[tuple[object, ...]]]:
    """Everything of a studio that a person could tell apart, without row keys and passwords."""
    place = ("client__name", "client__born_on", "apparatus__label", "during", "state", "state_at", "booked_at")
    screening = ("client__name", "client__born_on", "outcome", "decided_at", "valid_until")
    line = ("program__client__name", "program__made_at", "position", "planned", "exercise")
    measured = ("spring__apparatus__label", "points", "measured_on", "k_n_per_m")
    mark = ("log__place__client__name", "log__started_at", "program_line__position", "program_line__exercise")
    return {
        "people": sorted(Person.objects.values_list("name", "email", "roles")),
        "clients": sorted(Client.objects.values_list("name", "phone", "born_on", "visits", "made_at")),
        "places": sorted(Place.objects.values_list(*place, "lesson__instructor__initials"), key=str),
        "screenings": sorted(Screening.objects.values_list(*screening), key=str),
        "changes": sorted(Coming.objects.values_list("client__name", "kind", "day", "found_at"), key=str),
        "readings": sorted(RestReading.objects.values_list("client__name", "taken_at", "taken_by__name"), key=str),
        "taken_back": sorted(Consent.objects.exclude(withdrawn_at=None).values_list("client__name", "kind")),
        "letters": sorted(Letter.objects.values_list("client__name", "state", "arrived_at", "holds_until"), key=str),
        "pictures": sorted(Client.objects.exclude(photograph=None).values_list("name", flat=True)),
        "marks": sorted(LogLine.objects.values_list(*mark, "mark", "reps", "score"), key=str),
        "efforts": sorted(Log.objects.values_list("place__client__name", "started_at", "effort", "effort_at"), key=str),
        "builds": sorted(Body.objects.values_list("client__name", "by__name", "at"), key=str),
        "lines": sorted(ProgramLine.objects.values_list(*line, "decision", "spring_set", "reps", "seconds"), key=str),
        "proposals": sorted(RepertoireProposal.objects.values_list("key", "proposed_at", "decision", "answer")),
        "measured": sorted(Calibration.objects.values_list(*measured), key=str),
        "notices": sorted(Notice.objects.values_list("kind", "contact__address", "due_at", "state"), key=str),
    }


def test_the_same_seed_and_day_give_the_same_studio(demo: Demo, db: None) -> None:
    second = described()
    for what, rows in second.items():
        assert rows == demo.first[what], what
        assert rows, what


def test_the_house_is_set_up_with_its_machines_people_and_two_zones(demo: Demo, db: None) -> None:
    assert Business.objects.get().set_up_at == NOW
    offsets = {NOW.astimezone(view.zone).utcoffset() for view in studio_queries.studios()}
    assert len(offsets) == 2, "the locations keep different times"
    kinds = list(Apparatus.objects.values_list("kind", flat=True))
    counts = {kind: kinds.count(kind) for kind in (ApparatusKind.REFORMER, ApparatusKind.TOWER, ApparatusKind.CHAIR)}
    assert counts == {ApparatusKind.REFORMER: 8, ApparatusKind.TOWER: 2, ApparatusKind.CHAIR: 2}
    assert ApparatusKind.BARREL in kinds and ApparatusKind.MAT in kinds
    inventories = {
        "".join(sorted(machine.springs.values_list("stiffness_class", flat=True)))
        for machine in Apparatus.objects.filter(kind=ApparatusKind.REFORMER)
    }
    assert len(inventories) >= 4
    assert Person.objects.with_role(Role.INSTRUCTOR).count() == 7
    assert any(len(person.roles) == 2 for person in Person.objects.with_role(Role.OWNER))


def test_nobody_and_nothing_is_in_two_places_at_once(demo: Demo, db: None) -> None:
    held = Place.objects.filter(live=True, state__in=HOLDING).values_list("apparatus", "client", "during")
    assert held.count() > 30
    for what in (0, 1):
        assert not overlapping([(row[what], row[2].lower, row[2].upper) for row in held])
    lessons = Lesson.objects.filter(live=True).values_list("instructor", "during")
    assert not overlapping([(teacher, during.lower, during.upper) for teacher, during in lessons])


def test_every_lesson_is_within_the_opening_hours_of_its_own_zone(demo: Demo, db: None) -> None:
    views = {view.id: view for view in studio_queries.studios()}
    for studio_id, during in Lesson.objects.filter(live=True).values_list("studio", "during"):
        view = views[studio_id]
        day = zones.local_day(during.lower, view.zone)
        start, end = during.lower.astimezone(view.zone).time(), during.upper.astimezone(view.zone).time()
        assert any(opens <= start and end <= closes for opens, closes in view.hours[day.weekday()])
        assert not view.shut_on(day)


def test_every_word_of_the_desk_comes_up(demo: Demo, db: None) -> None:
    keys = list(Client.objects.values_list("pk", flat=True))
    standings = client_queries.form_standings(keys, on=NOW.date()).values()
    assert {standing.word for standing in standings} == set(DeskWord)
    assert {paper for standing in standings for paper in standing.missing} == {"form", "signature", "letter"}
    assert len([one for one in standings if one.word is DeskWord.CURRENT]) > len(keys) / 2


def test_a_window_ends_this_week_and_a_limit_begins_within_the_month(demo: Demo, db: None) -> None:
    ahead = Coming.objects.filter(gone_at=None, day__gt=NOW.date())
    assert ahead.filter(kind=ComingKind.WINDOW_ENDS, day__lte=NOW.date() + timedelta(days=7)).exists()
    assert ahead.filter(kind=ComingKind.BEGINS, day__lte=NOW.date() + timedelta(days=30)).exists()


def test_a_window_that_is_over_waits_for_somebodys_word(demo: Demo, db: None) -> None:
    """The night looked at whoever's last day has passed; the limits stand until a person confirms."""
    looked_at = Screening.objects.filter(replaced_at=None, outcome="clear_limited", asked_for="night")
    by = Person.objects.with_role(Role.OWNER).first()
    over = [one for one in looked_at if client_actions.read_brief(one.client_id, by=by, now=NOW, why="test").proposals]
    assert over
    assert all(make_clients.limits(one) for one in over)


def test_teachers_have_measured_and_some_clients_took_their_word_back(demo: Demo, db: None) -> None:
    assert RestReading.objects.filter(struck_at=None, taken_at__lt=NOW).exists()
    assert set(Consent.objects.exclude(withdrawn_at=None).values_list("kind", flat=True)) == {"messages", "touch"}


def test_one_letter_is_in_terms_one_unread_and_others_are_waited_for(demo: Demo, db: None) -> None:
    confirmed, unread = Letter.objects.get(state="confirmed"), Letter.objects.get(state="unread")
    standings = client_queries.form_standings([confirmed.client_id, unread.client_id], on=NOW.date())
    assert standings[confirmed.client_id].word is DeskWord.CURRENT
    assert tuple(standings[unread.client_id].missing) == ("letter",)
    waited = LetterRequest.objects.filter(closed_at=None)
    assert waited.exclude(printed_at=None).exists() and waited.filter(printed_at=None).exists()
    assert not waited.filter(client=confirmed.client).exists()


def test_of_those_who_agreed_to_a_photograph_one_has_none(demo: Demo, db: None) -> None:
    agreed = Client.objects.filter(consents__kind="photographs", consents__withdrawn_at=None)
    assert agreed.filter(photograph=None).count() == 1
    assert agreed.exclude(photograph=None).count() > 3


def test_one_person_is_on_file_twice_and_nobody_has_merged_her(demo: Demo, db: None) -> None:
    rows = list(Client.objects.filter(merged_into=None))
    pairs = [(one, other) for one, other in itertools.combinations(rows, 2) if alike(one.name, other.name)]
    twice = [(one, other) for one, other in pairs if (one.born_on, one.phone) == (other.born_on, other.phone)]
    assert [one.name == other.name for one, other in twice] == [False]


def test_places_came_to_every_end_and_today_is_under_way(demo: Demo, db: None) -> None:
    assert set(Place.objects.values_list("state", flat=True)) == {state.value for state in PlaceState}
    today = Place.objects.filter(live=True, during__startswith__date=NOW.date())
    assert today.filter(state=PlaceState.HERE, during__endswith__lte=NOW).exists()
    assert today.filter(state=PlaceState.BOOKED, during__startswith__gt=NOW).exists()
    assert not Place.objects.filter(state=PlaceState.HERE, during__startswith__gt=NOW + timedelta(minutes=20)).exists()


def test_a_finished_log_says_something_of_every_line(demo: Demo, db: None) -> None:
    finished = Log.objects.filter(finished_at__isnull=False)
    assert finished.count() > 2
    for log in finished:
        lines = ProgramLine.objects.filter(program=log.program_id).exclude(decision=Decision.LEFT_OUT)
        assert log.lines.count() == lines.count() > 3


def test_every_spring_was_measured_but_those_of_two_machines(demo: Demo, db: None) -> None:
    unmeasured = {tuple(one) for one in scenario().craft["unmeasured"]}
    renewed = tuple(scenario().craft["renewed"])
    hanging = Spring.objects.filter(removed_on=None)
    assert hanging.filter(calibrated_on=None).exists()
    for spring in hanging.select_related("apparatus"):
        open_one = {label for _, label in [*unmeasured, renewed]}
        assert (spring.calibrated_on is None) == (spring.apparatus.label in open_one)
    assert all(0.99 <= fit <= 1 for fit in Calibration.objects.values_list("r2", flat=True))


def test_one_machine_has_new_springs_and_one_spring_of_the_machine_that_is_out_is_heard(demo: Demo, db: None) -> None:
    taken_off = Spring.objects.exclude(removed_on=None)
    assert set(taken_off.values_list("apparatus__label", flat=True)) == {scenario().craft["renewed"][1]}
    heard = Inspection.objects.exclude(findings=[])
    assert [one.spring.apparatus.label for one in heard] == [founding.OUT_OF_SERVICE[1]]


def test_of_four_changes_that_teachers_asked_for_one_is_in_force(demo: Demo, db: None) -> None:
    decided = Counter(RepertoireProposal.objects.values_list("decision", flat=True))
    assert decided == {"taken_over": 1, "turned_down": 1, "": 2}
    taken = RepertoireProposal.objects.get(decision="taken_over")
    assert Exercise.objects.get(pk=taken.key).row["note"] == taken.columns["note"]


def test_whose_lessons_are_written_down_has_her_build_noted_before_her_first_program(demo: Demo, db: None) -> None:
    noted = dict(Body.objects.values_list("client", "at"))
    assert len(noted) > 5
    for client_id, at in noted.items():
        programs = Program.objects.filter(client=client_id)
        assert not programs.filter(made_at__lt=at).exclude(place__during__startswith__gt=NOW).exists()


def test_most_finished_lessons_say_how_hard_they_felt_and_none_before_it_was_over(demo: Demo, db: None) -> None:
    rated = Log.objects.exclude(effort=None)
    assert rated.count() > Log.objects.filter(finished_at__isnull=False).count() / 2
    assert not rated.filter(effort_at__lt=F("finished_at")).exists()


def test_single_exercises_were_granted_and_one_prerequisite_was_set_aside(demo: Demo, db: None) -> None:
    assert Grant.objects.count() == len(scenario().craft["grants"])
    assert Waiver.objects.filter(taken_back_at=None).count() == 1


def test_no_letter_about_the_past_is_waiting(demo: Demo, db: None) -> None:
    waiting = Notice.objects.filter(state=Notice.State.WAITING)
    assert waiting.filter(kind="lesson_reminder", due_at__gt=NOW).exists()
    assert not waiting.filter(due_at__lte=NOW).exists()


def test_the_logins_open_and_nobody_else_has_a_password(demo: Demo, db: None) -> None:
    assert len(demo.logins) == len({login.email for login in demo.logins}) == 4
    for login in demo.logins:
        assert Person.objects.get(email=login.email).check_password(login.password)
        assert login.email.endswith(".example")
    others = Person.objects.exclude(email__in=[login.email for login in demo.logins])
    assert not any(person.has_usable_password() for person in others)


def test_the_logins_are_kept_for_this_account_only(demo: Demo, db: None, tmp_path: Path, settings: Settings) -> None:
    settings.VAR_DIR = tmp_path
    build_demo.keep(demo.logins)
    path = tmp_path / "demo_logins.json"
    assert stat.S_IMODE(path.stat().st_mode) == 0o600
    kept = json.loads(path.read_text(encoding="utf-8"))
    assert [set(login) for login in kept] == [{"role", "name", "email", "password"}] * len(demo.logins)


def test_nothing_is_built_where_there_is_a_house(demo: Demo, db: None) -> None:
    before = (Client.objects.count(), Place.objects.count())
    assert build.build(now=NOW, scale=SMALL) == []
    call_command("build_demo")
    assert (Client.objects.count(), Place.objects.count()) == before


@pytest.mark.parametrize("ahead", range(0, 21, 2))
def test_a_planned_day_never_asks_two_things_of_one(ahead: int) -> None:
    plans = scenario()
    today = date(2026, 12, 28) + timedelta(days=ahead)
    members = cast.members(plans, today=today, seed="any", number=140, weeks=12, logged=0.5)
    week = timetable.usual_week(plans, members, seed="any", lessons=90)
    calendar = Calendar(plans, members, today, "any")
    for day in (today - timedelta(days=1), today, today + timedelta(days=3)):
        usual = timetable.busy_day(week, day, places=66)
        check_day(plans, calendar.day(day, usual))


def of_teacher(planned: Planned) -> list[object]:
    return [planned.lesson.hour.teacher]


def of_machines(planned: Planned) -> list[object]:
    return [(planned.lesson.hour.studio, seat.machine) for seat in planned.seats]


def of_clients(planned: Planned) -> list[object]:
    return [seat.member.number for seat in planned.seats]


def check_day(plans: Scenario, planned: list[Planned]) -> None:
    """Nothing twice at once, and every lesson inside a shift of its teacher."""
    assert len(planned) > 15
    for asked_of in (of_teacher, of_machines, of_clients):
        assert not overlapping([(key, one.span.start, one.span.end) for one in planned for key in asked_of(one)])
    for lesson in planned:
        hour = lesson.lesson.hour
        teacher = next(person for person in plans.teachers if person.initials == hour.teacher)
        day = zones.local_day(lesson.span.start, plans.zone_of(hour.studio))
        shifts = [
            Span(*(zones.at(day, wall, plans.zone_of(shift.studio)).instant for wall in (shift.starts, shift.ends)))
            for shift in teacher.shifts
            if (shift.studio, shift.weekday) == (hour.studio, day.weekday())
        ]
        assert covered(lesson.span, shifts)


def overlapping(rows: list[tuple[object, datetime, datetime]]) -> list[tuple[object, object]]:
    """Pairs of rows with the same key that share an instant."""
    ordered = sorted(rows, key=lambda row: (str(row[0]), row[1]))
    return [(one, other) for one, other in itertools.pairwise(ordered) if one[0] == other[0] and other[1] < one[2]]
