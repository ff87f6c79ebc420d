"""Readings at rest that the studio takes: kept, repeated, struck, and what they do to a screening."""

from datetime import timedelta

import pytest

from clients import actions, models
from clients.rules import Pressure
from clients.rules.readings import Sitting
from studio.rules import Refused, Role
from tests import make_clients as make

pytestmark = pytest.mark.django_db
MINUTE = timedelta(minutes=1)


@pytest.fixture(autouse=True)
def reference(db):
    make.load_reference()


@pytest.fixture
def teacher(db):
    return make.person(Role.INSTRUCTOR)


@pytest.fixture
def ruvena(teacher):
    client = make.client()
    make.signed_form(client)
    make.care(client, teacher)
    return client


def take(client, teacher, *pressures, now=make.NOW, **values):
    sitting = Sitting(pressures=tuple(Pressure(*pair) for pair in pressures), **values)
    return actions.record_readings(client.pk, sitting=sitting, by=teacher, now=now)


def code(refused):
    return refused.value.reasons[0].code


def test_a_quiet_reading_is_kept_sealed_and_leaves_the_outcome(ruvena, teacher):
    taken = take(ruvena, teacher, (118, 76), heart_rate=64)
    row = models.RestReading.objects.get()
    assert (taken.screening.outcome, taken.screening.asked_for, row.pk) == ("clear", "reading", taken.reading_id)
    assert b"118" not in bytes(row.sealed_values)


def test_a_high_first_reading_is_unfinished_until_it_is_repeated_after_five_minutes(ruvena, teacher):
    # nice_ng136: repeat a high first reading; the lower of the last two counts
    taken = take(ruvena, teacher, (150, 92))
    assert taken.screening.outcome == "incomplete"
    with pytest.raises(Refused) as refused:
        again = {"pressure": Pressure(136, 84), "by": teacher}
        actions.repeat_reading(taken.reading_id, now=make.NOW + 4 * MINUTE, **again)
    assert code(refused) == "too_soon"
    repeated = actions.repeat_reading(taken.reading_id, now=make.NOW + 5 * MINUTE, **again)
    assert repeated.screening.outcome == "clear"


def test_an_hour_later_it_is_another_sitting(ruvena, teacher):
    taken = take(ruvena, teacher, (150, 92))
    with pytest.raises(Refused) as refused:
        later = make.NOW + 61 * MINUTE
        actions.repeat_reading(taken.reading_id, pressure=Pressure(136, 84), by=teacher, now=later)
    assert code(refused) == "another_sitting"


def test_180_postpones_and_the_desk_is_told_to_speak_to_the_instructor(ruvena, teacher):
    # bacr2006, bhf2008: postpone at 180 or more
    assert take(ruvena, teacher, (180, 95)).screening.outcome == "postpone"
    assert make.standing(ruvena).word == "speak to the instructor"


def test_a_later_sitting_takes_the_place_of_the_earlier(ruvena, teacher):
    take(ruvena, teacher, (180, 95))
    assert take(ruvena, teacher, (126, 80), now=make.NOW + timedelta(days=1)).screening.outcome == "clear"


def test_struck_readings_stay_on_file_and_no_rule_reads_them(ruvena, teacher):
    taken = take(ruvena, teacher, (190, 95))
    found = actions.strike_readings(taken.reading_id, by=teacher, now=make.NOW)
    assert found.outcome == "clear"
    assert models.RestReading.objects.get().struck_by == teacher
    assert actions.strike_readings(taken.reading_id, by=teacher, now=make.NOW) is None


def test_400_over_20_is_asked_back_and_nothing_is_kept(ruvena, teacher):
    with pytest.raises(Refused) as refused:
        take(ruvena, teacher, (400, 20))
    assert code(refused) == "cannot_be"
    assert not models.RestReading.objects.exists()


def test_readings_before_the_form_is_signed_count_once_it_is(teacher):
    client = make.client()
    make.care(client, teacher)
    assert take(client, teacher, (182, 95)).screening is None
    assert make.signed_form(client).outcome == "postpone"


def test_somebody_without_care_says_why_and_the_desk_takes_none(ruvena):
    with pytest.raises(Refused) as refused:
        take(ruvena, make.person(Role.INSTRUCTOR), (118, 76))
    assert code(refused) == "say_why"
    with pytest.raises(Refused) as refused:
        take(ruvena, make.person(Role.DESK), (118, 76))
    assert code(refused) == "not_open"
