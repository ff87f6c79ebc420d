"""Booking a place: what is written with it, and every refusal in the words the desk reads."""

from datetime import date, time, timedelta
from threading import Thread
from uuid import uuid4

import pytest
from django.core.exceptions import ObjectDoesNotExist
from django.db import IntegrityError, connection, transaction

from clients.models import Care
from clients.rules.outcomes import Outcome
from scheduling import actions, models
from scheduling.actions.booking import range_for
from scheduling.rules.places import LessonKind
from studio import models as studio_models
from studio.rules import ApparatusKind, Refused
from tests import make_clients
from tests import make_scheduling as at_work
from tests.make_scheduling import DAY, NOW, at, span

pytestmark = pytest.mark.django_db


@pytest.fixture
def house():
    return at_work.house()


@pytest.fixture
def pranvi():
    return at_work.client("Pranvi Somadur", email="pranvi@mail.example")


def codes(refused) -> set[str]:
    return {reason.code for reason in refused.value.reasons}


# --- what a booking writes -------------------------------------------------------------------------------------------


def test_a_booking_makes_lesson_and_place_over_the_same_span(house, pranvi):
    place = at_work.book(house, pranvi, span(11))
    place.refresh_from_db()
    assert (place.state, place.live, place.lesson.kind, place.lesson.seats) == ("booked", True, "private", 1)
    assert place.during == place.lesson.during == range_for(span(11))


def test_a_booking_promises_reminders_48_and_3_hours_before(house, pranvi):
    place = at_work.book(house, pranvi, span(11))
    notices = studio_models.Notice.objects.filter(about=f"place:{place.pk}").order_by("due_at")
    assert [notice.due_at for notice in notices] == [at(11) - timedelta(hours=48), at(11) - timedelta(hours=3)]
    assert {notice.not_after for notice in notices} == {at(11)}
    values = notices[0].values
    assert (values["day"], values["time"], values["where"]) == ("Thursday 12 March", "11:00", "Tannery Yard")


def test_a_reminder_whose_hour_has_passed_is_not_promised(house, pranvi):
    at_work.book(house, pranvi, span(11), now=at(11) - timedelta(hours=5))
    assert studio_models.Notice.objects.count() == 1


def test_a_client_without_an_address_gets_no_letter(house):
    at_work.book(house, at_work.client("Oswin Threll"), span(11))
    assert not studio_models.Notice.objects.exists()


def test_the_teacher_may_read_her_client_from_today_until_after_the_lesson(house, pranvi):
    place = at_work.book(house, pranvi, span(11))
    care = Care.objects.get(source=f"place:{place.pk}")
    assert care.person == house.teachers[0].person
    assert care.first_day == NOW.date() and care.last_day > DAY


def test_a_booking_is_in_the_audit(house, pranvi, desk):
    place = at_work.book(house, pranvi, span(11), by=desk)
    entry = studio_models.AuditEntry.objects.get(verb="book")
    assert (entry.person, entry.key, entry.client_key) == (desk, str(place.pk), pranvi.pk)


def test_the_first_visit_is_marked_and_the_second_is_not(house, pranvi):
    assert at_work.book(house, pranvi, span(11)).first_visit
    assert not at_work.book(house, pranvi, span(15)).first_visit


def test_a_form_that_runs_out_before_the_lesson_is_booked_and_marked(house):
    soon = at_work.client("Hannike Dahlvorn", form_until=DAY - timedelta(days=1))
    assert at_work.book(house, soon, span(11)).form_runs_out


def test_a_second_person_joins_a_duet_and_a_third_is_refused(house, pranvi):
    first = at_work.book(house, pranvi, span(11), kind=LessonKind.DUET)
    join = {"kind": LessonKind.DUET, "lesson_id": first.lesson_id}
    second = at_work.book(house, at_work.client("Oswin Threll"), span(11), machine=1, **join)
    assert second.lesson_id == first.lesson_id
    with pytest.raises(Refused) as refused:
        at_work.book(house, at_work.client("Noorin Qazimbar"), span(11), machine=2, **join)
    assert codes(refused) == {"lesson_full"}


def test_back_to_back_lessons_do_not_collide(house, pranvi):
    at_work.book(house, pranvi, span(11))
    at_work.book(house, pranvi, span(11, 55))
    assert models.Place.objects.count() == 2


# --- refusals --------------------------------------------------------------------------------------------------------


def test_a_taken_machine_is_refused_with_who_has_it_and_what_is_free(house, pranvi):
    at_work.book(house, pranvi, span(11))
    with pytest.raises(Refused) as refused:
        at_work.book(house, at_work.client("Oswin Threll"), span(11, 30), teacher=1)
    (reason,) = refused.value.reasons
    assert reason.code == "machine_taken"
    assert reason.says == ("Reformer 1 is already taken from 11:00 to 11:55, by Pranvi Somadur, with Iselde Ottrevane.")
    assert "Reformer 2 at 11:30 on Thu 12 March, with Dunmaro Oyelisk" in reason.allowed


