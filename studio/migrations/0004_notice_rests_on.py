from django.db import migrations, models
from django.db.models import Q


class Migration(migrations.Migration):
    dependencies = [
        ("studio", "0003_person_contact"),
    ]

    operations = [
        migrations.AddField(
            model_name="notice",
            name="rests_on",
            field=models.CharField(blank=True, db_default="", default="", max_length=80),
            preserve_default=False,
        ),
        migrations.AlterField(
            model_name="notice",
            name="rests_on",
            field=models.CharField(blank=True, max_length=80),
        ),
        migrations.AddIndex(
            model_name="notice",
            index=models.Index(
                "rests_on", name="studio_notice_rests_on", condition=Q(state__in=["waiting", "claimed"])
            ),
        ),
    ]
