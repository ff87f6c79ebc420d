"""The card's consents, two cards made one, and a list brought in, as the desk does it in a browser."""

from uuid import uuid4

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.urls import reverse

from clients import actions, models, queries
from tests import make_clients as make
from tests.make_clients import NOW

pytestmark = pytest.mark.django_db


def page(name, *keys):
    return reverse(f"clients:{name}", args=keys)


def two():
    kept = make.client("Ruvena Tarnelow", phone="111")
    return kept, make.client("Ruvena Tarnelov", phone="222", different_from=(kept.pk,))


def upload(client, text, name="list.csv"):
    content = text if isinstance(text, bytes) else text.encode()
    return client.post(page("import"), {"file": SimpleUploadedFile(name, content, "text/csv")})


# --- consents --------------------------------------------------------------------------------------------------------


def test_a_consent_told_at_the_desk_is_on_the_card_and_is_taken_back_there(as_desk):
    client = make.client()
    told = {"deed": "give", "kind": "touch", "given_by": "Ruvena Tarnelow"}
    assert as_desk.post(page("consents", client.pk), told).url == page("card", client.pk)
    shown = as_desk.get(page("card", client.pk)).content.decode()
    assert "given by <bdi>Ruvena Tarnelow</bdi>, noted by <bdi>Wilma Ostrander</bdi>" in shown
    as_desk.post(page("consents", client.pk), {"deed": "take_back", "kind": "touch"})
    assert queries.open_consent(client.pk, "touch") is None


@pytest.mark.parametrize(
    "told",
    [
        {},
        {"deed": "give", "kind": "touch", "given_by": ""},
        {"deed": "give", "kind": "dance", "given_by": "R"},
        {"deed": "x"},
    ],
)
def test_a_consent_that_is_none_is_answered_with_words(as_desk, told):
    client = make.client()
    answer = as_desk.post(page("consents", client.pk), told)
    assert answer.status_code == 422 and "Nothing was changed." in answer.content.decode()
    assert not client.consents.exists()


def test_touch_given_more_than_a_year_ago_is_due(as_desk):
    client = make.client()
    actions.give_consent(client.pk, kind="touch", given_by="Ruvena", by=None, now=NOW.replace(year=2020))
    assert "ask again" in as_desk.get(page("card", client.pk)).content.decode()


# --- two cards of one person -----------------------------------------------------------------------------------------


def test_the_desk_finds_the_other_card_sees_both_and_makes_them_one(as_desk):
    kept, gone = two()
    assert "Ruvena Tarnelov" in as_desk.get(page("same-person", kept.pk)).content.decode()
    assert "Ruvena Tarnelov" in as_desk.post(page("same-person", kept.pk), {"text": "222"}).content.decode()
    shown = as_desk.get(page("merge", kept.pk, gone.pk)).content.decode()
    assert "No lesson, program, form or letter is on the other card." in shown and "222" in shown
    choices = {"name": "kept", "phone": "gone"}
    assert as_desk.post(page("merge", kept.pk, gone.pk), choices).url == page("card", kept.pk)
    assert as_desk.get(page("card", gone.pk)).url == page("card", kept.pk)
    merge = models.Merge.objects.get()
    assert "Undo the merge" in as_desk.get(page("card", kept.pk)).content.decode()
    as_desk.post(page("merge-undo", merge.pk))
    assert as_desk.get(page("card", gone.pk)).status_code == 200


@pytest.mark.parametrize("choices", [{}, {"name": "neither", "phone": "kept"}])
def test_a_merge_without_a_choice_for_each_field_changes_nothing(as_desk, choices):
    kept, gone = two()
    answer = as_desk.post(page("merge", kept.pk, gone.pk), choices)
    assert answer.status_code == 409 and "Nothing was changed." in answer.content.decode()
    assert not models.Merge.objects.exists()


def test_a_card_is_not_merged_with_itself_or_with_nobody(as_desk):
    kept, _ = two()
    assert as_desk.post(page("merge", kept.pk, kept.pk), {}).status_code == 409
    assert as_desk.get(page("merge", kept.pk, uuid4())).status_code == 404
    assert as_desk.post(page("merge-undo", uuid4())).status_code == 404


