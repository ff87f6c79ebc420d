"""A letter photographed page by page is one letter."""

import django.db.models.deletion
from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [("clients", "0007_review_of_rules")]

    operations = [
        migrations.AddField(
            model_name="storedfile",
            name="first_page",
            field=models.ForeignKey(
                blank=True,
                null=True,
                on_delete=django.db.models.deletion.CASCADE,
                related_name="further_pages",
                to="clients.storedfile",
            ),
        ),
        migrations.AddField(
            model_name="storedfile",
            name="page",
            field=models.PositiveSmallIntegerField(default=1),
        ),
        migrations.AddConstraint(
            model_name="storedfile",
            constraint=models.UniqueConstraint(
                models.F("first_page"), models.F("page"), name="clients_storedfile_page_once"
            ),
        ),
    ]
