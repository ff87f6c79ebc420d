"""Drafts of templates: one change at a time, nothing lost between two teachers, each change with its way back."""

import pytest

from programming import models
from programming.actions import approvals, drafts
from programming.queries import drafts as draft_queries
from programming.queries.drafts import About
from programming.rules.building import Deed, Move, PutRow, PutSeries, SetCounts, Touch
from studio.models import AuditEntry
from studio.rules import ApparatusKind, Refused, Role
from tests import make
from tests.make_programming import NOW, template

pytestmark = pytest.mark.django_db
REFORMER = ApparatusKind.REFORMER


@pytest.fixture
def owner(lesson):
    return make.person(Role.OWNER, name="Sefarina Mault")


@pytest.fixture
def draft(lesson):
    return drafts.new_template(
        name="Evening order", aim="long and quiet", kind=REFORMER, level=2, minutes=55, by=lesson.teacher, now=NOW
    )


def edit(draft, change, by, revision=None):
    row = models.Template.objects.get(pk=draft.pk)
    return drafts.edit_draft(
        draft.pk, edit=change, revision=row.revision if revision is None else revision, by=by, now=NOW
    )


def ids(draft):
    return list(draft.lines.order_by("position").values_list("exercise_id", flat=True))


def key(draft, exercise_id):
    return draft.lines.get(exercise_id=exercise_id).pk


def now_of(draft):
    return models.Template.objects.get(pk=draft.pk)


def quiet(draft, by):
    """A draft that no rule has anything against."""
    for row in ("R-FW1", "R-FW2", "R-FRO"):
        edit(draft, PutRow(row), by)
    return now_of(draft)


def codes(caught):
    return [reason.code for reason in caught.value.reasons]


# --- one change -------------------------------------------------------------------------------------------------------
def test_a_series_is_kept_as_a_block_with_keys_that_stay(lesson, draft):
    done = edit(draft, PutSeries(REFORMER, "Stomach massage"), lesson.teacher)
    rows = list(draft.lines.order_by("position"))
    assert [row.exercise_id for row in rows] == ["R-SM1", "R-SM2", "R-SM3", "R-SM4"]
    assert {row.block for row in rows} == {1} and done.keys == tuple(row.pk for row in rows)
    edit(draft, Move(rows[3].pk, before=rows[0].pk), lesson.teacher)
    assert ids(draft) == ["R-SM4", "R-SM1", "R-SM2", "R-SM3"]
    assert key(draft, "R-SM4") == rows[3].pk


def test_each_change_counts_up_and_is_audited(lesson, draft):
    assert edit(draft, PutRow("R-HUN"), lesson.teacher).revision == 1
    assert edit(draft, Touch(Deed.FEWER_SPRINGS, key(draft, "R-HUN")), lesson.teacher).revision == 2
    assert AuditEntry.objects.filter(verb="edit_template", key=str(draft.pk), person=lesson.teacher).count() == 2


def test_a_change_that_changes_nothing_is_no_change(lesson, draft):
    edit(draft, PutRow("R-HUN"), lesson.teacher)
    assert edit(draft, Touch(Deed.BLOCK_UP, key(draft, "R-HUN")), lesson.teacher).revision == 1
    assert draft.changes.count() == 1


def test_a_name_that_is_taken_is_refused(lesson):
    with pytest.raises(Refused) as caught:
        drafts.new_template(
            name="foundation ORDER", aim="", kind=REFORMER, level=2, minutes=55, by=lesson.teacher, now=NOW
        )
    assert codes(caught) == ["name_taken"]


def test_a_later_version_keeps_its_name(lesson):
    again = approvals.next_version(template().pk, by=lesson.teacher, now=NOW)
    about = About("Another name", "", REFORMER, 2, 55)
    with pytest.raises(Refused) as caught:
        drafts.describe_draft(again.pk, about=about, revision=0, by=lesson.teacher, now=NOW)
    assert codes(caught) == ["name_of_versions"]
    drafts.describe_draft(
        again.pk, about=About(again.name, "new aim", REFORMER, 2, 50), revision=0, by=lesson.teacher, now=NOW
    )
    assert now_of(again).minutes == 50


# --- two teachers -----------------------------------------------------------------------------------------------------
def test_a_change_made_from_an_older_draft_is_refused_with_what_the_other_did(lesson, draft, owner):
    edit(draft, PutRow("R-HUN"), lesson.teacher)
    edit(draft, PutRow("R-FRO"), owner)
    with pytest.raises(Refused) as caught:
        edit(draft, PutRow("R-PEL"), lesson.teacher, revision=1)
    assert codes(caught) == ["changed_meanwhile"]
    assert "Sefarina Mault: Frog in loops is line 2." in caught.value.reasons[0].says
    assert ids(draft) == ["R-HUN", "R-FRO"]


