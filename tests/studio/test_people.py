"""Who may come in: signing in, handing over, new passwords, invitations, roles, leaving."""

import re
from concurrent.futures import ThreadPoolExecutor
from datetime import timedelta
from typing import Any

import pytest
import time_machine
from django.db import connection
from django.test import Client
from django.urls import reverse

from studio import models, queries
from studio.actions import notices, people
from studio.rules import Refused, Role
from tests import make
from tests.conftest import logged_in
from tests.make import NOW, PASSWORD

NEW = "another slow carriage"


def sign_in(client: Client, email: str, password: str, **more: Any):
    return client.post(reverse("studio:login"), {"username": email, "password": password}, **more)


def link_in(letter) -> str:
    found = re.search(r"https?://[^/\s]+(/\S+)", letter.get_content())
    assert found
    return found[1]


def codes(refused: pytest.ExceptionInfo[Refused]) -> set[str]:
    return {reason.code for reason in refused.value.reasons}


@pytest.fixture
def house(db):
    make.studio()


# --- signing in -----------------------------------------------------------------------------------------------------


@pytest.mark.django_db
def test_one_signs_in_by_email_in_any_spelling(client, house, desk):
    assert sign_in(client, "  WILMA@Studio.Example ", PASSWORD).status_code == 302
    assert client.get("/").status_code == 200


@pytest.mark.django_db
def test_a_wrong_password_and_an_unknown_address_read_the_same(client, desk):
    wrong = sign_in(client, desk.email, "nonsense").content
    unknown = sign_in(client, "nobody@studio.example", "nonsense").content
    hidden = re.compile(rb'(csrfmiddlewaretoken" value|csrf-token" content|value)="[^"]*"')
    assert hidden.sub(b"", wrong) == hidden.sub(b"", unknown)


@pytest.mark.django_db
def test_five_wrong_passwords_close_the_pair_of_address_and_place_for_a_quarter_of_an_hour(client, house, desk):
    with time_machine.travel(NOW, tick=False) as clock:
        for spelling in (
            "wilma@studio.example",
            "Wilma@studio.example",
            "WILMA@STUDIO.EXAMPLE",
            "wilma@STUDIO.example",
        ):
            assert sign_in(client, spelling, "wrong").status_code == 200
        sign_in(client, desk.email, "wrong")
        assert sign_in(client, desk.email, PASSWORD).status_code == 429
        assert sign_in(client, desk.email, PASSWORD, REMOTE_ADDR="192.0.2.7").status_code == 302
        clock.shift(timedelta(minutes=16))
        assert sign_in(Client(), desk.email, PASSWORD).status_code == 302


@pytest.mark.django_db
def test_signing_in_gives_a_new_session(client, house, desk):
    client.get(reverse("studio:login"))
    session = client.session
    session["left"] = "behind"
    session.save()
    before = session.session_key
    sign_in(client, desk.email, PASSWORD)
    assert client.session.session_key != before


@pytest.mark.django_db
def test_handing_over_ends_the_session_and_takes_a_post(as_desk, house):
    assert as_desk.get(reverse("studio:logout")).status_code == 405
    assert as_desk.post(reverse("studio:logout")).url == reverse("studio:login")
    assert as_desk.get("/").url.startswith(reverse("studio:login"))


# --- a new password -------------------------------------------------------------------------------------------------


@pytest.mark.django_db
def test_a_forgotten_password_is_replaced_by_a_mailed_link_that_opens_once(client, house, desk, post_office):
    elsewhere = logged_in(desk)
    client.post(reverse("studio:password-reset"), {"email": "Wilma@Studio.example"})
    notices.send_due(now=NOW + timedelta(days=36500))
    assert post_office.letters == []  # a century later it is far too late
    models.Notice.objects.update(state="waiting")
    people.ask_reset(desk.email, now=NOW)
    notices.send_due(now=NOW)
    link = link_in(post_office.letters[-1])
    page = client.get(link, follow=True)
    answer = client.post(page.request["PATH_INFO"], {"new_password1": NEW, "new_password2": NEW})
    assert answer.url == reverse("studio:password-reset-done")
    assert elsewhere.get("/").status_code == 302
    assert sign_in(Client(), desk.email, PASSWORD).status_code == 200
    assert sign_in(Client(), desk.email, NEW).status_code == 302
    assert b"used up" in Client().get(link, follow=True).content


@pytest.mark.django_db
def test_asking_for_a_new_password_tells_nobody_who_works_here(client, desk):
    known = client.post(reverse("studio:password-reset"), {"email": desk.email})
    unknown = client.post(reverse("studio:password-reset"), {"email": "nobody@studio.example"})
    assert (known.status_code, known.url) == (unknown.status_code, unknown.url)
    assert models.Notice.objects.count() == 1


@pytest.mark.django_db
def test_asking_ten_times_in_a_minute_sends_one_letter(desk):
    for seconds in range(10):
        people.ask_reset(desk.email, now=NOW + timedelta(seconds=seconds))
    assert models.Notice.objects.count() == 1


