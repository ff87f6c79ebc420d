"""Who may read a client's health, what a teacher reads, and the reviews that fall due."""

from concurrent.futures import ThreadPoolExecutor
from datetime import timedelta

import pytest
from django.db import connection

from clients import actions, models, queries
from clients.rules.outcomes import Level, Outcome
from studio import models as studio_models
from studio.rules import Refused, Role
from tests import make_clients as make

pytestmark = pytest.mark.django_db
DAY = timedelta(days=1)


@pytest.fixture(autouse=True)
def reference(db):
    make.load_reference()


@pytest.fixture
def teacher(db):
    return make.person(Role.INSTRUCTOR)


@pytest.fixture
def thin_bones(db):
    """A client with C01, osteoporosis without fracture."""
    client = make.client(email="ruvena@mail.example")
    make.signed_form(client, {"H09": ["yes"], "H09.conditions": ["C01"], "H18": ["to lift my grandchild"]})
    return client


def care(person, client):
    actions.give_care(
        person=person,
        client=client,
        first_day=make.TODAY,
        last_day=make.TODAY,
        why="lesson",
        source="p:1",
        now=make.NOW,
    )


def reads(client):
    entries = studio_models.AuditEntry.objects.filter(kind="read", client_key=client.pk, person__isnull=False)
    return [(entry.verb, entry.person, entry.why) for entry in entries.order_by("pk")]


def test_an_instructor_with_care_reads_the_limits_and_that_is_recorded(teacher, thin_bones):
    care(teacher, thin_bones)
    limits = {limit.demand: limit for limit in actions.read_limits(thin_bones.pk, by=teacher, now=make.NOW)}
    assert (limits["rolling"].level, limits["rolling"].because) == (Level.AVOID, ("C01",))
    assert reads(thin_bones) == [("read_limits", teacher, "care")]


def test_without_care_an_instructor_gives_a_reason_which_is_recorded(teacher, thin_bones):
    with pytest.raises(Refused) as refused:
        actions.read_limits(thin_bones.pk, by=teacher, now=make.NOW, why="  ")
    assert refused.value.reasons[0].code == "say_why"
    assert reads(thin_bones) == []
    assert actions.read_limits(thin_bones.pk, by=teacher, now=make.NOW, why="covering at noon")
    assert reads(thin_bones) == [("read_limits", teacher, "covering at noon")]


def test_care_of_yesterday_opens_nothing_today(teacher, thin_bones):
    care(teacher, thin_bones)
    with pytest.raises(Refused):
        actions.read_brief(thin_bones.pk, by=teacher, now=make.NOW + DAY)


def test_the_owner_reads_with_a_reason_and_never_without(thin_bones):
    owner = make.person(Role.OWNER)
    care(owner, thin_bones)
    with pytest.raises(Refused):
        actions.read_brief(thin_bones.pk, by=owner, now=make.NOW)
    assert actions.read_brief(thin_bones.pk, by=owner, now=make.NOW, why="a complaint").outcome is Outcome.CLEAR
    assert reads(thin_bones) == [("read_brief", owner, "a complaint")]


def test_the_desk_reads_nothing_whatever_the_reason(thin_bones):
    desk = make.person(Role.DESK)
    for read in (actions.read_limits, actions.read_brief):
        with pytest.raises(Refused) as refused:
            read(thin_bones.pk, by=desk, now=make.NOW, why="please")
        assert refused.value.reasons[0].code == "not_open"
    assert reads(thin_bones) == []


def test_a_brief_unfolds_each_limit_into_condition_demand_rule_and_source(teacher, thin_bones):
    care(teacher, thin_bones)
    brief = actions.read_brief(thin_bones.pk, by=teacher, now=make.NOW)
    rolling = next(limit for limit in brief.limits if limit.demand == "rolling")
    (chain,) = rolling.chains
    assert chain.condition.startswith("Osteoporosis")
    assert (chain.rests_on, chain.demand) == ("the client's own word", rolling.name)
    assert chain.rule.startswith("avoid: not offered without")
    assert chain.sources and all(source.note for source in chain.sources)
    assert ("What would you like your body to do again, or better?", "to lift my grandchild") in brief.own_words
    assert brief.rules.reviewed_on is None


