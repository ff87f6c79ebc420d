"""The desk's pages about clients, and what each role sees of them."""

import pytest
from django.urls import reverse
from django.utils import timezone

from clients import actions, models
from studio import models as studio_models
from tests import make_clients as make

pytestmark = pytest.mark.django_db
HEALTH_WORDS = ("clear with limits", "avoid", "adapt", "Osteoporosis", "Limits", "rolling", "C01")


@pytest.fixture(autouse=True)
def reference(db):
    make.load_reference()


def page(client, name, /, *args, **data):
    address = reverse(f"clients:{name}", args=args)
    return client.post(address, data) if data else client.get(address)


def text(response):
    return response.content.decode()


def main_of(response):
    """The page without its frame: the sprite names every mark there is."""
    return text(response).split("<main")[-1]


def test_an_empty_box_of_cards_invites_the_first(as_desk):
    answer = page(as_desk, "list")
    assert answer.status_code == 200
    assert "Add the first client" in text(answer)


def test_a_search_travels_in_the_body_and_finds_any_part(as_desk):
    make.client("Áine Núñez")
    make.client("Dunmaro Oyelisk")
    for name in ("list", "find"):
        answer = page(as_desk, name, text="nune")
        assert "Áine Núñez" in text(answer) and "Dunmaro" not in text(answer)
    assert as_desk.get(reverse("clients:find")).status_code == 405


def test_a_search_without_a_hit_says_so_and_offers_a_card(as_desk):
    answer = page(as_desk, "find", text="nobody of that name")
    assert "Nobody of that name" in text(answer) and reverse("clients:add") in text(answer)


def test_the_list_costs_the_same_for_one_and_for_twelve(as_desk, django_assert_max_num_queries):
    make.client("Aaaa Bbbb")
    with django_assert_max_num_queries(10) as one:
        page(as_desk, "list")
    for number in range(11):
        make.client("Cccc " + "defghijklmn"[number] * 9)
    with django_assert_max_num_queries(10) as twelve:
        page(as_desk, "list")
    assert len(one.captured_queries) == len(twelve.captured_queries)


def test_adding_a_client_leads_to_the_card_and_the_form_is_what_is_missing(as_desk):
    answer = page(as_desk, "add", name="Ruvena Tarnelow", email="ruvena@mail.example")
    client = models.Client.objects.get()
    assert answer.headers["Location"] == reverse("clients:card", args=[client.pk])
    shown = text(page(as_desk, "card", client.pk))
    assert "form not current" in shown and "Send the form link" in shown


def test_the_first_field_of_a_new_card_is_ready_to_type(as_desk):
    shown = text(page(as_desk, "add"))
    assert 'name="name"' in shown and shown.count("autofocus") == 1


def test_a_look_alike_is_shown_with_both_ways_on_and_nothing_typed_is_lost(as_desk):
    first = make.client("Ruvena Tarnelow", email="ruvena@mail.example")
    answer = page(as_desk, "add", name="Ruvena Tarnelov", phone="555 010 203")
    shown = text(answer)
    assert answer.status_code == 409
    assert "It is this one" in shown and "Someone new" in shown
    assert reverse("clients:card", args=[first.pk]) in shown and "555 010 203" in shown
    assert page(as_desk, "add", name="Ruvena Tarnelov", different_from=str(first.pk)).status_code == 302
    assert models.Client.objects.count() == 2


def test_a_name_that_answers_to_two_questions_is_asked_about_until_all_are_named(as_desk):
    first = make.client("Ruvena Tarnelow")
    make.client("Ebbe Quillen", email="house@mail.example")
    answer = page(as_desk, "add", name="Ruvena Tarnelow", email="house@mail.example", different_from=str(first.pk))
    assert answer.status_code == 409 and "Ebbe Quillen" in text(answer)
    assert str(first.pk) in text(answer)


@pytest.mark.parametrize(
    "data",
    [
        {"name": ""},
        {"name": "R" * 500},
        {"name": "Ruvena", "email": "not an address"},
        {"name": "Ruvena", "born_on": "31/02/2026"},
        {"name": "Ruvena", "born_on": "2999-01-01"},
        {"name": "Ruvena", "home_id": "987654"},
        {"name": "Ruvena", "notes": "n" * 3000},
        {"name": "a\x00b"},
    ],
)
def test_a_card_that_cannot_be_right_says_so_beside_the_field(as_desk, data):
    answer = page(as_desk, "add", **data)
    assert answer.status_code in (200, 409)
    assert 'class="error"' in text(answer)
    assert not models.Client.objects.exists()


@pytest.mark.parametrize("name", ["🌿 Ruvena", "نورة بنت سالم", "<b>Ruvena</b>"])
def test_a_name_of_any_script_is_shown_as_written_and_isolated(as_desk, name):
    client = make.client(name)
    shown = text(page(as_desk, "card", client.pk))
    escaped = name.replace("<", "&lt;").replace(">", "&gt;")
    assert f"<bdi>{escaped}</bdi>" in shown


def test_a_changed_card_is_kept(as_desk):
    client = make.client("Ruvena Tarnelow", phone="555")
    assert 'value="555"' in text(page(as_desk, "change", client.pk))
    answer = page(as_desk, "change", client.pk, name="Ruvena Ashlode", phone="556")
    assert answer.status_code == 302
    assert "Ruvena Ashlode" in text(page(as_desk, "card", client.pk))


