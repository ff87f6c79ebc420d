"""Passes of the rules over every client: what they count, whom they pass over, and that a cut one goes on."""

from datetime import timedelta

import pytest

from clients import models, queries
from clients.actions import runs, workbench
from clients.queries import runs as run_queries
from studio.models import AuditEntry
from studio.rules import Refused
from tests import make_clients as make

pytestmark = pytest.mark.django_db
NOW, LATER = make.NOW, make.NOW + timedelta(days=1)
# Thin bones, told at the question about bones.
BONES = {"H09": ["yes"], "H09.conditions": ["C01"]}


@pytest.fixture(autouse=True)
def rules() -> None:
    make.load_reference()


@pytest.fixture
def stricter(owner) -> models.RuleSet:
    """Turning is avoided with thin bones, where the version in force has it changed."""
    values = {"level": "avoid", "how": "not offered"}
    base = queries.rules_in_force().id
    row = {"table": "limits", "key": "C01~rotation"}
    return workbench.propose_row(base, **row, values=values, note="Stricter", by=owner, now=NOW)


def person(name: str, told=None) -> models.Client:
    client = make.client(name)
    make.signed_form(client, told, signature=name)
    return client


def to_the_end(run: models.RuleRun, *, now=LATER, most=2) -> run_queries.RunLine:
    while runs.go_on(run.pk, now=now, most=most):
        pass
    return run_queries.run(run.pk)


def test_a_comparison_counts_everybody_and_names_who_would_change_and_how(owner, stricter):
    bonnie = person("Bonnie Reed", BONES)
    person("Cora Lindqvist")
    person("Dov Aranha")
    standing = set(models.Screening.objects.values_list("pk", flat=True))
    run = to_the_end(runs.compare_on_everybody(stricter.pk, by=owner, now=LATER))
    assert (run.state, run.total, run.done, run.changed, run.failed) == ("done", 3, 3, 1, 0)
    (move,) = run.moves
    assert move.only_limits and move.count == 1
    page = runs.who_changed(run.id, page=1, by=owner, now=LATER, why="To tell their teachers")
    (changed,) = page.clients
    assert changed.client_id == bonnie.pk
    levels = {(one.demand, one.before, one.after) for one in changed.limits}
    # Turned and rounded at once is avoided already, so only turning itself moves.
    assert levels == {("rotation", "adapt", "avoid")}
    # Nothing was decided anew.
    assert set(models.Screening.objects.values_list("pk", flat=True)) == standing


def test_each_client_a_comparison_opens_is_recorded(owner, stricter):
    client = person("Bonnie Reed", BONES)
    to_the_end(runs.compare_on_everybody(stricter.pk, by=owner, now=LATER))
    entry = AuditEntry.objects.get(verb="compare_rules")
    assert (entry.kind, entry.client_key, entry.person, entry.actor) == ("read", client.pk, None, runs.ACTOR)


def test_names_are_shown_only_for_a_reason_and_each_is_recorded(owner, stricter):
    client = person("Bonnie Reed", BONES)
    run = to_the_end(runs.compare_on_everybody(stricter.pk, by=owner, now=LATER))
    with pytest.raises(Refused) as refused:
        runs.who_changed(run.id, page=1, by=owner, now=LATER, why="  ")
    assert refused.value.reasons[0].field == "why"
    assert not AuditEntry.objects.filter(verb="read_rule_change").exists()
    runs.who_changed(run.id, page=1, by=owner, now=LATER, why="To tell their teachers")
    entry = AuditEntry.objects.get(verb="read_rule_change")
    assert (entry.person, entry.client_key, entry.why) == (owner, client.pk, "To tell their teachers")


def test_what_a_run_found_of_a_client_is_sealed(owner, stricter):
    person("Bonnie Reed", BONES)
    to_the_end(runs.compare_on_everybody(stricter.pk, by=owner, now=LATER))
    line = models.RuleRunLine.objects.get()
    assert b"rotation" not in bytes(line.sealed_change)


def test_archived_clients_and_forms_without_a_name_are_passed_over(owner, stricter):
    person("Bonnie Reed", BONES)
    gone = person("Cora Lindqvist", BONES)
    models.Client.objects.filter(pk=gone.pk).update(archived_at=NOW)
    make.answer(make.link(name="Dov Aranha"))
    run = to_the_end(runs.compare_on_everybody(stricter.pk, by=owner, now=LATER))
    assert (run.total, run.done) == (1, 1)


def test_a_run_that_is_cut_off_goes_on_where_it_was(owner, stricter):
    for name in ("Bonnie Reed", "Cora Lindqvist", "Dov Aranha", "Elin Voss", "Fadi Noor"):
        person(name, BONES)
    run = runs.compare_on_everybody(stricter.pk, by=owner, now=LATER)
    assert runs.go_on(run.pk, now=LATER, most=2)
    half = run_queries.run(run.pk)
    assert (half.done, half.state) == (2, "running")
    # The beat finds it again, whatever became of the message.
    assert runs.pick_up_runs() == 1
    assert to_the_end(run).done == 5
    assert AuditEntry.objects.filter(verb="compare_rules").count() == 5
    assert runs.pick_up_runs() == 0


