"""What becomes of places and lessons: here, cancelled, missed, undone, moved, handed over; machines and teachers."""

from datetime import date, time, timedelta

import pytest

from clients import actions as client_actions
from clients.models import Care, Client
from scheduling import actions, models
from scheduling.actions.booking import range_for
from scheduling.actions.machines import USUAL
from scheduling.rules.places import LessonKind, PlaceState
from studio import models as studio_models
from studio.rules import ApparatusKind, Refused
from tests import make_clients, reference
from tests import make_scheduling as at_work
from tests.make_scheduling import DAY, NOW, at, span

pytestmark = pytest.mark.django_db
Notice = studio_models.Notice


@pytest.fixture
def house():
    return at_work.house()


@pytest.fixture
def pranvi():
    return at_work.client("Pranvi Somadur", email="pranvi@mail.example")


@pytest.fixture
def place(house, pranvi):
    return at_work.book(house, pranvi, span(11))


def mark(place, state, now=NOW, by=None):
    return actions.mark_place(place.pk, state=state, by=by, now=now)


def codes(refused) -> set[str]:
    return {reason.code for reason in refused.value.reasons}


def waiting(place) -> int:
    return Notice.objects.filter(about=f"place:{place.pk}", state="waiting").count()


# --- here, cancelled, missed -----------------------------------------------------------------------------------------


def test_here_is_marked_and_undone(place):
    assert mark(place, PlaceState.HERE, at(10, 55)).state == "here"
    assert actions.undo_place(place.pk, by=None, now=at(10, 56)).state == "booked"


def test_cancelling_gives_back_machine_teacher_and_client(house, pranvi, place):
    mark(place, PlaceState.CANCELLED)
    again = at_work.book(house, pranvi, span(11))
    assert models.Lesson.objects.get(pk=place.lesson_id).live is False
    assert again.lesson.live


def test_cancelling_withdraws_reminders_and_care(place):
    mark(place, PlaceState.CANCELLED)
    assert waiting(place) == 0
    assert not Care.objects.filter(source=f"place:{place.pk}").exists()


def test_undoing_a_cancellation_promises_the_reminders_anew(place):
    mark(place, PlaceState.CANCELLED)
    actions.undo_place(place.pk, by=None, now=NOW)
    place.refresh_from_db()
    assert (place.state, place.live, waiting(place)) == ("booked", True, 2)
    assert Care.objects.filter(source=f"place:{place.pk}").exists()


def test_undoing_a_cancellation_is_refused_once_the_time_is_taken(house, place):
    mark(place, PlaceState.CANCELLED)
    at_work.book(house, at_work.client("Oswin Threll"), span(11))
    with pytest.raises(Refused) as refused:
        actions.undo_place(place.pk, by=None, now=NOW)
    assert codes(refused) == {"machine_taken", "instructor_taken"}


def test_the_clock_and_not_the_desk_tells_a_late_cancellation(place):
    # The policy of the house is 12 hours.
    assert mark(place, PlaceState.CANCELLED, at(11) - timedelta(hours=11)).state == "cancelled_late"
    actions.undo_place(place.pk, by=None, now=NOW)
    assert mark(place, PlaceState.CANCELLED_LATE, at(11) - timedelta(hours=12)).state == "cancelled"


def test_only_the_owner_forgives_a_late_cancellation(place, desk, owner):
    mark(place, PlaceState.CANCELLED, at(10))
    with pytest.raises(Refused) as refused:
        mark(place, PlaceState.CANCELLED, at(10, 1), by=desk)
    assert codes(refused) == {"owner_forgives"}
    assert mark(place, PlaceState.CANCELLED, at(10, 1), by=owner).state == "cancelled"


def test_nobody_has_missed_a_lesson_that_has_not_begun(place):
    with pytest.raises(Refused) as refused:
        mark(place, PlaceState.MISSED, at(10, 59))
    assert codes(refused) == {"not_started"}


def test_a_missed_private_lesson_keeps_its_teacher(place):
    mark(place, PlaceState.MISSED, at(11, 20))
    assert models.Lesson.objects.get().live


def test_one_of_two_cancels_and_the_duet_goes_on(house, place):
    first = at_work.book(house, at_work.client("Oswin Threll"), span(15), kind=LessonKind.DUET)
    at_work.book(
        house,
        at_work.client("Noorin Qazimbar"),
        span(15),
        machine=1,
        kind=LessonKind.DUET,
        lesson_id=first.lesson_id,
    )
    mark(first, PlaceState.CANCELLED)
    assert models.Lesson.objects.get(pk=first.lesson_id).live


