"""One plan for all people of a lesson: made, shown, held for, refused, and taken back."""

import pytest

from clients.models import Client
from programming import models
from programming.actions import groups
from programming.queries import groups as group_queries
from programming.rules.marks import Decision
from programming.rules.timing import Pace
from programming.rules.validation import supervision_of
from scheduling import actions as scheduling_actions
from scheduling.actions import items
from scheduling.models import ItemHold
from scheduling.rules.items import ItemKind
from scheduling.rules.places import LessonKind, PlaceState
from studio.models import AuditEntry
from studio.rules import Refused
from tests import make_programming, make_scheduling
from tests.make_programming import BONES, MANY
from tests.make_scheduling import NOW, span

pytestmark = pytest.mark.django_db
NAMES = ("Ada Quillan", "Bertrick Hagsund", "Caryth Bevlan", "Dunmaro Threll", "Oswin Stokmere")


@pytest.fixture
def house():
    make_programming.load()
    return make_scheduling.house()


def group(house, *told, hour=11, first=False, names=NAMES):
    """A small group lesson with one person for each set of answers, all met before."""
    lesson_id = None
    for number, answers in enumerate(told):
        who = make_programming.client(names[number], answers or None)
        if not first:
            Client.objects.filter(pk=who.pk).update(visits=5)
            who.refresh_from_db()
            owns_level_two(who)
        place = make_scheduling.book(
            house, who, span(hour), machine=number, kind=LessonKind.SMALL_GROUP, lesson_id=lesson_id
        )
        lesson_id = place.lesson_id
    return place.lesson


def owns_level_two(who):
    """She knows every exercise up to level 2, so that nothing is new to her and nothing is asked for first."""
    keys = models.Exercise.objects.filter(level__lte=2).values_list("pk", flat=True)
    day = NOW.date()
    models.Ownership.objects.bulk_create(
        models.Ownership(client=who, exercise_id=key, standing="owned", introduced_on=day, last_on=day, times=9)
        for key in keys
    )


def teacher(house):
    return house.teachers[0].person


def make(house, lesson, name="Foundation order", **told):
    given = {"template_id": make_programming.template(name).pk, "by": teacher(house), "now": NOW, **told}
    return groups.make_group_plan(lesson.pk, **given)


def seen(house, plan):
    return groups.open_group_plan(plan.pk, by=teacher(house), now=NOW)


def short(*ids):
    return make_programming.make_template("Short", *ids).pk


BASICS = ("R-FW1", "R-FW2", "R-HUN", "R-SB1", "R-SB2", "R-KN1", "R-RUN", "R-PEL")


def codes(refused) -> set[str]:
    return {reason.code for reason in refused.value.reasons}


def test_each_person_gets_her_own_program_beside_the_shared_lines(house):
    lesson = group(house, BONES, None)
    plan = make(house, lesson)
    programs = models.Program.objects.filter(group_plan=plan, replaced_at=None)
    assert {program.place.lesson_id for program in programs} == {lesson.pk}
    assert programs.count() == 2
    shared = list(plan.lines.order_by("position").values_list("exercise_id", flat=True))
    for program in programs:
        assert list(program.lines.order_by("position").values_list("planned_id", flat=True)) == shared


def test_who_has_no_limits_does_the_plan_and_the_other_one_deviates_with_her_reasons(house):
    view = seen(house, make(house, group(house, BONES, None), template_id=short(*BASICS)))
    limited, free = (member.name for member in view.members)
    assert (limited, free) == ("Ada Quillan", "Bertrick Hagsund")
    assert all(line.cells[1].decision is Decision.AS_PLANNED for line in view.lines)
    changed = [line.cells[0] for line in view.lines if line.cells[0].differs]
    assert changed and view.instructions >= len(changed)
    program = models.Program.objects.get(client__name=limited)
    fit = make_programming.fit(program)
    assert any(fit.of(line.no).why for line in view.lines if line.cells[0].differs)


def test_two_with_the_same_limits_cost_no_more_words_than_one(house):
    one = make(house, group(house, BONES, None, hour=11))
    Client.objects.update(name="gone")
    two = make(house, group(house, BONES, None, BONES, hour=14))
    assert two.instructions == one.instructions


