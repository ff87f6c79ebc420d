"""V1, each part met and broken: owned, introduced earlier, waived, the deadlock, and circles. Common practice."""

from dataclasses import replace

from clients.rules.outcomes import Level
from programming.rules import validation
from programming.rules.timing import Slot
from tests.programming.reference import FOUNDATION, REPERTOIRE, TIMES, lines


def asking(*pairs):
    """The reference with other prerequisites: (exercise, its groups)."""
    changed = {name: replace(REPERTOIRE[name], prerequisites=groups) for name, groups in pairs}
    return {**REPERTOIRE, **changed}


def v1(*ids, owned=(), repertoire=REPERTOIRE, **more):
    return validation.prerequisites_owned(lines(*ids), repertoire, owned=owned, **more)


def test_who_owns_frogs_leg_circles_and_the_pelvic_lift_may_add_the_short_spine():
    # The worked example: R-SSP asks for R-FRO, R-LEG and R-PEL.
    assert v1("R-SSP", owned={"R-FRO", "R-LEG", "R-PEL"}) == []


def test_a_missing_prerequisite_blocks_and_may_be_waived():
    found = v1("R-SSP", owned={"R-FRO", "R-LEG"})
    assert [(one.rule, one.severity, one.is_waivable) for one in found] == [("V1", validation.Severity.BLOCK, True)]
    assert found[0].says.endswith("asks for Pelvic lift first")


def test_a_prerequisite_introduced_earlier_in_the_program_is_enough_and_one_that_comes_later_is_not():
    owned = {"R-FRO", "R-LEG", *(item for group in REPERTOIRE["R-PEL"].prerequisites for item in group)}
    assert v1("R-PEL", "R-SSP", owned=owned) == []
    assert len(v1("R-SSP", "R-PEL", owned=owned)) == 1


def test_one_member_of_each_group_is_enough():
    either = asking(("R-HUN", (("R-FW1", "M-01"), ("R-FW2",))))
    hundred = [replace(line, row=either[line.row.id]) for line in lines("R-HUN")]
    assert validation.prerequisites_owned(hundred, either, owned={"M-01", "R-FW2"}) == []
    assert len(validation.prerequisites_owned(hundred, either, owned={"R-FW1", "M-01"})) == 1


def test_the_owner_of_an_exercise_is_asked_for_nothing():
    assert v1("R-SSP", owned={"R-SSP"}) == []


def test_a_waived_exercise_passes_and_the_waiver_of_another_does_not_help():
    assert v1("R-SSP", waived={"R-SSP"}) == []
    assert len(v1("R-SSP", waived={"R-PEL"})) == 3


def test_a_prerequisite_that_is_blocked_for_the_client_offers_the_waiver():
    blocking = dict.fromkeys(REPERTOIRE["R-PEL"].demands - REPERTOIRE["R-PEL"].removable, Level.AVOID)
    assert blocking, "the pelvic lift has something that cannot be taken out"
    (found,) = v1("R-SSP", owned={"R-FRO", "R-LEG"}, levels=blocking)
    assert found.is_waivable
    assert found.says.endswith("waive it when a teacher has seen an equivalent")


def test_the_reference_has_no_circle_of_prerequisites():
    assert validation.cycle(REPERTOIRE) == ()


def test_two_exercises_that_ask_for_each_other_are_a_circle_and_it_is_named():
    circle = asking(("R-FW1", (("R-FW2",),)), ("R-FW2", (("R-FW1",),)))
    assert validation.cycle(circle) == ("R-FW1", "R-FW2", "R-FW1")


def test_an_alternative_that_leads_around_opens_the_circle():
    around = asking(("R-FW1", (("R-FW2", "R-HUN"),)), ("R-FW2", (("R-FW1",),)), ("R-HUN", ()))
    assert validation.cycle(around) == ()


def test_a_template_with_a_circle_is_told_where_it_is_locked():
    circle = asking(("R-FW1", (("R-FW2",),)), ("R-FW2", (("R-FW1",),)))
    found = validation.report(lines("R-FW1", "T-01"), circle, TIMES, slot=Slot(3300))
    assert [(one.rule, one.line) for one in found if one.rule == "V1"] == [("V1", "0")]
    assert "goes in a circle" in found[0].says
    assert not [
        one for one in validation.report(lines(*FOUNDATION), REPERTOIRE, TIMES, slot=Slot(3300)) if one.rule == "V1"
    ]


def test_a_circle_stops_nobody_who_owns_the_exercise():
    circle = asking(("R-FW1", (("R-FW2",),)), ("R-FW2", (("R-FW1",),)))
    footwork = [replace(line, row=circle[line.row.id]) for line in lines("R-FW1")]

    def rules(owned):
        found = validation.personal(footwork, circle, TIMES, slot=Slot(3300), levels={}, owned=owned)
        return [one.rule for one in found if one.rule == "V1"]

    assert rules(owned={"R-FW1"}) == []
    assert rules(owned=set()) == ["V1", "V1"]