def test_the_link_is_sent_at_a_tap_and_says_until_when(as_desk):
    client = make.client(email="ruvena@mail.example")
    answer = as_desk.post(reverse("clients:send-form", args=[client.pk]), follow=True)
    assert "private link is on its way" in text(answer)
    assert studio_models.Notice.objects.get().kind == "form_link"


def test_without_an_address_the_link_is_refused_kindly(as_desk):
    client = make.client()
    answer = as_desk.post(reverse("clients:send-form", args=[client.pk]), follow=True)
    assert "There is no e-mail address on this card." in text(answer)
    assert not studio_models.Notice.objects.exists()


def test_a_tablet_handed_over_for_the_form_is_signed_out(as_desk):
    client = make.client()
    answer = as_desk.post(reverse("clients:form-here", args=[client.pk]))
    assert as_desk.get(answer.headers["Location"]).status_code == 200
    assert as_desk.get(reverse("clients:list")).status_code == 403


def test_the_desk_never_reads_a_health_word(as_desk):
    client = make.client()
    make.signed_form(client, {"H09": ["yes"], "H09.conditions": ["C01"]})
    for shown in (page(as_desk, "card", client.pk), page(as_desk, "list"), page(as_desk, "find", text="ruvena")):
        assert "form current" in text(shown)
        assert [word for word in HEALTH_WORDS if word in main_of(shown)] == []


def test_the_programs_are_asked_for_only_for_those_who_teach(as_desk, as_instructor):
    client = make.client()
    panel = reverse("programming:client-panel", args=[client.pk])
    assert panel not in text(page(as_desk, "card", client.pk))
    assert panel in text(page(as_instructor, "card", client.pk))


def test_a_card_that_is_not_there_is_a_kind_404(as_desk):
    answer = page(as_desk, "card", "00000000-0000-4000-8000-000000000000")
    assert answer.status_code == 404


@pytest.mark.parametrize(
    ("name", "statuses"),
    [
        ("list", [200, 200, 200]),
        ("add", [200, 403, 200]),
        ("card", [200, 200, 200]),
        ("change", [200, 403, 200]),
        ("health", [403, 200, 200]),
        ("reviews-panel", [403, 200, 200]),
    ],
)
def test_each_role_opens_what_is_hers(as_desk, as_instructor, as_owner, name, statuses):
    args = [make.client().pk] if name in ("card", "change", "health") else []
    answers = [page(who, name, *args).status_code for who in (as_desk, as_instructor, as_owner)]
    assert answers == statuses


def test_nobody_gets_in_without_a_login(client):
    assert page(client, "list").status_code == 302
    assert page(client, "card", make.client().pk).status_code == 302


def test_a_teacher_with_care_reads_limits_with_their_sources(as_instructor, instructor):
    client = make.client()
    make.signed_form(client, {"H09": ["yes"], "H09.conditions": ["C01"]}, now=timezone.now())
    today = timezone.now().date()
    actions.give_care(
        person=instructor, client=client, first_day=today, last_day=None, why="lesson", source="p:1", now=timezone.now()
    )
    shown = text(page(as_instructor, "health", client.pk))
    for words in (
        "Osteoporosis",
        "Strength:",
        "not yet reviewed by a licensed professional",
        "the client&#x27;s own word",
    ):
        assert words in shown


def test_a_teacher_without_care_is_asked_why_and_then_reads(as_instructor, instructor):
    client = make.client()
    make.signed_form(client, {"H09": ["yes"], "H09.conditions": ["C01"]}, now=timezone.now())
    asked = page(as_instructor, "health", client.pk)
    assert "Say why" in text(asked) and "Osteoporosis" not in text(asked)
    assert page(as_instructor, "health", client.pk, why=" ").status_code == 409
    told = page(as_instructor, "health", client.pk, why="covering at noon")
    assert "Osteoporosis" in text(told)
    entry = studio_models.AuditEntry.objects.get(verb="read_brief")
    assert (entry.person, entry.why) == (instructor, "covering at noon")


def test_an_instructor_settles_what_an_earlier_form_told(as_instructor, instructor):
    client = make.client()
    make.signed_form(client, {"H09": ["yes"], "H09.conditions": ["C01"]}, now=timezone.now())
    make.signed_form(client, {"H09": ["no"]}, now=timezone.now())
    record = models.ConditionRecord.objects.get()
    assert as_instructor.post(reverse("clients:settle", args=[record.pk])).status_code == 409
    actions.give_care(
        person=instructor,
        client=client,
        first_day=timezone.now().date(),
        last_day=None,
        why="x",
        source="p:1",
        now=timezone.now(),
    )
    assert "It is over, in my name" in text(page(as_instructor, "health", client.pk))
    assert as_instructor.post(reverse("clients:settle", args=[record.pk])).status_code == 302
    assert "Osteoporosis" not in text(page(as_instructor, "health", client.pk))


def test_a_due_review_is_on_the_teachers_list_until_it_was_held(as_instructor, instructor, as_owner):
    client = make.client()
    long_ago = make.NOW.replace(year=2020)
    actions.count_visit(client.pk, on=long_ago.date(), by=instructor, now=long_ago)
    assert text(page(as_instructor, "reviews-panel")).count("<bdi>Ruvena Tarnelow</bdi>") == 2
    assert "Held" not in text(page(as_owner, "reviews-panel"))
    full = models.Review.objects.get(kind="full_reassessment")
    answer = as_instructor.post(reverse("clients:review-held", args=[full.pk]), headers={"HX-Request": "true"})
    assert "Nobody is due" in text(answer)