def test_a_rule_without_a_publication_says_so(teacher):
    client = make.client()
    make.signed_form(client, {"H08": ["yes"], "H08.conditions": _first_of("H08")})
    care(teacher, client)
    notes = {
        source.note
        for limit in actions.read_brief(client.pk, by=teacher, now=make.NOW).limits
        for chain in limit.chains
        for source in chain.sources
    }
    assert "no published source" in notes


def test_a_brief_names_what_needs_a_letter_and_what_changed_since_the_form_before(teacher):
    client = make.client()
    make.signed_form(client)
    make.signed_form(client, {"S6": ["yes"]}, now=make.NOW + timedelta(hours=1))
    care(teacher, client)
    brief = actions.read_brief(client.pk, by=teacher, now=make.NOW + timedelta(hours=2))
    assert (brief.previous_outcome, brief.outcome) == (Outcome.CLEAR, Outcome.REFER)
    assert brief.needs_letter
    assert list(brief.changed) == ["Do you notice your heart racing, thumping or skipping?"]


def test_a_brief_of_a_client_without_a_form_says_nothing_was_screened(teacher):
    client = make.client()
    care(teacher, client)
    assert actions.read_brief(client.pk, by=teacher, now=make.NOW).outcome is None
    assert actions.read_limits(client.pk, by=teacher, now=make.NOW) == ()


def test_the_first_visit_dates_both_reviews():
    client = make.client()
    actions.count_visit(client.pk, on=make.TODAY, by=None, now=make.NOW)
    due = dict(models.Review.objects.values_list("kind", "due_on"))
    # review_intervals.csv: 6 lessons or 42 days, 12 lessons or 84 days; common practice, no source
    assert due == {
        "short_review": make.TODAY + timedelta(days=42),
        "full_reassessment": make.TODAY + timedelta(days=84),
    }
    assert dict(models.Review.objects.values_list("kind", "due_visits")) == {
        "short_review": 1 + 6,
        "full_reassessment": 1 + 12,
    }


def test_the_second_visit_counts_and_starts_nothing_new(teacher):
    client = make.client()
    for day in (0, 7):
        actions.count_visit(client.pk, on=make.TODAY + day * DAY, by=teacher, now=make.NOW)
    card = queries.card(client.pk)
    assert (card.visits, card.last_visit, card.usual_instructor) == (2, make.TODAY + 7 * DAY, teacher.name)
    assert models.Review.objects.count() == 2


def test_taking_the_only_visit_back_takes_its_reviews_too():
    client = make.client()
    actions.count_visit(client.pk, on=make.TODAY, by=None, now=make.NOW)
    actions.uncount_visit(client.pk, on=make.TODAY, by=None, now=make.NOW)
    actions.uncount_visit(client.pk, on=make.TODAY, by=None, now=make.NOW)
    card = queries.card(client.pk)
    assert (card.visits, card.last_visit, models.Review.objects.count()) == (0, None, 0)


def test_taking_the_last_of_two_visits_back_leaves_the_day_of_the_first():
    client = make.client()
    for day in (0, 7):
        actions.count_visit(client.pk, on=make.TODAY + day * DAY, by=None, now=make.NOW)
    actions.uncount_visit(client.pk, on=make.TODAY + 7 * DAY, by=None, now=make.NOW, last_visit=make.TODAY)
    assert queries.card(client.pk).last_visit == make.TODAY


def test_a_review_is_raised_once_by_days_and_the_usual_instructor_is_written_to(teacher):
    client = make.client()
    actions.count_visit(client.pk, on=make.TODAY, by=teacher, now=make.NOW)
    assert actions.raise_due_reviews(now=make.NOW + 41 * DAY) == 0
    assert actions.raise_due_reviews(now=make.NOW + 42 * DAY) == 1
    assert actions.raise_due_reviews(now=make.NOW + 42 * DAY) == 0
    notice = studio_models.Notice.objects.get(kind="review_due")
    assert (notice.contact.address, notice.values) == (
        teacher.email,
        {"name": teacher.name, "client": "Ruvena Tarnelow"},
    )


