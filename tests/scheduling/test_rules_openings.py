"""Openings against brute force: each one is really free, none is missed, the best come first and say why."""

from dataclasses import replace
from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from scheduling.rules import openings
from scheduling.rules.openings import Instructor, JoinableLesson, Machine, Opening, Resources, Studio, Wanted
from scheduling.rules.places import SEATS, LessonKind
from scheduling.rules.springs import SpringFact
from studio.rules import ApparatusKind, Span
from studio.rules.spans import covered, without

LONDON, NEW_YORK = ZoneInfo("Europe/London"), ZoneInfo("America/New_York")
REFORMER, TOWER = ApparatusKind.REFORMER, ApparatusKind.TOWER
# IANA tz, Europe/London: the clocks go back on 25 October 2026
DAYS = (date(2026, 10, 24), date(2026, 10, 25))
MIDNIGHT = datetime(2026, 10, 24, tzinfo=UTC)
NINE = datetime(2026, 10, 24, 9, tzinfo=LONDON)


def minutes(start: int, end: int, origin: datetime = MIDNIGHT) -> Span:
    return Span(origin + timedelta(minutes=start), origin + timedelta(minutes=end))


def some(longest: int, most: int) -> st.SearchStrategy[tuple[Span, ...]]:
    """Up to `most` spans of whole minutes over the two days, also across the five-minute grid."""
    pairs = st.tuples(st.integers(-200, 3200), st.integers(1, longest))
    return st.lists(pairs.map(lambda pair: minutes(pair[0], pair[0] + pair[1])), max_size=most).map(tuple)


WHOLE = minutes(-200, 3400)
short = some(120, 6)
# Open nearly all the time, so that most cases have openings to miss.
long = some(500, 3).map(lambda holes: tuple(without(WHOLE, holes)))
kinds = st.sampled_from([REFORMER, REFORMER, TOWER])
studios = st.tuples(
    st.builds(Studio, st.just("A"), st.just("A"), st.just(LONDON), long, st.sampled_from([0, 5, 10])),
    st.builds(Studio, st.just("B"), st.just("B"), st.just(NEW_YORK), long, st.just(0)),
)
teaches = st.dictionaries(kinds, st.integers(1, 3), min_size=1)
cleared_for, needs = (st.sampled_from(usual).map(frozenset) for usual in ([["a need"], []], [[], [], ["a need"]]))
instructors = st.tuples(
    *(
        st.builds(
            Instructor,
            st.just(key),
            st.just(key),
            st.fixed_dictionaries({"A": long, "B": long}),
            teaches,
            short,
            cleared_for,
        )
        for key in ("ada", "bea")
    )
)
machines = st.tuples(
    *(
        st.builds(
            Machine,
            st.just(number),
            st.just(f"Machine {number}"),
            kinds,
            st.sampled_from(["A", "A", "B"]),
            st.sampled_from(["long room", "long room", "loft"]),
            short,
            st.none() | long,
        )
        for number in range(4)
    )
)
lessons = st.lists(
    st.builds(
        JoinableLesson,
        st.integers(0, 99),
        st.sampled_from([LessonKind.DUET, LessonKind.DUET, LessonKind.SMALL_GROUP]),
        st.integers(0, 560).map(lambda slot: minutes(slot * 5, slot * 5 + 30)),
        st.sampled_from(["ada", "bea"]),
        st.sampled_from(["A", "A", "B"]),
        st.sampled_from(["long room", "long room", "loft"]),
        st.integers(2, 3),
        st.integers(0, 3),
        st.none() | st.integers(1, 3),
    ),
    max_size=8,
    unique_by=lambda lesson: lesson.id,
).map(tuple)
resources = st.builds(
    Resources,
    studios,
    instructors,
    machines,
    lessons,
    short,
    st.sampled_from([None, "ada"]),
    st.sampled_from([None, 0, 1]),
)
wishes = st.builds(
    Wanted,
    st.sampled_from([30, 55, 90]),
    st.sampled_from(LessonKind),
    st.sampled_from([DAYS, DAYS[:1], DAYS[::-1]]),
    st.none() | kinds,
    st.sampled_from([(), (), (0, 1)]),
    st.sampled_from([(), (), ("bea",)]),
    st.sampled_from([(), (), ("A",)]),
    st.sampled_from([time(0), time(0), time(1, 30), time(9)]),
    st.sampled_from([None, None, time(1, 45), time(17)]),
    st.sampled_from([5, 15]),
    st.just(1),
    st.integers(1, 2),
    needs,
)
nows = st.integers(-300, 1500).map(lambda minute: MIDNIGHT + timedelta(minutes=minute))


