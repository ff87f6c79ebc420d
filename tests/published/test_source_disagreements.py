"""Where sources disagree: both positions are held, and the default in force is the one the rules keep.

Sources as named beside each point; riebe2015, acsm_guidelines10, acog_older, csep_pregnancy_guide, bhf2008, bacr2006
and sternotomy_leaflets second hand, all others read (colberg2017, heartonline_au, mottola2019, meah2020, eannucci2019,
achqc2020, nygaard2013, adams2016, acsm_pacemaker2010, sinaki1984, ros_bending, brooke_wavell2022, giangregorio2015,
review2024_bp).
"""

import pytest

from clients.rules import ActiveCondition, Level, Outcome, Pregnancy, Pressure, Readings
from clients.rules.facts import Disease
from tests.published.someone import BOOK, ago, levels, outcome, row_on

POINTS = [
    ("D01", {"riebe2015"}, {"colberg2017"}, "position a"),
    ("D02", {"bacr2006", "bhf2008"}, {"acsm_guidelines10", "review2024_bp"}, "100"),
    ("D03", {"bacr2006", "bhf2008"}, {"heartonline_au"}, "more than 100"),
    ("D04", {"mottola2019"}, {"acog_older"}, "26 weeks"),
    ("D05", {"mottola2019"}, {"meah2020"}, "discuss first"),
    ("D06", {"mottola2019"}, {"csep_pregnancy_guide"}, "adapt from 14 weeks, avoid from 28"),
    ("D07", {"eannucci2019"}, {"eannucci2019"}, "surgeon's letter; otherwise 12 weeks"),
    ("D08", {"achqc2020"}, {"nygaard2013"}, "12 weeks, studio default"),
    ("D09", {"sternotomy_leaflets"}, {"adams2016"}, "clinician's letter"),
    ("D10", {"acsm_pacemaker2010"}, {"acsm_pacemaker2010"}, "12 weeks"),
    ("D11", {"sinaki1984"}, {"ros_bending"}, "avoid loaded or end-range rounding only"),
    ("D12", {"bhf2008"}, {"brooke_wavell2022", "giangregorio2015"}, "position b"),
]


def pregnant(gestation: int, *gates: str) -> Pregnancy:
    return Pregnancy(ago(gestation - 280), frozenset(gates))


@pytest.mark.parametrize(("point_id", "sources_a", "sources_b", "default"), POINTS)
def test_both_positions_are_held_with_their_sources(point_id, sources_a, sources_b, default):
    point = BOOK.disagreements[point_id]
    assert (set(point.sources_a), set(point.sources_b)) == (sources_a, sources_b)
    assert point.default_rule == default
    assert point.position_a != point.position_b


def test_the_table_holds_these_points_and_no_other():
    assert [point_id for point_id, *_ in POINTS] == list(BOOK.disagreements)


def test_d01_diabetes_without_exercise_waits_for_a_clearance():
    # riebe2015, second hand, over colberg2017, read
    told = {"regularly_active": False, "diseases": frozenset({Disease.DIABETES})}
    assert outcome(**told) is Outcome.REFER


@pytest.mark.parametrize(("diastolic", "expected"), [(99, Outcome.REFER), (100, Outcome.POSTPONE)])
def test_d02_the_lower_of_the_two_diastolic_lines_is_in_force(diastolic, expected):
    # bacr2006, bhf2008, second hand
    assert outcome(readings=Readings((Pressure(150, diastolic),) * 2)) is expected


@pytest.mark.parametrize(("rate", "expected"), [(100, Outcome.CLEAR), (101, Outcome.POSTPONE), (120, Outcome.POSTPONE)])
def test_d03_the_lower_of_the_two_pulses_is_in_force(rate, expected):
    # bacr2006, bhf2008, second hand
    assert outcome(readings=Readings(heart_rate=rate)) is expected


@pytest.mark.parametrize(("gestation", "expected"), [(181, Outcome.CLEAR), (182, Outcome.REFER), (195, Outcome.REFER)])
def test_d04_the_earlier_of_the_two_weeks_is_in_force(gestation, expected):
    # acog_older, second hand: 26 weeks. The form lays both entries for one answer.
    assert outcome(pregnancy=pregnant(gestation, "P04", "P13")) is expected


def test_d05_twins_and_pressure_in_pregnancy_are_discussed_first():
    # mottola2019, read
    assert outcome(pregnancy=pregnant(200, "P26")) is outcome(pregnancy=pregnant(200, "P22")) is Outcome.REFER


def test_d06_lying_flat_is_adapted_in_the_middle_and_avoided_at_the_end_of_a_pregnancy():
    # csep_pregnancy_guide, second hand
    assert levels("C20")["supine_flat"] is Level.ADAPT
    assert levels("C21")["supine_flat"] is Level.AVOID


@pytest.mark.parametrize("first", ["C26", "C23", "C54", "C52"])
def test_d07_to_d10_the_house_waits_for_twelve_weeks(first):
    # eannucci2019, achqc2020, adams2016, acsm_pacemaker2010
    assert row_on(first, 83) == first
    assert row_on(first, 84) != first


def test_d11_and_d12_thin_bones_leave_out_loaded_rounding_and_nothing_of_the_effort():
    # ros_bending and brooke_wavell2022, read
    assert levels("C01")["flex_loaded"] is Level.AVOID
    assert outcome(conditions=(ActiveCondition("C01", needs_clearance=False),)) is Outcome.CLEAR
