"""The studio's own repertoire: changed at once or proposed, kept in versions, and never altering what was planned."""

from datetime import timedelta

import pytest

from programming import actions, models
from programming.actions import by_hand, entries, proposals
from programming.queries import exercises, logs, repertoire
from programming.queries import proposals as proposal_queries
from programming.rules import columns
from programming.rules.entries import About
from programming.rules.reference.practice import LADDERS, REPERTOIRE
from programming.rules.search import Wanted
from studio.models import AuditEntry
from studio.rules import Refused
from tests import make_programming as practice
from tests import reference
from tests.make_programming import NOW

pytestmark = pytest.mark.django_db
LATER = NOW + timedelta(days=1)
ROW, STEP = About.EXERCISE, About.STEP


def change(owner, key="R-FRO", *, about=ROW, now=NOW, **wanted: str):
    return entries.change_entry(about, key, wanted=wanted, by=owner, now=now, why="we teach it so")


def propose(teacher, key="R-FRO", *, about=ROW, **wanted: str) -> models.RepertoireProposal:
    return proposals.propose_change(about, key, wanted=wanted, why="we teach it so", by=teacher, now=NOW)


def row(key="R-FRO") -> dict[str, str]:
    return models.Exercise.objects.get(pk=key).row


def said(refused) -> str:
    return " ".join(reason.says for reason in refused.value.reasons)


def new_row(**other: str) -> dict[str, str]:
    """A reformer row of the studio's own, like the frog."""
    like = row("R-FRO")
    names = ROW.columns(is_new=True)
    own = {"exercise": "Frog on the side", "order_in_apparatus": "", "position_in_series": ""}
    return {name: like[name] for name in names} | own | other


def test_the_columns_of_the_screens_are_the_columns_of_the_tables():
    """A column the tables have and no screen shows could be changed by nobody."""
    named = set(columns.ROW_LABELS) | set(columns.NEVER_OWN) | {"id"}
    assert named == set(REPERTOIRE)
    assert set(columns.STEP_LABELS) | {"code"} == set(LADDERS)


# --- versions --------------------------------------------------------------------------------------------------------


def test_every_row_and_step_has_its_first_version(lesson):
    for kept, versions in (
        (models.Exercise, models.ExerciseVersion), (models.LadderStep, models.LadderStepVersion),
    ):  # fmt: skip
        first = {version.pk: version for version in versions.objects.filter(version=1)}
        assert len(first) == kept.objects.count() > 100
    assert all(one.versions.get(version=one.version).row == one.row for one in models.Exercise.objects.all())


def test_a_change_makes_the_next_version_and_keeps_the_one_before(lesson, owner):
    before = row()
    assert change(owner, reps_low="4", reps_high="6") == 2
    assert change(owner, reps_low="4", reps_high="6") == 2
    kept = models.ExerciseVersion.objects.filter(exercise="R-FRO").order_by("version")
    assert [one.row for one in kept] == [before, row()]
    assert (kept[1].made_by, kept[1].why) == (owner, "we teach it so")
    assert AuditEntry.objects.filter(verb="change_exercise", key="R-FRO").count() == 1


def test_nothing_planned_before_is_altered_by_a_change(lesson, owner):
    """The program, its run sheet and the last lesson keep the names they were made with."""
    program = lesson.assign()
    before = practice.view(program)
    change(owner, exercise="Something else", tempo_seconds_per_rep="9")
    after = practice.view(program)
    assert after == before
    assert not any(line.exercise == "Something else" for line in after.lines)
    lesson.teach()
    assert practice.view(program).lines == before.lines


def test_a_line_changed_by_hand_leaves_the_words_of_the_others_alone(lesson, owner):
    program = lesson.assign()
    before = practice.view(program)
    mine = program.lines.get(planned_id="R-FW1")
    change(owner, exercise="Something else")
    by_hand.change_line(program.pk, mine.pk, choice=out(lesson, program, mine), revision=0, by=lesson.teacher, now=NOW)
    names = {line.no: line.planned_name for line in practice.view(program).lines}
    assert names == {line.no: line.planned_name for line in before.lines}
    assert program.lines.get(planned_id="R-FRO").planned_version == 1


