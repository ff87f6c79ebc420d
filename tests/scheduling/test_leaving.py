"""Leaving the house: refused while somebody waits for a lesson with her; one way only, and nothing is lost."""

from datetime import date, time, timedelta
from threading import Event, Thread

import pytest
import time_machine
from django.db import connection, transaction
from django.test import Client
from django.urls import NoReverseMatch, reverse

from scheduling import actions, models, queries
from scheduling.rules.leaving import StillTeaches, leaving_refusals
from studio.models import AuditEntry, Person
from studio.rules import Refused, Role
from tests import make
from tests import make_scheduling as at_work
from tests.conftest import logged_in
from tests.make_scheduling import DAY, NOW, at, span

WEEK = timedelta(days=7)


@pytest.fixture
def house(db):
    return at_work.house()


@pytest.fixture
def iselde(house) -> Person:
    return house.teachers[0].person


def leave_page(person: Person) -> str:
    return reverse("scheduling:leave", args=[person.pk])


def test_somebody_with_nothing_ahead_may_go():
    assert leaving_refusals("Iselde", StillTeaches()) == []


def test_lessons_ahead_are_counted_and_the_last_day_and_the_way_out_are_named():
    [reason] = leaving_refusals("Iselde", StillTeaches(12, date(2026, 4, 30)))
    assert reason.says == "Iselde still teaches 12 lessons, until 30 April 2026. Hand them over first."
    assert leaving_refusals("Iselde", StillTeaches(1, date(2026, 4, 30)))[0].says.startswith(
        "Iselde still teaches 1 lesson,"
    )


def test_a_lesson_that_runs_is_let_end():
    [reason] = leaving_refusals("Iselde", StillTeaches(busy_until=time(11, 55)))
    assert (reason.code, "until 11:55" in reason.says) == ("teaching_now", True)


def test_what_is_still_to_be_taught_leaves_out_what_is_past_cancelled_or_somebody_elses(house, iselde):
    ada = at_work.client("Oswin Threll")
    at_work.book(house, ada, span(8))
    cancelled = at_work.book(house, ada, span(12))
    actions.cancel_lesson(cancelled.lesson_id, by=None, now=NOW)
    at_work.book(house, ada, span(14), teacher=1)
    at_work.book(house, ada, span(11))
    at_work.book(house, ada, span(11, day=DAY + WEEK))
    assert queries.still_teaches(iselde.pk, now=at(9)) == StillTeaches(2, DAY + WEEK)
    assert queries.still_teaches(iselde.pk, now=at(11, 30)) == StillTeaches(1, DAY + WEEK, time(11, 55))


def test_the_last_day_is_the_day_of_the_studio_where_she_teaches(db):
    far = at_work.house("Pacific/Auckland", name="Far Yard")
    late = span(8, zone=far.zone)  # the evening before in UTC
    at_work.book(far, at_work.client("Oswin Threll"), late)
    assert late.start.astimezone(NOW.tzinfo).date() < DAY
    assert queries.still_teaches(far.teachers[0].person_id, now=NOW).last_day == DAY


def test_a_teacher_leaves_once_her_lessons_are_handed_over(house, iselde, owner):
    place = at_work.book(house, at_work.client("Oswin Threll"), span(11))
    with pytest.raises(Refused) as refused:
        actions.leave_house(iselde.pk, by=owner, now=NOW)
    assert [reason.code for reason in refused.value.reasons] == ["still_teaches"]
    assert Person.objects.get(pk=iselde.pk).is_active
    assert not AuditEntry.objects.filter(verb="leave").exists()
    actions.hand_over(house.teachers[0].pk, house.teachers[1].pk, by=owner, now=NOW)
    assert not actions.leave_house(iselde.pk, by=owner, now=NOW).is_active
    assert models.Lesson.objects.get(pk=place.lesson_id).instructor == house.teachers[1]
    assert models.Instructor.objects.filter(person=iselde).exists()


