"""Looking through the repertoire finds what has all that was asked, and nothing else."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from programming.rules import search
from programming.rules.search import Asking, Wanted
from tests.programming.reference import REPERTOIRE

ROWS = list(REPERTOIRE.values())
DEMANDS = sorted({demand for row in ROWS for demand in row.demands})
AIMS = sorted({aim for row in ROWS for aim in row.purpose})


def ids(wanted: Wanted) -> set[str]:
    return {row.id for row in search.found(ROWS, wanted)}


def test_nothing_asked_finds_everything_in_its_order():
    assert search.found(ROWS, Wanted()) == ROWS
    assert Wanted().is_anything and not Wanted(level=2).is_anything


@pytest.mark.parametrize(
    ("wanted", "claim"),
    [
        (Wanted(apparatus="chair"), lambda row: row.apparatus.value == "chair"),
        (Wanted(series="Short box"), lambda row: row.series == "Short box"),
        (Wanted(aim="stamina"), lambda row: "stamina" in row.purpose),
        (Wanted(level=3), lambda row: row.level == 3),
        (Wanted(level=3, up_to=True), lambda row: row.level <= 3),
        (Wanted(position="kneeling"), lambda row: row.start_position == "kneeling"),
        (Wanted(demand="wrist_wb"), lambda row: "wrist_wb" in row.demands),
        (
            Wanted(demand="supine_flat", asking=Asking.ALWAYS),
            lambda row: "supine_flat" in row.demands & row.regressed_demands,
        ),
        (
            Wanted(demand="grip", asking=Asking.NEVER),
            lambda row: "grip" not in row.demands | row.regression_adds,
        ),
    ],
)
def test_each_choice_keeps_exactly_the_rows_that_have_it(wanted, claim):
    assert ids(wanted) == {row.id for row in ROWS if claim(row)}
    assert 0 < len(ids(wanted)) < len(ROWS)


def test_every_word_must_be_found_somewhere_without_case_or_accents():
    assert {"R-FW1", "R-FW3", "R-FW4"} <= ids(Wanted(words="FOOTWORK héels"))
    assert ids(Wanted(words="footwork heels")) < ids(Wanted(words="footwork"))
    assert ids(Wanted(words="side_waist rotation")) == ids(Wanted(words="side waist rotation"))
    assert ids(Wanted(words="\x00🦩")) == set()


@given(st.sampled_from(["", *DEMANDS]), st.sampled_from(list(Asking)), st.sampled_from(["", *AIMS]), st.integers(0, 5))
def test_asking_for_more_never_finds_more(demand, asking, aim, level):
    both = ids(Wanted(demand=demand, asking=asking, aim=aim, level=level, up_to=True))
    assert both == ids(Wanted(demand=demand, asking=asking)) & ids(Wanted(aim=aim)) & ids(
        Wanted(level=level, up_to=True)
    )
