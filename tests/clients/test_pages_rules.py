"""The Office's rules: read by those who teach, worked on by the owner, in a browser without script."""

import io
import re
from datetime import timedelta
from urllib.parse import quote

import pytest
import time_machine
from django.urls import reverse

from clients import models, queries
from clients.actions import runs, workbench
from clients.queries import open_points, tables
from clients.rules.adjusting import AS_STATED
from studio.models import AuditEntry
from tests import make_clients as make
from tests import reference

pytestmark = pytest.mark.django_db
BONES = {"H09": ["yes"], "H09.conditions": ["C01"]}
UNREVIEWED = "Not reviewed by a licensed professional yet"
LATER = make.NOW + timedelta(hours=1)


@pytest.fixture(autouse=True)
def rules():
    make.load_reference()
    with time_machine.travel(make.NOW, tick=False):
        yield


@pytest.fixture
def stricter(owner) -> models.RuleSet:
    values = {"level": "avoid", "how": "not offered"}
    row = {"table": "limits", "key": "C01~rotation"}
    base = queries.rules_in_force().id
    return workbench.propose_row(base, **row, values=values, note="Stricter turning", by=owner, now=make.NOW)


def to_the_end(run: models.RuleRun) -> None:
    while runs.go_on(run.pk, now=make.NOW):
        pass


def page(client, name: str, *args, **query) -> str:
    answer = client.get(reverse(f"clients:{name}", args=args), query)
    assert answer.status_code == 200, answer.content[:500]
    return answer.content.decode()


@pytest.mark.parametrize("slug", [slug for slug, _ in tables.names()])
def test_each_table_is_readable_with_every_row(as_instructor, slug):
    html = page(as_instructor, "rules-table", slug)
    rows = reference.tables()[tables.SLUGS[slug]]
    shown = len(re.findall(r"data-block", html)) if slug == "conditions" else len(re.findall(r"<tr data-row>", html))
    assert shown == len(rows)
    assert UNREVIEWED in html


def test_every_limit_stands_with_its_condition_its_strength_and_its_sources():
    book = queries.rules_in_force().rulebook
    table = tables.rule_table("conditions", book, choices=AS_STATED)
    shown = [row for block in table.blocks for row in block.limits]
    assert len(shown) == len(book.limits)
    assert all(row.strength and row.sources for row in shown)
    practice = [line for row in shown for line in row.sources if "common practice" in line.citation]
    assert practice and all(line.note == "no published source" for line in practice)


def test_a_table_of_conditions_stays_light_enough_for_a_page(as_owner):
    import gzip

    # Weight goal of the house: 60 KB of compressed HTML a page.
    assert len(gzip.compress(page(as_owner, "rules-table", "conditions").encode(), 6)) < 60 * 1024


def test_the_clearance_table_has_sixteen_ends(as_instructor):
    html = page(as_instructor, "rules-table", "clearance")
    assert len(re.findall(r"Leaf \d+</th>", html)) == 16


def test_a_moved_line_stands_beside_the_stated_one(as_owner, owner):
    as_owner.post(reverse("clients:rules-choice", args=["G01.systolic"]), {"value": "170", "why": "Older clients"})
    html = page(as_owner, "rules-table", "pressure")
    assert "180 or more" in html and "This studio: 170 or more" in html


@pytest.mark.parametrize("address", ["tables/holidays/", "tables/conditions/?version=99999", "tables/signs/?version=x"])
def test_what_there_is_not_is_not_found(as_owner, address):
    assert as_owner.get(reverse("clients:rules") + address).status_code == 404


def test_only_the_owner_is_shown_where_to_change(as_instructor, as_owner):
    address = reverse("clients:rules-edit", args=[queries.rules_in_force().id, "stop_signs", "X01"])
    assert address in page(as_owner, "rules-table", "stop-signs")
    assert address not in page(as_instructor, "rules-table", "stop-signs")


# --- trying ---

CASE = {
    "on": "2026-03-16",
    "regularly_active": "no",
    "intensity": "light_moderate",
    "diseases": ["none"],
    "symptoms": ["none"],
    "condition.0": "C01",
    "clearance.0": "no",
    "condition.1": "C14",
    "systolic.0": "136",
    "diastolic.0": "84",
    "heart_rate": "72",
}


def test_a_tried_case_shows_outcome_limits_and_the_path_and_nothing_is_kept(as_instructor):
    before = AuditEntry.objects.count()
    answer = as_instructor.post(reverse("clients:rules-try"), CASE)
    html = answer.content.decode()
    assert answer.status_code == 200
    # Source: domain text, section 7, the fourth example: clear, with these among the limits.
    assert answer.context["tried"].outcome == "clear"
    levels = {one.demand: one.level for one in answer.context["tried"].limits}
    assert (levels["flex_loaded"], levels["rotation"], levels["prone"]) == ("avoid", "adapt", "watch")
    assert "Clearance table" in html and "leaf 1" in html and UNREVIEWED in html
    assert AuditEntry.objects.count() == before and not models.Screening.objects.exists()


