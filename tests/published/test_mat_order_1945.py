"""The mat order of 1945 against the reference.

Source: Pilates JH, Miller WJ. Return to Life Through Contrology, 1945 (sources.csv, rtl1945; its electronic copy is
hdl.handle.net/2027/mdp.39015038069475). The order of the thirty-four exercises is the book's. Repetitions were read in
four chapters; for the others they are from memory, and the rows say so themselves.
"""

import pytest

from programming.rules.repertoire import from_tables
from programming.rules.timing import planned_seconds
from studio.rules import ApparatusKind
from tests.reference import table, tables

# The book's table of contents, in the names the studio uses. Order: Pilates and Miller 1945.
ORDER = (
    "Hundred",
    "Roll up",
    "Roll over",
    "Single leg circle",
    "Rolling like a ball",
    "Single leg stretch",
    "Double leg stretch",
    "Spine stretch",
    "Open leg rocker",
    "Corkscrew",
    "Saw",
    "Swan dive",
    "Single leg kick",
    "Double kick",
    "Neck pull",
    "Scissors",
    "Bicycle",
    "Shoulder bridge",
    "Spine twist",
    "Jack knife",
    "Side kick",
    "Teaser",
    "Hip twist",
    "Swimming",
    "Leg pull facing down",
    "Leg pull facing up",
    "Side kick kneeling",
    "Side bend",
    "Boomerang",
    "Seal",
    "Crab",
    "Rocking",
    "Control balance",
    "Push up",
)
# Repetitions read in the book, chapter by chapter: Pilates and Miller 1945.
READ = {"Roll up": 3, "Spine stretch": 3, "Swan dive": 6, "Jack knife": 3}

EXERCISES = from_tables(tables()).exercises
MAT = sorted(
    (row for row in EXERCISES.values() if row.apparatus is ApparatusKind.MAT), key=lambda row: row.order_in_apparatus
)


def test_the_thirty_four_exercises_stand_in_the_order_of_the_book():
    # Pilates and Miller 1945, order of the chapters
    assert tuple(row.exercise for row in MAT) == ORDER
    assert [row.order_in_apparatus for row in MAT] == list(range(1, 35))


def test_the_ids_count_the_order():
    # Pilates and Miller 1945, order of the chapters
    assert [row.id for row in MAT] == [f"M-{place:02}" for place in range(1, 35)]


@pytest.mark.parametrize(("exercise", "count"), READ.items())
def test_the_repetitions_that_were_read_are_the_books(exercise, count):
    # Pilates and Miller 1945, the chapter of this exercise
    row = next(row for row in MAT if row.exercise == exercise)
    assert (row.rtl1945_count, row.rtl1945_reps, row.rtl1945_source) == (count, str(count), "read")


def test_no_other_row_claims_to_have_been_read():
    assert {row.exercise for row in EXERCISES.values() if row.rtl1945_source == "read"} == set(READ)


def test_every_mat_row_says_how_its_repetitions_are_known_and_no_other_row_has_any():
    assert {row.rtl1945_source for row in MAT} == {"read", "memory-high", "memory-low"}
    assert all(row.rtl1945_source == "" for row in EXERCISES.values() if row.apparatus is not ApparatusKind.MAT)


def test_the_source_of_the_order_is_in_the_table_of_sources():
    source = next(row for row in table("sources") if row["id"] == "rtl1945")
    assert source["year"] == "1945"
    assert "Return to Life Through Contrology" in source["citation"]


@pytest.mark.parametrize("exercise", READ)
def test_the_repetitions_that_were_read_lie_in_the_studios_own_range(exercise):
    # Pilates and Miller 1945 for the count; the range is common practice, no source
    row = next(row for row in MAT if row.exercise == exercise)
    assert row.rtl1945_count is not None
    assert row.reps_low <= row.rtl1945_count <= row.reps_high
    assert planned_seconds(row, row.rtl1945_count) <= planned_seconds(row, row.reps_high)
