"""Springs side by side: the linear spring law (Hooke), with an initial tension as Shigley has it for extension springs.

Shigley, Mechanical Engineering Design, chapter on extension springs, is from memory. Linearity up to 100 % of the free
length was read in the abstract of Morais Netto and others (Perspectivas Online, article 333).
"""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from scheduling.rules import springs
from scheduling.rules.springs import SpringFact
from studio.rules import Refused
from tests.reference import table

LIGHT, MEDIUM, HEAVY = SpringFact(100, 0.05, "light"), SpringFact(200, 0.05, "medium"), SpringFact(350, 0.05, "heavy")
inventories = st.lists(
    st.builds(SpringFact, st.floats(60, 500), st.floats(0, 0.1), st.sampled_from(springs.CLASSES)), max_size=5
)


def test_heavy_medium_and_light_pull_together_with_292_and_a_half_newtons():
    # linear spring law, K x + P with P the initial tension (Shigley, from memory); the default springs are assumptions
    assert springs.force([HEAVY, MEDIUM, LIGHT], 0.40) == pytest.approx(292.5)


@pytest.mark.parametrize("row", table("springs_default"), ids=lambda row: row["stiffness_class"])
def test_the_forces_of_the_default_springs_are_those_of_their_own_line(row):
    # linear spring law; the numbers themselves are assumptions of the studio, and the table says so
    spring = SpringFact(float(row["k_n_per_m"]), float(row["x0_m"]), row["stiffness_class"])
    assert springs.force([spring], 0) == pytest.approx(float(row["force_at_rest_n"]))
    assert springs.force([spring], 0.40) == pytest.approx(float(row["force_at_0_40_m_n"]))
    assert (row["status"], row["source_ids"]) == ("uncalibrated", "studio_default")


@given(inventories, st.floats(0, 0.5), st.floats(0.01, 0.5))
def test_what_is_given_outward_comes_back_so_a_whole_repetition_nets_to_nothing(some, start, travel):
    # linear spring law: the energy kept in a spring depends on its extension alone
    out = springs.work_outward(some, start, start + travel)
    back = springs.work_outward(some, start + travel, start)
    assert out + back == pytest.approx(0, abs=1e-9)


@given(inventories, st.floats(0, 0.4), st.floats(0.01, 0.5))
def test_the_work_is_the_area_under_the_force(some, start, travel):
    # linear spring law, summed in a thousand narrow strips by their middle
    width = travel / 1000
    strips = sum(springs.force(some, start + (number + 0.5) * width) * width for number in range(1000))
    assert springs.work_outward(some, start, start + travel) == pytest.approx(strips, abs=1e-9)


def test_eight_repetitions_on_one_spring_are_174_joules_outward():
    # linear spring law integrated over the stroke; initial tension after Shigley (from memory)
    spring = SpringFact(150, 0.04, "light")
    assert 8 * springs.work_outward([spring], 0, 0.50) == pytest.approx(174.0)


def test_two_measurements_give_the_stiffness_and_the_pre_extension():
    # linear spring law: F = a + k x, x0 = a / k, the initial tension a after Shigley (from memory)
    found = springs.calibration([(0.10, 25), (0.40, 85)])
    assert (found.k, found.x0, found.r2) == (pytest.approx(200), pytest.approx(0.025), pytest.approx(1))
    assert found.warnings == ()


@given(inventories, st.floats(0, 0.5), st.floats(0.01, 0.5))
def test_mean_force_times_travel_is_the_work(some, start, travel):
    # linear spring law: the mean force is the force half way
    work = springs.work_outward(some, start, start + travel)
    assert springs.mean_force(some, start, start + travel) * travel == pytest.approx(work, abs=1e-9)


@given(inventories, inventories, st.floats(0, 0.8))
def test_forces_of_springs_side_by_side_add_up(some, others, x):
    # linear spring law, springs in parallel
    both = springs.force([*some, *others], x)
    assert both == pytest.approx(springs.force(some, x) + springs.force(others, x))


@given(st.floats(60, 500), st.floats(0, 0.1), st.lists(st.floats(0, 0.8), min_size=2, max_size=8, unique=True))
def test_calibration_finds_the_spring_that_made_the_points(k, x0, extensions):
    # least squares on an exact line gives the line back (Gauss; general knowledge)
    if max(extensions) - min(extensions) < 0.05:
        extensions = [*extensions, max(extensions) + 0.1]
    found = springs.calibration([(x, k * (x + x0)) for x in extensions])
    assert (found.k, found.x0) == (pytest.approx(k, rel=1e-6), pytest.approx(x0, abs=1e-6))


def test_a_line_that_does_not_grow_is_refused():
    for points in ([(0.1, 50), (0.4, 50)], [(0.1, 85), (0.4, 25)]):
        with pytest.raises(Refused) as refused:
            springs.calibration(points)
        assert refused.value.reasons[0].code == "stiffness_not_positive"


def test_one_extension_is_too_few_however_often_it_is_measured():
    with pytest.raises(Refused) as refused:
        springs.calibration([(0.1, 25), (0.1, 26)])
    assert refused.value.reasons[0].code == "too_few_points"


def test_points_off_the_line_are_kept_with_a_warning():
    found = springs.calibration([(0.1, 25), (0.2, 60), (0.3, 55), (0.4, 85)])
    assert found.r2 < springs.GOOD_FIT
    assert [warning.code for warning in found.warnings] == ["poor_fit"]


def test_an_inventory_is_named_from_light_to_heavy():
    assert springs.inventory_label([HEAVY, MEDIUM, LIGHT, HEAVY, MEDIUM]) == "1L 2M 2H"
    assert springs.inventory_label([]) == ""


def test_springs_within_four_percent_are_the_same_springs():
    assert springs.alike([LIGHT, HEAVY], [SpringFact(360, 0.05, "heavy"), SpringFact(102, 0.05, "light")])
    assert not springs.alike([LIGHT], [SpringFact(105, 0.05, "light")])
    assert not springs.alike([LIGHT], [LIGHT, LIGHT])


def test_a_force_counts_as_calibrated_only_when_every_spring_is():
    measured = SpringFact(100, 0.05, "light", calibrated=True)
    assert springs.calibrated([measured])
    assert not springs.calibrated([measured, HEAVY])


def test_a_spring_without_stiffness_is_none():
    with pytest.raises(ValueError, match="positive"):
        SpringFact(0, 0.05, "light")
