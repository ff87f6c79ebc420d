"""Readings as typed: what is asked back, and which of them count beside the form."""

from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st

from clients.rules import Pressure, Readings
from clients.rules.readings import Sitting, beside_the_form, doubts

DAY = date(2026, 3, 16)


def codes(sitting):
    return [(reason.code, reason.field) for reason in doubts(sitting)]


# The bounds are from memory: they tell a slip of the hand from a reading.
@pytest.mark.parametrize(
    ("pair", "asked"),
    [
        (Pressure(400, 20), [("cannot_be", "systolic_1")]),
        (Pressure(80, 120), [("cannot_be", "systolic_1")]),
        (Pressure(120, 118), [("cannot_be", "systolic_1")]),
        (Pressure(230, 120), [("sure", "is_sure")]),
        (Pressure(180, 100), []),
        (Pressure(118, 76), []),
    ],
)
def test_a_pressure_that_cannot_be_is_asked_for_again_and_a_rare_one_is_asked_about(pair, asked):
    assert codes(Sitting(pressures=(pair,))) == asked


def test_a_rare_pressure_is_kept_once_somebody_is_sure_and_an_impossible_one_never():
    assert not doubts(Sitting(pressures=(Pressure(230, 120),), is_sure=True))
    assert doubts(Sitting(pressures=(Pressure(400, 20),), is_sure=True))


def test_a_question_repeats_the_numbers_that_were_typed():
    (asked,) = doubts(Sitting(pressures=(Pressure(400, 20),)))
    assert asked.says == "400/20 cannot be a blood pressure. Which two numbers did the device show?"


def test_two_readings_far_apart_are_asked_about():
    assert codes(Sitting(pressures=(Pressure(180, 90), Pressure(120, 80)))) == [("sure", "is_sure")]


def test_nothing_taken_is_asked_about():
    assert codes(Sitting(is_faint=True)) == [("nothing_taken", "systolic_1")]


def test_a_measured_pressure_counts_before_a_told_one():
    told = Readings(told=Pressure(150, 95))
    counted = beside_the_form(told, Sitting(pressures=(Pressure(128, 82),)), taken_on=DAY, written_on=DAY)
    assert counted.pressures == (Pressure(128, 82),)


def test_a_higher_pressure_told_after_the_sitting_is_not_hidden_by_it():
    told = Readings(told=Pressure(165, 95))
    sitting = Sitting(pressures=(Pressure(128, 82),), heart_rate=70)
    counted = beside_the_form(told, sitting, taken_on=date(2026, 1, 2), written_on=DAY)
    assert (counted.pressures, counted.told, counted.heart_rate) == ((), Pressure(165, 95), 70)


def test_without_a_sitting_the_form_stands_alone():
    told = Readings(told=Pressure(120, 80), is_treated=True)
    assert beside_the_form(told, None, taken_on=None, written_on=DAY) is told


@given(seen=st.sampled_from([None, True, False]), told=st.sampled_from([None, True, False]), older=st.booleans())
def test_signs_are_never_forgotten_but_by_a_later_sitting_that_asked(seen, told, older):
    taken_on = date(2026, 1, 2) if older else DAY
    sitting = Sitting(heart_rate=70, has_signs=seen)
    counted = beside_the_form(Readings(has_signs=told), sitting, taken_on=taken_on, written_on=DAY)
    if seen or (told and (older or seen is None)):
        assert counted.has_signs is True
    else:
        assert not counted.has_signs