# --- undo -------------------------------------------------------------------------------------------------------------
def test_undo_brings_back_a_line_with_its_key_its_counts_and_its_warning_that_stands(lesson, draft):
    edit(draft, PutSeries(REFORMER, "Stomach massage"), lesson.teacher)
    twist = key(draft, "R-SM4")
    drafts.let_stand(draft.pk, rule="V6", key=twist, reason="they are warm", revision=1, by=lesson.teacher, now=NOW)
    before = draft_queries.state_of(now_of(draft))
    edit(draft, Touch(Deed.OUT, twist), lesson.teacher)
    assert not draft.overrides.exists()
    drafts.undo_change(draft.pk, revision=3, by=lesson.teacher, now=NOW)
    assert draft_queries.state_of(now_of(draft)) == before
    assert key(draft, "R-SM4") == twist


def test_undo_goes_back_step_by_step_and_forward_again_until_something_new_is_done(lesson, draft):
    for row in ("R-HUN", "R-FRO", "R-PEL"):
        edit(draft, PutRow(row), lesson.teacher)
    for revision in (3, 4):
        drafts.undo_change(draft.pk, revision=revision, by=lesson.teacher, now=NOW)
    assert ids(draft) == ["R-HUN"]
    drafts.redo_change(draft.pk, revision=5, by=lesson.teacher, now=NOW)
    assert ids(draft) == ["R-HUN", "R-FRO"]
    edit(draft, PutRow("R-RUN"), lesson.teacher)
    with pytest.raises(Refused) as caught:
        drafts.redo_change(draft.pk, revision=7, by=lesson.teacher, now=NOW)
    assert codes(caught) == ["nothing_to_redo"]


def test_there_is_nothing_to_undo_in_a_new_draft(lesson, draft):
    with pytest.raises(Refused) as caught:
        drafts.undo_change(draft.pk, revision=0, by=lesson.teacher, now=NOW)
    assert codes(caught) == ["nothing_to_undo"]


def test_what_was_taken_back_is_told_to_the_other(lesson, draft, owner):
    edit(draft, PutRow("R-HUN"), lesson.teacher)
    drafts.undo_change(draft.pk, revision=1, by=owner, now=NOW)
    assert [one.told for one in draft_queries.changes_since(draft.pk, 1)] == [
        "Sefarina Mault took back: Hundred is line 1."
    ]


# --- warnings that stand ----------------------------------------------------------------------------------------------
def test_a_warning_that_stands_goes_with_its_line(lesson, draft):
    for row in ("R-HUN", "R-FRO"):
        edit(draft, PutRow(row), lesson.teacher)
    frog = key(draft, "R-FRO")
    drafts.let_stand(draft.pk, rule="V6", key=frog, reason="our own order", revision=2, by=lesson.teacher, now=NOW)
    edit(draft, Move(frog, before=key(draft, "R-HUN")), lesson.teacher)
    assert draft.overrides.get().position == 1
    edit(draft, Touch(Deed.OUT, frog), lesson.teacher)
    assert not draft.overrides.exists()


def test_a_reason_of_no_words_is_refused(lesson, draft):
    with pytest.raises(Refused) as caught:
        drafts.let_stand(draft.pk, rule="V6", key=0, reason="x", revision=0, by=lesson.teacher, now=NOW)
    assert codes(caught) == ["reason"]


# --- from draft to use ------------------------------------------------------------------------------------------------
def test_a_teachers_draft_waits_for_the_owner_and_takes_the_place_of_the_version_before(lesson, owner):
    before = template()
    after = approvals.next_version(before.pk, by=lesson.teacher, now=NOW)
    drafts.let_stand(
        after.pk, rule="V9", key=0, reason="tower follows on Thursday", revision=0, by=lesson.teacher, now=NOW
    )
    approvals.propose_template(after.pk, revision=1, by=lesson.teacher, now=NOW)
    assert now_of(after).state == "proposed" and now_of(before).state == "active"
    approvals.approve_template(after.pk, by=owner, now=NOW)
    assert now_of(after).state == "active" and now_of(before).state == "retired"
    assert template() == after and after.version == 2


def test_the_owners_own_is_in_use_at_once(owner, draft):
    quiet(draft, owner)
    assert approvals.propose_template(draft.pk, revision=3, by=owner, now=NOW).state == "active"


