"""The 60-second re-check, and the versions that a form leaves behind."""

from datetime import date, timedelta

import pytest

from clients import actions, models, queries
from clients.rules.outcomes import DeskWord
from studio import models as studio_models
from studio.rules import Refused, Role
from tests import make_clients as make

pytestmark = pytest.mark.django_db
LATER = make.NOW + timedelta(days=50)
QUIET = {f"F{number}": ["no"] for number in (18, 19, 20, 21, 22)}
NOTHING_NEW = {"Q.changed": ["none"], "H17": ["none"], "H17.words": [""]}


@pytest.fixture(autouse=True)
def rules(db):
    make.load_reference()


@pytest.fixture
def ruvena(db):
    client = make.client(email="ruvena@mail.example")
    make.signed_form(client, {"H09": ["yes"], "H09.conditions": ["C01"]})
    return client


def quick(client, now=LATER):
    return actions.make_form_link(client.pk, by=None, now=now, kind="quick").token


def told(token, now=LATER, **changed):
    actions.save_screen(token, screen_id="safety", posted=QUIET, now=now)
    posted = NOTHING_NEW | {name.replace("__", "."): words for name, words in changed.items()}
    return actions.save_screen(token, screen_id="recheck", posted=posted, now=now)


def sign(token, now=LATER, **words):
    return actions.sign_form(token, **({"name": "Ruvena Tarnelow", "signed_as": "client", "now": now} | words))


def standing(client, now=LATER):
    day = queries.house_day(now)
    return queries.form_standings([client.pk], on=day)[client.pk]


def test_nothing_changed_makes_a_new_signed_version_that_is_no_younger(ruvena):
    first = models.Screening.objects.get(replaced_at=None)
    token = quick(ruvena)
    assert told(token).next_screen == ""
    found = sign(token)
    assert (found.form.version, found.form.kind, found.form.whole_on) == (2, "quick", make.TODAY)
    assert found.valid_until == first.valid_until, "the twelve months do not start anew"
    assert {limit.demand for limit in make.limits(found)} == {limit.demand for limit in make.limits(first)}
    assert [form.state for form in models.HealthForm.objects.order_by("version")] == ["replaced", "signed"]


def test_the_form_stands_while_a_re_check_is_being_filled_in(ruvena):
    token = quick(ruvena)
    told(token, H17=["bad_night"])
    assert standing(ruvena).word is DeskWord.CURRENT


def test_today_is_asked_and_counts(ruvena):
    token = quick(ruvena)
    told(token, H17=["fever"])
    assert sign(token).outcome == "postpone"


def test_a_change_voids_the_form_at_once_and_opens_the_whole_one_with_the_earlier_answers(ruvena):
    token = quick(ruvena)
    saved = told(token, Q__changed=["operation", "fall"])
    assert saved.is_turned and saved.next_screen == "H01"
    assert standing(ruvena).word is DeskWord.NOT_CURRENT
    opened = actions.open_form(token, now=LATER)
    assert opened.told_on is None and opened.answers["H09.conditions"] == ["C01"]
    make.answer(token, now=LATER)
    found = sign(token)
    assert (found.form.kind, found.form.whole_on) == ("full", queries.house_day(LATER))


def test_an_emergency_in_a_re_check_reaches_the_desk(ruvena):
    token = quick(ruvena)
    saved = actions.save_screen(token, screen_id="safety", posted=QUIET | {"F20": ["yes"]}, now=LATER)
    assert saved.is_emergency and standing(ruvena).word is DeskWord.SPEAK


def test_a_re_check_left_open_is_asked_about_today_again_on_another_day(ruvena):
    token = quick(ruvena)
    told(token)
    tomorrow = LATER + timedelta(days=1)
    with pytest.raises(Refused) as refused:
        sign(token, now=tomorrow)
    assert {reason.field for reason in refused.value.reasons} == {"safety", "recheck"}
    told(token, now=tomorrow)
    assert sign(token, now=tomorrow).form.kind == "quick"


def test_nobody_gets_a_re_check_without_a_whole_form_that_stands(ruvena):
    with pytest.raises(Refused) as refused:
        quick(make.client("Odalys Venn"))
    assert refused.value.reasons[0].code == "whole_form"
    # screening.md section 6: after 12 months the whole form is asked
    assert quick(ruvena, now=make.NOW + timedelta(days=364))
    with pytest.raises(Refused):
        quick(ruvena, now=make.NOW + timedelta(days=365))


# review_intervals.csv, absence_long: 85 days or more
@pytest.mark.parametrize(("days", "is_enough"), [(84, True), (85, False)])
def test_after_more_than_twelve_weeks_away_the_whole_form_is_asked(ruvena, days, is_enough):
    models.Client.objects.filter(pk=ruvena.pk).update(last_visit=make.TODAY)
    on = make.TODAY + timedelta(days=days)
    assert (queries.why_whole(ruvena.pk, on=on) == "") is is_enough


def test_re_check_upon_re_check_never_outlives_the_whole_form(ruvena):
    for days in (100, 200, 300):
        now = make.NOW + timedelta(days=days)
        token = quick(ruvena, now=now)
        told(token, now=now)
        sign(token, now=now)
    assert queries.why_whole(ruvena.pk, on=make.TODAY + timedelta(days=364)) == ""
    assert "run out" in queries.why_whole(ruvena.pk, on=make.TODAY + timedelta(days=365))