def out(lesson, program, line) -> str:
    """The key of leaving a line out."""
    opened = by_hand.open_line(program.pk, line.pk, by=lesson.teacher, now=NOW)
    return next(one.key for one in opened.choices if one.decision.value == "left_out")


def test_a_program_fitted_after_a_change_has_the_new_words(lesson, owner):
    change(owner, exercise="Something else", reps_low="4", reps_high="4")
    program = lesson.assign()
    line = program.lines.get(planned_id="R-FRO")
    assert (line.planned_version, line.reps) == (2, 4)
    assert any(line.exercise == "Something else" for line in practice.view(program).lines)


def test_the_last_lesson_is_told_in_the_words_it_was_taught_in(lesson, owner):
    line = lesson.assign().lines.exclude(decision="left_out").order_by("position")[0]
    was = str(line.exercise)
    lesson.mark(line.pk, practice.Mark.FEWER)
    log = models.Log.objects.get(place=lesson.place)
    actions.finish_as_planned(log.pk, by=lesson.teacher, now=practice.LESSON)
    change(owner, line.exercise_id, exercise="Something else")
    told = logs.last_lesson(lesson.client.pk, before=practice.LESSON + timedelta(days=9))
    assert [one.name for one in told.lines] == [was]


def test_fitting_again_after_a_change_is_a_new_program_even_when_only_words_changed(lesson, owner):
    program = lesson.assign()
    change(owner, exercise="Something else")
    again = actions.refit_program(program.pk, by=lesson.teacher, now=NOW)
    assert again.pk != program.pk


def test_the_way_back_to_an_older_version_makes_the_next_one(lesson, owner):
    before = row()
    change(owner, reps_low="4", reps_high="6")
    older = proposal_queries.columns_at(ROW, "R-FRO", "1")
    change(owner, **{name: older[name] for name in ROW.columns(is_new=False)})
    assert row() == before
    told = proposal_queries.versions(ROW, "R-FRO")
    assert [one.version for one in told] == [3, 2, 1]
    assert [(cell.label, cell.before, cell.after) for cell in told[0].differences] == [
        ("Fewest repetitions", "4", "6"),
        ("Most repetitions", "6", "10"),
    ]


@pytest.mark.parametrize("version", ["", "0", "7", "-1", "nonsense", "²", "99999999"])
def test_a_version_that_is_none_has_no_columns(lesson, version):
    assert proposal_queries.columns_at(ROW, "R-FRO", version) == {}


# --- changed at once -------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("changes", "field"),
    [
        ({"reps_low": "12", "reps_high": "4"}, "reps_high"),
        ({"springs_usual": "4", "springs_max": "2"}, "springs_usual"),
        ({"springs_min": ""}, "springs_usual"),
        ({"level": "7"}, "level"),
        ({"tempo_seconds_per_rep": "quick"}, "tempo_seconds_per_rep"),
        ({"setup_seconds": "-4"}, "setup_seconds"),
        ({"note": "x" * 400}, "note"),
        ({"exercise": ""}, "exercise"),
        ({"demands": "grip;grip"}, "demands"),
        ({"prerequisite_ids": "R-NONE"}, "prerequisite_ids"),
        ({"stretch_joint": "hip"}, "stretch_joint"),
        ({"rep_pool": "NEW"}, "rep_pool"),
        ({"equipment_setup": "footbar=sideways"}, "equipment_setup"),
        ({"equipment_setup": "headreset=down"}, "equipment_setup"),
    ],
)
def test_a_row_that_would_break_the_table_is_refused_beside_its_field(lesson, owner, changes, field):
    before = row()
    with pytest.raises(Refused) as refused:
        change(owner, **changes)
    assert field in {reason.field for reason in refused.value.reasons}
    assert row() == before and models.ExerciseVersion.objects.filter(exercise="R-FRO").count() == 1


def test_prerequisites_that_lead_in_a_circle_are_refused_with_the_circle_named(lesson, owner):
    """R-SSP asks for R-FRO first, so R-FRO cannot ask for R-SSP."""
    with pytest.raises(Refused) as refused:
        change(owner, prerequisite_ids="R-SSP")
    assert {reason.field for reason in refused.value.reasons} == {"prerequisite_ids"}
    assert said(refused).count("Frog in loops") == 2 and "Short spine" in said(refused)


