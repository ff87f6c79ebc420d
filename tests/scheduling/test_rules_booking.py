"""Whether a place may be booked: each rule refuses alone, in words, and says what is allowed."""

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest

from scheduling.rules import booking
from scheduling.rules.booking import BookingFacts, Clash, ClashOn, Client, FormWord, House, Instructor, Machine
from scheduling.rules.places import LessonKind
from studio.rules import ApparatusKind, Span

DUBLIN = ZoneInfo("Europe/Dublin")
MIDNIGHT = datetime(2026, 3, 16, tzinfo=UTC)


def hours(start: float, end: float) -> Span:
    return Span(MIDNIGHT + timedelta(hours=start), MIDNIGHT + timedelta(hours=end))


HOUSE = House("Harbour", DUBLIN, (hours(7, 20),))
MACHINE = Machine("Reformer 3", ApparatusKind.REFORMER, "Harbour", "Long room")
TEACHER = Instructor("Ada Quill", {ApparatusKind.REFORMER: 3}, (hours(8, 12), hours(12, 16)))
CLIENT = Client("Bram Oster", FormWord.CURRENT, date(2026, 12, 1), ceiling=2)
FACTS = BookingFacts(MIDNIGHT, hours(9, 10), LessonKind.PRIVATE, HOUSE, MACHINE, TEACHER, CLIENT, room="Long room")


def codes(facts: BookingFacts) -> list[str]:
    return [reason.code for reason in booking.booking_refusals(facts)]


def test_an_ordinary_place_may_be_booked_without_a_mark():
    assert booking.booking_refusals(FACTS) == []
    assert booking.booking_marks(FACTS) == []


def test_a_lesson_may_start_at_nine_minutes_past_and_cross_a_shift_that_goes_on():
    assert codes(replace(FACTS, span=hours(11.65, 12.55))) == []


def test_a_booking_for_this_very_moment_is_not_in_the_past():
    assert codes(replace(FACTS, now=FACTS.span.start)) == []


START = date(2026, 3, 16)
NOT_TO_START = {
    "form_not_current": [
        replace(CLIENT, form=FormWord.NOT_CURRENT, missing=("form",)),
        replace(CLIENT, form=FormWord.NOT_CURRENT, missing=("letter",)),
        replace(CLIENT, form_until=START - timedelta(days=1)),
    ],
    "speak_to_instructor": [replace(CLIENT, form=FormWord.SPEAK)],
}


@pytest.mark.parametrize(("code", "client"), [(code, one) for code, many in NOT_TO_START.items() for one in many])
def test_a_lesson_that_may_not_start_says_so_to_the_desk_with_a_way_out(code, client):
    [reason] = booking.start_refusals(client, on=START)
    assert (reason.code, reason.field) == (code, "client")
    assert reason.says.endswith(".") and reason.allowed.endswith(".")


def test_a_form_is_current_to_the_end_of_its_last_day():
    assert booking.start_refusals(replace(CLIENT, form_until=START), on=START) == []


CASES = {
    "in_the_past": replace(FACTS, now=FACTS.span.start + timedelta(minutes=1)),
    "lesson_length": replace(FACTS, span=hours(9, 9.05)),
    "studio_closed": replace(FACTS, house=replace(HOUSE, closures=(hours(9.5, 11),))),
    "not_in_service": replace(FACTS, machine=replace(MACHINE, in_service=False)),
    "out_of_service": replace(FACTS, machine=replace(MACHINE, out_of_service=(hours(9.9, 30),))),
    "other_room": replace(FACTS, machine=replace(MACHINE, room="Loft")),
    "other_studio": replace(FACTS, machine=replace(MACHINE, studio="Mill")),
    "instructor_off": replace(FACTS, instructor=replace(TEACHER, time_off=(hours(0, 24),))),
    "instructor_not_cleared": replace(FACTS, machine=replace(MACHINE, kind=ApparatusKind.TOWER)),
    "lesson_full": replace(FACTS, seats_taken=1),
    "seats": replace(FACTS, seats_total=2),
    "form_not_current": replace(FACTS, client=replace(CLIENT, form=FormWord.NOT_CURRENT)),
    "speak_to_instructor": replace(FACTS, client=replace(CLIENT, form=FormWord.SPEAK)),
    "above_ceiling": replace(FACTS, level=3),
    "machine_taken": replace(FACTS, clashes=(Clash(ClashOn.MACHINE, "Reformer 3", "Cleo Dunn", hours(9, 10)),)),
    "instructor_taken": replace(FACTS, clashes=(Clash(ClashOn.INSTRUCTOR, "Ada Quill", "a duet", hours(9, 10)),)),
    "client_taken": replace(FACTS, clashes=(Clash(ClashOn.CLIENT, "Bram Oster", "Ada Quill", hours(9, 10)),)),
}


