"""Adding, finding and changing clients."""

from concurrent.futures import ThreadPoolExecutor
from datetime import date, timedelta
from uuid import uuid4

import pytest
from django.db import connection

from clients import actions, models, queries
from studio import models as studio_models
from studio.rules import Refused, Role
from tests import make_clients as make

pytestmark = pytest.mark.django_db


def codes(refused):
    return [reason.code for reason in refused.value.reasons]


def fields(refused):
    return {reason.field for reason in refused.value.reasons}


def test_a_client_gets_a_card_a_contact_and_an_audit_row():
    desk = make.person(Role.DESK)
    client = make.client("  Ruvena   Tarnelow ", email="ruvena@mail.example", phone="555 010 203", by=desk)
    card = queries.card(client.pk)
    assert (card.name, card.email, card.phone, card.made_by) == (
        "Ruvena Tarnelow",
        "ruvena@mail.example",
        "555 010 203",
        desk.name,
    )
    entry = studio_models.AuditEntry.objects.get(verb="add_client")
    assert (entry.person, entry.client_key, entry.detail) == (desk, client.pk, {})


@pytest.mark.parametrize("again", ["RUVENA TARNELOW", "Tarnelow, Ruvena", "Rúvena Tarnelöw", "Ruvena Tarnelov"])
def test_a_name_that_is_here_already_is_noticed_and_shown_with_its_card(again):
    first = make.client("Ruvena Tarnelow", email="ruvena@mail.example")
    with pytest.raises(actions.LooksLike) as refused:
        make.client(again)
    assert [row.id for row in refused.value.rows] == [first.pk]
    assert codes(refused) == ["looks_like"]
    assert str(first.pk) in refused.value.reasons[0].allowed


def test_an_address_that_is_here_already_is_noticed_whatever_the_name():
    first = make.client("Ruvena Tarnelow", email="house@mail.example")
    with pytest.raises(actions.LooksLike) as refused:
        make.client("Ebbe Tarnelow", email="HOUSE@mail.example")
    assert [row.id for row in refused.value.rows] == [first.pk]


def test_somebody_new_of_the_same_name_is_added_once_all_look_alikes_are_named():
    first, second = make.client("Ruvena Tarnelow"), None
    second = make.client("Ruvena Tarnelow", different_from=(first.pk,))
    with pytest.raises(actions.LooksLike):
        make.client("Ruvena Tarnelow", different_from=(first.pk,))
    assert make.client("Ruvena Tarnelow", different_from=(first.pk, second.pk)).pk not in (first.pk, second.pk)


def test_a_family_shares_one_contact():
    first = make.client("Ruvena Tarnelow", email="house@mail.example")
    second = make.client("Ebbe Tarnelow", email="house@mail.example", different_from=(first.pk,))
    assert first.contact_id == second.contact_id


@pytest.mark.parametrize(
    ("words", "code", "field"),
    [
        ({"name": "  \x00 "}, "missing", "name"),
        ({"name": "R" * 121}, "too_long", "name"),
        ({"email": "ruvena at mail"}, "not_an_address", "email"),
        ({"notes": "n" * 2001}, "too_long", "notes"),
        ({"born_on": date(2031, 1, 1)}, "impossible_date", "born_on"),
        ({"born_on": date(1801, 1, 1)}, "impossible_date", "born_on"),
        ({"home_id": 987654}, "unknown_studio", "home_id"),
    ],
)
def test_a_card_that_cannot_be_right_is_refused_beside_its_field(words, code, field):
    with pytest.raises(Refused) as refused:
        actions.add_client(**{"name": "Ruvena Tarnelow", "by": None, "now": make.NOW} | words)
    assert (codes(refused), fields(refused)) == ([code], {field})
    assert not models.Client.objects.exists()


@pytest.mark.parametrize("name", ["نورة بنت سالم", "🌿 Ruvena 🌿", "李小龙", "O’Neil-Nuñez", "🌿", "\u202eRuvena"])
def test_names_of_any_script_are_kept_as_written_and_found(name):
    client = make.client(name)
    assert queries.card(client.pk).name == name
    assert [row.id for row in queries.find(name)] == [client.pk]


@pytest.mark.parametrize("text", ["nunez", "NÚÑEZ", "aine nu", "nu ain", "0102", "010-20", "aine@mail", "unez"])
def test_any_part_of_a_name_a_phone_or_an_address_finds_the_client(text):
    client = make.client("Áine Núñez", phone="+353 55 010 203", email="aine@mail.example")
    make.client("Somebody Else", phone="+353 55 999 999", email="else@mail.example")
    assert [row.id for row in queries.find(text)] == [client.pk]