def test_a_change_that_breaks_a_ladder_names_the_step(lesson, owner):
    """FW-R2 takes out lying flat: footwork must go on to say that it can be taken out."""
    with pytest.raises(Refused) as refused:
        change(owner, "R-FW1", demands_removable="hip_flex_90;knee_flex_deep")
    assert "FW-R2" in said(refused)
    assert not any(reason.field for reason in refused.value.reasons)


def test_what_it_counts_by_follows_from_how_repetitions_count(lesson, owner):
    change(owner, reps_basis="per_side")
    assert row()["side_factor"] == "2"


def test_keys_and_derived_columns_are_not_the_studios_to_change(lesson, owner):
    for name in ("id", "side_factor", "apparatus", "rtl1945_reps"):
        with pytest.raises(TypeError):
            change(owner, **{name: "1"})


def test_a_teacher_changes_nothing_at_once(lesson):
    for deed in (
        lambda: change(lesson.teacher, level="2"),
        lambda: entries.retire_entry(ROW, "M-34", by=lesson.teacher, now=NOW),
        lambda: entries.add_entry(ROW, wanted=new_row(), by=lesson.teacher, now=NOW),
    ):
        with pytest.raises(Refused) as refused:
            deed()
        assert refused.value.reasons[0].code == "owners_only"


def test_two_at_one_row_lose_nothing_the_second_is_told_what_the_first_did(lesson, owner):
    change(owner, level="2")
    with pytest.raises(Refused) as refused:
        entries.change_entry(ROW, "R-FRO", wanted={"reps_high": "8"}, seen_version=1, by=owner, now=NOW)
    assert owner.name in said(refused) and "Level" in said(refused)
    assert row()["reps_high"] == "10"


def test_a_new_row_gets_a_key_of_our_own_and_the_last_place(lesson, owner):
    key = entries.add_entry(ROW, wanted=new_row(), by=owner, now=NOW)
    made = models.Exercise.objects.get(pk=key)
    assert key == "R-OWN1" and made.reference_row is None and made.version == 1
    last = models.Exercise.objects.filter(apparatus_kind="reformer").exclude(pk=key).order_by("-order_in_apparatus")[0]
    assert made.order_in_apparatus == last.order_in_apparatus + 1
    assert set(made.exercise_demands.values_list("demand_id", flat=True)) == set(made.row["demands"].split(";"))
    assert entries.add_entry(ROW, wanted=new_row(), by=owner, now=NOW) == "R-OWN2"


def test_a_row_goes_out_of_use_only_when_nothing_leans_on_it(lesson, owner):
    with pytest.raises(Refused) as refused:
        entries.retire_entry(ROW, "R-FRO", by=owner, now=NOW)
    assert "The template Foundation order plans it" in said(refused)
    assert "asks for Frog in loops first" in said(refused)
    key = entries.add_entry(ROW, wanted=new_row(), by=owner, now=NOW)
    for _ in range(2):
        entries.retire_entry(ROW, key, by=owner, now=NOW)
    assert key not in repertoire.exercises() and key in repertoire.known_exercises([key])
    entries.bring_back(ROW, key, by=owner, now=NOW)
    assert key in repertoire.exercises()


def test_a_program_opens_after_its_template_and_its_row_went_out_of_use(lesson, owner):
    key = entries.add_entry(ROW, wanted=new_row(), by=owner, now=NOW)
    made = practice.make_template("Own words", "R-FW1", key)
    program = lesson.assign(template_id=made.pk)
    before = practice.view(program).lines
    with pytest.raises(Refused):
        entries.retire_entry(ROW, key, by=owner, now=NOW)
    models.Template.objects.filter(pk=made.pk).update(state="retired")
    entries.retire_entry(ROW, key, by=owner, now=NOW)
    assert actions.open_program(program.pk, by=lesson.teacher, now=NOW).view.lines == before
    line = program.lines.exclude(decision="left_out").order_by("position")[0]
    lesson.mark(line.pk)
    assert actions.open_sheet(lesson.place.pk, by=lesson.teacher, now=practice.LESSON).lines