def test_a_booking_is_taken_back_for_five_minutes_without_a_late_cancellation(house, pranvi):
    soon = at(9)
    place = at_work.book(house, pranvi, span(11), now=soon)
    assert actions.take_back_booking(place.pk, by=None, now=soon + timedelta(minutes=5)).state == "cancelled"
    other = at_work.book(house, pranvi, span(12), now=soon)
    with pytest.raises(Refused) as refused:
        actions.take_back_booking(other.pk, by=None, now=soon + timedelta(minutes=6))
    assert codes(refused) == {"too_late_to_undo"}


# --- taught ----------------------------------------------------------------------------------------------------------


def visits(who) -> int:
    return Client.objects.get(pk=who.pk).visits


def test_a_completed_place_counts_one_visit_however_often_it_is_said(place, pranvi):
    make_clients.load_reference()
    for _ in range(3):
        actions.complete_place(place.pk, by=None, now=at(11, 56))
    place.refresh_from_db()
    assert (visits(pranvi), place.state, place.visit_counted) == (1, "here", True)
    assert Client.objects.get(pk=pranvi.pk).last_visit == DAY


def test_undo_takes_the_visit_back(place, pranvi):
    make_clients.load_reference()
    actions.complete_place(place.pk, by=None, now=at(11, 56))
    actions.undo_place(place.pk, by=None, now=at(11, 57))
    assert visits(pranvi) == 0
    actions.complete_place(place.pk, by=None, now=at(11, 58))
    assert visits(pranvi) == 1


def test_starting_marks_here_and_keeps_the_first_time(place):
    actions.start_lesson(place.pk, by=None, now=at(11, 1))
    actions.start_lesson(place.pk, by=None, now=at(11, 9))
    assert models.Lesson.objects.get().started_at == at(11, 1)


def not_started(place) -> set[str]:
    with pytest.raises(Refused) as refused:
        actions.start_lesson(place.pk, by=None, now=at(11, 1))
    place.refresh_from_db()
    assert place.state == "booked" and models.Lesson.objects.get().started_at is None
    return codes(refused)


def test_a_form_that_ran_out_after_the_booking_keeps_the_lesson_from_starting(place, pranvi):
    pranvi.screenings.update(valid_until=DAY - timedelta(days=1))
    assert not_started(place) == {"form_not_current"}


def test_a_form_good_until_the_day_of_the_lesson_lets_it_start(place, pranvi):
    pranvi.screenings.update(valid_until=DAY)
    assert actions.start_lesson(place.pk, by=None, now=at(11, 1)).state == "here"


def test_a_form_signed_meanwhile_lets_the_lesson_start(place, pranvi):
    pranvi.screenings.update(valid_until=DAY - timedelta(days=1))
    assert not_started(place) == {"form_not_current"}
    pranvi.screenings.update(valid_until=DAY + timedelta(days=180))
    assert actions.start_lesson(place.pk, by=None, now=at(11, 2)).state == "here"


def test_a_lesson_does_not_start_before_the_instructor_was_spoken_to(place, pranvi):
    pranvi.screenings.update(outcome="postpone")
    assert not_started(place) == {"speak_to_instructor"}


# --- reminders -------------------------------------------------------------------------------------------------------


def agree(client, now=NOW):
    return client_actions.give_consent(client.pk, kind="messages", given_by=client.name, by=None, now=now)


def take_back_consent(client, now=NOW):
    client_actions.withdraw_consent(client.pk, kind="messages", by=None, now=now)


def test_nobody_is_reminded_who_did_not_agree_to_messages(house):
    made = make_clients.client("Noorin Qazimbar", email="noorin@mail.example", now=NOW)
    at_work.give_form(made, until=date(2027, 1, 1))
    assert waiting(at_work.book(house, made, span(11))) == 0


def test_with_the_consent_the_reminders_go_and_no_other_notice(place, pranvi):
    actions.move_lesson(place.lesson_id, span=span(15), by=None, now=NOW)
    take_back_consent(pranvi)
    assert list(Notice.objects.filter(state="waiting").values_list("kind", flat=True)) == ["lesson_moved"]


def test_a_change_of_a_lesson_is_told_without_any_consent(place, pranvi):
    take_back_consent(pranvi)
    actions.cancel_lesson(place.lesson_id, by=None, now=NOW)
    assert Notice.objects.get(state="waiting").kind == "lesson_cancelled"


def test_a_consent_given_after_the_booking_is_reminded_of_from_the_next_round_on(place, pranvi):
    take_back_consent(pranvi)
    agree(pranvi, NOW + timedelta(hours=1))
    for _ in range(2):
        actions.lay_reminders(now=NOW + timedelta(hours=12))
    assert waiting(place) == 2
    assert set(Notice.objects.filter(state="waiting").values_list("rests_on", flat=True)) == {f"messages:{pranvi.pk}"}


