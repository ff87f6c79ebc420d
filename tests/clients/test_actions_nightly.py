"""The look of the night: what the days change, what is listed a month ahead, who was away; and asking anew by day."""

from concurrent.futures import ThreadPoolExecutor
from datetime import timedelta

import pytest
from django.db import connection

from clients import actions, models, queries, tasks
from studio import models as studio_models
from studio.rules import Refused, Role
from tests import make_clients as make

pytestmark = pytest.mark.django_db
DAY = timedelta(days=1)
HIP = {"H10": ["yes"], "H10.conditions": ["C26"], "C26.since": [make.TODAY.isoformat()], "C26.side": ["left"]}
HEALTH_WORDS = ("hip", "C26", "window", "letter", "condition", "limit")


@pytest.fixture(autouse=True)
def reference(db):
    make.load_reference()


@pytest.fixture
def teacher(db):
    return make.person(Role.INSTRUCTOR)


def signed(told=None, name="Ruvena Tarnelow", **words):
    client = make.client(name, **words)
    make.signed_form(client, told)
    return client


def seen(client, teacher, *, on=make.TODAY):
    actions.count_visit(client.pk, on=on, by=teacher, now=make.NOW)


def test_a_quiet_night_screens_nobody():
    signed()
    assert actions.look_again(now=make.NOW + DAY) == actions.Night()
    assert models.Screening.objects.count() == 1


def test_a_sign_told_with_yes_waits_for_a_letter_from_the_next_day_on():
    client = signed({"H17": ["fever"]})
    assert make.open_screening(client).outcome == "postpone"
    assert actions.look_again(now=make.NOW + DAY).screened == 1
    found = make.open_screening(client)
    # screening.md 4: fever postpones the day it was told of, and no other
    assert (found.outcome, found.asked_for) == ("clear", "night")


def test_the_night_may_look_twice_and_finds_nothing_the_second_time():
    signed({"H17": ["fever"]})
    assert actions.look_again(now=make.NOW + DAY).screened == 1
    assert actions.look_again(now=make.NOW + DAY) == actions.Night()


@pytest.mark.django_db(transaction=True)
def test_two_nights_at_once_screen_each_client_once(teacher):
    for name in ("Ruvena Tarnelow", "Dunmaro Oyelisk", "Farzeen Tolmandi"):
        signed({"H17": ["fever"]}, name)

    def look(_):
        try:
            return actions.look_again(now=make.NOW + DAY).screened
        finally:
            connection.close()

    with ThreadPoolExecutor(3) as nights:
        assert sum(nights.map(look, range(3))) == 3
    assert models.Screening.objects.filter(replaced_at=None).count() == 3
    assert models.Screening.objects.count() == 6


def test_the_end_of_a_window_is_listed_thirty_days_ahead_and_not_before(teacher):
    client = signed(HIP)
    # the first other day is day 84, so it is told of from day 54 on
    actions.look_again(now=make.NOW + 53 * DAY)
    assert not client.coming.exists()
    assert actions.look_again(now=make.NOW + 54 * DAY).listed == 1
    row = client.coming.get()
    assert (row.kind, row.day) == ("window_ends", make.TODAY + 84 * DAY)
    assert b"Hip" not in bytes(row.sealed_says) and "C26" not in row.mark
    assert actions.look_again(now=make.NOW + 55 * DAY) == actions.Night()


def test_a_window_that_is_over_stays_on_the_list_until_a_named_person_confirms(teacher):
    client = signed(HIP)
    make.care(client, teacher)
    for day in (54, 84, 100):
        actions.look_again(now=make.NOW + day * DAY)
    (row,) = queries.coming_of(teacher, on=make.TODAY + 100 * DAY)
    assert (row.is_waiting, row.is_cared_for, row.kind) == (True, True, "a window is over")
    record = client.conditions.get(state="active")
    actions.confirm_window_end(record.pk, by=teacher, now=make.NOW + 100 * DAY)
    assert queries.coming_of(teacher, on=make.TODAY + 100 * DAY) == []


def test_the_form_that_runs_out_is_listed_and_then_asks_for_itself(teacher):
    client = signed()
    actions.look_again(now=make.NOW + 335 * DAY)
    assert [row.kind for row in client.coming.filter(gone_at=None)] == ["form_ends"]
    actions.look_again(now=make.NOW + 365 * DAY)
    assert make.open_screening(client).outcome == "incomplete"
    assert make.standing(client, on=make.TODAY + 365 * DAY).missing == ("form",)


def test_the_usual_instructor_is_written_to_once_on_the_day_after_and_without_a_word_of_health(teacher):
    client = signed(HIP)
    seen(client, teacher)
    other = signed(HIP, "Dunmaro Oyelisk")
    seen(other, teacher)
    found = make.NOW + 54 * DAY
    assert actions.look_again(now=found).told == 0
    assert [actions.look_again(now=found + DAY).told, actions.look_again(now=found + DAY).told] == [1, 0]
    notice = studio_models.Notice.objects.get(kind="changes_ahead")
    assert (notice.contact.address, notice.values) == (teacher.email, {"name": teacher.name})
    assert not any(word in f"{notice.about}{notice.once}" for word in HEALTH_WORDS)