def test_a_step_is_changed_added_and_retired_in_versions_too(lesson, owner):
    assert change(owner, "FW-S1", about=STEP, change="stop two notches out") == 2
    wanted = {
        "ladder": "footwork",
        "kind": "setup",
        "repertoire_ids": "R-FW1",
        "change": "a wedge",
        "when_seen": "tall",
    }
    key = entries.add_entry(STEP, wanted=wanted, by=owner, now=NOW)
    assert key == "FW-OWN1"
    shown = [line.code for line in exercises.exercise_card("R-FW1").ladders[0].steps["setup"]]
    assert shown[-1] == key
    entries.retire_entry(STEP, key, by=owner, now=NOW)
    assert key not in [line.code for line in exercises.exercise_card("R-FW1").ladders[0].steps["setup"]]


def test_an_easier_step_may_take_out_only_what_its_rows_mark_removable(lesson, owner):
    """Where ladder and repertoire disagree the repertoire wins: programs.md, section 2."""
    with pytest.raises(Refused) as refused:
        change(owner, "FW-R2", about=STEP, removes="forefoot")
    assert {reason.field for reason in refused.value.reasons} == {"removes"}


def test_a_step_for_a_row_that_is_not_there_is_refused(lesson, owner):
    with pytest.raises(Refused) as refused:
        change(owner, "FW-S1", about=STEP, repertoire_ids="R-FW1;R-NONE")
    assert refused.value.reasons[0].field == "repertoire_ids"


# --- proposed and decided --------------------------------------------------------------------------------------------


def test_a_proposal_changes_nothing_until_an_owner_takes_it_over(lesson, owner):
    asked = propose(lesson.teacher, reps_low="4", reps_high="6")
    assert row()["reps_low"] == "6"
    proposals.take_over(asked.pk, answer="good", by=owner, now=LATER)
    assert row()["reps_low"] == "4"
    version = models.ExerciseVersion.objects.get(exercise="R-FRO", version=2)
    assert lesson.teacher.name in version.why and version.made_by == owner
    assert proposals.take_over(asked.pk, by=owner, now=LATER).made_version == 2
    assert models.ExerciseVersion.objects.filter(exercise="R-FRO").count() == 2


def test_taking_a_decision_back_opens_it_again_and_puts_the_row_back(lesson, owner):
    before = row()
    asked = propose(lesson.teacher, reps_low="4", reps_high="6")
    proposals.take_over(asked.pk, by=owner, now=NOW)
    proposals.take_decision_back(asked.pk, by=owner, now=NOW)
    assert row() == before and not models.RepertoireProposal.objects.get().decision
    proposals.take_over(asked.pk, by=owner, now=NOW)
    assert row()["reps_low"] == "4"


def test_a_decision_is_not_taken_back_over_what_was_changed_since(lesson, owner):
    asked = propose(lesson.teacher, reps_low="4", reps_high="6")
    proposals.take_over(asked.pk, by=owner, now=NOW)
    change(owner, level="2")
    with pytest.raises(Refused) as refused:
        proposals.take_decision_back(asked.pk, by=owner, now=NOW)
    assert refused.value.reasons[0].code == "changed_again"
    assert (row()["reps_low"], row()["level"]) == ("4", "2")


def test_turning_down_needs_words_and_can_be_taken_back(lesson, owner):
    asked = propose(lesson.teacher, level="2")
    with pytest.raises(Refused) as refused:
        proposals.turn_down(asked.pk, answer="  ", by=owner, now=NOW)
    assert refused.value.reasons[0].field == "answer"
    proposals.turn_down(asked.pk, answer="not yet", by=owner, now=NOW)
    with pytest.raises(Refused):
        proposals.take_over(asked.pk, by=owner, now=NOW)
    proposals.take_decision_back(asked.pk, by=owner, now=NOW)
    proposals.take_over(asked.pk, by=owner, now=NOW)
    assert row()["level"] == "2"


def test_only_who_proposed_it_withdraws_it(lesson, owner):
    asked = propose(lesson.teacher, level="2")
    with pytest.raises(Refused):
        proposals.withdraw_proposal(asked.pk, by=owner, now=NOW)
    proposals.withdraw_proposal(asked.pk, by=lesson.teacher, now=NOW)
    with pytest.raises(Refused):
        proposals.take_over(asked.pk, by=owner, now=NOW)
    proposals.take_decision_back(asked.pk, by=lesson.teacher, now=NOW)
    assert proposal_queries.proposals(open_only=True)[0].id == asked.pk


