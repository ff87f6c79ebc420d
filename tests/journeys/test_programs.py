"""A program from the first idea to the lesson: built, approved, fitted to a body and again for a sore wrist, taught.

One house, each person at her own device, on real parts. Pictures of every step are kept under var/journeys/.
"""

import re
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import timedelta
from typing import Any

import pytest
from playwright.sync_api import Page, expect

from clients import models as client_models
from programming import models
from programming.rules.marks import Decision
from scheduling import actions as scheduling_actions
from scheduling import models as scheduling_models
from scheduling.rules.places import LessonKind
from studio.rules import Span
from tests.journeys import cast
from tests.journeys.cast import MONDAY, Cast, at
from tests.journeys.stage import Device, Stage

pytestmark = pytest.mark.browser
NINE, TEN, ELEVEN = at(MONDAY, 9), at(MONDAY, 10), at(MONDAY, 11)
NAME = "Wrists at rest"
SERIES = ("Footwork", "Long stretch", "Legs in loops", "Closing legs")
ODALYS, RUVENA = "Odalys Venn", "Ruvena Tarnelow"
SATURDAY = MONDAY - timedelta(days=2)


@dataclass
class House:
    stage: Stage
    cast: Cast
    teacher: Device
    owner: Device

    @property
    def template(self) -> models.Template:
        return models.Template.objects.get(name=NAME)

    @property
    def place(self) -> scheduling_models.Place:
        return scheduling_models.Place.objects.get(
            client__name=ODALYS, lesson__kind=LessonKind.PRIVATE, live=True, during__startswith=TEN
        )

    @property
    def duet(self) -> scheduling_models.Lesson:
        return scheduling_models.Lesson.objects.get(kind=LessonKind.DUET)

    def program(self) -> models.Program:
        return models.Program.objects.get(place=self.place, replaced_at=None)

    def line(self, exercise_id: str) -> models.ProgramLine:
        return self.program().lines.get(planned=exercise_id)


@pytest.fixture(scope="module")
def house(stage: Stage) -> Iterator[House]:
    people = cast.gather()
    stage.at(NINE)
    for number, name in enumerate((ODALYS, RUVENA)):
        # Both have been here once: nobody begins in a group.
        first = book(people, name, Span(at(SATURDAY, 9 + number), at(SATURDAY, 10 + number)), LessonKind.PRIVATE)
        scheduling_actions.complete_place(first.pk, by=people.owner, now=at(SATURDAY, 10 + number))
    book(people, ODALYS, Span(TEN, ELEVEN), LessonKind.PRIVATE)
    duet = book(people, ODALYS, Span(at(MONDAY, 13), at(MONDAY, 14)), LessonKind.DUET, seats=2)
    book(people, RUVENA, Span(at(MONDAY, 13), at(MONDAY, 14)), LessonKind.DUET, machine=1, lesson_id=duet.lesson_id)
    teacher, owner = stage.device("teacher's tablet", "stand", touch=True), stage.device("owner's screen")
    teacher.log_in(cast.TEACHER)
    owner.log_in(cast.OWNER)
    yield House(stage, people, teacher, owner)


def book(
    people: Cast, name: str, span: Span, kind: LessonKind, *, machine: int = 0, **more: Any
) -> scheduling_models.Place:
    return scheduling_actions.book_place(
        client_id=client_models.Client.objects.get(name=name).pk,
        apparatus_id=people.reformers[machine].pk,
        instructor_id=people.teachers[0].pk,
        span=span,
        kind=kind,
        by=people.owner,
        now=cast.OPENED,
        **more,
    )


@contextmanager
def changed(page: Page) -> Iterator[None]:
    """The draft is one revision on when the builder has answered."""
    revision = page.locator("#deed input[name=revision]")
    before = revision.input_value()
    yield
    expect(revision).not_to_have_value(before)


# --- a ----------------------------------------------------------------------------------------------------------------
def test_a_teacher_begins_a_template_and_puts_whole_series_in(house):
    page = house.teacher.go("/office/templates/new/")
    page.fill("#id_name", NAME)
    page.fill("#id_aim", "for those who cannot lean on their hands for long")
    page.get_by_role("button", name="Begin").tap()
    expect(page.get_by_role("heading", level=1)).to_have_text(NAME)
    expect(page.get_by_text("An empty rail")).to_be_visible()
    house.teacher.keep("a1-empty-rail", everywhere=True)
    for name in SERIES:
        with changed(page):
            page.get_by_role("button", name=re.compile(rf"^Put in \d+ of {name}$")).tap()
    assert house.template.state == models.Template.State.DRAFT
    kept = list(house.template.lines.order_by("position").values_list("exercise__row__series", "block"))
    assert list(dict.fromkeys(series for series, _ in kept)) == list(SERIES)
    assert len({block for _, block in kept}) == len(SERIES)
    house.teacher.keep("a2-four-series", everywhere=True)


