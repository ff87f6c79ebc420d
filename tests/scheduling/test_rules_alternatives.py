"""What else there is after a clash, and the smallest change when nothing fits."""

from dataclasses import replace
from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo

from scheduling.rules import alternatives
from scheduling.rules.alternatives import Asked
from scheduling.rules.openings import Instructor, Machine, Resources, Studio, Wanted
from scheduling.rules.places import LessonKind
from scheduling.rules.springs import SpringFact
from studio.rules import ApparatusKind, Span

DUBLIN = ZoneInfo("Europe/Dublin")
MONDAY = date(2026, 3, 16)
MIDNIGHT = datetime(2026, 3, 16, tzinfo=UTC)


def hours(start: float, end: float) -> Span:
    return Span(MIDNIGHT + timedelta(hours=start), MIDNIGHT + timedelta(hours=end))


def each_day(start: float, end: float) -> tuple[Span, ...]:
    return tuple(hours(start + 24 * number, end + 24 * number) for number in range(-7, 8))


STRONG, SOFT = (SpringFact(350, 0.05, "heavy"),), (SpringFact(100, 0.05, "light"),)
REFORMER = ApparatusKind.REFORMER
ADA = Instructor("ada", "Ada Quill", {"A": each_day(8, 16)}, {REFORMER: 3})
BEA = Instructor("bea", "Bea Marsh", {"A": each_day(8, 16)}, {REFORMER: 3}, cleared_for=frozenset({"a need"}))
ONE = Machine(1, "Reformer 1", REFORMER, "A", "Long room", busy=(hours(9, 10),), springs=STRONG)
TWO = Machine(2, "Reformer 2", REFORMER, "A", "Long room", springs=SOFT)
THREE = Machine(3, "Reformer 3", REFORMER, "A", "Loft", springs=STRONG)
HOUSE = Resources((Studio("A", "Harbour", DUBLIN, each_day(8, 20)),), (ADA, BEA), (ONE, TWO, THREE))
ASKED = Asked(hours(9, 10), LessonKind.PRIVATE, "ada", 1)


def offered(there: Resources, asked: Asked = ASKED) -> list[tuple[object, object, Span]]:
    found = alternatives.alternatives(asked, there, now=MIDNIGHT)
    return [(one.instructor_id, one.apparatus_ids[0], one.span) for one in found]


def test_a_taken_machine_is_free_before_the_same_springs_stand_beside_it_and_another_teacher_could_take_it():
    assert offered(HOUSE) == [
        ("ada", 1, hours(8, 9)),
        ("ada", 3, hours(9, 10)),
        ("bea", 3, hours(9, 10)),
    ]


def test_the_words_say_machine_time_and_springs():
    words = [one.reasons[0] for one in alternatives.alternatives(ASKED, HOUSE, now=MIDNIGHT)]
    assert words == [
        "Reformer 1 at 08:00.",
        "Reformer 3 at the same time, with Ada Quill, the same springs.",
        "Reformer 3 at the same time, with Bea Marsh, the same springs.",
    ]


def test_other_springs_are_offered_when_the_same_are_taken_and_said_so():
    there = replace(HOUSE, machines=(ONE, TWO, replace(THREE, busy=(hours(9, 10),))))
    found = alternatives.alternatives(ASKED, there, now=MIDNIGHT)
    assert found[1].apparatus_ids == (2,)
    assert found[1].reasons == ("Reformer 2 at the same time, with Ada Quill, other springs.",)


def test_when_the_teacher_is_taken_another_teaches_on_the_same_machine():
    there = replace(HOUSE, instructors=(replace(ADA, busy=(hours(9, 10),)), BEA), machines=(replace(ONE, busy=()), TWO))
    assert ("bea", 1, hours(9, 10)) in offered(there)
    assert ("ada", 2, hours(9, 10)) not in offered(there)


def test_other_times_fill_up_when_nothing_else_is_free_then():
    there = replace(HOUSE, instructors=(ADA,), machines=(ONE,))
    assert offered(there) == [("ada", 1, hours(8, 9)), ("ada", 1, hours(10, 11)), ("ada", 1, hours(11, 12))]


def test_a_client_taken_herself_is_offered_other_times_only():
    spans = [span for _, _, span in offered(replace(HOUSE, client_busy=(hours(8.5, 10),)))]
    assert len(spans) == 3
    assert not any(span.overlaps(hours(8.5, 10)) for span in spans)


def test_a_teacher_who_is_not_cleared_is_no_alternative():
    asked = replace(ASKED, instructor_id="bea", needs=frozenset({"a need"}))
    assert {teacher for teacher, _, _ in offered(HOUSE, asked)} == {"bea"}


def test_another_day_is_named():
    there = replace(HOUSE, instructors=(replace(ADA, busy=(hours(0, 24),)),), machines=(ONE,))
    found = alternatives.alternatives(ASKED, there, now=MIDNIGHT)
    assert found[0].reasons == ("Reformer 1 at 08:00 on Tue 17 March.",)


def test_an_unknown_machine_has_no_alternatives():
    assert offered(HOUSE, replace(ASKED, apparatus_id=99)) == []


EVENING = Wanted(
    60, LessonKind.PRIVATE, (MONDAY,), REFORMER, instructor_ids=("ada",), earliest=time(17), latest=time(20)
)


def changes(wanted: Wanted, there: Resources) -> dict[str, str]:
    return {one.change: one.says for one in alternatives.relaxations(wanted, there, now=MIDNIGHT)}


def test_an_evening_her_teacher_does_not_work_is_opened_by_another_teacher_or_an_earlier_hour():
    late = replace(BEA, work={"A": each_day(16, 20)})
    assert changes(EVENING, replace(HOUSE, instructors=(ADA, late))) == {
        "instructor": "Any teacher who may teach this.",
        "hours": "From 15:00.",
    }


def test_a_relaxation_counts_its_openings_and_shows_the_first():
    late = replace(BEA, work={"A": each_day(17, 20)})
    best = alternatives.relaxations(EVENING, replace(HOUSE, instructors=(ADA, late)), now=MIDNIGHT)[0]
    assert (best.change, best.count, best.first.instructor_id) == ("instructor", 3, "bea")
    assert best.wanted == replace(EVENING, instructor_ids=())


def test_a_shorter_lesson_is_proposed_when_only_that_fits():
    wanted = replace(EVENING, minutes=120, earliest=time(8), latest=None, instructor_ids=())
    busy = tuple(span for number in range(-7, 8) for span in (hours(24 * number + 9.75, 24 * number + 16),))
    there = replace(HOUSE, instructors=(replace(ADA, busy=busy),), machines=(TWO,))
    assert changes(wanted, there)["length"] == "105 minutes."


def test_the_nearest_other_day_is_proposed_when_the_day_is_full():
    wanted = replace(EVENING, earliest=time(0), latest=None)
    there = replace(HOUSE, instructors=(replace(ADA, busy=(hours(0, 24),)),))
    assert changes(wanted, there) == {"day": "Tuesday 17 March."}


def test_several_mondays_move_to_a_weekday_together():
    mondays = (MONDAY, MONDAY + timedelta(days=7))
    wanted = replace(EVENING, earliest=time(0), latest=None, days=mondays)
    off = tuple(span for span in each_day(0, 24) if span.start.weekday() == 0)
    assert changes(wanted, replace(HOUSE, instructors=(replace(ADA, busy=off),)))["day"] == "Sundays."


def test_nothing_is_proposed_when_nothing_helps():
    assert alternatives.relaxations(EVENING, replace(HOUSE, machines=()), now=MIDNIGHT) == ()