def test_a_round_lays_nothing_for_a_cancelled_place_nor_without_consent(house, place, pranvi):
    other = at_work.book(house, at_work.client("Oswin Threll", email="oswin@mail.example"), span(15))
    mark(other, PlaceState.CANCELLED)
    take_back_consent(pranvi)
    assert actions.lay_reminders(now=NOW) == 0
    assert not Notice.objects.filter(state="waiting").exists()


# --- moving ----------------------------------------------------------------------------------------------------------


def test_moving_a_lesson_moves_its_place_and_replaces_the_reminders(place):
    actions.move_lesson(place.lesson_id, span=span(15), by=None, now=NOW)
    place.refresh_from_db()
    assert place.during == range_for(span(15))
    kinds = Notice.objects.filter(about=f"place:{place.pk}", state="waiting").values_list("kind", "due_at")
    assert sorted(kinds) == [
        ("lesson_moved", NOW),
        ("lesson_reminder", at(15) - timedelta(hours=48)),
        ("lesson_reminder", at(15) - timedelta(hours=3)),
    ]
    assert Notice.objects.filter(state="withdrawn").count() == 2


def test_a_lesson_moved_away_and_back_is_reminded_of_again(place):
    actions.move_lesson(place.lesson_id, span=span(15), by=None, now=NOW)
    actions.move_lesson(place.lesson_id, span=span(11), by=None, now=NOW)
    assert models.Lesson.objects.get().version == 3
    assert Notice.objects.filter(kind="lesson_reminder", state="waiting").count() == 2


def test_a_lesson_may_move_onto_a_part_of_its_own_time(place):
    actions.move_lesson(place.lesson_id, span=span(11, 30), by=None, now=NOW)
    assert models.Place.objects.get().during == range_for(span(11, 30))


def test_a_move_into_a_taken_time_is_refused_with_alternatives_and_moves_nothing(house, place):
    at_work.book(house, at_work.client("Noorin Qazimbar"), span(12, 30))
    with pytest.raises(Refused) as refused:
        actions.move_lesson(place.lesson_id, span=span(12, 30), by=None, now=NOW)
    assert codes(refused) == {"machine_taken", "instructor_taken"}
    assert all(reason.allowed.startswith("Free: ") for reason in refused.value.reasons)
    place.refresh_from_db()
    assert place.during == range_for(span(11)) and waiting(place) == 2


def test_two_places_of_a_lesson_can_change_machines(house):
    one = at_work.book(house, at_work.client("Oswin Threll"), span(15), kind=LessonKind.DUET)
    two = at_work.book(
        house, at_work.client("Noorin Qazimbar"), span(15), machine=1, kind=LessonKind.DUET, lesson_id=one.lesson_id
    )
    swap = {one.pk: house.reformers[1].pk, two.pk: house.reformers[0].pk}
    actions.move_lesson(one.lesson_id, span=span(15), apparatus=swap, by=None, now=NOW)
    one.refresh_from_db(), two.refresh_from_db()
    assert (one.apparatus_id, two.apparatus_id) == (house.reformers[1].pk, house.reformers[0].pk)
    assert one.live and two.live


def test_another_teacher_takes_over_the_right_to_read(house, place):
    actions.move_lesson(place.lesson_id, span=span(11), instructor_id=house.teachers[1].pk, by=None, now=NOW)
    assert Care.objects.get(source=f"place:{place.pk}").person == house.teachers[1].person


def test_a_lesson_that_has_begun_stays(place):
    with pytest.raises(Refused) as refused:
        actions.move_lesson(place.lesson_id, span=span(15), by=None, now=at(11, 1))
    assert codes(refused) == {"lesson_started"}


def test_a_form_that_ran_out_after_booking_does_not_pin_the_lesson(house):
    who = at_work.client("Hannike Dahlvorn", form_until=NOW.date())
    place = at_work.book(house, who, span(11))
    actions.move_lesson(place.lesson_id, span=span(15), by=None, now=at(8))
    assert models.Place.objects.get().form_runs_out


def test_cancelling_a_lesson_tells_everyone_and_frees_everything(house, pranvi, place):
    actions.cancel_lesson(place.lesson_id, by=None, now=NOW)
    kinds = Notice.objects.filter(state="waiting").values_list("kind", flat=True)
    assert list(kinds) == ["lesson_cancelled"]
    assert at_work.book(house, pranvi, span(11)).live


# --- handing over ----------------------------------------------------------------------------------------------------


def test_a_leaving_teacher_hands_her_lessons_over_and_hears_of_those_that_stay(house, pranvi, place):
    blocked = at_work.book(house, pranvi, span(15))
    at_work.book(house, at_work.client("Oswin Threll"), span(15), machine=1, teacher=1)
    handed = actions.hand_over(house.teachers[0].pk, house.teachers[1].pk, by=None, now=NOW)
    assert handed.moved == (place.lesson_id,)
    ((lesson_id, when, reasons),) = handed.left
    assert (lesson_id, when) == (blocked.lesson_id, span(15))
    assert {reason.code for reason in reasons} == {"instructor_taken"}
    assert models.Lesson.objects.get(pk=place.lesson_id).instructor == house.teachers[1]


