"""Versions of the rules: proposed by a row or by files, compared on everybody, read over, put in force in a name."""

import csv
import io
from datetime import date, timedelta

import pytest

from clients import models, queries
from clients.actions import choices, runs, workbench
from clients.queries import runs as run_queries
from clients.queries import versions as version_queries
from clients.rules import adjusting
from clients.rules.versions import ChangeKind
from studio.models import AuditEntry
from studio.rules import Refused
from tests import make_clients as make
from tests import reference

pytestmark = pytest.mark.django_db
NOW, LATER = make.NOW, make.NOW + timedelta(hours=1)
# A client with a stiff neck may not hold her head up; the condition C38 is told at H09 in these answers.
ROW = {"table": "limits", "key": "C01~rotation"}


@pytest.fixture(autouse=True)
def rules() -> None:
    make.load_reference()


def stricter(owner, *, note="Turning is left out with thin bones", now=NOW) -> models.RuleSet:
    base = queries.rules_in_force().id
    values = {"level": "avoid", "how": "not offered"}
    return workbench.propose_row(base, **ROW, values=values, note=note, by=owner, now=now)


def to_the_end(run: models.RuleRun, *, now=NOW, most=2) -> models.RuleRun:
    while runs.go_on(run.pk, now=now, most=most):
        pass
    return models.RuleRun.objects.get(pk=run.pk)


def as_file(name: str, rows: list[dict[str, str]]) -> bytes:
    out = io.StringIO()
    writer = csv.DictWriter(out, list(rows[0]))
    writer.writeheader()
    writer.writerows(rows)
    return out.getvalue().encode()


def refused(deed) -> list:
    with pytest.raises(Refused) as caught:
        deed()
    return list(caught.value.reasons)


def test_a_row_edited_in_a_form_becomes_a_version_that_is_not_in_force(owner):
    before = queries.rules_in_force()
    made = stricter(owner)
    assert queries.rules_in_force().id == before.id and not made.in_force
    (change,) = version_queries.differences(before.id, made.pk)
    assert (change.table, change.key, change.kind) == ("limits", "C01~rotation", ChangeKind.CHANGED)
    assert [(cell.column, cell.after) for cell in change.cells] == [("level", "avoid"), ("how", "not offered")]
    entry = AuditEntry.objects.get(verb="propose_rules")
    assert entry.person == owner and entry.why == "Turning is left out with thin bones"


def test_the_same_rows_are_never_two_versions(owner):
    stricter(owner)
    assert [reason.code for reason in refused(lambda: stricter(owner))] == ["as_it_is"]
    assert models.RuleSet.objects.count() == 2


def test_a_version_says_what_it_is_for(owner):
    (reason,) = refused(lambda: stricter(owner, note="  "))
    assert (reason.code, reason.field) == ("say_what", "note")


def test_a_row_that_breaks_the_rules_is_refused_and_nothing_is_kept(owner):
    base = queries.rules_in_force().id
    deed = lambda: workbench.propose_row(  # noqa: E731
        base, **ROW, values={"level": "adapt", "how": ""}, note="Broken", by=owner, now=NOW
    )
    (reason,) = refused(deed)
    assert "adapt without how" in reason.says and "limits.csv, line" in reason.says
    assert models.RuleSet.objects.count() == 1


def test_a_line_above_the_highest_ever_allowed_is_refused(owner):
    # Source: fixtures/reference, gate G02; no diastolic line above 110 in the regimes uk and us.
    base = queries.rules_in_force().id
    values = {"dbp": "115"}
    deed = lambda: workbench.propose_row(  # noqa: E731
        base, table="bp_gates", key="G01", values=values, note="Looser", by=owner, now=NOW
    )
    assert "never allowed" in refused(deed)[0].says


def test_uploaded_tables_become_a_version_and_the_others_stay(owner):
    base = queries.rules_in_force().id
    rows = reference.tables()["stop_signs"]
    rows[0]["statement"] = "Pressure or pain in the chest"
    files = {"stop_signs.csv": as_file("stop_signs", rows)}
    made = workbench.propose_tables(base, files=files, note="Plainer words", by=owner, now=NOW)
    (change,) = version_queries.differences(base, made.pk)
    assert (change.table, change.key, change.cells[0].column) == ("stop_signs", "X01", "statement")