def test_a_taken_teacher_is_refused_with_whom_she_teaches(house, pranvi):
    at_work.book(house, pranvi, span(11))
    with pytest.raises(Refused) as refused:
        at_work.book(house, at_work.client("Oswin Threll"), span(11, 30), machine=1)
    (reason,) = refused.value.reasons
    assert reason.code == "instructor_taken"
    assert reason.says.endswith("by a private lesson with Pranvi Somadur.")


def test_a_client_cannot_be_in_two_places(house, pranvi):
    at_work.book(house, pranvi, span(11))
    with pytest.raises(Refused) as refused:
        at_work.book(house, pranvi, span(11), machine=1, teacher=1)
    assert codes(refused) == {"client_taken"}


def test_the_past_cannot_be_booked(house, pranvi):
    with pytest.raises(Refused) as refused:
        at_work.book(house, pranvi, span(11), now=at(11, 1))
    assert refused.value.reasons[0].says == "That time has already gone by."


def test_a_closed_hour_is_refused_with_the_opening_hours(house, pranvi):
    with pytest.raises(Refused) as refused:
        at_work.book(house, pranvi, span(21))
    assert "Open that day 07:00 to 21:00." in {reason.allowed for reason in refused.value.reasons}


def test_a_closure_shuts_its_days(house, pranvi):
    studio_models.Closure.objects.create(studio=house.studio, first_day=DAY, last_day=DAY, why="floor sanded")
    with pytest.raises(Refused) as refused:
        at_work.book(house, pranvi, span(11))
    assert codes(refused) == {"studio_closed"}


def test_a_form_that_is_not_current_refuses_and_names_the_paper(house):
    nobody = make_clients.client("Elivar Navroth", now=NOW)
    with pytest.raises(Refused) as refused:
        at_work.book(house, nobody, span(11))
    assert refused.value.reasons[0].says == "Elivar Navroth's health form is not current: form missing."


def test_speak_to_the_instructor_says_no_more_than_that(house):
    made = make_clients.client("Pavrin Dušvald", now=NOW)
    at_work.give_form(made, until=date(2027, 1, 1), outcome=Outcome.POSTPONE)
    with pytest.raises(Refused) as refused:
        at_work.book(house, made, span(11))
    assert [reason.says for reason in refused.value.reasons] == [
        "Speak to the instructor before you book Pavrin Dušvald."
    ]


def test_a_machine_out_of_service_is_refused(house, pranvi):
    actions.take_out_of_service(house.reformers[0].pk, span=span(9, minutes=180), why="springs", by=None, now=NOW)
    with pytest.raises(Refused) as refused:
        at_work.book(house, pranvi, span(11))
    assert refused.value.reasons[0].says == "Reformer 1 is out of service until 12:00 on 12 March 2026."


def test_a_machine_not_yet_in_service_is_refused(house, pranvi):
    models.Apparatus.objects.update(in_service_from=DAY + timedelta(days=1))
    with pytest.raises(Refused) as refused:
        at_work.book(house, pranvi, span(11))
    assert codes(refused) == {"not_in_service"}


def test_a_teacher_off_is_refused(house, pranvi):
    actions.add_time_off(house.teachers[0].pk, span=span(7, minutes=600), by=None, now=NOW)
    with pytest.raises(Refused) as refused:
        at_work.book(house, pranvi, span(11))
    assert refused.value.reasons[0].says == "Iselde Ottrevane is off then."


def test_a_teacher_who_works_elsewhere_is_refused_with_where(house, pranvi):
    weir = at_work.house(name="Weir Street")
    with pytest.raises(Refused) as refused:
        actions.book_place(
            client_id=pranvi.pk,
            apparatus_id=house.reformers[0].pk,
            instructor_id=weir.teachers[0].pk,
            span=span(11),
            kind=LessonKind.PRIVATE,
            by=None,
            now=NOW,
        )
    assert refused.value.reasons[0].says == "Iselde Ottrevane is in Weir Street then."


def test_a_teacher_who_does_not_teach_the_machine_is_refused(house, pranvi):
    house.teachers[0] = at_work.teacher("Tavik Quillmoor", "TQ", house, may_teach={ApparatusKind.MAT: 5})
    with pytest.raises(Refused) as refused:
        at_work.book(house, pranvi, span(11))
    assert refused.value.reasons[0].says == "Tavik Quillmoor does not teach on the reformer."


def test_a_lesson_that_moved_meanwhile_cannot_be_joined(house, pranvi):
    first = at_work.book(house, pranvi, span(11), kind=LessonKind.DUET)
    actions.move_lesson(first.lesson_id, span=span(12), by=None, now=NOW)
    with pytest.raises(Refused) as refused:
        at_work.book(
            house,
            at_work.client("Oswin Threll"),
            span(11),
            machine=1,
            kind=LessonKind.DUET,
            lesson_id=first.lesson_id,
        )
    assert codes(refused) == {"lesson_changed"}


