"""What fitting did to a program is sealed: no word of a body in plain columns, each opening on record."""

import importlib

import pytest
from django.db import connection
from django.db.migrations.executor import MigrationExecutor

from clients.rules.sealing import SealBroken
from programming import actions, models
from studio.models import AuditEntry
from studio.rules import Refused, Role
from tests import make
from tests import make_programming as practice
from tests.make_programming import LESSON

pytestmark = pytest.mark.django_db
seal_fits = importlib.import_module("programming.migrations.0003_seal_fits")


def rows_as_text(*tables: str) -> str:
    with connection.cursor() as cursor:
        found = []
        for table in tables:
            cursor.execute(f"SELECT row_to_json(t)::text FROM {table} t")
            found += [text for (text,) in cursor.fetchall()]
    return "\n".join(found)


def test_no_plain_column_of_a_program_names_a_demand_or_a_changed_form(lesson):
    fit = practice.fit(lesson.assign())
    words = {line.form for line in fit.lines.values() if line.form}
    words |= {step["demand"] for line in fit.lines.values() for step in line.why} | {fit.limits}
    assert len(words) > 5
    told = rows_as_text("programming_program", "programming_programline")
    assert [word for word in words if word in told] == []


def test_a_fit_is_opened_only_on_the_program_it_was_sealed_for(lesson):
    first = lesson.assign()
    second = lesson.assign("Two places")
    models.Program.objects.filter(pk=second.pk).update(sealed_fit=models.Program.objects.get(pk=first.pk).sealed_fit)
    with pytest.raises(SealBroken):
        practice.fit(second)


def test_each_opening_of_the_run_sheet_is_on_record(lesson):
    program = lesson.assign()
    actions.open_sheet(lesson.place.pk, by=lesson.teacher, now=LESSON)
    entry = AuditEntry.objects.get(verb="open_sheet")
    assert (entry.kind, entry.person, entry.key, entry.client_key) == (
        "read",
        lesson.teacher,
        str(program.pk),
        lesson.client.pk,
    )


def test_a_teacher_who_does_not_care_for_the_client_opens_no_run_sheet(lesson):
    lesson.assign()
    with pytest.raises(Refused) as refused:
        actions.open_sheet(lesson.place.pk, by=make.person(Role.INSTRUCTOR), now=LESSON)
    assert refused.value.reasons[0].code == "not_hers"
    assert not AuditEntry.objects.filter(verb="open_sheet").exists()


def test_a_program_of_before_reads_the_same_after_its_words_were_sealed(lesson):
    """The migration's own function, over rows with the columns of then."""
    program = lesson.assign()
    fit = practice.fit(program)
    with connection.cursor() as cursor:
        # Deferred checks that wait would hold the tables as they are.
        cursor.execute("SET CONSTRAINTS ALL IMMEDIATE")
        cursor.execute("ALTER TABLE programming_programline ADD changed_to text NOT NULL DEFAULT ''")
        cursor.execute("ALTER TABLE programming_programline ADD why jsonb NOT NULL DEFAULT '[]'")
        cursor.execute("ALTER TABLE programming_programline ADD demands jsonb NOT NULL DEFAULT '[]'")
    then = as_of_then()
    OldProgram, OldLine = (then.get_model("programming", name) for name in ("Program", "ProgramLine"))
    for line in OldLine.objects.filter(program_id=program.pk):
        kept = fit.of(line.position)
        line.changed_to, line.why, line.demands = kept.form, list(kept.why), sorted(kept.demands)
        line.save()
    old = OldProgram.objects.get(pk=program.pk)
    old.fitted_for, old.sealed_fit = old.fitted_for | {"limits": fit.limits}, None
    old.save()
    seal_fits.seal_fits(then, None)
    read = practice.fit(program)
    assert (read.limits, read.to) == (fit.limits, None)
    for position, line in fit.lines.items():
        assert (read.of(position).form, read.of(position).why, read.of(position).demands) == (
            line.form,
            line.why,
            line.demands,
        )
    assert "limits" not in models.Program.objects.get(pk=program.pk).fitted_for


def as_of_then():
    return MigrationExecutor(connection).loader.project_state([("programming", "0002_sealed_fit")]).apps
