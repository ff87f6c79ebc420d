"""V10, each part met and broken, and the whole report for one person. Common practice, no source."""

import itertools

import pytest

from clients.rules.outcomes import Level
from programming.rules import validation
from programming.rules.absence import Occasion
from programming.rules.exposure import ceilings_from
from programming.rules.springs import SpringSet
from programming.rules.timing import Pace, Slot
from programming.rules.validation import People, Severity, Stretch
from studio.rules import ApparatusKind
from tests.programming.reference import FOUNDATION, REPERTOIRE, TIMES, line, lines
from tests.reference import table

ALL_KINDS = dict.fromkeys(ApparatusKind, 5)


def weighed(found):
    return [(one.rule, one.severity) for one in found]


def test_a_current_form_passes_and_one_that_ran_out_blocks():
    assert validation.screening_in_date(True) == []
    assert weighed(validation.screening_in_date(False)) == [("V10", Severity.BLOCK)]


def test_what_is_not_known_is_not_asked():
    assert validation.people_and_room(lines(*FOUNDATION), People()) == []


def test_a_row_at_the_signed_level_passes_and_one_above_blocks():
    assert validation.level_within(lines("R-SSP"), {ApparatusKind.REFORMER: 3}) == []
    found = validation.level_within(lines("R-SSP"), {ApparatusKind.REFORMER: 2})
    assert weighed(found) == [("V10", Severity.BLOCK)]


def test_a_kind_nobody_signed_is_level_two():
    assert validation.level_within(lines("R-HUN"), {}) == []
    assert len(validation.level_within(lines("R-SSP"), {ApparatusKind.TOWER: 5})) == 1


def test_an_instructor_cleared_for_apparatus_level_and_need_passes():
    people = People(
        teaches={ApparatusKind.REFORMER: 3}, needs=frozenset({"pregnancy"}), cleared_for=frozenset({"pregnancy"})
    )
    assert validation.instructor_cleared(lines("R-SSP"), people) == []


@pytest.mark.parametrize(
    ("people", "words"),
    [
        (People(teaches={ApparatusKind.REFORMER: 2}), "the instructor is not cleared for level 3 on the reformer"),
        (People(teaches={ApparatusKind.MAT: 5}), "the instructor is not cleared for level 3 on the reformer"),
        (People(needs=frozenset({"x"}), cleared_for=frozenset()), "the instructor is not cleared for this client"),
    ],
)
def test_an_instructor_not_cleared_blocks_and_is_never_told_for_what(people, words):
    (found,) = validation.instructor_cleared(lines("R-SSP"), people)
    assert (found.severity, found.says) == (Severity.BLOCK, words)


def test_new_rows_within_the_day_pass_and_one_more_warns():
    settled = Occasion(30, days_since_first=300, days_away=7)
    program = lines("R-FW1", "R-FW2", "R-FW3")
    assert validation.new_rows(program, {"R-FW1"}, settled) == []
    found = validation.new_rows(program, set(), settled)
    assert [one.says for one in found] == ["new exercises: 3; one or two new exercises a lesson for somebody settled"]
    assert weighed(found) == [("V10", Severity.WARN)]


def test_a_first_lesson_with_a_row_of_level_three_warns():
    found = validation.new_rows(lines("R-FW1", "R-SSP"), set(), Occasion(0))
    assert [(one.line, one.says) for one in found] == [("1", "level 3 in a first lesson")]


@pytest.mark.parametrize("row", table("supervision"), ids=lambda row: row["figures"])
def test_every_sum_of_the_supervision_table(row):
    found = validation.supervision_of([int(figure) for figure in row["figures"].split(";")])
    assert (found.total, found.limit) == (int(row["total"]), int(row["limit"]))
    assert (found.passes, found.reason) == (row["passes"] == "y", row["reason"])


def test_supervision_is_summed_at_every_moment_and_neighbouring_rows_do_not_meet():
    first = [Stretch(0, 60, 1), Stretch(60, 120, 3)]
    assert validation.supervision([first, [Stretch(0, 60, 3), Stretch(60, 120, 1)]]) == []
    found = validation.supervision([first, [Stretch(0, 61, 3), Stretch(61, 120, 1)]])
    assert [one.says for one in found] == ["two rows need the teacher beside in minute 2: 6, where 4 is the most"]
    assert weighed(found) == [("V10", Severity.WARN)]


def test_something_shared_is_used_once_at_a_time_and_as_often_as_there_are_of_it():
    box = frozenset({"box"})
    after = [[Stretch(0, 60, 1, box)], [Stretch(60, 120, 1, box)]]
    together = [[Stretch(0, 60, 1, box)], [Stretch(59, 120, 1, box)]]
    assert validation.shared_once(after, {}) == []
    assert validation.shared_once(together, {"box": 2}) == []
    found = validation.shared_once(together, {"box": 1})
    assert [one.says for one in found] == ["box wanted by 2 in minute 1, and there is 1"]


def test_rows_follow_each_other_after_arrival_and_fill_the_program():
    program = lines(*FOUNDATION)
    rows = validation.stretches(program, TIMES, pace=Pace.WORKING, items={"R-SB1": ["box"]})
    assert rows[0].starts == TIMES.arrival
    assert all(before.ends == after.starts for before, after in itertools.pairwise(rows))
    assert [bool(one.items) for one in rows].count(True) == 1


def everything(program, **more):
    asked = {
        "slot": Slot(3300),
        "levels": {},
        "owned": set(REPERTOIRE),
        "met": set(REPERTOIRE),
        "ceilings": ceilings_from(table("exposure_ceilings")),
        "inventory": SpringSet.of("HHMML"),
        "people": People(is_screened=True, ceilings=ALL_KINDS, teaches=ALL_KINDS),
    }
    return validation.personal(program, REPERTOIRE, TIMES, **{**asked, **more})


def test_a_program_for_somebody_without_limits_who_owns_it_has_only_the_words_of_its_template():
    assert [one.rule for one in everything(lines(*FOUNDATION))] == ["V9"]


def test_a_personal_report_speaks_of_every_rule_in_order():
    program = [
        line("R-SSP", setup={"headrest": "up"}),
        *lines("R-FW2", "R-FW1", "R-LS1"),
        line("R-MER", extra_one_side=1),
        line("R-LS6", reps=80),
        line("R-LS1", reps=20),
    ]
    found = everything(
        program,
        slot=Slot(600),
        owned=set(),
        levels={"neck_weight": Level.AVOID, "wrist_wb": Level.ADAPT},
        inventory=SpringSet.of("L"),
        people=People(is_screened=False),
    )
    assert list(dict.fromkeys(one.rule for one in found)) == [f"V{number}" for number in range(1, 11)]


def test_at_the_start_of_a_lesson_v4_v5_and_v10_are_asked_again():
    found = validation.lesson_start(
        [line("R-LS1", reps=200)],
        levels={"long_lever": Level.ADAPT, "wrist_wb": Level.AVOID},
        ceilings=ceilings_from(table("exposure_ceilings")),
        people=People(is_screened=False),
    )
    assert {"V4", "V10"} <= {one.rule for one in found} <= {"V4", "V5", "V10"}
