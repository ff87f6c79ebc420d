"""What the rules say of a stored program: the whole repertoire in sight, its machine, and the day of its lesson."""

import pytest

from clients import actions as client_actions
from programming import actions
from tests import make_programming as practice
from tests.make_programming import NOW

pytestmark = pytest.mark.django_db


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
