"""A spring stretched to twice its free length keeps some of the stretch.

Source: Morais Netto, Colodete, Jorge, da Silva, Perspectivas Online, article 333 (sources.csv, netto_springs), read as
an abstract: force against extension is linear to 100 % of free length; the strongest spring takes a permanent set
beyond it.
"""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from scheduling.rules import springs
from scheduling.rules.springs import SpringFact

# An invented spring of 40 cm without pre-extension.
SPRING = SpringFact(200, 0, "medium", free_length=0.40)


@pytest.mark.parametrize(("extension", "guarded"), [(0.0, False), (0.399, False), (0.40, True), (0.55, True)])
def test_the_guard_speaks_from_a_hundred_percent_of_free_length_on(extension, guarded):
    # netto_springs: permanent set beyond 100 % of free length
    assert bool(springs.overstretched([SPRING], extension)) is guarded


def test_what_the_spring_is_stretched_at_rest_counts_too():
    # netto_springs: it is the whole extension that was measured, hence the pre-extension with it
    gear = SpringFact(200, 0.10, "medium", free_length=0.40)
    assert springs.overstretched([gear], 0.30) == (gear,)


def test_a_length_nobody_measured_is_not_judged():
    assert springs.overstretched([SpringFact(200, 0.05, "medium")], 2.0) == ()


@given(st.floats(60, 500), st.floats(0, 0.1), st.floats(0, 0.3), st.floats(0.01, 0.2))
def test_up_to_there_the_same_stretch_more_is_the_same_force_more(k, x0, start, more):
    # netto_springs: linear to 100 % of free length
    some = [SpringFact(k, x0, "medium")]
    rise = springs.force(some, start + more) - springs.force(some, start)
    again = springs.force(some, start + 2 * more) - springs.force(some, start + more)
    assert rise == pytest.approx(again)
    assert rise == pytest.approx(k * more)