def test_a_teacher_decides_nothing(lesson, owner):
    asked = propose(lesson.teacher, level="2")
    for deed in (proposals.take_over, proposals.take_decision_back):
        if deed is proposals.take_decision_back:
            proposals.turn_down(asked.pk, answer="not yet", by=owner, now=NOW)
        with pytest.raises(Refused):
            deed(asked.pk, by=lesson.teacher, now=NOW)
    with pytest.raises(Refused):
        proposals.turn_down(asked.pk, answer="no", by=lesson.teacher, now=NOW)


def test_a_proposal_without_change_or_reason_is_refused(lesson):
    with pytest.raises(Refused) as refused:
        propose(lesson.teacher, reps_low=row()["reps_low"])
    assert refused.value.reasons[0].code == "nothing_changed"
    with pytest.raises(Refused) as refused:
        proposals.propose_change(ROW, "R-FRO", wanted={"level": "2"}, why=" ", by=lesson.teacher, now=NOW)
    assert refused.value.reasons[0].field == "why"


def test_a_broken_proposal_is_refused_when_it_is_made_and_when_it_is_taken_over(lesson, owner):
    with pytest.raises(Refused):
        propose(lesson.teacher, prerequisite_ids="R-SSP")
    key = entries.add_entry(ROW, wanted=new_row(), by=owner, now=NOW)
    asked = propose(lesson.teacher, prerequisite_ids=key)
    entries.retire_entry(ROW, key, by=owner, now=NOW)
    with pytest.raises(Refused) as refused:
        proposals.take_over(asked.pk, by=owner, now=NOW)
    assert refused.value.reasons[0].field == "prerequisite_ids"
    assert not models.RepertoireProposal.objects.get().decision


def test_only_the_proposed_columns_are_taken_over_so_that_another_change_stays(lesson, owner):
    asked = propose(lesson.teacher, reps_high="12")
    change(owner, level="2", reps_high="9")
    view = proposal_queries.proposal(asked.pk)
    assert [(one.label, one.before, one.after, one.then) for one in view.differences] == [
        ("Most repetitions", "9", "12", "10")
    ]
    with pytest.raises(Refused) as refused:
        proposals.take_over(asked.pk, seen_version=1, by=owner, now=NOW)
    assert refused.value.reasons[0].code == "changed_meanwhile"
    proposals.take_over(asked.pk, seen_version=view.seen_version, by=owner, now=NOW)
    assert (row()["reps_high"], row()["level"]) == ("12", "2")


def test_a_new_row_is_proposed_taken_over_taken_back_and_wanted_after_all(lesson, owner):
    asked = proposals.propose_new(ROW, wanted=new_row(), why="for the side", by=lesson.teacher, now=NOW)
    assert not models.Exercise.objects.filter(pk="R-OWN1").exists()
    proposals.take_over(asked.pk, by=owner, now=NOW)
    assert "R-OWN1" in repertoire.exercises()
    proposals.take_decision_back(asked.pk, by=owner, now=NOW)
    assert "R-OWN1" not in repertoire.exercises()
    proposals.take_over(asked.pk, by=owner, now=NOW)
    assert "R-OWN1" in repertoire.exercises() and models.Exercise.objects.filter(pk__contains="OWN").count() == 1


def test_going_out_of_use_is_proposed_too(lesson, owner):
    with pytest.raises(Refused):
        proposals.propose_retiring(ROW, "R-FRO", why="never taught", by=lesson.teacher, now=NOW)
    key = entries.add_entry(ROW, wanted=new_row(), by=owner, now=NOW)
    asked = proposals.propose_retiring(ROW, key, why="never taught", by=lesson.teacher, now=NOW)
    proposals.take_over(asked.pk, by=owner, now=NOW)
    assert key not in repertoire.exercises()
    proposals.take_decision_back(asked.pk, by=owner, now=NOW)
    assert key in repertoire.exercises()


# --- the reference again ---------------------------------------------------------------------------------------------


