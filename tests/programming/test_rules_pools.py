"""Repetition pools. Totals and minimums are common practice, no source; the table is `pool_rules`."""

import pytest

from programming.rules.pools import pools, whole_pools
from tests.programming.reference import REPERTOIRE
from tests.reference import table

POOLS = pools(REPERTOIRE)


@pytest.mark.parametrize("row", table("pool_rules"), ids=lambda row: f"{row['pool']}-{row['recipient_count']}")
def test_every_worked_count_of_the_table_is_shared_and_judged_alike(row):
    pool, recipient = POOLS[row["pool"]], int(row["recipient_count"])
    shares = pool.shares(recipient)
    assert list(shares) == row["donor_ids"].split(";")
    assert list(shares.values()) == [int(count) for count in row["donor_counts"].split(";")]
    assert pool.holds(shares, recipient) == (row["valid"] == "y")


def test_stomach_massage_with_a_twist_of_three_each_side_leaves_a_reach_of_four():
    assert POOLS["SM3"].shares(3) == {"R-SM3": 4}


def test_an_odd_repetition_goes_to_the_earlier_part():
    assert POOLS["KNE"].shares(7) == {"R-KN1": 7, "R-KN2": 6}


def test_a_sum_that_misses_the_total_does_not_hold():
    assert not POOLS["SM3"].holds({"R-SM3": 5}, 3)


@pytest.mark.parametrize("pool", POOLS.values(), ids=lambda pool: pool.name)
def test_the_usual_count_of_each_pool_holds(pool):
    assert pool.holds(pool.shares(pool.usual_recipient), pool.usual_recipient)


def test_a_pool_is_whole_only_with_all_its_parts():
    assert whole_pools(REPERTOIRE, {"R-KN1", "R-KN3"}) == []
    assert [pool.name for pool in whole_pools(REPERTOIRE, {"R-KN1", "R-KN2", "R-KN3"})] == ["KNE"]
