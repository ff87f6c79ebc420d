"""Several teachers tap at one draft at once: one change is made, the others hear of it, no line is lost or doubled."""

import pytest

from programming import models
from programming.actions import drafts
from programming.rules.building import PutRow
from studio.rules import ApparatusKind, Role
from tests import make, make_programming
from tests.faults.test_race import race
from tests.make_programming import NOW

pytestmark = [pytest.mark.faults, pytest.mark.django_db(transaction=True)]
ROWS = ("R-HUN", "R-FRO", "R-PEL", "R-RUN", "R-LB2", "R-SM1", "R-SB1", "R-LEG")


@pytest.fixture
def draft():
    make_programming.load()
    teacher = make.person(Role.INSTRUCTOR, name="Iselde Ottrevane")
    made = drafts.new_template(
        name="Evening order", aim="", kind=ApparatusKind.REFORMER, level=2, minutes=55, by=teacher, now=NOW
    )
    return made, teacher


def test_of_many_taps_at_once_one_is_made_and_the_others_are_told(draft):
    made, teacher = draft

    def put(row):
        return lambda: drafts.edit_draft(made.pk, edit=PutRow(row), revision=0, by=teacher, now=NOW)

    answers = race([put(row) for row in ROWS])
    assert answers.count("done") == 1
    assert all(answer == "done" or answer.startswith("changed_meanwhile") for answer in answers)
    after = models.Template.objects.get(pk=made.pk)
    assert after.revision == after.changes.count() == after.lines.count() == 1