@pytest.mark.django_db(transaction=True)
def test_two_clocks_at_once_raise_each_review_once(teacher):
    for name in ("Ruvena Tarnelow", "Dunmaro Oyelisk", "Farzeen Tolmandi"):
        actions.count_visit(make.client(name).pk, on=make.TODAY, by=teacher, now=make.NOW)

    def raise_them(_):
        try:
            return actions.raise_due_reviews(now=make.NOW + 90 * DAY)
        finally:
            connection.close()

    with ThreadPoolExecutor(4) as clocks:
        raised = sum(clocks.map(raise_them, range(4)))
    assert raised == studio_models.Notice.objects.filter(kind="review_due").count() == 6


def test_a_review_is_raised_by_lessons_when_those_come_first():
    client = make.client()
    for day in range(7):
        actions.count_visit(client.pk, on=make.TODAY + day * DAY, by=None, now=make.NOW)
    assert actions.raise_due_reviews(now=make.NOW + 7 * DAY) == 1
    (row,) = queries.open_reviews(on=make.TODAY + 7 * DAY)
    assert (row.kind, row.visits_left, row.is_raised) == ("short review", 0, True)


def test_a_review_that_was_held_dates_the_next_from_that_day(teacher):
    client = make.client()
    actions.count_visit(client.pk, on=make.TODAY, by=teacher, now=make.NOW)
    later = make.NOW + 42 * DAY
    actions.raise_due_reviews(now=later)
    (row,) = queries.open_reviews(on=later.date(), person=teacher)
    following = actions.finish_review(row.id, by=teacher, now=later)
    assert following.due_on == later.date() + 42 * DAY
    assert queries.open_reviews(on=later.date(), person=teacher) == []
    assert actions.finish_review(row.id, by=teacher, now=later) is None
    assert studio_models.Notice.objects.get(kind="review_due").state == "withdrawn"


def test_a_full_reassessment_is_a_short_review_too(teacher):
    client = make.client()
    actions.count_visit(client.pk, on=make.TODAY, by=teacher, now=make.NOW)
    full = models.Review.objects.get(kind="full_reassessment")
    actions.finish_review(full.pk, by=teacher, now=make.NOW + 10 * DAY)
    due = dict(models.Review.objects.filter(done_at=None).values_list("kind", "due_on"))
    assert due == {
        "short_review": make.TODAY + 52 * DAY,
        "full_reassessment": make.TODAY + 94 * DAY,
    }


def test_an_instructor_sees_the_reviews_of_her_own_clients(teacher):
    client, other = make.client(), make.person(Role.INSTRUCTOR)
    actions.count_visit(client.pk, on=make.TODAY, by=teacher, now=make.NOW)
    due = make.TODAY + 42 * DAY
    assert len(queries.open_reviews(on=due, person=teacher)) == 1
    assert queries.open_reviews(on=due, person=other) == []
    assert len(queries.open_reviews(on=due)) == 1


def test_a_visit_counts_even_before_a_reference_is_loaded():
    models.RuleSet.objects.all().delete()
    client = make.client()
    actions.count_visit(client.pk, on=make.TODAY, by=None, now=make.NOW)
    assert queries.card(client.pk).visits == 1


def test_due_reviews_cost_the_same_for_one_and_for_five(teacher, django_assert_num_queries):
    names = ["Ruvena Tarnelow", "Dunmaro Oyelisk", "Farzeen Tolmandi", "Iselde Brannock", "Ebbe Quillen"]
    for name in names:
        actions.count_visit(make.client(name).pk, on=make.TODAY, by=teacher, now=make.NOW)
        with django_assert_num_queries(1):
            queries.open_reviews(on=make.TODAY + 90 * DAY, person=teacher)
    assert len(queries.open_reviews(on=make.TODAY + 90 * DAY)) == 2 * len(names)


def _first_of(question_id):
    """The first condition that this question's list offers and that rests on common practice."""
    token = make.link(name="Somebody Else")
    actions.save_screen(token, screen_id=question_id, posted={question_id: ["yes"]}, now=make.NOW)
    opened = actions.open_form(token, now=make.NOW)
    fields = [field for screen in make.due(opened) for field in screen.fields]
    offered = next(field for field in fields if field.id == f"{question_id}.conditions").choices
    unpublished = [
        choice.value
        for choice in offered
        if choice.value in opened.rulebook.conditions
        and any("studio_practice" in rule.source_ids for rule in opened.rulebook.limits_by_condition[choice.value])
    ]
    return unpublished[:1]
