"""A studio's list brought in: looked at first, then whole or not at all, and taken back while nothing was done."""

from concurrent.futures import ThreadPoolExecutor
from datetime import date, timedelta

import pytest
from django.db import connection

from clients import actions, models, queries
from clients.actions import seals
from studio import models as studio_models
from studio.rules import Refused
from tests import make_clients as make
from tests.clients.every_row import every_row
from tests.make_clients import NOW

pytestmark = pytest.mark.django_db
LIST = (
    "First name,Last name,E-mail,Phone,Born,Medical notes\n"
    "Łucja,Żak,l.zak@mail.example,+44 1632 960001,1985-05-31,bad knee\n"
    "Øyvind,Moe,,,,\n"
    "Ada,Quill,no address,,2085-01-01,\n"
)
HALVES = ["first_name", "last_name", "email", "phone", "born_on", ""]


def looked_at(text=LIST, *, by=None, now=NOW):
    return actions.look_at_list("list.csv", text.encode(), by=by, now=now)


def preview(found, now=NOW):
    return actions.preview_list(found.pk, now=now)


def bring_in(found, *, also=(), now=NOW, by=None):
    return actions.bring_in_list(found.pk, also=also, seen=preview(found).seen, by=by, now=now)


def codes(refused):
    return [one.code for one in refused.value.reasons]


def test_each_row_is_told_what_will_become_of_it():
    known = make.client("Oyvind Moe")
    shown = preview(looked_at())
    assert shown.columns == tuple(HALVES)
    assert [row.line for row in shown.good] == [2]
    assert [(row.line, row.like, row.like_id) for row in shown.alike] == [
        (3, "Oyvind Moe, who is here already", known.pk)
    ]
    (refused,) = shown.refused
    assert {(one.code, one.field) for one in refused.reasons} == {
        ("not_an_address", "email"),
        ("impossible_date", "born_on"),
    }


def test_the_good_rows_become_cards_with_keys_of_their_own():
    assert bring_in(looked_at()) == 2
    card = models.Client.objects.get(name="Łucja Żak")
    assert (card.contact.address, card.phone, card.born_on) == (
        "l.zak@mail.example",
        "+44 1632 960001",
        date(1985, 5, 31),
    )
    assert [row.id for row in queries.find("lucja zak")] == [card.pk]
    form = models.HealthForm(client=card)
    blob = seals.sealed("a word", row=form, column="sealed_answers", client=card)
    assert seals.is_sealed_for(card, blob)
    assert not seals.is_sealed_for(models.Client.objects.exclude(pk=card.pk).get(), blob)


def test_a_word_about_health_is_never_kept():
    found = looked_at()
    with pytest.raises(Refused) as refused:
        actions.set_columns(found.pk, columns=[*HALVES[:5], "notes"], days="iso", by=None, now=NOW)
    assert codes(refused) == ["health_column"]
    bring_in(found)
    assert not models.Client.objects.filter(notes__contains="knee").exists()


def test_somebody_who_is_here_is_left_out_unless_told_that_it_is_somebody_else():
    make.client("Oyvind Moe")
    first = looked_at("Name\nØyvind Moe\nAda Quill\n")
    assert bring_in(first) == 1
    second = looked_at("Name\nØyvind Moe\n")
    assert bring_in(second, also=[2]) == 1
    assert models.Client.objects.filter(name_key="oyvind moe").count() == 2


def test_a_list_that_names_somebody_twice_brings_her_in_once():
    found = looked_at("Name\nAda Quill\nQuill Ada\nAda Quil\n")
    assert [row.like for row in preview(found).alike] == ["line 2 of this list"] * 2
    assert bring_in(found) == 1


def test_a_family_may_share_an_address():
    found = looked_at("Name,Email\nAda Quill,quill@mail.example\nOdalys Venn,QUILL@mail.example\n")
    assert bring_in(found, also=[3]) == 2
    assert studio_models.Contact.objects.filter(address__iexact="quill@mail.example").count() == 1


def test_days_are_read_anew_in_another_order():
    found = looked_at("Name,Born\nAda Quill,31.05.1985\n")
    assert [one.code for one in preview(found).refused[0].reasons] == ["not_a_day"]
    actions.set_columns(found.pk, columns=["name", "born_on"], days="day_first", by=None, now=NOW)
    bring_in(found)
    assert models.Client.objects.get().born_on == date(1985, 5, 31)


def test_columns_that_were_not_guessed_are_told():
    found = looked_at("Wer,Wo\nAda Quill,1\n")
    assert [one.code for one in preview(found).faults] == ["no_name"]
    with pytest.raises(Refused) as refused:
        bring_in(found)
    assert codes(refused) == ["no_name"]
    actions.set_columns(found.pk, columns=["name", "phone"], days="iso", by=None, now=NOW)
    assert bring_in(found) == 1