def test_the_eye_of_the_teacher_is_kept_in_every_round(house):
    view = seen(house, make(house, group(house, BONES, None, MANY), template_id=short("R-FW1", "R-SB1", "R-LS1")))
    rows = {line.name: line.supervision for line in view.lines}
    assert rows
    for at in view.rounds:
        assert at.eyes <= 5
    figures = [[program_line.exercise.row["supervision"] for program_line in lines] for lines in _lines_by_round(view)]
    assert all(supervision_of([int(figure) for figure in at] + [1] * (3 - len(at))).reason == "" for at in figures)


def _lines_by_round(view):
    for at in view.rounds:
        found = []
        for one in at.doing:
            if one.line:
                line = models.ProgramLine.objects.get(program=one.member.program_id, position=one.line.no)
                found += [line] if line.exercise_id else []
        yield found


def test_a_person_alone_and_a_first_lesson_are_no_group(house):
    with pytest.raises(Refused) as refused:
        make(house, group(house, None))
    assert codes(refused) == {"not_a_group"}
    with pytest.raises(Refused) as refused:
        make(house, group(house, None, None, hour=14, first=True, names=NAMES[3:]))
    assert codes(refused) == {"taught_alone"}
    assert "comes for the first time" in refused.value.reasons[0].says


def test_somebody_who_is_not_hers_is_not_read_for_a_group(house):
    lesson = group(house, None, None)
    with pytest.raises(Refused) as refused:
        make(house, lesson, by=house.teachers[1].person)
    assert codes(refused) == {"say_why"}


def test_lines_are_left_out_for_everybody_when_the_teacher_says_so(house):
    lesson = group(house, BONES, None)
    plan = make(house, lesson, without={1, 2})
    whole = make_programming.template().lines.order_by("position").values_list("exercise_id", flat=True)
    assert list(plan.lines.order_by("position").values_list("exercise_id", flat=True)) == list(whole)[2:]
    with pytest.raises(Refused) as refused:
        make(house, lesson, without=set(range(1, 60)))
    assert codes(refused) == {"no_lines"}


def test_a_plan_far_longer_than_the_lesson_is_refused_with_its_minutes(house):
    lesson = group(house, None, None)
    with pytest.raises(Refused) as refused:
        make(house, lesson, template_id=make_programming.make_template("Long", *BASICS * 5, minutes=120).pk)
    assert codes(refused) == {"v2"}
    assert "the lesson has 55" in refused.value.reasons[0].says


def test_once_somebody_is_being_taught_the_plan_stays(house):
    lesson = group(house, BONES, None)
    plan = make(house, lesson)
    program = models.Program.objects.filter(group_plan=plan)[0]
    models.Log.objects.create(program=program, place=program.place, kept_by=teacher(house), started_at=NOW)
    for deed in (lambda: make(house, lesson), lambda: groups.take_back_group_plan(plan.pk, by=teacher(house), now=NOW)):
        with pytest.raises(Refused) as refused:
            deed()
        assert codes(refused) == {"log_begun"}


def test_taking_a_plan_back_brings_the_programs_before_it_back(house):
    lesson = group(house, BONES, None)
    before = make(house, lesson, now=NOW)
    old = set(models.Program.objects.filter(group_plan=before).values_list("pk", flat=True))
    after = groups.make_group_plan(
        lesson.pk,
        template_id=make_programming.template().pk,
        by=teacher(house),
        now=make_scheduling.at(9),
        one_voice=True,
    )
    assert not models.Program.objects.filter(pk__in=old, replaced_at=None).exists()
    groups.take_back_group_plan(after.pk, by=teacher(house), now=make_scheduling.at(10))
    assert set(models.Program.objects.filter(replaced_at=None).values_list("pk", flat=True)) == old
    assert group_queries.standing(lesson.pk) == before.pk


def test_made_again_to_the_same_the_plan_and_its_programs_stay(house):
    lesson = group(house, BONES, None)
    plan = make(house, lesson)
    programs = set(models.Program.objects.values_list("pk", flat=True))
    again = make(house, lesson, now=make_scheduling.at(9))
    assert again.pk == plan.pk and again.made_at == NOW
    assert set(models.Program.objects.values_list("pk", flat=True)) == programs
    assert not models.Program.objects.exclude(replaced_at=None).exists()
    assert not seen(house, again).stale


@pytest.mark.parametrize("told", [{"one_voice": True}, {"without": {1}}, {"pace": Pace.FLUENT}])
def test_asked_for_otherwise_the_plan_is_made_anew(house, told):
    lesson = group(house, BONES, None)
    plan = make(house, lesson, template_id=short(*BASICS))
    assert make(house, lesson, template_id=plan.template_id, now=make_scheduling.at(9), **told).pk != plan.pk


