"""Movements left out by somebody's word: from the form, and put down by a teacher; none ends by itself."""

from concurrent.futures import ThreadPoolExecutor
from datetime import timedelta

import pytest
from django.db import connection

from clients import actions, models
from clients.rules import Level, Side
from studio.rules import Refused, Role
from tests import make_clients as make

pytestmark = pytest.mark.django_db
LATER = make.NOW + timedelta(days=20)
IN_WORDS = {"H16": ["leave_out"], "H16.terms": ["other"], "H16.words": ["no cartwheels, said my surgeon"]}


@pytest.fixture(autouse=True)
def reference(db):
    make.load_reference()


@pytest.fixture
def teacher(db):
    return make.person(Role.INSTRUCTOR)


def cared(teacher, told=None):
    client = make.client()
    make.signed_form(client, told)
    make.care(client, teacher)
    return client


def put_down(client, teacher, *demands, now=make.NOW, **how):
    terms = actions.Terms(frozenset(demands), **how)
    return actions.restrict(client.pk, terms=terms, by=teacher, now=now)


def limits(client):
    return {(one.demand, one.level, one.side) for one in make.limits(make.open_screening(client))}


def test_a_teacher_leaves_a_movement_out_on_one_side_until_she_ends_it(teacher):
    client = cared(teacher)
    row = put_down(client, teacher, "kneel", side=Side.LEFT)
    assert limits(client) == {("kneel", Level.AVOID, Side.LEFT)}
    make.screened_again(client, now=make.NOW + timedelta(days=300))
    assert limits(client) == {("kneel", Level.AVOID, Side.LEFT)}
    actions.end_restriction(row.pk, by=teacher, now=make.NOW)
    assert limits(client) == set()
    assert actions.end_restriction(row.pk, by=teacher, now=make.NOW) is None


def test_a_restriction_says_whose_word_it_is(teacher):
    client = cared(teacher)
    put_down(client, teacher, "kneel")
    brief = actions.read_brief(client.pk, by=teacher, now=make.NOW)
    (chain,) = brief.limits[0].chains
    assert chain.condition == "Put down for this client"
    assert (brief.restrictions[0].noted_by, brief.restrictions[0].level) == (teacher.name, "avoid")


def test_a_restriction_never_makes_a_limit_milder(teacher):
    client = cared(teacher, {"H09": ["yes"], "H09.conditions": ["C01"]})
    put_down(client, teacher, "rolling", level=Level.WATCH)
    assert ("rolling", Level.AVOID, Side.BOTH) in limits(client)


def test_words_that_no_list_holds_keep_the_form_unfinished_until_a_teacher_puts_them_into_movements(teacher):
    client = cared(teacher, IN_WORDS)
    assert make.open_screening(client).outcome == "incomplete"
    brief = actions.read_brief(client.pk, by=teacher, now=make.NOW)
    assert (brief.has_unread, brief.unread_words) == (True, "no cartwheels, said my surgeon")
    put_down(client, teacher, "inversion", "shoulder_wb", is_own_words=True)
    assert make.open_screening(client).outcome == "clear"
    assert {demand for demand, *_ in limits(client)} == {"inversion", "shoulder_wb"}
    assert put_down(client, teacher, "kneel", is_own_words=True) is None


def test_words_may_mean_no_movement_at_all(teacher):
    client = cared(teacher, IN_WORDS)
    put_down(client, teacher, is_own_words=True)
    assert (make.open_screening(client).outcome, limits(client)) == ("clear", set())


def test_the_same_words_on_the_next_form_are_not_asked_about_again_and_other_words_are(teacher):
    client = cared(teacher, IN_WORDS)
    put_down(client, teacher, "inversion", is_own_words=True)
    assert make.signed_form(client, IN_WORDS, now=LATER).outcome == "clear"
    other = IN_WORDS | {"H16.words": ["nor handstands"]}
    assert make.signed_form(client, other, now=LATER + timedelta(days=1)).outcome == "incomplete"


def test_an_unrelated_restriction_does_not_answer_a_tick_without_words(teacher):
    client = cared(teacher, {"H16": ["leave_out"], "H16.terms": ["other"]})
    put_down(client, teacher, "kneel")
    assert make.open_screening(client).outcome == "incomplete"


def test_what_the_form_told_to_leave_out_stays_when_the_next_form_tells_it_no_more(teacher):
    client = cared(teacher, {"H16": ["leave_out"], "H16.terms": ["kneel"]})
    assert limits(client) == {("kneel", Level.AVOID, Side.BOTH)}
    make.signed_form(client, {"H16": ["none"]}, now=LATER)
    assert limits(client) == {("kneel", Level.AVOID, Side.BOTH)}
    row = models.Restriction.objects.get()
    actions.end_restriction(row.pk, by=teacher, now=LATER, why="she says so")
    assert limits(client) == set()


def test_a_longer_list_takes_the_shorter_one_up(teacher):
    client = cared(teacher, {"H16": ["leave_out"], "H16.terms": ["kneel"]})
    make.signed_form(client, {"H16.terms": ["kneel", "jump"]}, now=LATER)
    assert models.Restriction.objects.count() == 1
    assert {demand for demand, *_ in limits(client)} == {"kneel", "impact"}


@pytest.mark.parametrize(("demands", "code"), [((), "no_demand"), (("juggling",), "unknown_demand")])
def test_a_restriction_names_movements_of_the_rules(teacher, demands, code):
    client = cared(teacher)
    with pytest.raises(Refused) as refused:
        put_down(client, teacher, *demands)
    assert refused.value.reasons[0].code == code


@pytest.mark.django_db(transaction=True)
def test_of_two_who_put_the_same_words_into_movements_at_once_one_does(teacher):
    client = cared(teacher, IN_WORDS)

    def put(_):
        try:
            return put_down(client, teacher, "inversion", is_own_words=True)
        finally:
            connection.close()

    with ThreadPoolExecutor(2) as both:
        rows = list(both.map(put, range(2)))
    assert sum(row is not None for row in rows) == models.Restriction.objects.count() == 1
    assert models.Screening.objects.filter(client=client, replaced_at=None).count() == 1
