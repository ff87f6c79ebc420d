"""A fit that is not proven best says so in plain words, with the bound of the first goal that is open."""

import pytest

from programming.rules.fitting import Cost, unproven_words

COST = Cost(changed=12, replaced=5, left_out=1, nearness=9, spring_changes=7, set_up_changes=4, empty=180)


@pytest.mark.parametrize(
    ("bound", "says"),
    [
        (COST._replace(changed=9), "this one had 12 lines changed; every fit has at least 9."),
        (COST._replace(replaced=4, left_out=0), "this one had 5 lines swapped or left out; every fit has at least 4."),
        (COST._replace(left_out=0), "this one had 1 line left out; every fit has at least 0."),
        (COST._replace(spring_changes=0, empty=0), "no fit keeps more lines"),
        (COST._replace(empty=30), "up to 15 more seconds of it might be filled."),
    ],
)
def test_the_first_goal_that_is_open_is_told_with_its_bound(bound, says):
    words = unproven_words(COST, bound)
    assert words.startswith("The best fit is not proven: ") and says in words


def test_a_proven_fit_says_nothing():
    assert unproven_words(COST, COST) == ""
