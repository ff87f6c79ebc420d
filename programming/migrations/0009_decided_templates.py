"""Templates that were ever in use say since when: what is brought back knows whether it was a draft."""

from django.apps.registry import Apps
from django.db import migrations
from django.db.backends.base.schema import BaseDatabaseSchemaEditor
from django.db.models import F


def decide(apps: Apps, editor: BaseDatabaseSchemaEditor) -> None:
    used = apps.get_model("programming", "Template").objects.filter(decided_at=None, state__in=["active", "retired"])
    used.update(decided_at=F("made_at"), decided_by=F("made_by"))


class Migration(migrations.Migration):
    dependencies = [("programming", "0008_template_changes")]

    operations = [migrations.RunPython(decide, migrations.RunPython.noop)]
