"""Changes that the days will bring are looked for a month ahead; what a client ticked is noted by nobody."""

import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models
from django.db.models.functions import TruncDate


def look_ahead_soon(apps, schema_editor):
    # The next night looks at everybody who was screened before.
    standing = apps.get_model("clients", "Screening").objects.filter(replaced_at=None)
    standing.update(look_ahead_on=TruncDate("decided_at"))


class Migration(migrations.Migration):
    dependencies = [
        ("clients", "0005_findings_only_sealed"),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.AddField(
            model_name="screening",
            name="look_ahead_on",
            field=models.DateField(blank=True, null=True),
        ),
        migrations.AlterField(
            model_name="restriction",
            name="noted_by",
            field=models.ForeignKey(
                blank=True,
                null=True,
                on_delete=django.db.models.deletion.PROTECT,
                related_name="+",
                to=settings.AUTH_USER_MODEL,
            ),
        ),
        migrations.RunPython(look_ahead_soon, migrations.RunPython.noop),
        migrations.AddIndex(
            model_name="screening",
            index=models.Index(
                models.F("look_ahead_on"),
                condition=models.Q(("replaced_at", None)),
                name="clients_screening_look_ahead",
            ),
        ),
    ]