def test_a_program_that_was_changed_by_hand_makes_the_same_plan_anew(house):
    lesson = group(house, BONES, None)
    plan = make(house, lesson)
    models.Program.objects.filter(group_plan=plan, client__name="Ada Quillan").update(revision=1)
    again = make(house, lesson, now=make_scheduling.at(9))
    assert again.pk != plan.pk and not seen(house, again).stale


def test_a_place_that_came_later_makes_the_plan_anew(house):
    lesson = group(house, BONES, None)
    plan = make(house, lesson, template_id=short("R-FW1", "R-FW2", "R-RUN"))
    late = make_programming.client(NAMES[2])
    Client.objects.filter(pk=late.pk).update(visits=5)
    owns_level_two(late)
    make_scheduling.book(house, late, span(11), machine=2, kind=LessonKind.SMALL_GROUP, lesson_id=lesson.pk)
    again = make(house, lesson, template_id=plan.template_id, now=make_scheduling.at(9))
    assert again.pk != plan.pk and models.Program.objects.filter(group_plan=again).count() == 3


def test_made_again_what_was_not_free_before_is_held_now(house):
    box = items.add_item(studio_id=house.studio.pk, kind=ItemKind.BOX, label="Box 1", by=None, now=NOW)
    lesson = group(house, None, None)
    plan = make(house, lesson, template_id=short("R-FW1", "R-SB1"))
    held = ItemHold.objects.filter(item=box, place__lesson=lesson)
    assert held.filter(live=True).update(live=False)
    assert make(house, lesson, template_id=plan.template_id).pk == plan.pk
    assert held.filter(live=True).exists() and not held.filter(live=False).exists()


def test_boxes_are_held_for_the_quarter_hours_of_the_rounds_and_go_with_a_cancelled_place(house):
    for label in ("Box 1", "Box 2"):
        items.add_item(studio_id=house.studio.pk, kind=ItemKind.BOX, label=label, by=None, now=NOW)
    lesson = group(house, None, None)
    plan = make(house, lesson, template_id=short("R-FW1", "R-SB1", "R-SB2"))
    held = ItemHold.objects.filter(place__lesson=lesson, live=True)
    assert {hold.item.label for hold in held} == {"Box 1", "Box 2"}
    place = held[0].place
    scheduling_actions.mark_place(place.pk, state=PlaceState.CANCELLED, by=None, now=NOW)
    assert not ItemHold.objects.filter(place=place, live=True).exists()
    assert any("has left the lesson" in said for said in seen(house, plan).stale)


def test_with_one_box_they_take_turns_and_one_box_is_held(house):
    items.add_item(studio_id=house.studio.pk, kind=ItemKind.BOX, label="Box 1", by=None, now=NOW)
    view = seen(house, make(house, group(house, None, None), template_id=short("R-FW1", "R-SB1", "R-SB2")))
    assert view.instructions == 2
    assert not any(cell.is_out for line in view.lines for cell in line.cells)
    assert {hold.item for hold in view.holds} == {"Box 1"}
    assert all(hold.is_live for hold in view.holds)


def test_opening_a_plan_is_kept_on_record_for_every_person(house):
    plan = make(house, group(house, BONES, None))
    seen(house, plan)
    read = AuditEntry.objects.filter(verb="open_group_plan")
    assert {entry.client_key for entry in read} == set(
        models.Program.objects.filter(group_plan=plan).values_list("client_id", flat=True)
    )


def test_a_plan_says_who_came_and_whose_program_was_changed_since(house):
    lesson = group(house, BONES, None)
    plan = make(house, lesson)
    models.Program.objects.filter(group_plan=plan, client__name="Ada Quillan").update(revision=1)
    late = make_programming.client("Caryth Bevlan")
    make_scheduling.book(house, late, span(11), machine=2, kind=LessonKind.SMALL_GROUP, lesson_id=lesson.pk)
    assert set(seen(house, plan).stale) == {
        "Caryth Bevlan has come to the lesson since.",
        "The program of Ada Quillan was changed since.",
    }


def test_opening_a_plan_asks_no_more_of_the_database_for_a_long_one(house, django_assert_max_num_queries):
    lesson = group(house, BONES, None)
    plan = make(house, lesson)
    rows = group_queries.programs_of(group_queries.loaded(plan.pk))
    opened = {row.pk: make_programming.fit(row) for row in rows}
    loaded = group_queries.loaded(plan.pk)
    with django_assert_max_num_queries(6):
        group_queries.view(loaded, rows, opened)