def test_the_last_owner_stays_also_by_this_door(owner):
    with pytest.raises(Refused) as refused:
        actions.leave_house(owner.pk, by=owner, now=NOW)
    assert [reason.code for reason in refused.value.reasons] == ["last_owner"]


@pytest.mark.django_db(transaction=True)
def test_a_booking_that_began_first_holds_the_leaving_back():
    house = at_work.house()
    iselde, owner, ada = house.teachers[0].person, make.person(Role.OWNER), at_work.client("Oswin Threll")
    booked, refusals = Event(), []

    def let_go() -> None:
        booked.wait(10)
        try:
            actions.leave_house(iselde.pk, by=owner, now=NOW)
        except Refused as refused:
            refusals.extend(reason.code for reason in refused.reasons)
        finally:
            connection.close()

    thread = Thread(target=let_go)
    thread.start()
    with transaction.atomic():
        at_work.book(house, ada, span(11))
        booked.set()
        thread.join(0.3)
        assert thread.is_alive()  # it waits for the booking's lock
    thread.join(10)
    assert refusals == ["still_teaches"]
    assert Person.objects.get(pk=iselde.pk).is_active


def test_nobody_is_booked_with_somebody_who_left(house, iselde, owner):
    actions.leave_house(iselde.pk, by=owner, now=NOW)
    with pytest.raises(Refused) as refused:
        at_work.book(house, at_work.client("Oswin Threll"), span(11))
    assert [reason.code for reason in refused.value.reasons] == ["teacher_left"]
    assert iselde.name in refused.value.reasons[0].says


def test_the_page_says_what_stands_against_it_and_leads_through_the_handing_over(house, iselde, as_owner):
    at_work.book(house, at_work.client("Oswin Threll"), span(11))
    with time_machine.travel(NOW, tick=False):
        text = as_owner.get(leave_page(iselde)).content.decode()
        assert "still teaches 1 lesson, until 12 March 2026" in text and "Close the account" not in text
        hand_over = f"{reverse('scheduling:hand-over')}?from={iselde.pk}"
        assert hand_over in text
        refused = as_owner.post(leave_page(iselde))
        assert (refused.status_code, b"still teaches 1 lesson" in refused.content) == (422, True)
        wish = {"from_instructor": house.teachers[0].pk, "to_instructor": house.teachers[1].pk}
        assert leave_page(iselde) in as_owner.post(hand_over, wish).content.decode()
        assert as_owner.post(leave_page(iselde)).url == reverse("studio:staff")
    assert not Person.objects.get(pk=iselde.pk).is_active


def test_leaving_ends_every_session_and_keeps_the_name(house, iselde, as_owner):
    teaching = logged_in(iselde)
    assert teaching.get("/").status_code == 200
    as_owner.post(leave_page(iselde))
    assert teaching.get("/").status_code == 302
    signed_in = Client().post(reverse("studio:login"), {"username": iselde.email, "password": make.PASSWORD})
    assert signed_in.status_code == 200
    assert iselde.name.encode() in as_owner.get(reverse("studio:staff")).content
    iselde.refresh_from_db()
    assert iselde.left_on is not None and not iselde.has_usable_password()


def test_there_is_one_way_to_leave_and_the_staff_page_leads_to_it(as_owner, desk):
    with pytest.raises(NoReverseMatch):
        reverse("studio:leave", args=[desk.pk])
    assert leave_page(desk) in as_owner.get(reverse("studio:person", args=[desk.pk])).content.decode()


@pytest.mark.django_db
def test_what_is_ahead_is_one_query_for_any_number_of_lessons(house, iselde, django_assert_num_queries):
    ada = at_work.client("Oswin Threll")
    for week in range(10):
        at_work.book(house, ada, span(11, day=DAY + week * WEEK))
    with django_assert_num_queries(1):
        assert queries.still_teaches(iselde.pk, now=NOW).ahead == 10
