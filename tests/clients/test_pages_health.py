"""The teacher's page of a client's health: readings, words put into movements, ends confirmed, the form asked again."""

from datetime import timedelta

import pytest
import time_machine
from django.urls import reverse

from clients import actions, models
from studio import models as studio_models
from tests import make_clients as make
from tests.conftest import logged_in

pytestmark = pytest.mark.django_db
DAY = timedelta(days=1)
HIP = {"H10": ["yes"], "H10.conditions": ["C26"], "C26.since": [make.TODAY.isoformat()], "C26.side": ["left"]}
IN_WORDS = {"H16": ["leave_out"], "H16.terms": ["other"], "H16.words": ["no cartwheels, said my surgeon"]}


@pytest.fixture(autouse=True)
def reference(db):
    make.load_reference()


@pytest.fixture(autouse=True)
def today():
    with time_machine.travel(make.NOW, tick=False) as clock:
        yield clock


def cared(instructor, told=None):
    client = make.client()
    make.signed_form(client, told)
    make.care(client, instructor)
    return client


def post(browser, route, key, /, **data):
    return browser.post(reverse(f"clients:{route}", args=[key]), data)


def look(browser, client):
    return browser.get(reverse("clients:health", args=[client.pk])).content.decode().split("<main")[-1]


def test_a_teacher_takes_readings_and_comes_back_to_the_page(as_instructor, instructor):
    client = cared(instructor)
    sent = post(as_instructor, "readings", client.pk, systolic_1="118", diastolic_1="76", heart_rate="64")
    assert (sent.status_code, sent.headers["Location"]) == (302, reverse("clients:health", args=[client.pk]))
    assert "118/76, 64 beats a minute" in look(as_instructor, client)


def test_400_over_20_comes_back_as_a_question_beside_the_field_with_what_was_typed(as_instructor, instructor):
    client = cared(instructor)
    sent = post(as_instructor, "readings", client.pk, systolic_1="400", diastolic_1="20")
    page = sent.content.decode()
    assert sent.status_code == 409
    assert "400/20 cannot be a blood pressure. Which two numbers did the device show?" in page
    assert 'value="400"' in page and not models.RestReading.objects.exists()


def test_a_rare_number_is_asked_about_with_a_box_to_tick(as_instructor, instructor):
    client = cared(instructor)
    typed = {"systolic_1": "230", "diastolic_1": "120"}
    asked = post(as_instructor, "readings", client.pk, **typed).content.decode()
    assert "Yes, the device showed this" in asked
    assert post(as_instructor, "readings", client.pk, **typed, is_sure="on").status_code == 302


def test_half_a_pressure_asks_for_the_other_half(as_instructor, instructor):
    client = cared(instructor)
    sent = post(as_instructor, "readings", client.pk, systolic_1="120")
    assert sent.status_code == 409
    assert "Both numbers are needed" in sent.content.decode()


def test_a_high_first_reading_asks_for_the_repeat_and_says_from_when(as_instructor, instructor, today):
    client = cared(instructor)
    post(as_instructor, "readings", client.pk, systolic_1="150", diastolic_1="92")
    page = look(as_instructor, client)
    assert "Measure again from 09:05" in page and "The pressure is measured again" in page
    reading = models.RestReading.objects.get()
    again = {"systolic_1": "136", "diastolic_1": "84"}
    soon = post(as_instructor, "reading-repeat", reading.pk, **again)
    assert soon.status_code == 409 and "Let five minutes pass" in soon.content.decode()
    today.shift(timedelta(minutes=5))
    assert post(as_instructor, "reading-repeat", reading.pk, **again).status_code == 302
    page = look(as_instructor, client)
    assert "150/92, then 136/84" in page and "Waits for somebody" not in page


def test_mistyped_readings_are_struck_and_stay_to_be_seen(as_instructor, instructor):
    client = cared(instructor)
    post(as_instructor, "readings", client.pk, systolic_1="190", diastolic_1="95")
    post(as_instructor, "reading-strike", models.RestReading.objects.get().pk)
    assert "Struck: no rule reads it" in look(as_instructor, client)
    assert make.open_screening(client).outcome == "clear"


def test_own_words_wait_until_they_are_put_into_movements(as_instructor, instructor):
    client = cared(instructor, IN_WORDS)
    assert "no cartwheels, said my surgeon" in look(as_instructor, client)
    empty = post(as_instructor, "restrict", client.pk, is_own_words="True", level="avoid")
    assert empty.status_code == 409 and "Which movements do the words mean?" in empty.content.decode()
    post(as_instructor, "restrict", client.pk, is_own_words="True", level="avoid", demands=["inversion"])
    page = look(as_instructor, client)
    assert "are put into movements" not in page and make.open_screening(client).outcome == "clear"
    post(as_instructor, "end-restriction", models.Restriction.objects.get().pk)
    assert not make.limits(make.open_screening(client))


def test_words_that_mean_no_movement_are_said_to(as_instructor, instructor):
    client = cared(instructor, IN_WORDS)
    sent = post(as_instructor, "restrict", client.pk, is_own_words="True", level="avoid", means_none="on")
    assert sent.status_code == 302
    assert make.open_screening(client).outcome == "clear"


