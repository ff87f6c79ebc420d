"""Loading the clinical reference."""

import pytest

from clients import actions, models, queries
from studio.rules import Refused
from tests import make_clients as make
from tests import reference

pytestmark = pytest.mark.django_db


def test_the_shipped_tables_become_the_rules_in_force():
    loaded = actions.load_reference(reference.tables(), now=make.NOW)
    in_force = queries.rules_in_force()
    assert loaded.is_new and in_force.digest == loaded.digest
    # 34 demands, 63 conditions
    assert (models.Demand.objects.count(), models.Condition.objects.count()) == (34, 63)
    assert models.LimitRule.objects.count() == len(in_force.rulebook.limits)
    assert in_force.reviewed_on is None


def test_the_same_tables_again_change_nothing():
    actions.load_reference(reference.tables(), now=make.NOW)
    rules = set(models.LimitRule.objects.values_list("pk", flat=True))
    assert not actions.load_reference(reference.tables(), now=make.NOW).is_new
    assert models.RuleSet.objects.count() == 1
    assert set(models.LimitRule.objects.values_list("pk", flat=True)) == rules


def test_a_changed_table_is_only_proposed_and_the_version_in_force_stays():
    first = actions.load_reference(reference.tables(), now=make.NOW)
    name = models.Condition.objects.get(pk="C01").name
    tables = reference.tables()
    tables["conditions"][0]["name"] = "Thin bones"
    second = actions.load_reference(tables, now=make.NOW)
    assert (first.is_in_force, second.is_new, second.is_in_force) == (True, True, False)
    assert models.RuleSet.objects.get(in_force=True).digest == first.digest != second.digest
    assert models.Condition.objects.get(pk="C01").name == name != "Thin bones"
    assert not actions.load_reference(tables, now=make.NOW).is_new
    assert not actions.load_reference(reference.tables(), now=make.NOW).is_new
    assert models.RuleSet.objects.count() == 2
    assert not models.RuleRun.objects.exists()


def test_a_version_taken_over_writes_its_terms_and_the_old_one_stays():
    first = actions.load_reference(reference.tables(), now=make.NOW)
    tables = reference.tables()
    tables["conditions"][0]["name"] = "Thin bones"
    make.put_in_force(tables)
    assert models.Condition.objects.get(pk="C01").name == "Thin bones"
    assert models.RuleSet.objects.filter(digest=first.digest, in_force=False).exists()


def test_a_proposed_version_brings_its_new_demands_for_the_exercises_that_come_with_it():
    actions.load_reference(reference.tables(), now=make.NOW)
    definition = models.Demand.objects.get(code="rolling").definition
    tables = reference.tables()
    rolling = next(row for row in tables["demands"] if row["code"] == "rolling")
    tables["demands"].append({**rolling, "code": "hovering", "name": "Hovering"})
    rolling["definition"] = "otherwise"
    assert not actions.load_reference(tables, now=make.NOW).is_in_force
    assert models.Demand.objects.filter(code="hovering").exists()
    assert models.Demand.objects.get(code="rolling").definition == definition


def test_a_broken_table_is_refused_by_file_and_line_and_nothing_changes():
    tables = reference.tables()
    tables["limits"][2]["demand"] = "no_such_demand"
    with pytest.raises(Refused) as refused:
        actions.load_reference(tables, now=make.NOW)
    # Line 1 of a file is its header, so the third row stands on line 4.
    assert refused.value.reasons[0].says.startswith("limits.csv, line 4:")
    assert not models.RuleSet.objects.exists()
    assert not models.Demand.objects.exists()


def test_nothing_is_screened_before_a_reference_is_loaded():
    with pytest.raises(Refused) as refused:
        queries.rules_in_force()
    assert refused.value.reasons[0].code == "no_rules"


def test_the_rule_book_is_parsed_once_a_version(django_assert_num_queries):
    actions.load_reference(reference.tables(), now=make.NOW)
    queries.rules_in_force()
    with django_assert_num_queries(1):
        queries.rules_in_force()