def test_a_block_is_carried_as_one_and_undone(house):
    page = house.teacher.page
    before = list(house.template.lines.order_by("position").values_list("exercise", flat=True))
    with changed(page):
        page.get_by_role("button", name="Closing legs up, as a block").tap()
    carried = list(house.template.lines.order_by("position").values_list("exercise", flat=True))
    assert carried != before
    assert sorted(carried) == sorted(before)
    with changed(page):
        page.locator("#undo").tap()
    assert list(house.template.lines.order_by("position").values_list("exercise", flat=True)) == before


def test_the_keyboard_changes_a_line_as_a_tap_does(house):
    page = house.teacher.page
    line = house.template.lines.get(exercise="R-FRO")
    name = page.locator(f"#line-{line.pk} .b-name a")
    with changed(page):
        name.press("Alt+ArrowDown")
    moved = house.template.lines.get(exercise="R-FRO")
    assert moved.position != line.position
    with changed(page):
        page.locator(f"#line-{line.pk} .b-name a").press("Control+z")
    assert house.template.lines.get(exercise="R-FRO").position == line.position


# --- b ----------------------------------------------------------------------------------------------------------------
def test_a_warning_stands_only_with_a_reason_and_then_the_owner_is_asked(house):
    page = house.teacher.page
    page.get_by_role("button", name="Hand to the owner").tap()
    page.wait_for_url("**/decide/")
    assert house.template.state == models.Template.State.DRAFT
    house.teacher.keep("b1-not-without-a-reason")
    house.teacher.go(f"/office/templates/{house.template.pk}/?side=rules")
    while page.get_by_text("Let it stand").count():
        before = house.template.overrides.count()
        open_one = page.locator(".b-let:has(summary:text-is('Let it stand'))").first
        open_one.locator("summary").tap()
        open_one.get_by_label("Why it may").fill("Taught so for a month; nobody was hurried.")
        with changed(page):
            open_one.get_by_role("button", name="Keep the reason").tap()
        assert house.template.overrides.count() == before + 1
    house.teacher.keep("b2-let-stand", everywhere=True)
    page.get_by_role("button", name="Hand to the owner").tap()
    expect(page.get_by_text("with the owner", exact=True).first).to_be_visible()
    assert house.template.state == models.Template.State.PROPOSED


def test_the_owner_sees_what_waits_for_her_and_puts_it_in_use(house):
    page = house.owner.go("/office/templates/")
    expect(page.get_by_role("row", name=re.compile(NAME))).to_contain_text("with the owner")
    page.get_by_role("link", name=re.compile(NAME)).click()
    expect(page.get_by_role("heading", level=1)).to_have_text(NAME)
    house.owner.keep("b3-with-the-owner")
    page.get_by_role("button", name="Approve: put in use").click()
    expect(page.get_by_text("In use now.")).to_be_visible()
    assert house.template.state == models.Template.State.ACTIVE
    assert house.template.decided_by == house.cast.owner


# --- c ----------------------------------------------------------------------------------------------------------------
def test_without_limits_the_program_is_the_template(house):
    page = house.teacher.go(f"/floor/{house.place.pk}/brief/")
    row = page.locator(".choices li").filter(has_text=NAME)
    row.get_by_role("button", name=re.compile("^Fit it")).tap()
    page.wait_for_url("**/floor/programs/**")
    lines = house.program().lines.order_by("position")
    assert [line.planned_id for line in lines] == list(
        house.template.lines.order_by("position").values_list("exercise", flat=True)
    )
    assert all(line.spring_set for line in lines if line.exercise_id)
    house.teacher.go(f"/floor/programs/{house.program().pk}/")
    house.teacher.keep("c1-as-planned", everywhere=True)


# --- d ----------------------------------------------------------------------------------------------------------------
def test_a_sore_wrist_fits_the_lesson_again_in_two_taps_for_today_only(house):
    before = house.program()
    assert house.line("R-LS4").exercise_id == "R-LS4"
    page = house.teacher.go(f"/floor/{house.place.pk}/check-in/")
    house.teacher.keep("d1-what-is-sore", everywhere=True)
    page.locator('label.pick:has(input[value="wrist.left"])').tap()
    with page.expect_navigation():
        page.locator('button[name="pain"][value="3"]').tap()
    expect(page.get_by_role("heading", name="Today only")).to_be_visible()
    house.teacher.keep("d2-today-only", everywhere=True)
    today = house.program()
    assert today.today_only
    assert today.pk != before.pk
    # Footwork leans on nothing and stays; the elephant leans on the hands.
    assert house.line("R-LS4").decision != Decision.AS_PLANNED
    assert house.line("R-FW1").decision == Decision.AS_PLANNED
    page = house.teacher.go(f"/floor/programs/{today.pk}/")
    expect(page.locator("main")).to_contain_text("wrist")
    house.teacher.keep("d3-fitted-for-today", everywhere=True)
    # Under 4 of 10 nobody is called to a review.
    assert not client_models.Review.objects.filter(client__name=ODALYS, due_on__lte=MONDAY, done_at=None).exists()