def test_what_cannot_be_read_is_asked_back_beside_its_field(as_instructor):
    wrong = CASE | {"on": "2026-02-30", "systolic.0": "4000", "condition.0": "C99", "diseases": ["plague"]}
    answer = as_instructor.post(reverse("clients:rules-try"), wrong)
    html = answer.content.decode()
    assert answer.status_code == 422
    assert "There is no such day." in html and "a whole number from 40 to 320" in html
    answer = as_instructor.post(reverse("clients:rules-try"), CASE | {"condition.0": "C99"})
    assert answer.status_code == 422 and "There is no condition C99 in these rules." in answer.content.decode()
    assert "#try_condition.0" in answer.content.decode()


def test_an_empty_form_is_unfinished_and_not_clear(as_instructor):
    answer = as_instructor.post(reverse("clients:rules-try"), {"on": "2026-03-16"})
    assert answer.context["tried"].outcome == "incomplete"


def test_a_case_is_compared_by_two_versions(as_owner, stricter):
    both = CASE | {"version": str(stricter.pk), "against": str(queries.rules_in_force().id)}
    answer = as_owner.post(reverse("clients:rules-try"), both)
    changes = {(one.demand, one.before, one.after) for one in answer.context["between"].limits}
    assert changes == {("rotation", "adapt", "avoid")}
    assert "becomes" in answer.content.decode()


@pytest.mark.parametrize("example", ["1", "2", "3"])
def test_each_example_can_be_asked_as_it_stands(as_instructor, example):
    html = page(as_instructor, "rules-try", example=example)
    assert "selected" in html or "checked" in html


# --- versions ---


def test_a_row_is_changed_in_a_form_and_becomes_a_version(as_owner, owner):
    base = queries.rules_in_force().id
    address = reverse("clients:rules-edit", args=[base, "limits", "C01~rotation"])
    shown = as_owner.get(address)
    assert [field.name for field in shown.context["form"]] == ["level", "how", "source_ids", "strength", "note"]
    sent = {"level": "avoid", "how": "not offered", "source_ids": "giangregorio2015", "strength": "consensus"}
    answer = as_owner.post(address, sent | {"note": "Stricter turning"}, follow=True)
    html = answer.content.decode()
    assert "Rotation" in html or "otation" in html
    assert "adapt" in html and "<b>avoid</b>" in html and UNREVIEWED in html
    assert not models.RuleSet.objects.get(note="Stricter turning").in_force


def test_a_fault_in_a_row_is_told_and_nothing_is_kept(as_owner):
    address = reverse("clients:rules-edit", args=[queries.rules_in_force().id, "limits", "C01~rotation"])
    sent = {"level": "adapt", "how": "", "source_ids": "nobody1999", "strength": "consensus", "note": "Odd"}
    answer = as_owner.post(address, sent)
    assert answer.status_code == 422
    assert "unknown source &#x27;nobody1999&#x27;" in answer.content.decode()
    assert models.RuleSet.objects.count() == 1


def test_a_table_goes_out_and_comes_back_as_a_file(as_owner):
    base = queries.rules_in_force().id
    out = as_owner.get(reverse("clients:rules-file", args=[base, "stop_signs"]))
    assert out["Content-Type"].startswith("text/csv") and "attachment" in out["Content-Disposition"]
    back = io.BytesIO(out.content.replace(b"Chest pain or pressure", b"Pain or pressure in the chest"))
    back.name = "stop_signs.csv"
    answer = as_owner.post(reverse("clients:rules-upload"), {"tables": back, "note": "Plainer"}, follow=True)
    assert "Pain or pressure in the chest" in answer.content.decode()


def test_a_broken_upload_is_told_with_file_and_line(as_owner):
    broken = io.BytesIO(b"id,statement,action,source_ids\nX01,one,two,nobody\n")
    broken.name = "stop_signs.csv"
    answer = as_owner.post(reverse("clients:rules-upload"), {"tables": broken, "note": "Odd"})
    assert answer.status_code == 422
    assert "stop_signs.csv, line 2: unknown source" in answer.content.decode()


def test_a_version_is_compared_put_in_force_and_everybody_screened(
    as_owner, owner, stricter, django_capture_on_commit_callbacks
):
    client = make.client("Bonnie Reed")
    make.signed_form(client, BONES, signature="Bonnie Reed")
    refused = as_owner.post(reverse("clients:rules-put", args=[stricter.pk]), {"why": "Agreed"})
    assert refused.status_code == 422 and "Compare this version on every client first" in refused.content.decode()
    answer = as_owner.post(reverse("clients:rules-compare", args=[stricter.pk]))
    run = models.RuleRun.objects.get()
    assert answer.url == reverse("clients:rules-run", args=[run.pk])
    assert "every 1s" in page(as_owner, "rules-run", run.pk)
    to_the_end(run)
    html = page(as_owner, "rules-run", run.pk)
    assert "every 1s" not in html and "1 different" in html and "Bonnie" not in html
    html = page(as_owner, "rules-version", stricter.pk)
    assert "No licensed professional has read this version yet" in html and "1 of 1 clients would change" in html
    as_owner.post(reverse("clients:rules-put", args=[stricter.pk]), {"why": "Agreed in June"})
    assert queries.rules_in_force().id == stricter.pk
    assert models.RuleRun.objects.filter(kind="rescreen", state="waiting").count() == 1