@settings(max_examples=150, deadline=None)
@given(wishes, resources, nows)
def test_every_free_time_is_found_and_nothing_else(wanted, there, now):
    found = [one for one in openings.every_opening(wanted, there, now=now) if one.lesson_id is None]
    keys = [(one.studio_id, one.instructor_id, one.span) for one in found]
    assert len(set(keys)) == len(keys)
    assert set(keys) == set(_brute_force(wanted, there, now))


@settings(max_examples=150, deadline=None)
@given(wishes, resources, nows)
def test_every_lesson_she_may_join_is_found_and_no_other(wanted, there, now):
    wanted = replace(wanted, kind=LessonKind.DUET, minutes=30)
    found = {one.lesson_id for one in openings.every_opening(wanted, there, now=now) if one.lesson_id is not None}
    assert found == {lesson.id for lesson in there.lessons if _may_join(lesson, wanted, there, now)}


@settings(max_examples=100, deadline=None)
@given(wishes, resources, nows)
def test_the_machines_of_an_opening_are_free_and_stand_in_one_room(wanted, there, now):
    for one in openings.every_opening(wanted, there, now=now):
        teacher = next(teacher for teacher in there.instructors if teacher.id == one.instructor_id)
        chosen = [there.machine(key) for key in one.apparatus_ids]
        assert len(chosen) == wanted.seats
        assert len({(machine.studio_id, machine.room) for machine in chosen}) == 1
        assert all(_machine_free(machine, one.span, there) and _fits(machine, teacher, wanted) for machine in chosen)


@settings(max_examples=60, deadline=None)
@given(wishes, resources, nows)
def test_openings_come_best_first_and_the_short_list_is_the_best_of_them_without_overlap(wanted, there, now):
    everything = list(openings.every_opening(wanted, there, now=now))
    assert [one.score for one in everything] == sorted((one.score for one in everything), reverse=True)
    kept: list[Opening] = []
    for one in everything:
        if not any(one.instructor_id == other.instructor_id and one.span.overlaps(other.span) for other in kept):
            kept.append(one)
    assert openings.find_openings(wanted, there, now=now, limit=5) == kept[:5]


@settings(max_examples=60, deadline=None)
@given(wishes, resources, nows)
def test_no_reason_tells_a_need(wanted, there, now):
    told = " ".join(" ".join(one.reasons) for one in openings.every_opening(wanted, there, now=now))
    assert "a need" not in told


def day(start: int, end: int) -> Span:
    """Minutes after nine on the first day, London."""
    return minutes(start, end, NINE)


STRONG, SOFT = (SpringFact(350, 0.05, "heavy"),), (SpringFact(100, 0.05, "light"),)
ADA = Instructor("ada", "Ada Quill", {"A": (day(0, 480),)}, {REFORMER: 3})
BEA = Instructor("bea", "Bea Marsh", {"A": (day(0, 480),)}, {REFORMER: 3})
ONE, TWO, THREE = (
    Machine(number, f"Reformer {number}", REFORMER, "A", "long room", springs=springs)
    for number, springs in ((1, STRONG), (2, SOFT), (3, STRONG))
)
HOUSE = Resources((Studio("A", "Harbour", LONDON, (day(-60, 600),)),), (ADA, BEA), (ONE, TWO, THREE))
PRIVATE = Wanted(60, LessonKind.PRIVATE, DAYS[:1], REFORMER)


def first(there: Resources, wanted: Wanted = PRIVATE) -> Opening:
    return openings.find_openings(wanted, there, now=MIDNIGHT)[0]