@pytest.mark.django_db
def test_a_new_password_opens_a_door_that_wrong_ones_had_closed(client, house, desk, post_office):
    for _ in range(5):
        sign_in(client, desk.email, "wrong")
    people.ask_reset(desk.email, now=NOW)
    notices.send_due(now=NOW)
    page = client.get(link_in(post_office.letters[0]), follow=True)
    client.post(page.request["PATH_INFO"], {"new_password1": NEW, "new_password2": NEW})
    assert sign_in(client, desk.email, NEW).status_code == 302


# --- invitations ----------------------------------------------------------------------------------------------------


@pytest.mark.django_db
def test_an_invited_teacher_chooses_a_password_by_the_link_and_is_in(as_owner, house, post_office):
    posted = {"name": "Ngaire 🌿 Tolland", "email": "Ngaire@Studio.Example", "roles": ["instructor", "desk"]}
    assert as_owner.post(reverse("studio:invite"), posted).status_code == 302
    notices.send_due(now=models.Notice.objects.get().due_at)
    link = link_in(post_office.letters[0])
    newcomer = Client()
    assert "Ngaire 🌿 Tolland".encode() in newcomer.get(link).content
    assert newcomer.post(link, {"password": NEW, "again": NEW}).url == reverse("studio:home")
    assert newcomer.get("/").status_code == 200
    person = models.Person.objects.get(email="ngaire@studio.example")
    assert person.roles == ["desk", "instructor"]
    assert Client().get(link).status_code == 410
    assert Client().post(link, {"password": PASSWORD, "again": PASSWORD}).status_code == 410
    assert person.check_password(NEW)


@pytest.mark.django_db
def test_the_outbox_and_the_table_keep_no_token_once_the_letter_left(owner, post_office):
    people.invite(name="Ada", email="ada@studio.example", roles=[Role.DESK], by=owner, now=NOW)
    notices.send_due(now=NOW)
    token = link_in(post_office.letters[0]).rstrip("/").rpartition("/")[2]
    kept = str(list(models.Invitation.objects.values())) + str(list(models.Notice.objects.values()))
    assert token not in kept
    assert queries.invitation(token, now=NOW) is not None


@pytest.mark.django_db
def test_an_invitation_opens_for_seven_days(owner, post_office):
    people.invite(name="Ada", email="ada@studio.example", roles=[Role.DESK], by=owner, now=NOW)
    notices.send_due(now=NOW)
    token = link_in(post_office.letters[0]).rstrip("/").rpartition("/")[2]
    assert queries.invitation(token, now=NOW + timedelta(days=7, seconds=-1)) is not None
    with pytest.raises(Refused) as refused:
        people.accept_invitation(token, password=NEW, now=NOW + timedelta(days=7))
    assert codes(refused) == {"link_used"}


@pytest.mark.django_db
def test_a_fresh_link_ends_the_earlier_one(owner, post_office):
    person = people.invite(name="Ada", email="ada@studio.example", roles=[Role.DESK], by=owner, now=NOW)
    notices.send_due(now=NOW)
    people.invite_again(person.pk, by=owner, now=NOW + timedelta(hours=1))
    notices.send_due(now=NOW + timedelta(hours=1))
    old, new = [link_in(letter).rstrip("/").rpartition("/")[2] for letter in post_office.letters]
    assert queries.invitation(old, now=NOW + timedelta(hours=1)) is None
    assert queries.invitation(new, now=NOW + timedelta(hours=1)) is not None


@pytest.mark.django_db
@pytest.mark.parametrize(
    ("changed", "field"),
    [
        ({"name": " "}, "name"),
        ({"email": "not an address"}, "email"),
        ({"email": "WILMA@studio.example"}, "email"),
        ({"roles": []}, "roles"),
        ({"roles": ["king"]}, "roles"),
    ],
)
def test_an_invitation_that_cannot_be_says_so_beside_the_field(as_owner, desk, changed, field):
    posted = {"name": "Ada", "email": "ada@studio.example", "roles": ["desk"]} | changed
    page = as_owner.post(reverse("studio:invite"), posted)
    assert page.status_code == 422
    assert set(page.context["form"].errors) == {field}
    assert f'id="id_{field}_error"'.encode() in page.content


@pytest.mark.django_db(transaction=True)
def test_two_doors_that_invite_the_same_address_make_one_account(owner):
    def one(number: int) -> bool:
        try:
            people.invite(name=f"Ada {number}", email="ada@studio.example", roles=[Role.DESK], by=owner, now=NOW)
            return True
        except Refused:
            return False
        finally:
            connection.close()

    with ThreadPoolExecutor(4) as pool:
        assert sum(pool.map(one, range(4))) == 1
    assert models.Person.objects.filter(email="ada@studio.example").count() == 1


