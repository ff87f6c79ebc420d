"""Rows and steps that were there before versions were kept: as they stand now they are version 1."""

from django.db import migrations
from django.utils import timezone


def write_first_versions(apps, schema_editor):
    now = timezone.now()
    exercises = apps.get_model("programming", "Exercise").objects.filter(versions=None)
    version = apps.get_model("programming", "ExerciseVersion")
    version.objects.bulk_create(version(exercise=row, **_as_it_stands(row, now)) for row in exercises.iterator())
    steps = list(apps.get_model("programming", "LadderStep").objects.filter(versions=None))
    version = apps.get_model("programming", "LadderStepVersion")
    version.objects.bulk_create(version(step=step, **_as_it_stands(step, now)) for step in steps)
    for step in steps:
        # All of them came from the reference: until now nobody could change a step here.
        step.reference_row = step.row
        step.save(update_fields=["reference_row"])


def _as_it_stands(row, now):
    made_at = row.edited_at or now
    return {"version": row.version, "row": row.row, "made_by_id": row.edited_by_id, "made_at": made_at}


class Migration(migrations.Migration):
    dependencies = [("programming", "0006_versions_of_steps")]

    operations = [migrations.RunPython(write_first_versions, migrations.RunPython.noop)]