def test_the_check_in_is_taken_back_and_the_lesson_is_as_before(house):
    page = house.teacher.go(f"/floor/{house.place.pk}/check-in/")
    with page.expect_navigation():
        page.get_by_role("button", name="Take it back").tap()
    assert not house.program().today_only
    assert house.line("R-LS4").exercise_id == "R-LS4"


# --- e ----------------------------------------------------------------------------------------------------------------
def test_the_lesson_is_taught_and_rated_and_its_springs_know_what_they_pulled(house):
    house.stage.at(at(MONDAY, 10, 5))
    page = house.teacher.go(f"/floor/{house.place.pk}/run/")
    page.locator(".marks").get_by_role("button", name="Done", exact=True).tap()
    page.wait_for_timeout(450)
    page = house.teacher.go(f"/floor/{house.place.pk}/run/lines/")
    page.get_by_label(re.compile("the other .* as planned")).check()
    page.get_by_role("button", name="Finish the lesson").tap()
    expect(page.locator("h1")).to_contain_text("finished")
    page.locator('button[name="effort"][value="4"]').tap()
    expect(page.get_by_text("Kept: 4").first).to_be_visible()
    house.teacher.keep("e1-how-hard", everywhere=True)
    log = models.Log.objects.get(place=house.place)
    assert (log.effort, log.finished_at is not None) == (4, True)
    pulled = scheduling_models.SpringUse.objects.filter(log_id=log.pk)
    hooked = [line.spring_set for line in house.program().lines.all()]
    # Of each class as many as any line has hooked at once.
    assert pulled.count() == sum(max(letters.count(one) for letters in hooked) for one in "HML")
    assert all(use.cycles > 0 for use in pulled)


# --- f ----------------------------------------------------------------------------------------------------------------
def test_two_people_get_one_plan_and_each_her_own_program(house):
    lesson = house.duet
    page = house.teacher.go(f"/floor/lessons/{lesson.pk}/group/")
    house.teacher.keep("f1-one-plan-for-two", everywhere=True)
    page.get_by_role("link", name=re.compile(NAME)).tap()
    page.get_by_role("button", name="Make the plan").tap()
    page.wait_for_url("**/floor/groups/**")
    house.teacher.keep("f2-the-plan", everywhere=True)
    plan = models.GroupPlan.objects.get(lesson=lesson, replaced_at=None)
    assert plan.programs.filter(replaced_at=None).count() == 2
    # Nobody has a limit, so everything can be said once.
    assert plan.instructions == 0
    page.get_by_role("link", name="On the stand").tap()
    page.wait_for_url("**/rounds/1/")
    house.teacher.keep("f3-on-the-stand", everywhere=True)


# --- g ----------------------------------------------------------------------------------------------------------------
def test_a_change_of_the_repertoire_is_asked_for_taken_over_and_alters_nothing_taught(house):
    page = house.teacher.go("/office/repertoire/R-FRO/change/")
    page.get_by_label("Name", exact=True).fill("Frog, heels together")
    page.locator("#id_why").fill("Said so in every lesson.")
    with page.expect_navigation():
        page.get_by_role("button", name="Propose", exact=True).tap()
    assert models.Exercise.objects.get(pk="R-FRO").row["exercise"] == "Frog in loops"
    page = house.owner.go("/office/repertoire/proposals/")
    house.owner.keep("g1-what-is-asked-for", everywhere=True)
    with page.expect_navigation():
        page.get_by_role("link", name=re.compile("Frog in loops")).first.click()
    house.owner.keep("g2-before-and-after", everywhere=True)
    with page.expect_navigation():
        page.get_by_role("button", name="Take it over").click()
    changed_row = models.Exercise.objects.get(pk="R-FRO")
    assert (changed_row.row["exercise"], changed_row.version) == ("Frog, heels together", 2)
    page = house.teacher.go(f"/floor/programs/{house.program().pk}/")
    expect(page.locator("main")).to_contain_text("Frog in loops")
    assert "Frog, heels together" not in page.locator("main").inner_text()


# --- h ----------------------------------------------------------------------------------------------------------------
def test_a_spring_is_measured_and_its_force_is_no_longer_called_uncalibrated(house):
    spring = house.cast.reformers[0].springs.order_by("position").first()
    page = house.owner.go(f"/office/springs/{spring.pk}/")
    expect(page.locator("dl.facts").first).to_contain_text("uncalibrated")
    house.owner.keep("h1-uncalibrated", everywhere=True)
    # A worked line: 350 N/m hooked 5 cm out pulls 52.5 N at 10 cm and 157.5 N at 40 cm.
    fields = page.locator("table.points input")
    for at_field, value in enumerate(("10", "52.5", "40", "157.5")):
        fields.nth(at_field).fill(value)
    page.locator("[name=instrument]").fill("Pull scale")
    with page.expect_navigation():
        page.get_by_role("button", name="Keep this measurement").click()
    house.owner.keep("h2-measured", everywhere=True)
    spring.refresh_from_db()
    assert (spring.k_n_per_m, spring.x0_m) == (pytest.approx(350), pytest.approx(0.05))
    assert spring.calibrated_on == MONDAY
    expect(page.locator("dl.facts").first).not_to_contain_text("uncalibrated")