def test_a_reload_keeps_what_was_changed_added_and_taken_out_of_use_here(lesson, owner):
    change(owner, reps_low="4", reps_high="4")
    change(owner, "FW-S1", about=STEP, change="stop two notches out")
    row_key = entries.add_entry(ROW, wanted=new_row(), by=owner, now=NOW)
    step = {"ladder": "footwork", "kind": "setup", "repertoire_ids": "R-FW1", "change": "a wedge"}
    step_key = entries.add_entry(STEP, wanted=step, by=owner, now=NOW)
    entries.retire_entry(STEP, "FW-S2", by=owner, now=NOW)
    incoming = reference.tables()
    incoming["repertoire"][1]["reps_high"] = "11"
    incoming["ladders"][0]["change"] = "something new"
    plan = actions.preview_load(incoming)
    assert not plan.changes_nothing
    actions.load_reference(incoming, now=LATER)
    assert row()["reps_high"] == "4" and row("R-FW2")["reps_high"] == "11"
    assert models.Exercise.objects.get(pk=row_key).retired_at is None
    kept = {step.pk: step for step in models.LadderStep.objects.filter(pk__in=("FW-S1", "FW-S2", step_key))}
    assert kept["FW-S1"].row["change"] == "stop two notches out"
    assert kept["FW-S1"].reference_row["change"] == "something new"
    assert kept["FW-S2"].retired_at and kept[step_key].retired_at is None
    assert models.ExerciseVersion.objects.get(exercise="R-FW2", version=2).why == "taken over from the reference"
    assert actions.preview_load(incoming).changes_nothing


def test_a_reload_that_would_not_go_with_our_own_rows_is_refused_and_says_which(lesson, owner):
    incoming = reference.tables()
    told = str([[one["prerequisite_ids"] for one in incoming["repertoire"]], incoming["ladders"]])
    leaf = next(one["id"] for one in incoming["repertoire"] if one["id"] not in told and not one["rep_pool"])
    key = entries.add_entry(ROW, wanted=new_row(prerequisite_ids=leaf), by=owner, now=NOW)
    incoming["repertoire"] = [one for one in incoming["repertoire"] if one["id"] != leaf]
    with pytest.raises(Refused) as refused:
        actions.load_reference(incoming, now=LATER)
    assert key in said(refused) and leaf in said(refused)
    assert models.Exercise.objects.get(pk=leaf).retired_at is None


def test_a_step_the_reference_drops_goes_out_of_use_and_comes_back_with_it(lesson):
    incoming = reference.tables()
    dropped = incoming["ladders"].pop(0)["code"]
    actions.load_reference(incoming, now=LATER)
    assert models.LadderStep.objects.get(pk=dropped).retired_at
    actions.load_reference(reference.tables(), now=LATER)
    assert models.LadderStep.objects.get(pk=dropped).retired_at is None


# --- browsing --------------------------------------------------------------------------------------------------------


def test_the_repertoire_is_browsed_in_two_queries_however_much_is_found(lesson, django_assert_num_queries):
    with django_assert_num_queries(2):
        assert len(exercises.browse()) == 127
    with django_assert_num_queries(2):
        assert {one.id for one in exercises.browse(Wanted(words="footwork heels"))} >= {"R-FW1", "R-FW3", "R-FW4"}


def test_a_row_out_of_use_stands_last_and_is_marked(lesson, owner):
    key = entries.add_entry(ROW, wanted=new_row(), by=owner, now=NOW)
    assert next(one for one in exercises.browse() if one.id == key).is_edited
    entries.retire_entry(ROW, key, by=owner, now=NOW)
    assert exercises.browse()[-1].id == key and exercises.browse()[-1].is_retired


def test_the_card_of_a_row_holds_all_there_is_to_say(lesson):
    card = exercises.exercise_card("R-SM3")
    assert card.pool and card.pool.total == 10 and [one.id for one in card.pool.others] == ["R-SM4"]
    assert card.stop_signs and card.ladders[0].steps["regression"] and card.ladders[0].steps["stop"]
    assert card.surroundings.before and card.demands
    easier = {one.easier for key in repertoire.exercises() for one in exercises.exercise_card(key).demands}
    assert easier == {"keeps", "takes out", "brings in"}