def test_lessons_that_are_past_stay_with_who_taught_them(house, place):
    handed = actions.hand_over(house.teachers[0].pk, house.teachers[1].pk, by=None, now=at(13))
    assert handed == actions.HandedOver((), ())


# --- machines and teachers -------------------------------------------------------------------------------------------


def test_the_springs_of_a_new_machine_are_the_reference_defaults():
    # fixtures/reference/springs_default.csv
    rows = {row["stiffness_class"]: row for row in reference.tables()["springs_default"]}
    assert {name: (float(row["k_n_per_m"]), float(row["x0_m"])) for name, row in rows.items()} == USUAL


def test_springs_that_stay_keep_their_measured_numbers(house):
    machine = house.reformers[0]
    machine.springs.filter(stiffness_class="light").update(k_n_per_m=93.5)
    actions.change_springs(machine.pk, springs="HML", by=None, now=NOW)
    left = machine.springs.filter(removed_on=None)
    assert sorted(left.values_list("stiffness_class", "k_n_per_m")) == [
        ("heavy", 350.0),
        ("light", 93.5),
        ("medium", 200.0),
    ]
    assert machine.springs.exclude(removed_on=None).count() == 2


def test_letters_that_are_no_springs_are_refused(house):
    with pytest.raises(Refused) as refused:
        actions.change_springs(house.reformers[0].pk, springs="HXL", by=None, now=NOW)
    assert codes(refused) == {"unknown_springs"}


def test_two_machines_of_a_studio_cannot_have_one_label(house):
    with pytest.raises(Refused) as refused:
        at_work.machine(house.studio, house.room, "Reformer 1")
    assert refused.value.reasons[0].says == "There is a Reformer 1 in Tannery Yard already."


def test_a_booked_machine_cannot_go_out_of_service(house, place):
    with pytest.raises(Refused) as refused:
        actions.take_out_of_service(house.reformers[0].pk, span=span(9, minutes=240), why="rope", by=None, now=NOW)
    assert refused.value.reasons[0].says == ("Pranvi Somadur is booked on Reformer 1 on 12 March 2026, 11:00 to 11:55.")


def test_a_machine_brought_back_early_can_be_booked_at_once(house, pranvi):
    out = actions.take_out_of_service(house.reformers[0].pk, span=span(9, minutes=600), why="rope", by=None, now=NOW)
    actions.bring_back(out.pk, by=None, now=at(10))
    at_work.book(house, pranvi, span(11), now=at(10))
    out.refresh_from_db()
    assert out.during.upper == at(10)


def test_time_off_is_refused_while_lessons_stand_in_it(house, place):
    with pytest.raises(Refused) as refused:
        actions.add_time_off(house.teachers[0].pk, span=span(8, minutes=600), by=None, now=NOW)
    assert refused.value.reasons[0].says == "Iselde Ottrevane teaches on 12 March 2026, 11:00 to 11:55."


def test_initials_stand_for_one_teacher(house):
    made = at_work.make.person(at_work.Role.INSTRUCTOR, name="Ilse Okorande")
    with pytest.raises(Refused) as refused:
        actions.add_instructor(person_id=made.pk, initials="io", may_teach={}, hours=[], by=None, now=NOW)
    assert codes(refused) == {"initials_taken"}


def test_one_teacher_cannot_work_twice_at_once(house):
    made = at_work.make.person(at_work.Role.INSTRUCTOR, name="Tavik Quillmoor")
    hours = [(house.studio.pk, 0, time(9), time(13)), (house.studio.pk, 0, time(12), time(18))]
    with pytest.raises(Refused) as refused:
        actions.add_instructor(
            person_id=made.pk, initials="TQ", may_teach={ApparatusKind.MAT: 2}, hours=hours, by=None, now=NOW
        )
    assert codes(refused) == {"hours_overlap"}


def test_changed_hours_hold_for_new_bookings_only(house, pranvi, place):
    actions.change_instructor(
        house.teachers[0].pk,
        initials="IO",
        may_teach={ApparatusKind.REFORMER: 5},
        hours=[(house.studio.pk, 0, time(9), time(12))],
        by=None,
        now=NOW,
    )
    with pytest.raises(Refused) as refused:
        at_work.book(house, pranvi, span(15))
    assert codes(refused) == {"instructor_off"}
    assert models.Place.objects.get(pk=place.pk).live and date.weekday(DAY) == 3