@pytest.mark.parametrize(
    ("name", "content", "says"),
    [
        ("limits.csv", b"", "limits.csv: the file is empty"),
        ("limits.csv", b"\xff\xfe\x00", "limits.csv: not UTF-8 text"),
        ("limits.csv", b"a,b\n1,2\n", "limits.csv, line 1: the columns are not"),
        ("holidays.csv", b"a,b\n1,2\n", "holidays.csv is not a table of the rules"),
        ("limits.xlsx", b"PK", "limits.xlsx is not a table of the rules"),
        ("stop_signs.csv", b"id,statement,action,source_ids\nX01,one\n", "stop_signs.csv, line 2: 2 columns"),
        ("stop_signs.csv", b"id,statement,action,source_ids\nX01,one,two,nobody\n", "line 2: unknown source 'nobody'"),
        ("stop_signs.csv", b"x" * 1_000_001, "larger than 1 MB"),
        ("stop_signs.csv", b'id,statement,action,source_ids\n"X01,one\n', "not a CSV table"),
    ],
)
def test_a_broken_file_is_refused_by_file_line_and_reason_and_nothing_is_kept(owner, name, content, says):
    base = queries.rules_in_force().id
    reasons = refused(lambda: workbench.propose_tables(base, files={name: content}, note="Upload", by=owner, now=NOW))
    assert any(says in reason.says for reason in reasons), reasons
    assert models.RuleSet.objects.count() == 1


def test_a_version_is_not_put_in_force_before_it_was_compared_on_everybody(owner):
    made = stricter(owner)
    put = lambda: workbench.put_in_force(made.pk, why="Agreed in June", by=owner, now=LATER)  # noqa: E731
    assert refused(put)[0].code == "not_compared"
    run = runs.compare_on_everybody(made.pk, by=owner, now=NOW)
    assert refused(put)[0].code == "not_compared"
    to_the_end(run)
    put()
    assert queries.rules_in_force().id == made.pk
    assert models.LimitRule.objects.get(condition="C01", demand="rotation").level == "avoid"
    entry = AuditEntry.objects.get(verb="put_in_force")
    assert (entry.person, entry.why) == (owner, "Agreed in June")


def test_a_comparison_older_than_the_newest_change_does_not_count(owner):
    made, other = stricter(owner), None
    to_the_end(runs.compare_on_everybody(made.pk, by=owner, now=NOW))
    choices.choose("G01.systolic", value="170", why="Older clients", by=owner, now=LATER)
    deed = lambda: workbench.put_in_force(made.pk, why="Agreed", by=owner, now=LATER)  # noqa: E731
    assert other is None and refused(deed)[0].code == "not_compared"
    to_the_end(runs.compare_on_everybody(made.pk, by=owner, now=LATER))
    deed()
    assert queries.rules_in_force().id == made.pk


def test_putting_in_force_needs_a_reason_and_another_version(owner):
    made = stricter(owner)
    to_the_end(runs.compare_on_everybody(made.pk, by=owner, now=NOW))
    assert refused(lambda: workbench.put_in_force(made.pk, why=" ", by=owner, now=LATER))[0].code == "say_why"
    workbench.put_in_force(made.pk, why="Agreed", by=owner, now=LATER)
    assert refused(lambda: workbench.put_in_force(made.pk, why="Again", by=owner, now=LATER))[0].code == "in_force"


def test_an_older_version_is_put_back_in_the_same_way(owner):
    first, made = queries.rules_in_force().id, stricter(owner)
    to_the_end(runs.compare_on_everybody(made.pk, by=owner, now=NOW))
    workbench.put_in_force(made.pk, why="Agreed", by=owner, now=LATER)
    later = LATER + timedelta(hours=1)
    to_the_end(runs.compare_on_everybody(first, by=owner, now=later), now=later)
    workbench.put_in_force(first, why="Too strict", by=owner, now=later)
    assert queries.rules_in_force().id == first
    assert models.RuleSet.objects.filter(in_force=True).count() == 1
    assert models.LimitRule.objects.get(condition="C01", demand="rotation").level == "adapt"


def test_putting_in_force_screens_everybody_anew(owner):
    client = make.client()
    make.signed_form(client)
    made = stricter(owner)
    to_the_end(runs.compare_on_everybody(made.pk, by=owner, now=LATER), now=LATER)
    run = workbench.put_in_force(made.pk, why="Agreed", by=owner, now=LATER)
    assert (run.kind, run.total) == ("rescreen", 1)
    to_the_end(run, now=LATER)
    assert client.screenings.get(replaced_at=None).rule_set_id == made.pk


