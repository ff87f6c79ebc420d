"""The end of a condition in somebody's name: a window that has closed, and what follows; nothing ends by itself."""

from concurrent.futures import ThreadPoolExecutor
from datetime import timedelta

import pytest
from django.db import connection

from clients import actions, models
from studio import models as studio_models
from studio.rules import Refused, Role
from tests import make_clients as make

pytestmark = pytest.mark.django_db
DAY = timedelta(days=1)
# Reached from behind, told on the day it was done: days 0 to 83 are "under 12 weeks", day 84 starts the next row.
HIP = {
    "H10": ["yes"],
    "H10.conditions": ["C26"],
    "C26.since": [make.TODAY.isoformat()],
    "C26.side": ["left"],
}


@pytest.fixture(autouse=True)
def reference(db):
    make.load_reference()


@pytest.fixture
def teacher(db):
    return make.person(Role.INSTRUCTOR)


@pytest.fixture
def hip(teacher):
    client = make.client()
    make.signed_form(client, HIP)
    make.care(client, teacher)
    return client


def active(client):
    rows = client.conditions.filter(state="active")
    return {(make.condition(row).condition_id, make.condition(row).side) for row in rows}


def window_of(client):
    return client.conditions.get(state="active")


def test_on_day_83_the_window_is_open_and_cannot_be_confirmed_and_on_day_84_it_can(hip, teacher):
    record = window_of(hip)
    with pytest.raises(Refused) as refused:
        actions.confirm_window_end(record.pk, by=teacher, now=make.NOW + 83 * DAY)
    assert refused.value.reasons[0].code == "window_open"
    assert actions.confirm_window_end(record.pk, by=teacher, now=make.NOW + 84 * DAY)


def test_a_window_that_is_over_keeps_its_limits_until_a_named_person_confirms(hip, teacher):
    before = {one.demand for one in make.limits(make.open_screening(hip))}
    later = make.NOW + 120 * DAY
    assert {one.demand for one in make.limits(make.screened_again(hip, now=later))} == before
    (proposal,) = actions.read_brief(hip.pk, by=teacher, now=later).proposals
    assert proposal.next_condition_id == "C27"
    actions.confirm_window_end(window_of(hip).pk, by=teacher, now=later)
    assert active(hip) == {("C27", "left")}


def test_the_next_condition_keeps_side_and_day_and_says_whom_it_follows(hip, teacher):
    first = window_of(hip)
    actions.confirm_window_end(first.pk, by=teacher, now=make.NOW + 84 * DAY)
    second = window_of(hip)
    first.refresh_from_db()
    assert (second.follows, second.recorded_by, first.settled_by) == (first, teacher, teacher)
    assert make.condition(second).since == make.TODAY


def test_what_was_confirmed_holds_against_the_form_in_force(hip, teacher):
    later = make.NOW + 84 * DAY
    actions.confirm_window_end(window_of(hip).pk, by=teacher, now=later)
    make.screened_again(hip, now=later + DAY)
    assert active(hip) == {("C27", "left")}


def test_a_chain_without_a_next_row_ends_with_no_limit_of_its_own(teacher):
    client = make.client()
    sprain = {"H08": ["yes"], "H08.conditions": ["C33"], "C33.since": [make.TODAY.isoformat()], "C33.side": ["right"]}
    make.signed_form(client, sprain)
    make.care(client, teacher)
    assert make.limits(make.open_screening(client))
    found = actions.confirm_window_end(window_of(client).pk, by=teacher, now=make.NOW + 42 * DAY)
    assert (active(client), make.limits(found), found.outcome) == (set(), (), "clear")


def test_a_condition_that_something_besides_the_date_holds_is_not_proposed(teacher):
    client = make.client()
    told = {"H07": ["yes"], "H07.conditions": ["C05"], "C05.since": [make.TODAY.isoformat()], "C05.still": ["yes"]}
    make.signed_form(client, told | {"C05.side": ["left"]})
    make.care(client, teacher)
    with pytest.raises(Refused) as refused:
        actions.confirm_window_end(window_of(client).pk, by=teacher, now=make.NOW + 200 * DAY)
    assert refused.value.reasons[0].code == "window_open"


def test_the_desk_and_a_stranger_confirm_nothing(hip):
    later = make.NOW + 84 * DAY
    for role, code in ((Role.DESK, "not_open"), (Role.INSTRUCTOR, "say_why")):
        with pytest.raises(Refused) as refused:
            actions.confirm_window_end(window_of(hip).pk, by=make.person(role), now=later)
        assert refused.value.reasons[0].code == code
    assert active(hip) == {("C26", "left")}


def test_confirming_is_on_record_without_the_name_of_the_condition(hip, teacher):
    actions.confirm_window_end(window_of(hip).pk, by=teacher, now=make.NOW + 84 * DAY)
    entry = studio_models.AuditEntry.objects.get(verb="confirm_window_end")
    assert (entry.person, entry.client_key) == (teacher, hip.pk)
    assert "C26" not in f"{entry.why}{entry.detail}"


@pytest.mark.django_db(transaction=True)
def test_of_two_who_confirm_the_same_window_at_once_one_does_and_one_condition_follows(hip, teacher):
    record, later = window_of(hip), make.NOW + 84 * DAY

    def confirm(_):
        try:
            return actions.confirm_window_end(record.pk, by=teacher, now=later)
        finally:
            connection.close()

    with ThreadPoolExecutor(2) as both:
        found = list(both.map(confirm, range(2)))
    assert sum(one is not None for one in found) == 1
    assert active(hip) == {("C27", "left")}
    assert models.Screening.objects.filter(client=hip, replaced_at=None).count() == 1