def test_an_instructor_does_not_merge_cards(as_instructor):
    kept, gone = two()
    assert as_instructor.get(page("merge", kept.pk, gone.pk)).status_code == 403
    assert "This is the same person" not in as_instructor.get(page("card", kept.pk)).content.decode()


def test_the_old_card_is_not_changed_any_more(as_desk):
    kept, gone = two()
    actions.merge_clients(kept.pk, gone.pk, choices={}, by=None, now=NOW)
    answer = as_desk.post(page("change", gone.pk), {"name": "Somebody Else"})
    assert "This card is one with another now" in answer.content.decode()


# --- a list ----------------------------------------------------------------------------------------------------------


def test_a_list_is_looked_at_corrected_and_brought_in(as_desk):
    make.client("Odalys Venn")
    address = upload(as_desk, "Wer;Born\nAda Quill;31.05.1985\nOdalys Venn;\nX Y;soon\n").url
    assert "Which column holds the name?" in as_desk.get(address).content.decode()
    (found,) = models.ClientImport.objects.all()
    told = {"column_0": "name", "column_1": "born_on", "days": "day_first"}
    assert as_desk.post(page("import-columns", found.pk), told).url == address
    shown = as_desk.get(address)
    text = shown.content.decode()
    assert "Not brought in: 1" in text and "Perhaps here already: 1" in text and "Will be added: 1" in text
    rest = as_desk.get(page("import-rest", found.pk))
    assert rest["Content-Type"].startswith("text/csv") and rest["Content-Disposition"].startswith("attachment")
    assert rest.content.startswith(b"\xef\xbb\xbfLine,Wer,Born,Why")
    as_desk.post(address, {"seen": shown.context["preview"].seen, "also": ["3"]})
    assert models.Client.objects.count() == 3
    as_desk.post(page("import-take-back", found.pk))
    assert models.Client.objects.count() == 1


@pytest.mark.parametrize("content", [b"", b"Name\n", b"\x89PNG\r\n\x1a\n\x00\x01", b'Name\n"Ada'])
def test_a_file_that_is_no_list_is_answered_beside_the_field(as_desk, content):
    answer = upload(as_desk, content)
    assert answer.status_code == 422
    assert answer.context["form"].errors["file"]
    assert not models.ClientImport.objects.exists()


def test_no_file_at_all_is_answered_beside_the_field(as_desk):
    assert as_desk.post(page("import"), {}).status_code == 422


def test_a_health_column_is_refused_with_kind_words(as_desk):
    upload(as_desk, "Name,Injuries\nAda Quill,knee\n")
    (found,) = models.ClientImport.objects.all()
    told = {"column_0": "name", "column_1": "notes", "days": "iso"}
    answer = as_desk.post(page("import-columns", found.pk), told)
    assert answer.status_code == 422 and "It belongs on the client’s own form" in answer.content.decode()


def test_a_line_that_is_not_there_and_an_old_look_are_refused(as_desk):
    address = upload(as_desk, "Name\nAda Quill\n").url
    seen = as_desk.get(address).context["preview"].seen
    assert as_desk.post(address, {"seen": seen, "also": ["99"]}).status_code == 422
    make.client("Ada Quil")
    answer = as_desk.post(address, {"seen": seen})
    assert answer.status_code == 422 and "Please look again" in answer.content.decode()


def test_a_list_that_is_over_is_answered_with_words(as_desk):
    address = upload(as_desk, "Name\nAda Quill\n").url
    (found,) = models.ClientImport.objects.all()
    as_desk.post(page("import-leave", found.pk))
    assert as_desk.get(address).url == page("import")
    for name in ("import-columns", "import-leave", "import-take-back"):
        assert as_desk.post(page(name, found.pk)).url == page("import")
    assert "brought in or left already" in as_desk.get(page("import")).content.decode()


def test_a_page_of_the_longest_list_stays_small(as_desk):
    rows = "".join(f"Client {number:04d} Q{number * 7919},bad{number}\n" for number in range(2000))
    answer = as_desk.get(upload(as_desk, f"Name,Email\n{rows}").url)
    assert len(answer.content) < 60 * 1024