def test_a_client_who_cannot_be_screened_is_listed_and_keeps_what_stood(owner):
    broken, good = person("Bonnie Reed", BONES), person("Cora Lindqvist")
    form = broken.health_forms.get()
    models.HealthForm.objects.filter(pk=form.pk).update(sealed_answers=b"\x01 not sealed at all, not sealed at all")
    stood = broken.screenings.get(replaced_at=None).pk
    run = to_the_end(runs.screen_everybody(why="To be sure", by=owner, now=LATER))
    assert (run.state, run.done, run.failed) == ("done", 2, 1)
    assert broken.screenings.get(replaced_at=None).pk == stood
    assert good.screenings.get(replaced_at=None).asked_for == runs.ASKED_FOR
    page = runs.who_changed(run.id, page=1, by=owner, now=LATER, why="To put it right")
    assert [(one.client_id, one.failed) for one in page.clients] == [(broken.pk, True)]


def test_a_version_without_a_condition_somebody_has_names_her_as_not_screened(owner):
    person("Bonnie Reed", BONES)
    tables = {name: list(rows) for name, rows in models.RuleSet.objects.get().tables.items()}
    tables["conditions"] = [row for row in tables["conditions"] if row["id"] != "C01"]
    tables["limits"] = [row for row in tables["limits"] if row["condition_id"] != "C01"]
    made = workbench._propose(tables, note="Without C01", base_id=0, by=owner, now=NOW)
    run = to_the_end(runs.compare_on_everybody(made.pk, by=owner, now=LATER))
    assert (run.failed, run.changed) == (1, 0)


def test_everybody_screened_anew_is_screened_once(owner):
    clients = [person(name) for name in ("Bonnie Reed", "Cora Lindqvist", "Dov Aranha")]
    run = runs.screen_everybody(why="To be sure", by=owner, now=LATER)
    to_the_end(run, most=1)
    assert [one.screenings.filter(asked_for=runs.ASKED_FOR).count() for one in clients] == [1, 1, 1]
    # A message that comes twice finds nothing to do.
    assert not runs.go_on(run.pk, now=LATER)
    assert models.Screening.objects.filter(asked_for=runs.ASKED_FOR).count() == 3


def test_somebody_screened_by_the_rules_of_before_while_a_run_went_past_is_found(owner, stricter):
    first, second = sorted((person("Bonnie Reed", BONES), person("Cora Lindqvist", BONES)), key=lambda one: one.pk)
    to_the_end(runs.compare_on_everybody(stricter.pk, by=owner, now=NOW))
    run = workbench.put_in_force(stricter.pk, why="Agreed", by=owner, now=LATER)
    assert runs.go_on(run.pk, now=LATER, most=1)
    # As another tablet that had read the old rules would leave it.
    models.Screening.objects.filter(client=first, replaced_at=None).update(
        rule_set=run_queries.run(run.pk).against_id or models.RuleSet.objects.exclude(pk=stricter.pk).get().pk
    )
    to_the_end(run)
    standing = models.Screening.objects.filter(replaced_at=None)
    assert set(standing.values_list("rule_set_id", flat=True)) == {stricter.pk}
    assert second.screenings.filter(asked_for=runs.ASKED_FOR).count() == 1


def test_a_stopped_run_stays_where_it_is_until_it_is_let_go_on(owner):
    for name in ("Bonnie Reed", "Cora Lindqvist", "Dov Aranha"):
        person(name)
    run = runs.screen_everybody(why="To be sure", by=owner, now=LATER)
    runs.go_on(run.pk, now=LATER, most=1)
    runs.stop_run(run.pk, by=owner, now=LATER)
    assert not runs.go_on(run.pk, now=LATER, most=1)
    assert run_queries.run(run.pk).done == 1
    runs.go_on_with_stopped(run.pk, by=owner, now=LATER)
    assert to_the_end(run).done == 3


def test_a_stopped_run_of_rules_that_are_not_in_force_any_more_does_not_go_on(owner, stricter):
    person("Bonnie Reed")
    old = runs.screen_everybody(why="To be sure", by=owner, now=NOW)
    to_the_end(runs.compare_on_everybody(stricter.pk, by=owner, now=NOW))
    workbench.put_in_force(stricter.pk, why="Agreed", by=owner, now=LATER)
    # The new pass looks at everybody, so the old one is over.
    assert run_queries.run(old.pk).state == "stopped"
    with pytest.raises(Refused) as refused:
        runs.go_on_with_stopped(old.pk, by=owner, now=LATER)
    assert refused.value.reasons[0].code == "is_over"


def test_a_second_comparison_of_the_same_version_joins_the_first(owner, stricter):
    person("Bonnie Reed")
    first = runs.compare_on_everybody(stricter.pk, by=owner, now=LATER)
    assert runs.compare_on_everybody(stricter.pk, by=owner, now=LATER).pk == first.pk


def test_the_version_in_force_is_compared_with_nothing(owner):
    with pytest.raises(Refused) as refused:
        runs.compare_on_everybody(queries.rules_in_force().id, by=owner, now=NOW)
    assert refused.value.reasons[0].code == "in_force"


def test_a_house_without_clients_is_compared_at_once(owner, stricter):
    run = to_the_end(runs.compare_on_everybody(stricter.pk, by=owner, now=LATER))
    assert (run.state, run.total) == ("done", 0)


def test_a_client_costs_the_same_however_many_there_are(owner, django_assert_max_num_queries):
    for name in ("Bonnie Reed", "Cora Lindqvist", "Dov Aranha", "Elin Voss"):
        person(name, BONES)
    run = runs.screen_everybody(why="To be sure", by=owner, now=LATER)
    runs.go_on(run.pk, now=LATER, most=1)
    with django_assert_max_num_queries(45):
        runs.go_on(run.pk, now=LATER, most=1)