def test_a_link_for_a_re_check_opens_the_whole_form_once_that_is_due(ruvena):
    token = quick(ruvena, now=make.NOW + timedelta(days=360))
    later = make.NOW + timedelta(days=366)
    assert actions.open_form(token, now=later).told_on is None


def test_a_question_that_was_not_asked_then_is_asked_in_the_re_check_and_voids_nothing():
    # red_flags.csv, F10: asked with pain of the spine from the age of 65
    client = make.client("Odalys Venn", born_on=date(1961, 4, 1))
    make.signed_form(client, {"H07": ["yes"], "H07.where": ["lower_back"], "H07.conditions": ["C61"]})
    token = quick(client)
    assert told(token).next_screen == "H07.signs"
    asked = next(one for one in actions.open_form(token, now=LATER).due if one.id == "H07.signs")
    posted = {field.id: ["no"] for field in asked.fields}
    assert "F10" in posted
    assert actions.save_screen(token, screen_id="H07.signs", posted=posted, now=LATER).next_screen == ""
    assert standing(client).word is DeskWord.CURRENT
    assert sign(token).form.kind == "quick"


def test_an_earlier_answer_changed_on_the_way_opens_the_whole_form():
    client = make.client("Odalys Venn", born_on=date(1961, 4, 1))
    make.signed_form(client, {"H07": ["yes"], "H07.where": ["lower_back"], "H07.conditions": ["C61"]})
    token = quick(client)
    told(token)
    asked = next(one for one in actions.open_form(token, now=LATER).due if one.id == "H07.signs")
    posted = {field.id: ["no"] for field in asked.fields} | {"F01": ["old"]}
    actions.save_screen(token, screen_id="H07.signs", posted=posted, now=LATER)
    assert standing(client).word is DeskWord.NOT_CURRENT
    assert actions.open_form(token, now=LATER).told_on is None


def test_what_a_named_person_ended_stays_ended_after_a_re_check(ruvena):
    teacher = make.person(Role.INSTRUCTOR)
    record = models.ConditionRecord.objects.get()
    actions.settle_condition(record.pk, by=teacher, now=LATER, why="a letter", whose_word="letter")
    token = quick(ruvena)
    told(token)
    assert not make.limits(sign(token))


def test_the_letter_for_a_re_check_has_words_of_its_own(ruvena):
    actions.send_form_link(ruvena.pk, by=None, now=LATER, kind="quick")
    assert studio_models.Notice.objects.get(kind="form_recheck").values["link"]


# --- versions ---------------------------------------------------------------------------------------------------------
@pytest.fixture
def teacher(ruvena):
    teacher = make.person(Role.INSTRUCTOR, name="Henrike Aldous", email="henrike@studio.example")
    make.care(ruvena, teacher)
    return teacher


def test_versions_are_listed_with_who_signed_and_no_answer_is_opened_for_it(ruvena, teacher):
    make.signed_form(ruvena, {"H09": ["no"]}, now=LATER, signature="R. Tarnelow")
    found = actions.form_versions(ruvena.pk, by=teacher, now=LATER)
    assert [(line.version, line.state, line.signed_name) for line in found.lines] == [
        (2, "signed", "R. Tarnelow"),
        (1, "replaced", "Ruvena Tarnelow"),
    ]
    assert not studio_models.AuditEntry.objects.filter(verb="read_version").exists()


def test_the_difference_is_told_before_and_after_and_both_openings_are_recorded(ruvena, teacher):
    make.signed_form(ruvena, {"H09": ["no"], "H18": ["to dance"]}, now=LATER)
    found = actions.compare_versions(ruvena.pk, older=2, newer=1, by=teacher, now=LATER)
    told = {one.question: (one.before, one.after) for one in found.differences}
    assert (found.older.version, found.newer.version) == (1, 2)
    assert told["What would you like your body to do again, or better?"] == ("not asked", "to dance")
    assert ("Yes", "No") in told.values()
    entries = studio_models.AuditEntry.objects.filter(verb="read_version", person=teacher, why="care")
    keys = {str(one) for one in models.HealthForm.objects.values_list("pk", flat=True)}
    assert set(entries.values_list("key", flat=True)) == keys


@pytest.mark.parametrize("role", [Role.INSTRUCTOR, Role.OWNER])
def test_without_care_a_reason_comes_first_and_is_recorded(ruvena, role):
    other = make.person(role, name="Odalys Venn", email="odalys@studio.example")
    with pytest.raises(Refused):
        actions.form_versions(ruvena.pk, by=other, now=LATER)
    with pytest.raises(Refused):
        actions.read_version(ruvena.pk, 1, by=other, now=LATER)
    actions.read_version(ruvena.pk, 1, by=other, now=LATER, why="she asked for a copy")
    assert studio_models.AuditEntry.objects.get(verb="read_version").why == "she asked for a copy"


def test_a_draft_is_no_version(ruvena, teacher):
    token = actions.make_form_link(ruvena.pk, by=None, now=LATER).token
    actions.save_screen(token, screen_id="H02", posted={"H02": ["no"]}, now=LATER)
    assert [line.version for line in actions.form_versions(ruvena.pk, by=teacher, now=LATER).lines] == [1]
    with pytest.raises(models.HealthForm.DoesNotExist):
        actions.read_version(ruvena.pk, 2, by=teacher, now=LATER)