@pytest.mark.django_db
@pytest.mark.parametrize("weak", ["short", "password1234", "ada@studio.example"])
def test_a_weak_password_is_refused_in_words(client, owner, post_office, weak):
    people.invite(name="Ada", email="ada@studio.example", roles=[Role.DESK], by=owner, now=NOW)
    notices.send_due(now=NOW)
    with time_machine.travel(NOW, tick=False):
        page = client.post(link_in(post_office.letters[0]), {"password": weak, "again": weak})
    assert page.status_code == 422
    assert page.context["form"].errors["password"]


# --- roles and leaving ----------------------------------------------------------------------------------------------


@pytest.mark.django_db
def test_a_second_role_counts_from_the_next_click(as_owner, as_desk, desk, house):
    assert as_desk.get(reverse("studio:office")).status_code == 403
    as_owner.post(reverse("studio:person", args=[desk.pk]), {"roles": ["desk", "owner"]})
    assert as_desk.get(reverse("studio:office")).status_code == 200


@pytest.mark.django_db
def test_the_last_owner_keeps_the_role_and_stays(owner):
    with pytest.raises(Refused) as refused:
        people.change_roles(owner.pk, roles=[Role.DESK], by=owner, now=NOW)
    assert codes(refused) == {"last_owner"}
    with pytest.raises(Refused) as refused:
        people.leave(owner.pk, by=owner, now=NOW)
    assert codes(refused) == {"last_owner"}


@pytest.mark.django_db(transaction=True)
def test_two_owners_who_let_each_other_go_at_once_leave_one_owner(owner):
    other = make.person(Role.OWNER)
    pairs = [(owner, other), (other, owner)]

    def let_go(pair) -> None:
        by, leaving = pair
        try:
            people.leave(leaving.pk, by=by, now=NOW)
        except Refused:
            pass
        finally:
            connection.close()

    with ThreadPoolExecutor(2) as pool:
        list(pool.map(let_go, pairs))
    assert models.Person.objects.working_here().with_role(Role.OWNER).count() == 1


@pytest.mark.django_db
def test_somebody_who_left_by_mistake_comes_back_with_roles_and_a_fresh_link(
    as_owner, owner, instructor, house, post_office
):
    people.leave(instructor.pk, by=owner, now=NOW)
    as_owner.post(reverse("studio:come-back", args=[instructor.pk]))
    notices.send_due(now=models.Notice.objects.get().due_at)
    newcomer = Client()
    assert newcomer.post(link_in(post_office.letters[0]), {"password": NEW, "again": NEW}).status_code == 302
    instructor.refresh_from_db()
    assert (instructor.is_active, instructor.left_on, instructor.roles) == (True, None, ["instructor"])


@pytest.mark.django_db
def test_somebody_who_left_gets_no_link_for_a_new_password(owner, desk):
    people.ask_reset(desk.email, now=NOW)
    people.leave(desk.pk, by=owner, now=NOW)
    people.ask_reset(desk.email, now=NOW + timedelta(hours=1))
    assert [row.state for row in models.Notice.objects.all()] == ["withdrawn"]


@pytest.mark.django_db
def test_the_day_of_leaving_is_the_day_of_the_house(owner, desk, house):
    models.Studio.objects.update(time_zone="Pacific/Auckland")
    late = NOW.replace(hour=22)
    assert people.leave(desk.pk, by=owner, now=late).left_on.isoformat() == "2031-03-13"


@pytest.mark.django_db
def test_ending_sessions_signs_out_everywhere_and_keeps_the_password(as_owner, as_desk, desk, house):
    as_owner.post(reverse("studio:end-sessions", args=[desk.pk]))
    assert as_desk.get("/").status_code == 302
    assert sign_in(Client(), desk.email, PASSWORD).status_code == 302


@pytest.mark.django_db
def test_every_deed_about_a_person_is_in_the_audit(owner, desk):
    other = people.invite(name="Ada", email="ada@studio.example", roles=[Role.DESK], by=owner, now=NOW)
    people.invite_again(other.pk, by=owner, now=NOW)
    people.change_roles(desk.pk, roles=[Role.DESK, Role.INSTRUCTOR], by=owner, now=NOW)
    people.end_sessions(desk.pk, by=owner, now=NOW)
    people.ask_reset(desk.email, now=NOW)
    people.reset_password(desk.pk, password=NEW, now=NOW)
    people.leave(desk.pk, by=owner, now=NOW)
    verbs = list(models.AuditEntry.objects.order_by("pk").values_list("verb", flat=True))
    assert verbs == [
        "invite",
        "invite again",
        "change roles",
        "end sessions",
        "ask for a new password",
        "choose a new password",
        "leave",
    ]


@pytest.mark.django_db
def test_the_staff_list_needs_one_query_for_any_number(django_assert_num_queries):
    make.person()
    with django_assert_num_queries(1):
        queries.staff()
    for _ in range(50):
        make.person()
    with django_assert_num_queries(1):
        assert len(queries.staff()) == 51
