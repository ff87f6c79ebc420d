"""Consents: given by name, dated, asked again, taken back at any time."""

from datetime import date, timedelta

import pytest

from clients import actions, models, queries
from studio.rules import Refused
from tests import make_clients
from tests.make_clients import NOW

pytestmark = pytest.mark.django_db


def give(client, kind="messages", *, given_by="Ruvena Tarnelow", by=None, now=NOW, form=None):
    return actions.give_consent(client.pk, kind=kind, given_by=given_by, by=by, now=now, form=form)


def line(client, kind):
    return next(one for one in queries.consents_of(client.pk) if one.kind == kind)


def test_a_consent_says_since_when_and_by_whom():
    client, noted_by = make_clients.client(), make_clients.person(name="Wilma Ostrander")
    give(client, by=noted_by)
    held = line(client, "messages")
    assert (held.is_open, held.given_at, held.given_by, held.noted_by) == (
        True,
        NOW,
        "Ruvena Tarnelow",
        "Wilma Ostrander",
    )
    assert not line(client, "touch").is_open
    assert not line(client, "photographs").is_open


def test_a_consent_given_twice_on_a_day_is_one():
    client = make_clients.client()
    assert give(client).pk == give(client, now=NOW + timedelta(hours=2)).pk
    assert client.consents.count() == 1


def test_given_again_later_is_dated_anew_and_the_earlier_one_is_kept():
    client, later = make_clients.client(), NOW + timedelta(days=366)
    first = give(client, "touch")
    second = give(client, "touch", now=later)
    first.refresh_from_db()
    assert (first.withdrawn_at, first.withdrawal_noted_by_id) == (later, None)
    assert line(client, "touch").given_at == second.given_at == later


def test_touch_is_asked_again_after_a_year_and_the_others_are_not():
    client = make_clients.client()
    for kind in models.Consent.Kind.values:
        give(client, kind)
    assert line(client, "touch").asked_again_on == date(2027, 3, 16)
    assert line(client, "messages").asked_again_on is line(client, "photographs").asked_again_on is None


def test_a_consent_is_taken_back_with_a_name_and_an_instant():
    client, at_desk, later = make_clients.client(), make_clients.person(), NOW + timedelta(days=3)
    given = give(client)
    actions.withdraw_consent(client.pk, kind="messages", by=at_desk, now=later)
    given.refresh_from_db()
    assert (given.withdrawn_at, given.withdrawal_noted_by) == (later, at_desk)
    assert line(client, "messages").ended_on == later.date()
    assert actions.withdraw_consent(client.pk, kind="messages", by=at_desk, now=later) is None


@pytest.mark.parametrize(
    ("kind", "given_by", "code", "field"),
    [
        ("shouting", "Ruvena", "unknown_kind", "kind"),
        ("touch", " \x00 ", "missing", "given_by"),
        ("touch", "R" * 121, "too_long", "given_by"),
    ],
)
def test_a_consent_without_a_kind_or_a_name_is_refused(kind, given_by, code, field):
    client = make_clients.client()
    with pytest.raises(Refused) as refused:
        give(client, kind, given_by=given_by)
    assert [(one.code, one.field) for one in refused.value.reasons] == [(code, field)]
    assert not client.consents.exists()


def test_a_guardian_gives_it_for_a_minor():
    child = make_clients.client("Ilse Tarnelow", born_on=date(2010, 1, 2), guardian_name="Ruvena Tarnelow")
    with pytest.raises(Refused) as refused:
        give(child, given_by="ILSE  Tarnelow")
    assert refused.value.reasons[0].code == "guardian_gives"
    assert give(child, given_by="Ruvena Tarnelow").given_by == "Ruvena Tarnelow"


def test_on_her_eighteenth_birthday_she_gives_it_herself():
    client = make_clients.client("Ilse Tarnelow", born_on=date(2008, 3, 16))
    assert give(client, given_by="Ilse Tarnelow").given_by == "Ilse Tarnelow"