def test_the_usual_teacher_comes_first():
    best = first(replace(HOUSE, usual_instructor_id="bea"))
    assert (best.instructor_id, best.reasons[0]) == ("bea", "Keeps the usual teacher, Bea Marsh.")


def test_another_teacher_today_comes_before_the_usual_one_in_four_weeks():
    later = Span(NINE + timedelta(weeks=4), NINE + timedelta(weeks=4, hours=2))
    open_then = replace(HOUSE.studios[0], opening=(day(-60, 600), later))
    usual = replace(ADA, work={"A": (later,)})
    there = replace(HOUSE, studios=(open_then,), instructors=(usual, BEA), usual_instructor_id="ada")
    wanted = replace(PRIVATE, days=(DAYS[0], DAYS[0] + timedelta(weeks=4)))
    ranked = openings.find_openings(wanted, there, now=MIDNIGHT)
    assert ranked[0].instructor_id == "bea"
    assert "ada" in {one.instructor_id for one in ranked}


def test_the_machine_of_last_time_comes_before_the_others():
    best = first(replace(HOUSE, last_machine_id=2))
    assert best.apparatus_ids == (2,)
    assert "The same machine as last time." in best.reasons


def test_without_the_machine_of_last_time_one_with_its_springs_is_taken():
    away = replace(ONE, busy=(day(0, 480),))
    best = first(replace(HOUSE, machines=(away, TWO, THREE), last_machine_id=1))
    assert best.apparatus_ids == (3,)
    assert "The same springs as last time." in best.reasons


def test_a_gap_of_just_the_length_is_filled_before_a_free_day_is_broken():
    ada = replace(ADA, busy=(day(0, 120), day(180, 300)))
    best = first(replace(HOUSE, instructors=(ada,)))
    assert best.span == day(120, 180)
    assert "Fills a gap that would stay empty." in best.reasons


def test_an_opening_that_leaves_twenty_minutes_nobody_can_sell_comes_later():
    ada = replace(ADA, work={"A": (day(0, 140),)})
    ranked = [one.span for one in openings.every_opening(PRIVATE, replace(HOUSE, instructors=(ada,)), now=MIDNIGHT)]
    assert ranked[:2] == [day(0, 60), day(30, 90)]
    assert ranked.index(day(45, 105)) < ranked.index(day(15, 75))


def test_the_teacher_with_more_time_free_comes_first():
    busy = replace(ADA, busy=(day(300, 480),))
    best = first(replace(HOUSE, instructors=(busy, BEA)))
    assert best.instructor_id == "bea"
    assert "Spreads the load: Bea Marsh has more time free than the others." in best.reasons


def test_turnaround_is_kept_free_around_the_bookings_of_a_machine():
    studio = replace(HOUSE.studios[0], turnaround_minutes=10)
    there = replace(HOUSE, studios=(studio,), machines=(replace(ONE, busy=(day(60, 120),)),))
    starts = {one.span.start for one in openings.every_opening(replace(PRIVATE, step=5), there, now=MIDNIGHT)}
    assert day(120, 121).start not in starts
    assert day(130, 131).start in starts


def test_a_new_duet_needs_two_free_machines_and_takes_one_for_her():
    duet = replace(PRIVATE, kind=LessonKind.DUET)
    assert first(HOUSE, duet).apparatus_ids == (1,)
    alone = replace(HOUSE, machines=(ONE, replace(TWO, busy=(day(0, 480),))))
    assert openings.find_openings(duet, alone, now=MIDNIGHT) == []


def test_a_duet_with_a_free_seat_is_offered_and_said_so():
    lesson = JoinableLesson("lesson", LessonKind.DUET, day(60, 120), "ada", "A", "long room", 2, 1, level=1)
    there = replace(
        HOUSE,
        instructors=(replace(ADA, busy=(day(0, 480),)),),
        machines=(replace(ONE, busy=(day(60, 120),)), TWO),
        lessons=(lesson,),
    )
    best = first(there, replace(PRIVATE, kind=LessonKind.DUET))
    assert (best.lesson_id, best.apparatus_ids) == ("lesson", (2,))
    assert best.reasons[0] == "A duet lesson with a free seat."


