"""The reference is loaded whole or not at all, again without effect, and never over the studio's own edits."""

import shutil

import pytest
from django.core.management import CommandError, call_command
from django.utils import timezone

from clients.models import Condition, Demand, LimitRule, RuleSet
from programming import models
from programming.actions import reference
from programming.rules.repertoire import ChangeKind
from studio.rules import Refused
from tests.reference import FOLDER, tables

pytestmark = pytest.mark.django_db


def counts() -> tuple[int, ...]:
    kept = (models.Exercise, models.ExerciseDemand, models.LadderStep, models.RepertoireTable)
    return tuple(model.objects.count() for model in (*kept, Demand, Condition, LimitRule, RuleSet))


def test_the_whole_reference_is_loaded_and_a_second_load_changes_nothing():
    reference.load_reference(tables(), now=timezone.now())
    first = counts()
    assert models.Exercise.objects.count() == 127
    assert Demand.objects.count() == 34
    again = reference.load_reference(tables(), now=timezone.now())
    assert again.changes_nothing
    assert counts() == first


def test_a_broken_file_is_refused_with_file_line_and_reason_and_nothing_is_changed():
    broken = tables()
    broken["repertoire"][4]["demands"] = "no_such_demand"
    with pytest.raises(Refused) as refused:
        reference.load_reference(broken, now=timezone.now())
    said = [reason.says for reason in refused.value.reasons]
    assert any(line.startswith("repertoire.csv, line 6") and "no_such_demand" in line for line in said)
    assert counts() == (0,) * 8


def test_a_broken_clinical_file_stops_the_repertoire_too():
    broken = tables()
    broken["limits"][0]["level"] = "perhaps"
    with pytest.raises(Refused) as refused:
        reference.load_reference(broken, now=timezone.now())
    assert any(reason.says.startswith("limits.csv, line 2") for reason in refused.value.reasons)
    assert counts() == (0,) * 8


def test_a_reload_keeps_the_rows_the_studio_edited_and_says_so():
    reference.load_reference(tables(), now=timezone.now())
    own = models.Exercise.objects.get(id="R-FW1")
    own.row = {**own.row, "reps_high": "12"}
    own.save()
    incoming = tables()
    incoming["repertoire"][0]["reps_high"] = "11"
    incoming["repertoire"][1]["reps_high"] = "11"
    plan = reference.preview_load(incoming)
    assert {(change.id, change.kind) for change in plan.changes} == {
        ("R-FW1", ChangeKind.KEPT_OWN),
        ("R-FW2", ChangeKind.CHANGED),
    }
    reference.load_reference(incoming, now=timezone.now())
    assert models.Exercise.objects.get(id="R-FW1").row["reps_high"] == "12"
    assert models.Exercise.objects.get(id="R-FW2").row["reps_high"] == "11"


def test_the_command_shows_what_would_change_before_it_changes_it(tmp_path, capsys):
    call_command("load_reference")
    folder = shutil.copytree(FOLDER, tmp_path / "reference")
    file = folder / "session_time.csv"
    file.write_text(file.read_text().replace("arrival,180", "arrival,240"))
    call_command("load_reference", folder=folder)
    said = capsys.readouterr().out
    assert "session_time: replaced" in said
    assert "Nothing was changed" in said
    assert "240" not in str(models.RepertoireTable.objects.get(name="session_time").rows)
    call_command("load_reference", folder=folder, apply=True)
    assert "240" in str(models.RepertoireTable.objects.get(name="session_time").rows)


def test_a_row_with_a_column_too_few_names_file_and_line(tmp_path):
    folder = shutil.copytree(FOLDER, tmp_path / "reference")
    file = folder / "supervision.csv"
    lines = file.read_text().splitlines()
    lines[3] = "1,3,3"
    file.write_text("\n".join(lines) + "\n")
    with pytest.raises(CommandError, match=r"supervision.csv, line 4: 3 columns where the header has 7"):
        call_command("load_reference", folder=folder)