def test_a_review_names_the_person_the_profession_the_day_and_what_was_read(owner):
    base = queries.rules_in_force().id
    words = {"name": "Imre Valdotti", "profession": "physiotherapist", "what": "limits and conditions"}
    workbench.review_version(base, **words, on=date(2026, 3, 1), by=owner, now=NOW)
    line = version_queries.version(base)
    assert (line.reviewed_by, line.profession, line.reviewed_what) == tuple(words.values())
    assert line.is_reviewed and queries.rules_in_force().reviewed_on == date(2026, 3, 1)
    assert AuditEntry.objects.get(verb="review_rules").detail["profession"] == "physiotherapist"


@pytest.mark.parametrize("field", ["name", "profession", "what"])
def test_half_a_review_is_refused(owner, field):
    words = {"name": "Imre Valdotti", "profession": "physiotherapist", "what": "all"} | {field: " "}
    base = queries.rules_in_force().id
    deed = lambda: workbench.review_version(base, **words, on=date(2026, 3, 1), by=owner, now=NOW)  # noqa: E731
    assert refused(deed)[0].code == "say_what"
    assert not version_queries.version(base).is_reviewed


def test_nobody_reviews_tomorrow(owner):
    base = queries.rules_in_force().id
    words = {"name": "Imre Valdotti", "profession": "physiotherapist", "what": "all"}
    deed = lambda: workbench.review_version(base, **words, on=date(2026, 3, 17), by=owner, now=NOW)  # noqa: E731
    assert refused(deed)[0].field == "on"


def test_a_new_version_is_unreviewed_though_its_base_was_read(owner):
    base = queries.rules_in_force().id
    words = {"name": "Imre Valdotti", "profession": "physiotherapist", "what": "all"}
    workbench.review_version(base, **words, on=date(2026, 3, 1), by=owner, now=NOW)
    assert not version_queries.version(stricter(owner).pk).is_reviewed


def test_a_choice_is_kept_with_name_day_and_reason_and_the_one_before_stays(owner):
    choices.choose("G01.systolic", value="170", why="Older clients", by=owner, now=NOW)
    choices.choose("G01.systolic", value="165", why="Still older", by=owner, now=LATER)
    first, second = models.RuleChoice.objects.order_by("chosen_at")
    assert (first.value, first.ended_at, second.value, second.ended_at) == ("170", LATER, "165", None)
    assert queries.choices() == adjusting.Choices(lines={"G01.systolic": 165})
    entry = AuditEntry.objects.filter(verb="choose_rule").latest("pk")
    assert entry.detail == {"point": "G01.systolic", "value": "165", "before": "170"}


def test_a_choice_looser_than_its_bound_is_refused_with_the_bound_and_its_source(owner):
    deed = lambda: choices.choose("G01.systolic", value="190", why="Looser", by=owner, now=NOW)  # noqa: E731
    (reason,) = refused(deed)
    assert reason.code == "too_loose" and "180 mmHg" in reason.says
    cited = queries.rules_in_force().rulebook.sources["bacr2006"].citation
    assert cited in reason.says
    assert not models.RuleChoice.objects.exists()


@pytest.mark.parametrize(
    ("point", "value", "code"),
    [
        ("D05", "b", "not_open"),
        ("D01", "c", "unknown_option"),
        ("regime", "uk", "as_it_is"),
        ("G01.systolic", "180", "as_it_is"),
        ("G01.systolic", "high", "not_a_number"),
        ("G01.systolic", "50", "too_far"),
        ("nothing", "1", "unknown_point"),
    ],
)
def test_what_cannot_be_chosen_is_refused(owner, point, value, code):
    assert refused(lambda: choices.choose(point, value=value, why="Try", by=owner, now=NOW))[0].code == code


def test_a_choice_without_a_reason_is_refused(owner):
    assert refused(lambda: choices.choose("D01", value="b", why=" ", by=owner, now=NOW))[0].field == "why"


def test_a_choice_starts_a_pass_over_everybody(owner):
    choices.choose("D01", value="b", why="As the newer source has it", by=owner, now=NOW)
    assert queries.choices().positions_b == frozenset({"D01"})
    (run,) = run_queries.newest_runs()
    assert (run.kind, run.state, run.asked_by) == ("rescreen", "waiting", owner.name)


def test_tables_loaded_anew_from_the_files_wait_for_their_comparison_like_any_version(owner):
    tables = reference.tables()
    tables["stop_signs"][0]["statement"] = "Chest pain"
    loaded = workbench.reference.load_reference(tables, now=LATER)
    version = models.RuleSet.objects.get(digest=loaded.digest)
    assert not version.in_force and not models.RuleRun.objects.exists()
    deed = lambda: workbench.put_in_force(version.pk, why="new files", by=owner, now=LATER)  # noqa: E731
    assert refused(deed)[0].code == "not_compared"
