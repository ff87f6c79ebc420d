"""Reads: as many queries for fifty rows as for one, each day in its studio's own clock, use from real rows."""

from datetime import date, timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from scheduling import actions, models, queries
from scheduling.queries.resources import touching
from scheduling.rules.openings import Wanted
from scheduling.rules.places import LessonKind, PlaceState
from studio.models import OpeningHours
from studio.rules import ApparatusKind
from tests import make_scheduling as at_work
from tests.make_scheduling import DAY, NOW, at, span

pytestmark = pytest.mark.django_db


@pytest.fixture
def house():
    return at_work.house(reformers=8)


def fill(house, count: int, *, first: int = 0) -> None:
    """Places `first` to `count` of DAY: eight machines, seven hours, a teacher to each machine."""
    while len(house.teachers) < len(house.reformers):
        number = len(house.teachers)
        house.teachers.append(at_work.teacher(f"Teacher {number}", f"T{number}", house))
    for number, name in list(enumerate(at_work.names()[:count]))[first:]:
        at_work.book(
            house,
            at_work.client(name),
            span(7 + number // 8),
            machine=number % 8,
            teacher=number % 8,
        )


def asked(deed) -> int:
    with CaptureQueriesContext(connection) as seen:
        deed()
    return len(seen)


READS = {
    "day sheet": lambda: queries.day_sheet(DAY, now=NOW),
    "openings": lambda: queries.openings(wanted(), now=NOW),
    "places of a day": lambda: queries.places_of_day(models.Instructor.objects.earliest("pk").person_id, DAY, now=NOW),
    "machine use": lambda: queries.machine_use(DAY, 4),
    "teaching load": lambda: queries.teaching_load(DAY, DAY),
    "rooms": lambda: queries.rooms(now=NOW),
}


def wanted(**changed) -> Wanted:
    known = {"minutes": 55, "kind": LessonKind.PRIVATE, "days": (DAY,), "apparatus_kind": ApparatusKind.REFORMER}
    return Wanted(**{**known, **changed})


def test_no_read_asks_more_for_fifty_places_than_for_one(house):
    fill(house, 1)
    one = {name: asked(read) for name, read in READS.items()}
    fill(house, 50, first=1)
    assert {name: asked(read) for name, read in READS.items()} == one


def test_the_day_sheet_takes_twelve_queries_at_most_and_openings_three(house):
    fill(house, 3)
    assert asked(READS["day sheet"]) <= 12
    assert asked(READS["openings"]) == 3


def test_the_day_sheet_is_found_by_the_index_on_the_start():
    window = span(7, minutes=14 * 60)
    with connection.cursor() as cursor:
        cursor.execute("SET LOCAL enable_seqscan = off")
        plan = models.Place.objects.filter(touching(window)).explain()
    assert "scheduling_place_starts" in plan


# --- the sheet -------------------------------------------------------------------------------------------------------


def marks_at(when, place) -> tuple[str, ...]:
    sheet = queries.day_sheet(DAY, now=when)
    return next(one.marks for one in sheet.places if one.id == place.pk)


def test_a_place_is_soon_then_late_then_here(house):
    place = at_work.book(house, at_work.client("Oswin Threll"), span(11))
    assert "soon" in marks_at(at(10, 50), place)
    assert "late" in marks_at(at(11, 7), place)
    actions.mark_place(place.pk, state=PlaceState.HERE, by=None, now=at(11, 8))
    assert marks_at(at(11, 9), place)[0] == "here"


def test_a_new_client_and_a_form_that_runs_out_are_marked_ahead(house):
    place = at_work.book(house, at_work.client("Oswin Threll", form_until=DAY - timedelta(days=1)), span(11))
    assert marks_at(NOW, place) == ("form_not_current", "new")


def test_a_cancelled_place_stays_on_the_sheet_and_is_not_counted(house):
    place = at_work.book(house, at_work.client("Oswin Threll"), span(11))
    actions.mark_place(place.pk, state=PlaceState.CANCELLED, by=None, now=NOW)
    sheet = queries.day_sheet(DAY, now=NOW)
    assert [one.marks for one in sheet.places] == [("cancelled",)]
    assert (sheet.counts["places"], sheet.counts["cancelled"]) == (0, 1)


def test_each_studio_shows_its_own_day():
    lisbon, auckland = at_work.house(), at_work.house("Pacific/Auckland", name="Lantern Court")
    here = at_work.book(lisbon, at_work.client("Oswin Threll"), span(9))
    there = at_work.book(auckland, at_work.client("Rahuvo Menkuru"), span(9, zone=auckland.zone))
    sheet = queries.day_sheet(DAY, now=NOW)
    assert {place.id for place in sheet.places} == {here.pk, there.pk}
    assert {f"{place.start_wall:%H:%M}" for place in sheet.places} == {"09:00"}


def test_the_sheet_of_a_day_of_23_hours_keeps_wall_hours(house):
    # Clocks in Lisbon went forward on Sunday 29 March 2026 (tzdata); the house opens that Sunday for once.
    sunday = date(2026, 3, 29)
    OpeningHours.objects.create(studio=house.studio, weekday=6, opens="09:00", closes="15:00")
    sheet = queries.day_sheet(sunday, now=NOW)
    assert (sheet.first_minute, sheet.last_minute) == (9 * 60, 15 * 60)


def test_the_version_changes_with_every_change_and_not_without_one(house):
    place = at_work.book(house, at_work.client("Oswin Threll"), span(11))
    seen = [queries.day_version(DAY, now=NOW)]
    assert queries.day_version(DAY, now=NOW) == seen[0]
    actions.mark_place(place.pk, state=PlaceState.HERE, by=None, now=at(10, 59))
    seen.append(queries.day_version(DAY, now=NOW))
    actions.undo_place(place.pk, by=None, now=at(11))
    seen.append(queries.day_version(DAY, now=NOW))
    at_work.book(house, at_work.client("Noorin Qazimbar"), span(14))
    seen.append(queries.day_version(DAY, now=NOW))
    actions.move_lesson(place.lesson_id, span=span(16), by=None, now=NOW)
    seen.append(queries.day_version(DAY, now=NOW))
    assert len(set(seen)) == 5


# --- openings --------------------------------------------------------------------------------------------------------


def test_an_opening_can_be_booked_as_it_stands(house):
    fill(house, 20)
    who = at_work.client("Pranvi Somadur")
    for opening in queries.openings(wanted(), now=NOW, client_id=who.pk)[:5]:
        place = actions.book_place(
            client_id=who.pk,
            apparatus_id=opening.apparatus_id,
            instructor_id=opening.instructor_id,
            span=opening.span,
            kind=LessonKind.PRIVATE,
            by=None,
            now=NOW,
        )
        actions.take_back_booking(place.pk, by=None, now=NOW)


def test_openings_know_the_clients_teacher_machine_and_bookings(house):
    who = at_work.client("Pranvi Somadur")
    before = DAY - timedelta(days=1)
    at_work.book(house, who, span(9, day=before), machine=4, teacher=1)
    booked = at_work.book(house, who, span(11), machine=2)
    found = queries.openings(wanted(), now=at(22, day=before), client_id=who.pk)
    assert found[0].instructor == "Dunmaro Oyelisk" and found[0].apparatus == "Reformer 5"
    assert "Keeps the usual teacher, Dunmaro Oyelisk." in found[0].reasons
    assert not any(one.span.overlaps(span(11)) for one in found), booked


def test_a_free_seat_in_a_duet_is_offered(house):
    first = at_work.book(house, at_work.client("Oswin Threll"), span(11), kind=LessonKind.DUET)
    found = queries.openings(wanted(kind=LessonKind.DUET), now=NOW)
    assert first.lesson_id in {one.lesson_id for one in found}


def test_when_nothing_fits_one_change_is_offered(house):
    sunday = DAY + timedelta(days=3)
    found = queries.search(wanted(days=(sunday,)), now=NOW)
    assert not found.openings
    assert found.relaxations[0].change == "day" and found.relaxations[0].count > 0


# --- use -------------------------------------------------------------------------------------------------------------


def test_use_is_hours_booked_by_hours_open(house):
    at_work.book(house, at_work.client("Oswin Threll"), span(11, minutes=60))
    use = queries.machine_use(DAY, 1)
    first = use.machines[0]
    # Open 7 to 21 on six days: 84 hours.
    assert (first.used, first.open) == (1.0, 84.0)
    assert first.share == pytest.approx(1 / 84)
    assert all(machine.used == 0 for machine in use.machines[1:])


def test_a_cancelled_place_uses_nothing_and_a_missed_one_does(house):
    gone = at_work.book(house, at_work.client("Oswin Threll"), span(11, minutes=60))
    missed = at_work.book(house, at_work.client("Noorin Qazimbar"), span(14, minutes=60), teacher=1, machine=1)
    actions.mark_place(gone.pk, state=PlaceState.CANCELLED, by=None, now=NOW)
    actions.mark_place(missed.pk, state=PlaceState.MISSED, by=None, now=at(14, 30))
    assert [machine.used for machine in queries.machine_use(DAY, 1).machines[:2]] == [0.0, 1.0]


def test_hours_out_of_service_are_not_open(house):
    actions.take_out_of_service(house.reformers[0].pk, span=span(9, minutes=240), why="rope", by=None, now=NOW)
    assert queries.machine_use(DAY, 1).machines[0].open == 80.0


def test_load_counts_hours_lessons_and_the_longest_run(house):
    for name, (hour, minute) in zip(at_work.names(), ((9, 0), (9, 55), (13, 0)), strict=False):
        at_work.book(house, at_work.client(name), span(hour, minute))
    load = next(one for one in queries.teaching_load(DAY, DAY) if one.name == "Iselde Ottrevane")
    assert (load.lessons, load.hours, load.longest_run) == (3, pytest.approx(2.75), 110.0)


def test_place_facts_carry_the_machines_springs(house):
    place = at_work.book(house, at_work.client("Oswin Threll"), span(11))
    facts = queries.place_facts(place.pk)
    assert (facts.inventory, facts.day, facts.kind) == ("HHMML", DAY, ApparatusKind.REFORMER)
    assert sorted(spring.k for spring in facts.springs) == [100.0, 200.0, 200.0, 350.0, 350.0]


def test_a_teachers_day_leaves_cancelled_places_out(house):
    kept = at_work.book(house, at_work.client("Oswin Threll"), span(9))
    gone = at_work.book(house, at_work.client("Noorin Qazimbar"), span(11))
    actions.mark_place(gone.pk, state=PlaceState.CANCELLED, by=None, now=NOW)
    found = queries.places_of_day(house.teachers[0].person_id, DAY, now=NOW)
    assert [place.place_id for place in found] == [kept.pk]