def test_six_weeks_away_asks_the_re_check_and_twelve_the_whole_form(teacher):
    # review_intervals.csv: 43 to 84 days a quick screening, 85 days or more the full one; common practice, no source
    client = signed()
    seen(client, teacher)
    actions.look_again(now=make.NOW + 42 * DAY)
    assert make.open_screening(client).asks_again == ""
    assert actions.look_again(now=make.NOW + 43 * DAY).asked == 1
    assert make.open_screening(client).asks_again == "quick"
    standing = make.standing(client, on=make.TODAY + 43 * DAY)
    assert (standing.word, standing.missing) == ("form not current", ("form",))
    assert actions.look_again(now=make.NOW + 85 * DAY).asked == 1
    assert make.open_screening(client).asks_again == "full"
    assert actions.look_again(now=make.NOW + 86 * DAY).asked == 0


def test_somebody_who_was_never_here_is_not_absent():
    signed()
    assert actions.look_again(now=make.NOW + 200 * DAY).asked == 0


def test_what_an_absence_asked_for_is_over_with_the_new_form(teacher):
    client = signed()
    seen(client, teacher)
    later = make.NOW + 90 * DAY
    actions.look_again(now=later)
    make.signed_form(client, now=later)
    assert make.open_screening(client).asks_again == ""
    assert actions.look_again(now=later + DAY).asked == 0


@pytest.mark.parametrize("why", ["fall", "medicine", "birth"])
def test_after_an_event_the_whole_form_is_asked_and_the_desk_learns_only_that_it_is_missing(teacher, why):
    client = signed(HIP)
    held = len(make.limits(make.open_screening(client)))
    found = actions.ask_form_again(client.pk, why=why, kind="full", by=teacher, now=make.NOW)
    assert (found.asks_again, found.asks_again_why) == ("full", "event")
    assert len(make.limits(make.open_screening(client))) == held
    assert "form" in make.standing(client).missing
    plain = [*studio_models.AuditEntry.objects.values_list("why", "detail"), *models.Screening.objects.values_list()]
    assert not any(why in str(value) for row in plain for value in row if isinstance(value, str | dict))
    make.care(client, teacher)
    assert actions.read_brief(client.pk, by=teacher, now=make.NOW).asked_again.startswith("the whole form, after a")


def test_asking_holds_through_every_later_screening_until_the_form_is_signed(teacher):
    client = signed()
    actions.ask_form_again(client.pk, why="fall", kind="full", by=teacher, now=make.NOW)
    assert make.screened_again(client).asks_again == "full"
    make.signed_form(client, now=make.NOW + DAY)
    assert make.open_screening(client).asks_again == ""


@pytest.mark.parametrize(
    ("asked", "code"),
    [
        ({"why": "fall", "kind": "quick"}, "whole_form"),
        ({"why": "gossip", "kind": "full"}, "unknown_trigger"),
        ({"why": "fall", "kind": "none"}, "unknown_kind"),
    ],
)
def test_asking_needs_a_reason_from_the_list_and_a_form_that_will_do(teacher, asked, code):
    client = signed()
    with pytest.raises(Refused) as refused:
        actions.ask_form_again(client.pk, by=teacher, now=make.NOW, **asked)
    assert refused.value.reasons[0].code == code


def test_the_desk_does_not_ask_and_a_missing_form_is_missing_anyway(teacher):
    for person, client, code in (
        (make.person(Role.DESK), signed(), "not_open"),
        (teacher, make.client("Dunmaro Oyelisk"), "no_form"),
    ):
        with pytest.raises(Refused) as refused:
            actions.ask_form_again(client.pk, why="fall", kind="full", by=person, now=make.NOW)
        assert refused.value.reasons[0].code == code


def test_asking_may_send_the_private_link_at_once(teacher):
    client = signed(email="ruvena@mail.example")
    actions.ask_form_again(client.pk, why="absence", kind="quick", by=teacher, now=make.NOW, is_sent=True)
    assert client.form_links.get(ended_at=None).kind == "quick"
    assert studio_models.Notice.objects.filter(contact=client.contact).exists()


def test_answers_that_ask_for_help_stay_in_force_unsigned_through_the_night():
    token = make.link()
    actions.save_screen(token, screen_id="safety", posted={"F21": ["yes"]}, now=make.NOW)
    found = models.Screening.objects.get(replaced_at=None)
    assert (found.outcome, found.form.signed_at) == ("emergency", None)
    actions.look_again(now=make.NOW + DAY)
    assert make.screened_again(found.client, now=make.NOW + DAY).pk == found.pk
    assert make.standing(found.client).word == "speak to the instructor"


def test_one_damaged_row_does_not_keep_the_night_from_the_others():
    broken, whole = signed({"H17": ["fever"]}), signed({"H17": ["fever"]}, "Dunmaro Oyelisk")
    models.HealthForm.objects.filter(client=broken).update(sealed_answers=b"not sealed")
    night = actions.look_again(now=make.NOW + DAY)
    assert (night.screened, night.failed) == (1, 1)
    assert make.open_screening(whole).asked_for == "night"


def test_an_idle_night_costs_the_same_for_one_and_for_five(django_assert_num_queries):
    for name in ("Ruvena Tarnelow", "Dunmaro Oyelisk", "Farzeen Tolmandi", "Iselde Brannock", "Ebbe Quillen"):
        signed(name=name)
        with django_assert_num_queries(7):
            actions.look_again(now=make.NOW + DAY)


def test_what_comes_costs_one_query(teacher, django_assert_num_queries):
    for name in ("Ruvena Tarnelow", "Dunmaro Oyelisk"):
        make.care(signed(HIP, name), teacher)
    actions.look_again(now=make.NOW + 54 * DAY)
    with django_assert_num_queries(1):
        assert len(queries.coming_of(teacher, on=make.TODAY + 54 * DAY)) == 2


def test_the_clock_runs_the_look_of_the_night():
    signed({"H17": ["fever"]})
    assert tasks.look_again() == 1