def test_a_refused_booking_writes_nothing(house, pranvi):
    at_work.book(house, pranvi, span(11))
    before = (studio_models.Notice.objects.count(), studio_models.AuditEntry.objects.count(), Care.objects.count())
    with pytest.raises(Refused):
        at_work.book(house, pranvi, span(11))
    after = (studio_models.Notice.objects.count(), studio_models.AuditEntry.objects.count(), Care.objects.count())
    assert (after, models.Lesson.objects.count()) == (before, 1)


@pytest.mark.parametrize("unknown", ["client_id", "apparatus_id", "instructor_id", "lesson_id"])
def test_an_unknown_key_is_not_there(house, pranvi, unknown):
    keys = {
        "client_id": pranvi.pk,
        "apparatus_id": house.reformers[0].pk,
        "instructor_id": house.teachers[0].pk,
        "lesson_id": None,
    }
    keys[unknown] = uuid4() if unknown in ("client_id", "lesson_id") else 10**6
    with pytest.raises(ObjectDoesNotExist):
        actions.book_place(span=span(11), kind=LessonKind.PRIVATE, by=None, now=NOW, **keys)


# --- clocks ----------------------------------------------------------------------------------------------------------


def test_nine_oclock_stays_nine_oclock_after_the_clocks_change(house, pranvi):
    # Clocks in Lisbon went forward on 29 March 2026 (tzdata).
    before = at_work.book(house, pranvi, span(9, day=date(2026, 3, 26)))
    after = at_work.book(house, pranvi, span(9, day=date(2026, 4, 2)))
    assert before.during.lower.hour == 9 and after.during.lower.hour == 8
    notice = studio_models.Notice.objects.filter(about=f"place:{after.pk}").first()
    assert notice is not None and notice.values["time"] == "09:00"


def test_two_studios_keep_their_own_clocks(pranvi):
    lisbon, delhi = at_work.house(), at_work.house("Asia/Kolkata", name="Lantern Court")
    here = at_work.book(lisbon, pranvi, span(9))
    there = at_work.book(delhi, at_work.client("Rahuvo Menkuru"), span(9, zone=delhi.zone))
    # India keeps 5.5 hours ahead of UTC all year (tzdata).
    assert here.during.lower - there.during.lower == timedelta(hours=5, minutes=30)


def test_opening_hours_hold_in_the_studios_own_zone():
    delhi = at_work.house("Asia/Kolkata", name="Lantern Court")
    with pytest.raises(Refused) as refused:
        at_work.book(delhi, at_work.client("Rahuvo Menkuru"), span(18, zone=at_work.LISBON))
    assert "studio_closed" in codes(refused)


# --- the database's last word ----------------------------------------------------------------------------------------


def test_a_place_cannot_drift_from_its_lesson(house, pranvi):
    place = at_work.book(house, pranvi, span(11))
    with pytest.raises(IntegrityError), transaction.atomic():
        models.Place.objects.filter(pk=place.pk).update(during=range_for(span(12)))
        with connection.cursor() as cursor:
            cursor.execute("SET CONSTRAINTS ALL IMMEDIATE")


@pytest.mark.django_db(transaction=True)
def test_a_writer_without_our_locks_is_still_refused_in_words():
    house, first = at_work.house(), at_work.client("Oswin Threll")
    second = at_work.client("Pranvi Somadur")
    seen: list[Refused] = []

    def book() -> None:
        try:
            at_work.book(house, second, span(11), teacher=1)
        except Refused as refused:
            seen.append(refused)
        finally:
            connection.close()

    other = Thread(target=book)
    with transaction.atomic():
        lesson = models.Lesson.objects.create(
            studio=house.studio,
            room=house.room,
            kind="private",
            during=range_for(span(11)),
            instructor=house.teachers[0],
            made_at=NOW,
        )
        models.Place.objects.create(
            lesson=lesson,
            during=lesson.during,
            client=first,
            apparatus=house.reformers[0],
            state_at=NOW,
            booked_at=NOW,
        )
        other.start()
        _until_somebody_waits()
    other.join(timeout=20)
    assert [reason.code for reason in seen[0].reasons] == ["machine_taken"]
    assert "Oswin Threll" in seen[0].reasons[0].says


def _until_somebody_waits() -> None:
    """The other booking has passed its checks and stands before the constraint."""
    with connection.cursor() as cursor:
        for _ in range(400):
            cursor.execute("SELECT count(*) FROM pg_locks WHERE NOT granted")
            if cursor.fetchone()[0]:
                return
            cursor.execute("SELECT pg_sleep(0.02)")
    pytest.fail("the other booking never met the constraint")


def test_hours_that_end_at_closing_hold_the_last_lesson(house, pranvi):
    at_work.book(house, pranvi, span(20, 5))
    assert time(20, 5) == models.Lesson.objects.get().during.lower.astimezone(house.zone).time()
