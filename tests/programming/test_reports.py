"""What the rules say of a stored program: the whole repertoire in sight, its machine, and the day of its lesson."""

from dataclasses import replace

import pytest
import time_machine
from django.urls import reverse

from clients import actions as client_actions
from clients.actions import seals
from programming import actions
from programming.actions import facts as fact_actions
from programming.actions import fits, fitted
from programming.queries import machines
from programming.queries.fits import Fit
from programming.rules.marks import Decision
from programming.rules.springs import SpringSet
from programming.rules.timing import Pace
from scheduling import actions as scheduling_actions
from studio.rules import ApparatusKind
from tests import make_programming as practice
from tests.conftest import logged_in
from tests.make_programming import NOW

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def clock():
    with time_machine.travel(NOW, tick=False) as traveller:
        yield traveller


@pytest.fixture
def teacher(lesson):
    return logged_in(lesson.teacher)


def said(lesson, program, rule: str, *, now=NOW) -> list[str]:
    opened = actions.open_program(program.pk, by=lesson.teacher, now=now)
    return [finding.says for finding, _ in opened.findings if finding.rule == rule]


def test_a_blocked_prerequisite_that_is_not_in_the_program_offers_the_waiver(lesson):
    """M-23 asks for M-10 and M-22 first; low bone density keeps both out, and neither is planned."""
    client_actions.sign_level(lesson.client.pk, kind="mat", level=5, by=lesson.teacher, now=NOW)
    practice.make_template("On its own", "R-FW1", "M-23")
    program = lesson.assign("On its own")
    assert set(program.lines.values_list("exercise_id", flat=True)) == {"R-FW1", "M-23"}
    says = said(lesson, program, "V1")
    assert len(says) == 2
    assert all("is blocked here; waive it" in words for words in says)


def bare(lesson):
    """Every spring taken off the lesson's machine."""
    scheduling_actions.change_springs(lesson.place.apparatus_id, springs="", by=None, now=NOW)


def test_a_reformer_without_springs_is_known_to_have_none(lesson):
    assert machines.machine(lesson.place.apparatus_id).springs == SpringSet(2, 2, 1)
    bare(lesson)
    assert machines.machine(lesson.place.apparatus_id).springs == SpringSet()


def test_no_line_with_springs_stays_on_a_machine_without_any_and_each_says_so(lesson):
    bare(lesson)
    view = practice.view(lesson.assign())
    assert view.has_no_springs
    assert not any(line.springs for line in view.lines if line.apparatus is ApparatusKind.REFORMER)
    moved = [line for line in view.lines if line.decision in (Decision.SWAPPED, Decision.LEFT_OUT)]
    assert any("This machine has no springs" in line.notes for line in moved)


def test_a_program_of_the_day_the_springs_came_off_is_blocked_by_v3_when_it_was_fitted_without_any(lesson):
    program = lesson.assign()
    assert said(lesson, program, "V3") == []
    program.fitted_for |= {"springs": ""}
    program.save(update_fields=["fitted_for"])
    assert set(said(lesson, program, "V3")) == {"this machine has no springs"}


def test_the_page_says_that_the_machine_had_no_springs(teacher, lesson):
    shown = teacher.get(reverse("programming:program", args=[lesson.assign().pk])).content.decode()
    assert "had no springs on it" not in shown
    bare(lesson)
    shown = teacher.get(reverse("programming:program", args=[lesson.assign().pk])).content.decode()
    assert "Reformer 1 had no springs on it when this was fitted" in shown


# --- a fit that is not proven best -----------------------------------------------------------------------------------


def unproven_fit(program) -> Fit:
    """What is kept of the program's fit, had the search lost patience one changed line above its bound."""
    facts = fact_actions.gathered(program.client_id, day=None, by=program.made_by, now=NOW)
    machine = machines.machine(program.apparatus_id)
    whole = fitted.fit_template(program.template, facts, machine, minutes=55, pace=Pace.WORKING)
    assert whole.is_proven and whole.cost.changed
    least = whole.cost._replace(changed=whole.cost.changed - 1, empty=0)
    whole = replace(whole, is_proven=False, bound=least)
    return fits.fit_of(whole, fitted.digest_of(facts.limits), fitted.fitted_to(facts))


def test_what_is_not_proven_is_kept_with_the_program_and_said_on_its_page(teacher, lesson):
    program = lesson.assign()
    address = reverse("programming:program", args=[program.pk])
    assert practice.fit(program).unproven is None
    assert "The best fit is not proven" not in teacher.get(address).content.decode()
    fit = unproven_fit(program)
    program.sealed_fit = fits.sealed(program, fit)
    program.save(update_fields=["sealed_fit"])
    assert practice.fit(program) == fit
    changed = fit.unproven[0].changed
    says = f"this one had {changed} lines changed; every fit has at least {changed - 1}."
    assert says in teacher.get(address).content.decode()


def test_a_seal_from_before_anything_of_proof_was_kept_still_opens(lesson):
    program = lesson.assign()
    told = seals.opened(program, fits.COLUMN, client=program.client)
    assert "unproven" not in told
    assert fits.opened(program).unproven is None