@pytest.mark.parametrize("text", ["", "   ", "%", "_", "nobody", "\x00", "(", "x" * 5000])
def test_a_search_for_nothing_that_is_here_finds_nobody(text):
    make.client("Áine Núñez", phone="+353 55 010 203")
    assert queries.find(text) == []


def test_a_changed_name_is_found_by_the_new_one_and_the_audit_names_the_fields_only():
    client = make.client("Ruvena Tarnelow", email="ruvena@mail.example")
    actions.change_client(
        client.pk, by=None, now=make.NOW, born_on=date(1979, 5, 31), home_id=None, name="Ruvena Ashlode", email=""
    )
    card = queries.card(client.pk)
    assert (card.name, card.email, card.born_on) == ("Ruvena Ashlode", "", date(1979, 5, 31))
    assert [row.id for row in queries.find("ashlode")] == [client.pk]
    entry = studio_models.AuditEntry.objects.get(verb="change_client")
    assert entry.detail == {"changed": ["born_on", "email", "name"]}


def test_a_changed_address_does_not_follow_the_family():
    first = make.client("Ruvena Tarnelow", email="house@mail.example")
    second = make.client("Ebbe Tarnelow", email="house@mail.example", different_from=(first.pk,))
    actions.change_client(second.pk, by=None, now=make.NOW, born_on=None, home_id=None, email="ebbe@mail.example")
    assert queries.card(first.pk).email == "house@mail.example"
    assert queries.card(second.pk).email == "ebbe@mail.example"


def test_an_unknown_client_is_not_there():
    with pytest.raises(models.Client.DoesNotExist):
        queries.card(uuid4())


@pytest.mark.django_db(transaction=True)
def test_of_two_desks_that_add_one_person_at_once_only_one_succeeds():
    def add(_):
        try:
            make.client("Ruvena Tarnelow")
            return "added"
        except actions.LooksLike:
            return "noticed"
        finally:
            connection.close()

    with ThreadPoolExecutor(4) as desks:
        answers = sorted(desks.map(add, range(4)))
    assert answers == ["added", "noticed", "noticed", "noticed"]


def test_finding_costs_the_same_for_one_and_for_fifty(django_assert_num_queries):
    for number in range(50):
        one = models.Client(name=f"Áine {number:02}", name_key=f"aine {number:02}", made_at=make.NOW, wrapped_key=b"k")
        one.save()
    with django_assert_num_queries(1):
        assert len(queries.find("aine 07")) == 1
    with django_assert_num_queries(1):
        assert len(queries.find("aine", limit=50)) == 50


def test_care_lasts_for_its_days_and_ends_with_what_gave_it():
    teacher, client = make.person(Role.INSTRUCTOR), make.client()
    days = {"first_day": make.TODAY, "last_day": make.TODAY + timedelta(days=2)}
    actions.give_care(person=teacher, client=client, **days, why="lesson", source="place:1", now=make.NOW)
    read = [queries.may_read_health(teacher, client.pk, on=make.TODAY + timedelta(days=day)) for day in (-1, 0, 2, 3)]
    assert read == [False, True, True, False]
    assert actions.take_back_care(source="place:1", now=make.NOW) == 1
    assert not queries.may_read_health(teacher, client.pk, on=make.TODAY)


def test_care_from_the_same_source_moves_instead_of_doubling():
    teacher, client = make.person(Role.INSTRUCTOR), make.client()
    for day in (make.TODAY, make.TODAY + timedelta(days=7)):
        actions.give_care(
            person=teacher, client=client, first_day=day, last_day=day, why="lesson", source="place:1", now=make.NOW
        )
    assert [care.first_day for care in models.Care.objects.all()] == [make.TODAY + timedelta(days=7)]


def test_care_opens_nothing_to_somebody_who_only_works_at_the_desk():
    desk, client = make.person(Role.DESK), make.client()
    actions.give_care(
        person=desk, client=client, first_day=make.TODAY, last_day=None, why="x", source="x", now=make.NOW
    )
    assert not queries.may_read_health(desk, client.pk, on=make.TODAY)


def test_a_level_is_signed_by_name_and_signed_anew():
    teacher, client = make.person(Role.INSTRUCTOR), make.client()
    for level in (2, 3):
        actions.sign_level(client.pk, kind="reformer", level=level, by=teacher, now=make.NOW)
    assert queries.ceilings([client.pk]) == {client.pk: {"reformer": 3}}
    with pytest.raises(Refused):
        actions.sign_level(client.pk, kind="trapeze", level=1, by=teacher, now=make.NOW)
    with pytest.raises(Refused):
        actions.sign_level(client.pk, kind="chair", level=6, by=teacher, now=make.NOW)