def test_a_window_that_is_over_shows_what_would_follow_and_is_confirmed(instructor, today):
    client = cared(instructor, HIP)
    today.shift(84 * DAY)
    as_instructor = logged_in(instructor)
    page = look(as_instructor, client)
    assert "If you confirm, it goes on as:" in page and "Hip replacement, posterior approach, later" in page
    record = client.conditions.get(state="active")
    assert post(as_instructor, "window-end", record.pk).status_code == 302
    assert "If you confirm" not in look(as_instructor, client)
    late = post(as_instructor, "window-end", client.conditions.get(state="active").pk)
    assert late.status_code == 409 and "Its window is not over yet" in late.content.decode()


def test_what_comes_within_a_month_stands_on_the_page(as_instructor, instructor, today):
    client = cared(instructor, HIP)
    assert "Nothing changes by itself within the next 30 days" in look(as_instructor, client)
    today.shift(60 * DAY)
    assert "the last day of its window is" in look(logged_in(instructor), client)


def test_twelve_weeks_of_a_pregnancy_are_told_by_its_stages(as_instructor, instructor):
    # 20 weeks on the day: the third stage begins at 28 weeks 0 days (bounds from memory, acog_804)
    due = make.TODAY + timedelta(days=280 - 20 * 7)
    client = cared(instructor, {"H13": ["pregnant"], "H13.due": [due.isoformat()]})
    page = look(as_instructor, client)
    assert "Now 20 weeks" in page and "it will be 32 weeks" in page
    assert f"From {(make.TODAY + 56 * DAY).strftime('%-d %B')} (week 28)" in page
    assert "safe" not in page.replace("not about safety", "").casefold()


def test_the_form_is_asked_again_with_a_reason_from_the_list(as_instructor, instructor, as_desk):
    client = cared(instructor)
    wrong = post(as_instructor, "ask-again", client.pk, trigger="fall", kind="quick")
    assert wrong.status_code == 409 and "After a fall the whole form is asked." in wrong.content.decode()
    assert post(as_instructor, "ask-again", client.pk, trigger="fall", kind="full").status_code == 302
    assert "the whole form, after a fall" in look(as_instructor, client)
    card = as_desk.get(reverse("clients:card", args=[client.pk])).content.decode()
    assert "form not current" in card and "fall" not in card.split("<main")[-1].casefold()


def test_a_condition_of_the_present_form_is_settled_only_by_saying_whose_word_it_is(as_instructor, instructor):
    client = cared(instructor, {"H09": ["yes"], "H09.conditions": ["C01"]})
    record = client.conditions.get()
    asked = post(as_instructor, "settle", record.pk)
    assert asked.status_code == 409 and "Whose word is it that it is over?" in asked.content.decode()
    assert post(as_instructor, "settle", record.pk, whose_word="own_word").status_code == 302
    assert not make.limits(make.open_screening(client))


def test_who_opened_the_page_with_a_reason_goes_on_with_it(as_instructor):
    client = make.client()
    make.signed_form(client)
    typed = {"systolic_1": "118", "diastolic_1": "76"}
    refused = post(as_instructor, "readings", client.pk, **typed)
    assert refused.status_code == 409 and "Why do you need to look?" in refused.content.decode()
    kept = post(as_instructor, "readings", client.pk, **typed, why="covering at noon")
    assert kept.status_code == 200 and "118/76" in kept.content.decode()
    whys = studio_models.AuditEntry.objects.filter(verb="read_brief").values_list("why", flat=True)
    assert list(whys) == ["covering at noon"]


def test_readings_can_be_taken_before_anything_is_signed(as_instructor, instructor):
    client = make.client()
    make.care(client, instructor)
    assert post(as_instructor, "readings", client.pk, heart_rate="64").status_code == 302
    assert "64 beats a minute" in look(as_instructor, client)


def test_the_floor_lists_what_comes_by_name_and_day_without_opening_anything(instructor, today):
    client = cared(instructor, HIP)
    today.shift(54 * DAY)
    actions.look_again(now=make.NOW + 54 * DAY)
    before = studio_models.AuditEntry.objects.count()
    panel = logged_in(instructor).get(reverse("clients:coming-panel")).content.decode()
    assert client.name in panel and "a window ends" in panel and "Hip" not in panel
    assert studio_models.AuditEntry.objects.count() == before


@pytest.mark.parametrize("route", ["readings", "restrict", "ask-again"])
def test_the_desk_has_no_way_to_any_of_it(as_desk, instructor, route):
    client = cared(instructor, HIP)
    assert post(as_desk, route, client.pk).status_code == 403


def test_the_page_costs_the_same_whatever_is_on_it(as_instructor, instructor, django_assert_max_num_queries):
    client = cared(instructor, HIP | IN_WORDS)
    for _ in range(3):
        post(as_instructor, "readings", client.pk, systolic_1="118", diastolic_1="76")
        post(as_instructor, "restrict", client.pk, level="avoid", demands=["kneel"])
    with django_assert_max_num_queries(34):
        look(as_instructor, client)