@pytest.mark.parametrize(
    ("columns", "days", "code"),
    [
        (["name"], "iso", "unknown_column"),
        (["name", ""], "french", "unknown_order"),
        (["shoe", ""], "iso", "unknown_column"),
    ],
)
def test_columns_that_are_none_change_nothing(columns, days, code):
    found = looked_at("Name,Phone\nAda Quill,1\n")
    with pytest.raises(Refused) as refused:
        actions.set_columns(found.pk, columns=columns, days=days, by=None, now=NOW)
    assert codes(refused)[0] == code
    assert preview(found).columns == ("name", "phone")


def test_what_changed_since_it_was_seen_is_looked_at_again_and_nothing_is_half_done():
    found = looked_at()
    seen = preview(found).seen
    make.client("Łucja Zak")
    before = every_row()
    with pytest.raises(Refused) as refused:
        actions.bring_in_list(found.pk, seen=seen, by=None, now=NOW)
    assert codes(refused) == ["changed"]
    assert every_row() == before


def test_a_list_is_brought_in_once():
    found = looked_at()
    seen = preview(found).seen
    bring_in(found)
    with pytest.raises(Refused) as refused:
        actions.bring_in_list(found.pk, seen=seen, by=None, now=NOW)
    assert codes(refused) == ["finished"]


def test_the_rows_that_stayed_out_come_back_as_a_file_until_the_next_list():
    found = looked_at()
    before = actions.rest_of_list(found.pk, now=NOW)
    bring_in(found)
    after = actions.rest_of_list(found.pk, now=NOW)
    assert before == after
    assert after.splitlines()[1].startswith("4,Ada,Quill,no address,,2085-01-01,,")
    assert "E-mail: That is not an e-mail address." in after
    looked_at("Name\nSomebody Else\n", now=NOW + timedelta(days=1))
    with pytest.raises(Refused) as refused:
        actions.rest_of_list(found.pk, now=NOW)
    assert codes(refused) == ["finished"]


def test_a_list_taken_back_leaves_nothing_behind():
    before = {name: rows for name, rows in every_row().items() if name != "clients.ClientImport"}
    found = looked_at()
    bring_in(found)
    assert actions.take_back_list(found.pk, by=None, now=NOW) == 2
    after = {name: rows for name, rows in every_row().items() if name != "clients.ClientImport"}
    assert after == before
    with pytest.raises(Refused) as refused:
        actions.take_back_list(found.pk, by=None, now=NOW)
    assert codes(refused) == ["not_brought_in"]


@pytest.mark.parametrize("deed", ["consent", "change", "form"])
def test_a_list_that_something_was_done_with_is_not_taken_back(deed):
    found = looked_at()
    bring_in(found)
    card = models.Client.objects.get(name="Łucja Żak")
    if deed == "consent":
        actions.give_consent(card.pk, kind="touch", given_by="Łucja", by=None, now=NOW)
    elif deed == "change":
        actions.change_client(card.pk, phone="7", born_on=None, home_id=None, by=None, now=NOW)
    else:
        actions.make_form_link(card.pk, by=None, now=NOW)
    with pytest.raises(Refused) as refused:
        actions.take_back_list(found.pk, by=None, now=NOW)
    assert codes(refused) == ["in_use"]
    assert "Łucja Żak" in refused.value.reasons[0].says
    assert found.clients.count() == 2


def test_an_address_that_somebody_else_uses_by_now_stays_when_the_list_goes():
    found = looked_at("Name,Email\nAda Quill,quill@mail.example\n")
    bring_in(found)
    other = make.client(
        "Odalys Venn",
        email="quill@mail.example",
        different_from=tuple(models.Client.objects.values_list("pk", flat=True)),
    )
    actions.take_back_list(found.pk, by=None, now=NOW)
    other.refresh_from_db()
    assert other.contact.address == "quill@mail.example"


def test_a_list_that_is_left_is_forgotten():
    found = looked_at()
    actions.leave_list(found.pk, by=None, now=NOW)
    found.refresh_from_db()
    assert (found.state, found.rows) == ("left", {})
    assert not models.Client.objects.exists()


def test_a_long_list_costs_no_query_a_row(django_assert_max_num_queries):
    found = looked_at("Name\n" + "".join(f"Client {number:04d} Qx{number * 7919}\n" for number in range(300)))
    with django_assert_max_num_queries(4):
        assert len(preview(found).good) + len(preview(found).alike) == 300


@pytest.mark.django_db(transaction=True)
def test_of_two_lists_at_once_the_second_sees_the_cards_of_the_first():
    lists = [looked_at("Name\nAda Quill\n", by=make.person()) for _ in range(2)]
    seen = [preview(found).seen for found in lists]

    def go(number):
        try:
            return actions.bring_in_list(lists[number].pk, seen=seen[number], by=None, now=NOW)
        except Refused as refused:
            return refused.reasons[0].code
        finally:
            connection.close()

    with ThreadPoolExecutor(2) as desks:
        answers = list(desks.map(go, range(2)))
    assert sorted(map(str, answers)) == ["1", "changed"]
    assert models.Client.objects.count() == 1