def test_a_template_that_a_rule_blocks_is_not_proposed(lesson, draft):
    for row in ("R-SM1", "R-SM2"):
        edit(draft, PutRow(row), lesson.teacher)
    edit(draft, Move(key(draft, "R-SM2"), before=key(draft, "R-SM1")), lesson.teacher)
    with pytest.raises(Refused) as caught:
        approvals.propose_template(draft.pk, revision=3, by=lesson.teacher, now=NOW)
    assert codes(caught) == ["v8"]


def test_a_warning_without_a_reason_is_not_proposed(lesson):
    after = approvals.next_version(template().pk, by=lesson.teacher, now=NOW)
    with pytest.raises(Refused) as caught:
        approvals.propose_template(after.pk, revision=0, by=lesson.teacher, now=NOW)
    assert codes(caught) == ["v9"] and caught.value.reasons[0].allowed == "It may stand with a reason."


def test_an_empty_draft_is_not_proposed(lesson, draft):
    with pytest.raises(Refused) as caught:
        approvals.propose_template(draft.pk, revision=0, by=lesson.teacher, now=NOW)
    assert codes(caught) == ["no_lines"]


def test_what_was_sent_back_is_a_draft_with_the_owners_words(lesson, draft, owner):
    quiet(draft, lesson.teacher)
    approvals.propose_template(draft.pk, revision=3, by=lesson.teacher, now=NOW)
    with pytest.raises(Refused):
        approvals.send_back_template(draft.pk, words=" ", by=owner, now=NOW)
    approvals.send_back_template(draft.pk, words="Add something for the back.", by=owner, now=NOW)
    assert (now_of(draft).state, now_of(draft).answer) == ("draft", "Add something for the back.")


def test_what_is_proposed_is_not_edited_until_it_is_taken_back(lesson, draft):
    quiet(draft, lesson.teacher)
    approvals.propose_template(draft.pk, revision=3, by=lesson.teacher, now=NOW)
    with pytest.raises(Refused) as caught:
        edit(draft, PutRow("R-PEL"), lesson.teacher)
    assert codes(caught) == ["no_draft"]
    approvals.take_back_template(draft.pk, by=lesson.teacher, now=NOW)
    assert edit(draft, PutRow("R-PEL"), lesson.teacher).revision == 4


def test_one_name_has_one_open_draft(lesson):
    approvals.next_version(template().pk, by=lesson.teacher, now=NOW)
    with pytest.raises(Refused) as caught:
        approvals.next_version(template().pk, by=lesson.teacher, now=NOW)
    assert codes(caught) == ["open_version"]


def test_a_copy_has_the_same_lines_and_a_name_of_its_own(lesson):
    source = template()
    first, second = (approvals.copy_template(source.pk, by=lesson.teacher, now=NOW) for _ in range(2))
    assert (first.name, second.name) == ("Foundation order, copy", "Foundation order, copy 2")
    assert ids(first) == ids(source) and first.copied_from == source


def test_what_is_retired_comes_back_where_it_was(lesson, draft, owner):
    used = template()
    with pytest.raises(Refused):
        approvals.retire_template(used.pk, by=lesson.teacher, now=NOW)
    approvals.retire_template(used.pk, by=owner, now=NOW)
    approvals.retire_template(draft.pk, by=lesson.teacher, now=NOW)
    assert {now_of(used).state, now_of(draft).state} == {"retired"}
    drafts_back = approvals.bring_back_template(draft.pk, by=lesson.teacher, now=NOW)
    assert drafts_back.state == "draft"
    with pytest.raises(Refused) as caught:
        approvals.bring_back_template(used.pk, by=owner, now=NOW)
    # The shipped order rounds more than it opens, and nobody has let that stand yet.
    assert codes(caught) == ["v9"]


def test_an_exercise_that_is_practised_no_more_keeps_a_draft_from_use_and_can_still_be_taken_out(lesson, draft):
    quiet(draft, lesson.teacher)
    models.Exercise.objects.filter(pk="R-FRO").update(retired_at=NOW)
    edit(draft, SetCounts(key(draft, "R-FW1"), reps=8), lesson.teacher)
    with pytest.raises(Refused) as caught:
        approvals.propose_template(draft.pk, revision=4, by=lesson.teacher, now=NOW)
    assert codes(caught) == ["retired_exercise"]
    edit(draft, Touch(Deed.OUT, key(draft, "R-FRO")), lesson.teacher)
    assert ids(draft) == ["R-FW1", "R-FW2"]