@pytest.mark.parametrize("code", CASES)
def test_each_rule_refuses_alone_with_words_and_a_way_out(code):
    [reason] = booking.booking_refusals(CASES[code])
    assert reason.code == code
    assert reason.field
    assert reason.says.endswith(".")
    assert reason.allowed.endswith(".")


def test_several_rules_are_told_together():
    facts = replace(
        FACTS, seats_taken=1, client=replace(CLIENT, form=FormWord.NOT_CURRENT), now=MIDNIGHT + timedelta(10)
    )
    assert codes(facts) == ["in_the_past", "lesson_full", "form_not_current"]


def test_a_closed_studio_says_when_it_is_open_that_day():
    [reason] = booking.booking_refusals(CASES["studio_closed"])
    assert reason.allowed == "Open that day 07:00 to 09:30 and 11:00 to 20:00."


def test_a_studio_closed_all_day_offers_another_day():
    [reason] = booking.booking_refusals(replace(FACTS, house=replace(HOUSE, opening=())))
    assert (reason.code, reason.allowed) == ("studio_closed", "Another day: it is closed all day.")


def test_a_teacher_in_the_other_studio_is_said_to_be_there():
    elsewhere = replace(TEACHER, hours=(), elsewhere=(("Mill", hours(8, 16)),))
    [reason] = booking.booking_refusals(replace(FACTS, instructor=elsewhere))
    assert (reason.code, reason.says) == ("other_studio", "Ada Quill is in Mill then.")


def test_a_teacher_outside_her_hours_is_off_and_her_hours_are_told():
    [reason] = booking.booking_refusals(replace(FACTS, span=hours(15.5, 16.5)))
    assert (reason.code, reason.allowed) == ("instructor_off", "Ada Quill is here 08:00 to 16:00.")


def test_a_teacher_not_cleared_for_a_client_is_refused_without_a_word_of_the_need():
    facts = replace(FACTS, client=replace(CLIENT, needs=frozenset({"pregnancy"})))
    [reason] = booking.booking_refusals(facts)
    assert reason.code == "instructor_not_cleared"
    assert "pregnancy" not in f"{reason.says} {reason.allowed}"
    assert codes(replace(facts, instructor=replace(TEACHER, cleared_for=frozenset({"pregnancy"})))) == []


def test_a_teacher_teaches_up_to_her_level_and_a_client_joins_up_to_hers():
    strong = replace(CLIENT, ceiling=5)
    assert codes(replace(FACTS, level=3, client=strong)) == []
    assert codes(replace(FACTS, level=4, client=strong)) == ["instructor_not_cleared"]


def test_a_client_nobody_signed_yet_joins_level_one_only():
    unsigned = replace(CLIENT, ceiling=None)
    assert codes(replace(FACTS, level=1, client=unsigned)) == []
    assert codes(replace(FACTS, level=2, client=unsigned)) == ["above_ceiling"]


def test_the_missing_papers_are_named():
    client = replace(CLIENT, form=FormWord.NOT_CURRENT, missing=("signature", "letter"))
    [reason] = booking.booking_refusals(replace(FACTS, client=client))
    assert reason.says == "Bram Oster's health form is not current: signature and letter missing."


def test_a_form_is_good_on_its_last_day_and_not_the_day_after():
    assert codes(replace(FACTS, client=replace(CLIENT, form_until=date(2026, 3, 16)))) == []
    assert codes(replace(FACTS, client=replace(CLIENT, form_until=date(2026, 3, 15)))) == ["form_not_current"]


def test_who_waits_for_a_letter_is_told_of_the_letter_and_not_of_the_form():
    facts = replace(FACTS, client=replace(CLIENT, form=FormWord.NOT_CURRENT, missing=("letter",)))
    [reason] = booking.booking_refusals(facts)
    assert reason.allowed == "Hand in the letter; book when a teacher has read it."


def test_a_form_that_runs_out_before_the_lesson_books_with_a_mark():
    facts = replace(FACTS, now=MIDNIGHT - timedelta(days=7), client=replace(CLIENT, form_until=date(2026, 3, 15)))
    assert booking.booking_refusals(facts) == []
    assert [mark.code for mark in booking.booking_marks(facts)] == ["form_runs_out"]


def test_a_form_that_refuses_is_not_marked_as_well():
    facts = replace(FACTS, client=replace(CLIENT, form_until=date(2026, 3, 1)))
    assert booking.booking_marks(facts) == []


def test_a_clash_says_who_has_it_and_when_in_the_studios_own_time():
    # IANA tz, Europe/Dublin: one hour ahead of UTC in July
    start = datetime(2026, 7, 1, 8, tzinfo=UTC)
    clash = Clash(ClashOn.MACHINE, "Reformer 3", "Cleo Dunn", Span(start, start + timedelta(minutes=55)))
    [reason] = booking.clash_reasons([clash], zone=DUBLIN)
    assert reason.says == "Reformer 3 is already taken from 09:00 to 09:55, by Cleo Dunn."
    assert reason.field == "apparatus"
