"""The owner's words for the house's letters: what she writes is what leaves, and no letter loses its link."""

import pytest
from django.urls import reverse
from hypothesis import given
from hypothesis import strategies as st

from studio import models, queries
from studio.actions import notices, people, words
from studio.rules import Refused, Role
from studio.rules import notices as rules
from studio.rules.notice_texts import DEFAULT_WORDS, Words
from tests import make
from tests.make import NOW

OWN = {"subject": "Kom bij {house}", "body": "Dag {name},\r\n\r\n{link}\r\n\r\nBring {socks}."}


def page_of(kind: str) -> str:
    return reverse("studio:change-words", args=[kind])


@given(st.text(max_size=300), st.text(max_size=300))
def test_whatever_the_owner_writes_can_be_looked_at(subject, body):
    found = Words("x", subject, body, ("name",))
    assert "\n" not in rules.example(found, house="").subject
    assert set(rules.strangers(found)) == set(rules.PLACEHOLDER.findall(f"{subject} {body}")) - {"name"}


@pytest.mark.parametrize(
    ("subject", "body", "codes"),
    [
        (" ", "{link}", {"no_subject"}),
        ("Hello", "  ", {"no_body"}),
        ("{link}", "Hello {name}", {"no_link"}),
        ("", "{ link }", {"no_subject", "no_link"}),
    ],
)
def test_a_letter_needs_a_subject_words_and_the_link_it_is_sent_for(subject, body, codes):
    assert {reason.code for reason in rules.words_reasons(Words("x", subject, body, ("name", "link")))} == codes


def test_a_letter_that_is_not_sent_for_a_link_needs_none():
    assert rules.words_reasons(Words("x", "Hello", "Hello {name}", ("name",))) == []


@pytest.mark.django_db
def test_the_owners_words_leave_by_mail_and_brackets_she_made_up_stay(as_owner, owner, post_office):
    make.business()
    assert as_owner.post(page_of("invitation"), OWN).url == reverse("studio:words")
    people.invite(name="Ada", email="ada@studio.example", roles=[Role.DESK], by=owner, now=NOW)
    notices.send_due(now=NOW)
    [letter] = post_office.letters
    assert letter["Subject"] == "Kom bij Slow Carriage House"
    body = letter.get_content().replace("\r\n", "\n")
    assert body.startswith("Dag Ada,\n\nhttp") and body.rstrip().endswith("Bring {socks}.")


@pytest.mark.django_db
def test_looking_shows_the_letter_and_keeps_nothing(as_owner):
    page = as_owner.post(page_of("invitation"), OWN | {"look": ""})
    assert (page.status_code, models.NoticeText.objects.exists()) == (200, False)
    text = page.content.decode()
    assert "Dag Ada Merrow," in text and "<code>{socks}</code>" in text
    assert page.context["form"]["body"].value() == OWN["body"]


@pytest.mark.django_db
def test_words_without_the_link_are_refused_beside_the_field(as_owner):
    page = as_owner.post(page_of("form_link"), {"subject": "Your form", "body": "Come and fill it in."})
    assert page.status_code == 422 and "{link}" in page.context["form"].errors["body"][0]
    assert not models.NoticeText.objects.exists()


@pytest.mark.django_db
def test_the_usual_words_can_be_looked_at_and_taken_back_without_losing_ones_own_before(as_owner):
    as_owner.post(page_of("invitation"), OWN)
    page = as_owner.get(page_of("invitation"), {"usual": "1"})
    usual = {name: page.context["form"][name].value() for name in ("subject", "body")}
    assert usual["subject"] == DEFAULT_WORDS["invitation"].subject
    assert queries.words_in_force("invitation").subject == OWN["subject"]
    as_owner.post(page_of("invitation"), usual)
    assert queries.words_in_force("invitation") == DEFAULT_WORDS["invitation"]
    assert not models.NoticeText.objects.exists()


@pytest.mark.django_db
@pytest.mark.parametrize("kind", sorted(DEFAULT_WORDS))
def test_every_kind_has_a_page_and_usual_words_kept_as_they_are_stay_the_usual_ones(as_owner, kind):
    form = as_owner.get(page_of(kind)).context["form"]
    as_owner.post(page_of(kind), {name: form[name].value() for name in ("subject", "body")})
    assert queries.words_in_force(kind) == DEFAULT_WORDS[kind]


@pytest.mark.django_db
def test_a_kind_the_house_does_not_send_is_a_kind_404(as_owner, owner):
    assert as_owner.get(page_of("sermon")).status_code == 404
    assert as_owner.post(page_of("sermon"), OWN).status_code == 404
    with pytest.raises(models.NoticeText.DoesNotExist):
        words.write("sermon", **OWN, by=owner, now=NOW)


@pytest.mark.django_db
def test_words_that_are_too_long_or_of_another_script_are_a_clear_answer(as_owner):
    long = as_owner.post(page_of("invitation"), OWN | {"body": "{link}" + "x" * 5000})
    assert long.status_code == 422
    as_owner.post(page_of("invitation"), {"subject": "שלום {name} 🌿", "body": "<b>{link}</b>"})
    assert "שלום Ada Merrow 🌿" in as_owner.get(page_of("invitation")).content.decode()
    assert "&lt;b&gt;http" in as_owner.get(page_of("invitation")).content.decode()


@pytest.mark.django_db
def test_each_change_of_words_is_in_the_audit(owner):
    usual = DEFAULT_WORDS["invitation"]
    words.write("invitation", **OWN, by=owner, now=NOW)
    words.write("invitation", subject=usual.subject, body=usual.body, by=owner, now=NOW)
    with pytest.raises(Refused):
        words.write("invitation", subject="", body="", by=owner, now=NOW)
    assert list(models.AuditEntry.objects.values_list("verb", "model").order_by("pk")) == [
        ("write words", "studio.noticetext"),
        ("take usual words", "studio.noticetext"),
    ]


@pytest.mark.django_db
def test_the_list_of_words_is_one_query(django_assert_num_queries):
    models.NoticeText.objects.create(kind="invitation", subject="Mine", body="{link}")
    with django_assert_num_queries(1):
        found = {row.kind: (row.subject, row.own) for row in queries.words()}
    assert found["invitation"] == ("Mine", True) and not found["form_link"][1]
