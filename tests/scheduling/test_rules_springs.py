"""Lines through measured points against exact fractions, the guard, sets of springs on a machine, the drawn line."""

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from scheduling.rules import springs
from scheduling.rules.force_line import BOTTOM, HEIGHT, LEFT, RIGHT, TOP, WIDTH, force_line
from scheduling.rules.springs import SpringFact
from tests import reference

LIGHT, MEDIUM, HEAVY = (SpringFact(*springs.USUAL[name], name) for name in springs.CLASSES)
RACK = {4: HEAVY, 9: MEDIUM, 2: LIGHT, 7: HEAVY, 5: MEDIUM}
# Centimetres and tenths of a newton, so that exact arithmetic has the same numbers.
readings = st.lists(st.tuples(st.integers(0, 80), st.integers(1, 5000)), min_size=2, max_size=8)


def exact_line(points):
    """Slope, intercept and R2 by the normal equations, in fractions."""
    xs, fs = ([Fraction(value) for value in column] for column in zip(*points, strict=True))
    n = len(points)
    spread = n * sum(x * x for x in xs) - sum(xs) ** 2
    k = (n * sum(x * f for x, f in points) - sum(xs) * sum(fs)) / spread
    a = (sum(fs) - k * sum(xs)) / n
    total = sum((f - sum(fs) / n) ** 2 for f in fs)
    missed = sum((f - a - k * x) ** 2 for x, f in points)
    return k, a, 1 - missed / total if total else Fraction(1)


@given(readings)
def test_the_line_is_that_of_the_normal_equations(typed):
    exact = [(Fraction(x, 100), Fraction(f, 10)) for x, f in typed]
    if len({x for x, _ in exact}) < 2:
        return
    k, a, r2 = exact_line(exact)
    if k <= Fraction(1, 1000):
        return
    found = springs.calibration([(float(x), float(f)) for x, f in exact])
    assert found.k == pytest.approx(float(k), rel=1e-6)
    assert found.x0 == pytest.approx(float(a / k), rel=1e-6, abs=1e-6)
    assert found.r2 == pytest.approx(float(r2), abs=1e-6)
    assert ("poor_fit" in {doubt.code for doubt in found.warnings}) == (found.r2 < 0.99)


def test_a_line_below_zero_at_rest_is_doubted():
    found = springs.calibration([(0.2, 20), (0.5, 80)])
    assert found.x0 == pytest.approx(-0.1)
    assert [doubt.code for doubt in found.warnings] == ["below_zero_at_rest"]
    assert "10.0 cm" in found.warnings[0].says


@pytest.mark.parametrize(("force", "codes"), [(37.5, []), (80, ["unusual"]), (10, ["unusual"])])
def test_a_stiffness_outside_of_its_class_is_doubted(force, codes):
    found = springs.calibration([(0.0, 5), (0.25, 5 + force)], stiffness="light")
    assert [doubt.code for doubt in found.warnings] == codes


def test_what_is_usual_for_a_class_is_what_the_reference_says():
    # fixtures/reference/springs_default.csv
    rows = {row["stiffness_class"]: row for row in reference.tables()["springs_default"]}
    assert {name: (float(row["min_k"]), float(row["max_k"])) for name, row in rows.items()} == springs.USUAL_K


@pytest.mark.parametrize("row", reference.tables()["springs_default"], ids=lambda row: row["stiffness_class"])
def test_a_default_spring_pulls_what_the_reference_says(row):
    # fixtures/reference/springs_default.csv: force at rest and at 0.40 m
    spring = SpringFact(*springs.USUAL[row["stiffness_class"]], row["stiffness_class"])
    assert springs.force([spring], 0) == pytest.approx(float(row["force_at_rest_n"]))
    assert springs.force([spring], 0.40) == pytest.approx(float(row["force_at_0_40_m_n"]))


def test_a_stretch_of_the_whole_free_length_is_warned_of_and_one_below_is_not():
    # linear up to 100 % of free length, a permanent set beyond it: netto_springs (abstract)
    spring = SpringFact(200, 0.05, "medium", free_length=0.45)
    assert springs.overstretched([spring, LIGHT], 0.40) == (spring,)
    assert springs.overstretched([spring], 0.399) == ()


def test_a_kilogram_hung_pulls_its_weight():
    # standard gravity, ISO 80000-4
    assert springs.newtons_of_mass(10) == pytest.approx(98.0665)


def test_of_each_class_the_first_from_the_foot_end_is_hooked():
    assert list(springs.hooked(RACK, "HML")) == [4, 9, 2]
    assert list(springs.hooked(RACK, "HHM")) == [4, 7, 9]


def test_a_machine_hooks_no_more_than_hangs_on_it():
    assert list(springs.hooked(RACK, "LLL")) == [2]
    assert springs.hooked(RACK, "") == {}


@pytest.mark.parametrize(
    ("value", "says"),
    [(292.5, "292 N"), (17.5, "17.5 N"), (5.0, "5.00 N"), (0.857, "0.86 N"), (99.6, "100 N"), (1234.5, "1,234 N")],
)
def test_a_figure_has_two_or_three_digits_and_its_unit(value, says):
    assert springs.told(value, "N") == says


@given(st.floats(40, 600), st.floats(-0.1, 0.2), st.lists(st.tuples(st.floats(0, 2), st.floats(0, 2000)), max_size=6))
def test_the_drawn_line_and_its_points_stay_inside_the_picture(k, x0, points):
    drawn = force_line(k, x0, points)
    places = [*drawn.line, *drawn.points]
    assert all(LEFT - 0.1 <= x <= WIDTH - RIGHT + 0.1 for x, _ in places)
    assert all(TOP - 0.1 <= y <= HEIGHT - BOTTOM + 0.1 for _, y in places)
    assert 3 <= len(drawn.across) <= 9 and 3 <= len(drawn.up) <= 9


def test_a_point_of_the_line_is_drawn_on_it():
    drawn = force_line(200, 0.05, [(0.3, 70.0)])
    (x1, y1), (x2, y2) = drawn.line
    x, y = drawn.points[0]
    assert (y - y1) * (x2 - x1) == pytest.approx((y2 - y1) * (x - x1), abs=40)
