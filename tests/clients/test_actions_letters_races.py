"""Several teachers at one letter, several workers at one reminder, and a write that does not come through."""

from concurrent.futures import ThreadPoolExecutor

import pytest
from django.db import connection, transaction

from clients import actions, models
from clients.actions import files
from clients.rules.terms import Entered
from studio import models as studio_models
from studio.rules import Refused, Role
from tests import make_clients as make
from tests import papers

pytestmark = pytest.mark.django_db(transaction=True)
HANDS = 4


@pytest.fixture(autouse=True)
def reference(db):
    make.load_reference()


def at_once(deed):
    """What `deed(number)` gave in each of several threads, or the code it was refused with."""

    def one(number):
        try:
            return deed(number)
        except Refused as refused:
            return refused.reasons[0].code
        finally:
            connection.close()

    with ThreadPoolExecutor(HANDS) as hands:
        return list(hands.map(one, range(HANDS)))


def waiting():
    client = make.client(email="ruvena@mail.example")
    make.signed_form(client, {"S6": ["yes"]})
    return client


def test_of_several_who_confirm_one_letter_at_once_one_does():
    client, desk = waiting(), make.person(Role.DESK)
    teachers = [make.person(Role.INSTRUCTOR) for _ in range(HANDS)]
    letter = actions.hand_in(client.pk, pages=[papers.pdf()], routed_to=None, by=desk, now=make.NOW)
    asks = actions.read_letter(letter.pk, by=teachers[0], now=make.NOW, why="race").asks
    terms = Entered("Ondine Marsh", "physician", make.TODAY, answers=frozenset(one.rule_id for one in asks))

    def confirm(number):
        deed = {"entered": terms, "by": teachers[number], "now": make.NOW, "why": "race"}
        return actions.confirm_letter(letter.pk, **deed).confirmed_by_id

    found = at_once(confirm)
    assert sorted(map(str, found))[-HANDS + 1 :] == ["read_already"] * (HANDS - 1)
    letter.refresh_from_db()
    assert letter.confirmed_by_id in found
    assert models.Screening.objects.filter(client=client, replaced_at=None).get().outcome == "clear_limited"
    assert studio_models.AuditEntry.objects.filter(verb="confirm_letter").count() == 1


def test_confirming_and_setting_aside_at_once_leave_one_of_the_two():
    client, desk = waiting(), make.person(Role.DESK)
    teacher = make.person(Role.INSTRUCTOR)
    letter = actions.hand_in(client.pk, pages=[papers.pdf()], routed_to=None, by=desk, now=make.NOW)
    terms = Entered(forbids=frozenset({"balance"}))

    def deed(number):
        told = {"by": teacher, "now": make.NOW, "why": "race"}
        if number % 2:
            return actions.set_aside(letter.pk, because="not hers", **told).state
        return actions.confirm_letter(letter.pk, entered=terms, **told).state

    found = at_once(deed)
    letter.refresh_from_db()
    assert sorted(found) == sorted([letter.state, *["read_already"] * (HANDS - 1)])


def test_several_workers_at_one_reminder_write_once():
    client = waiting()
    actions.give_consent(client.pk, kind="messages", given_by=client.name, by=None, now=make.NOW)
    later = make.NOW.replace(day=make.NOW.day + 7)
    assert sum(at_once(lambda _: actions.remind_due(now=later))) == 1
    assert studio_models.Notice.objects.filter(kind="letter_wanted").count() == 1


def test_a_letter_whose_keeping_was_broken_off_leaves_no_row_and_only_sealed_bytes_to_sweep():
    client, desk = waiting(), make.person(Role.DESK)
    with pytest.raises(RuntimeError), transaction.atomic():
        letter = actions.hand_in(client.pk, pages=[papers.pdf("amber")], routed_to=None, by=desk, now=make.NOW)
        raise RuntimeError("the power went")
    assert not models.Letter.objects.exists() and not models.StoredFile.objects.exists()
    assert b"PDF" not in files.path_of(letter.file_id).read_bytes()