@pytest.mark.parametrize("wrong", [{"minutes": 4}, {"minutes": 241}, {"step": 7}, {"seats": 2}, {"seats": 0}])
def test_a_wish_no_lesson_can_meet_is_refused_at_once(wrong):
    with pytest.raises(ValueError, match=r"lesson|openings"):
        replace(PRIVATE, **wrong)


def _brute_force(wanted, there, now):
    for studio in there.studios:
        for one_day in wanted.days:
            for span in _spans_of(one_day, wanted, studio):
                for teacher in there.instructors:
                    if span.start >= now and _free(teacher, studio, span, wanted, there):
                        yield studio.id, teacher.id, span


def _spans_of(one_day, wanted, studio):
    """By walking two days of UTC in steps: what starts on the local day, within the wall times, on the wall grid."""
    if wanted.studio_ids and studio.id not in wanted.studio_ids:
        return
    # Where the window itself falls into the hour that comes twice, its first reading bounds it on both sides.
    opens = datetime.combine(one_day, wanted.earliest, studio.zone).astimezone(UTC)
    closes = datetime.combine(one_day, wanted.latest or time(0), studio.zone)
    closes = (closes if wanted.latest else closes + timedelta(days=1)).astimezone(UTC)
    instant = datetime.combine(one_day, time(0), UTC) - timedelta(days=1)
    for _ in range(3 * 1440 // 5):
        instant += timedelta(minutes=5)
        end = instant + timedelta(minutes=wanted.minutes)
        if opens <= instant and end <= closes and instant.astimezone(studio.zone).minute % wanted.step == 0:
            yield Span(instant, end)


def _free(teacher, studio, span, wanted, there):
    if wanted.instructor_ids and teacher.id not in wanted.instructor_ids:
        return False
    if not wanted.needs <= teacher.cleared_for or not covered(span, teacher.work[studio.id]):
        return False
    if not covered(span, studio.opening) or any(busy.overlaps(span) for busy in (*teacher.busy, *there.client_busy)):
        return False
    return any(
        sum(
            (machine.studio_id, machine.room) == (studio.id, room)
            and _machine_free(machine, span, there)
            and _fits(machine, teacher, wanted)
            for machine in there.machines
        )
        >= SEATS[wanted.kind][0]
        for room in ("long room", "loft")
    )


def _may_join(lesson, wanted, there, now):
    studio = next(studio for studio in there.studios if studio.id == lesson.studio_id)
    teacher = next(teacher for teacher in there.instructors if teacher.id == lesson.instructor_id)
    spans = [span for one_day in wanted.days for span in _spans_of(one_day, replace(wanted, step=5), studio)]
    return (
        lesson.kind is wanted.kind
        and lesson.span in spans
        and lesson.span.start >= now
        and lesson.seats_taken < lesson.seats_total
        and (lesson.level or 1) <= wanted.level
        and (not wanted.instructor_ids or teacher.id in wanted.instructor_ids)
        and wanted.needs <= teacher.cleared_for
        and not any(busy.overlaps(lesson.span) for busy in there.client_busy)
        and any(
            (machine.studio_id, machine.room) == (studio.id, lesson.room)
            and _machine_free(machine, lesson.span, there)
            and _fits(machine, teacher, wanted)
            for machine in there.machines
        )
    )


def _fits(machine, teacher, wanted):
    asked_for = not wanted.apparatus_ids or machine.id in wanted.apparatus_ids
    return (
        asked_for
        and wanted.apparatus_kind in (None, machine.kind)
        and teacher.teaches.get(machine.kind, 0) >= wanted.level
    )


def _machine_free(machine, span, there):
    turn = timedelta(minutes=next(one.turnaround_minutes for one in there.studios if one.id == machine.studio_id))
    kept = Span(span.start - turn, span.end + turn)
    served = machine.in_service is None or covered(span, machine.in_service)
    return served and not any(busy.overlaps(kept) for busy in machine.busy)