def test_the_progress_alone_is_answered_to_htmx(as_owner, owner, stricter):
    run = runs.compare_on_everybody(stricter.pk, by=owner, now=make.NOW)
    answer = as_owner.get(reverse("clients:rules-run", args=[run.pk]), headers={"HX-Request": "true"})
    assert answer.content.decode().startswith('<section class="card stack run" id="run"')


def test_a_run_is_stopped_and_goes_on_by_its_buttons(as_owner, owner, stricter):
    run = runs.compare_on_everybody(stricter.pk, by=owner, now=make.NOW)
    as_owner.post(reverse("clients:rules-run-stop", args=[run.pk]))
    assert "Go on where it stopped" in page(as_owner, "rules-run", run.pk)
    as_owner.post(reverse("clients:rules-run-go-on", args=[run.pk]))
    assert models.RuleRun.objects.get().state == "running"


def test_who_changes_is_shown_after_a_reason_only(as_owner, owner, stricter):
    client = make.client("Bonnie Reed")
    make.signed_form(client, BONES, signature="Bonnie Reed")
    run = runs.compare_on_everybody(stricter.pk, by=owner, now=make.NOW)
    to_the_end(run)
    address = reverse("clients:rules-run-who", args=[run.pk])
    assert "Bonnie" not in as_owner.get(address).content.decode()
    refused = as_owner.post(address, {"why": ""})
    assert refused.status_code == 422 and "Bonnie" not in refused.content.decode()
    html = as_owner.post(address, {"why": "To tell their teachers"}).content.decode()
    assert "Bonnie Reed" in html and "becomes" in html
    assert AuditEntry.objects.get(verb="read_rule_change").client_key == client.pk


def test_a_review_is_noted_and_stands_wherever_the_rules_speak(as_owner):
    base = queries.rules_in_force().id
    sent = {"name": "Imre Valdotti", "profession": "physiotherapist", "on": "2026-03-10", "what": "limits"}
    as_owner.post(reverse("clients:rules-review", args=[base]), sent)
    for name in ("rules", "rules-try"):
        html = page(as_owner, name)
        assert "Imre Valdotti" in html and UNREVIEWED not in html


def test_half_a_review_comes_back_with_what_is_missing(as_owner):
    base = queries.rules_in_force().id
    answer = as_owner.post(reverse("clients:rules-review", args=[base]), {"name": "Imre Valdotti"})
    assert answer.status_code == 422
    assert not queries.rules_in_force().reviewed_on


# --- choices ---


def test_every_point_is_shown_with_both_positions_or_its_bound(as_owner):
    html = page(as_owner, "rules-choices")
    for point in open_points.points():
        assert point.label.replace("'", "&#x27;") in html
    assert "not needed for light to moderate" in html
    assert "110 to 180 mmHg" in html


def test_a_choice_is_made_shown_with_name_and_reason_and_kept_in_the_history(as_owner, owner):
    address = reverse("clients:rules-choice", args=["regime"])
    as_owner.post(address, {"value": "us", "why": "As our insurer asks"})
    assert queries.choices().regime == "us"
    html = page(as_owner, "rules-choices")
    assert owner.name in html and "As our insurer asks" in html
    as_owner.post(address, {"value": "uk", "why": "Back to the stricter lines"})
    html = page(as_owner, "rules-choice", "regime")
    assert "As our insurer asks" in html and "Back to the stricter lines" in html


def test_a_choice_looser_than_stated_is_refused_beside_its_field(as_owner):
    address = reverse("clients:rules-choice", args=["G01.systolic"])
    answer = as_owner.post(address, {"value": "190", "why": "Looser"})
    assert answer.status_code == 422
    assert "looser than the stated 180 mmHg" in answer.content.decode()
    assert not models.RuleChoice.objects.exists()


def test_a_point_that_is_only_shown_has_no_form(as_owner):
    assert "nothing can be chosen here" in page(as_owner, "rules-choice", "D05")


def test_a_point_that_is_not_there_is_not_found(as_owner):
    assert as_owner.get(reverse("clients:rules-choice", args=[quote("G99.x")])).status_code == 404


def test_reading_the_pages_costs_few_queries_however_many_rows(as_owner, stricter, django_assert_max_num_queries):
    page(as_owner, "rules-table", "conditions")
    for name, args in (
        ("rules-table", ["conditions"]),
        ("rules-choices", []),
        ("rules-versions", []),
        ("rules-version", [stricter.pk]),
    ):
        with django_assert_max_num_queries(16):
            page(as_owner, name, *args)
